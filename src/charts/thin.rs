//! A long series thinned to what a figure can show.

/// A temperature at a moment.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Temperature {
    /// Days on the figure's axis.
    pub day: f64,
    /// Degrees, in the unit that the figure says.
    pub degrees: f64,
    /// Not trusted.
    pub doubtful: bool,
}

/// Thins a series in order of time: in each of so many columns of equal time the first, lowest, highest and last reading stay, trusted and doubtful
/// ones apart, in their order. Nothing that a line drawn through all readings would touch at that width is lost; at most eight readings a column stay.
#[must_use]
pub fn thinned(readings: &[Temperature], columns: usize) -> Vec<Temperature> {
    let sound: Vec<Temperature> =
        readings.iter().filter(|reading| reading.day.is_finite() && reading.degrees.is_finite()).copied().collect();
    let (Some(first), Some(last)) = (sound.first(), sound.last()) else { return Vec::new() };
    let width = (last.day - first.day) / columns.max(1) as f64;
    let column = |reading: &Temperature| {
        if width > 0.0 { (((reading.day - first.day) / width) as usize).min(columns.max(1) - 1) } else { 0 }
    };
    sound.chunk_by(|a, b| column(a) == column(b)).flat_map(kept).collect()
}

fn kept(column: &[Temperature]) -> Vec<Temperature> {
    let mut places: Vec<usize> = Vec::new();
    for doubtful in [false, true] {
        let of: Vec<usize> = (0..column.len()).filter(|index| column[*index].doubtful == doubtful).collect();
        let by = |a: &&usize, b: &&usize| column[**a].degrees.total_cmp(&column[**b].degrees);
        places.extend([of.first(), of.iter().min_by(by), of.iter().max_by(by), of.last()].into_iter().flatten());
    }
    places.sort_unstable();
    places.dedup();
    places.into_iter().map(|index| column[index]).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn series(count: usize) -> Vec<Temperature> {
        let reading = |index: usize| Temperature {
            day: index as f64 / 1440.0,
            degrees: 20.0 + 5.0 * (index as f64 / 200.0).sin() + (index % 7) as f64 / 10.0,
            doubtful: index % 997 == 5,
        };
        (0..count).map(reading).collect()
    }

    #[test]
    fn extremes_and_doubtful_readings_stay() {
        let all = series(50_000);
        let thin = thinned(&all, 500);
        assert!(thin.len() <= 8 * 500, "{}", thin.len());
        assert_eq!((thin.first(), thin.last()), (all.first(), all.last()));
        let extremes = |readings: &[Temperature]| {
            let degrees = readings.iter().map(|reading| reading.degrees);
            (degrees.clone().fold(f64::INFINITY, f64::min), degrees.fold(f64::NEG_INFINITY, f64::max))
        };
        assert_eq!(extremes(&thin), extremes(&all));
        let doubted = |readings: &[Temperature]| readings.iter().filter(|reading| reading.doubtful).count();
        assert_eq!(doubted(&thin), doubted(&all), "one in 997 is less than one a column");
        assert!(thin.windows(2).all(|pair| pair[0].day < pair[1].day));
    }

    #[test]
    fn few_readings_all_stay_and_none_is_none() {
        let few = series(10);
        assert_eq!(thinned(&few, 500), few);
        assert!(thinned(&[], 500).is_empty());
        assert!(thinned(&[Temperature { day: f64::NAN, degrees: 1.0, doubtful: false }], 5).is_empty());
    }
}
