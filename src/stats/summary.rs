//! Summaries of draws.

/// The 10, 50 and 90 % points of draws in which "never" may occur: a point that falls on "never" is none.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Spread {
    /// 10 % point.
    pub p10: Option<f64>,
    /// Median.
    pub p50: Option<f64>,
    /// 90 % point.
    pub p90: Option<f64>,
}

/// The mean; not-a-number for no values.
#[must_use]
pub fn mean_of(values: &[f64]) -> f64 {
    values.iter().sum::<f64>() / values.len() as f64
}

/// The sample standard deviation; 0 for fewer than two values.
#[must_use]
pub fn standard_deviation_of(values: &[f64]) -> f64 {
    if values.len() < 2 {
        return 0.0;
    }
    let mean = mean_of(values);
    (values.iter().map(|value| (value - mean).powi(2)).sum::<f64>() / (values.len() - 1) as f64).sqrt()
}

/// The p-quantile of values in ascending order, interpolated (Hyndman & Fan 1996, type 7, https://doi.org/10.2307/2684934);
/// not-a-number for no values. Between a finite value and infinity it is infinite.
#[must_use]
pub fn quantile_of(sorted: &[f64], p: f64) -> f64 {
    let Some(last) = sorted.len().checked_sub(1) else { return f64::NAN };
    let place = p.clamp(0.0, 1.0) * last as f64;
    let (below, above) = (sorted[place.floor() as usize], sorted[place.ceil() as usize]);
    if below == above { below } else { below + (above - below) * place.fract() }
}

/// The median of values in any order.
#[must_use]
pub fn median_of(values: &[f64]) -> f64 {
    quantile_of(&sorted(values), 0.5)
}

/// 10, 50 and 90 % points of draws in any order; infinity stands for "never".
#[must_use]
pub fn spread_of(values: &[f64]) -> Spread {
    let sorted = sorted(values);
    let point = |p| Some(quantile_of(&sorted, p)).filter(|value| value.is_finite());
    Spread { p10: point(0.1), p50: point(0.5), p90: point(0.9) }
}

/// The smallest whole count that reaches level `p` among counts in ascending order; 0 for no counts.
#[must_use]
pub fn whole_quantile_of(sorted: &[u32], p: f64) -> u32 {
    let reach = (p * sorted.len() as f64).ceil().max(1.0) as usize;
    sorted.get(reach.min(sorted.len()).wrapping_sub(1)).copied().unwrap_or(0)
}

/// Counts further apart than this are sorted instead of tallied.
const TALLIED: u32 = 4096;

/// [`whole_quantile_of`] at several ascending levels for counts in any order, tallied instead of sorted where they lie close.
#[must_use]
pub fn whole_quantiles_of<const N: usize>(counts: &[u32], levels: [f64; N]) -> [u32; N] {
    let (low, high) = counts.iter().fold((u32::MAX, 0), |(low, high), count| (low.min(*count), high.max(*count)));
    if counts.is_empty() || high - low > TALLIED {
        let mut sorted = counts.to_vec();
        sorted.sort_unstable();
        return levels.map(|level| whole_quantile_of(&sorted, level));
    }
    let mut tally = vec![0usize; (high - low) as usize + 1];
    counts.iter().for_each(|count| tally[(count - low) as usize] += 1);
    levels.map(|level| {
        let reach = (level * counts.len() as f64).ceil().max(1.0) as usize;
        let mut sum = 0;
        let place = tally.iter().position(|here| {
            sum += here;
            sum >= reach
        });
        low + place.map_or(high - low, |place| place as u32)
    })
}

fn sorted(values: &[f64]) -> Vec<f64> {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    sorted
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn never_is_kept_apart_from_numbers() {
        let spread = spread_of(&[3.0, 1.0, 2.0, f64::INFINITY, 4.0]);
        assert_eq!((spread.p10, spread.p50, spread.p90), (Some(1.4), Some(3.0), None));
        assert_eq!(spread_of(&[]), Spread::default());
    }

    #[test]
    fn a_whole_quantile_is_the_smallest_count_that_reaches_the_level() {
        let counts = [0, 0, 1, 2];
        assert_eq!([0.05, 0.5, 0.51, 0.75, 0.95].map(|p| whole_quantile_of(&counts, p)), [0, 0, 1, 1, 2]);
        assert_eq!(whole_quantile_of(&[], 0.5), 0);
        assert_eq!(whole_quantiles_of(&[2, 0, 1, 0], [0.05, 0.5, 0.51, 0.75, 0.95]), [0, 0, 1, 1, 2]);
        assert_eq!(whole_quantiles_of(&[7, 900_000], [0.5, 0.75]), [7, 900_000], "too far apart to tally");
        assert_eq!(whole_quantiles_of(&[], [0.5]), [0]);
    }

    /// numpy.quantile([1, 2, 4, 8], .3) = 1.9.
    #[test]
    fn quantiles_agree_with_numpy() {
        assert!((quantile_of(&[1.0, 2.0, 4.0, 8.0], 0.3) - 1.9).abs() < 1e-12);
    }
}
