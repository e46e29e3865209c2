//! Days to come as they were in earlier years: for dates so far off that today's weather and level say nothing of them.

use super::Weather;
use crate::stats::mean_of;
use crate::thermal::{Rate, Stretch};

/// A year counts where so much of the days asked for is known.
const KNOWN_SHARE: f64 = 0.8;
/// How far the level of a year to come lies from that of an earlier one, °C: beds, curtains and thermostats differ from year to year
/// (assumed, no source).
const YEAR_SD_C: f64 = 1.0;
/// The same weather comes a few days earlier or later: standard deviation and most, days.
const DAYS_SD: f64 = 4.0;
const MOST_DAYS: f64 = 9.0;

/// A spot's days in earlier years, counted from now a whole number of years on.
#[derive(Debug, Clone, PartialEq)]
pub struct EarlierYears {
    years: Vec<Vec<Stretch>>,
}

impl EarlierYears {
    /// From the days of each earlier year, in order from the day that is now a year on; of each what it was, where it is known. A
    /// year counts where four fifths of the days `wanted` (from, until) are known; its holes take the nearest day known before, else
    /// after. None where no year counts.
    #[must_use]
    pub fn new(years: Vec<Vec<Option<Stretch>>>, wanted: (usize, usize)) -> Option<Self> {
        let counts = |days: &Vec<Option<Stretch>>| {
            let of_these = days.iter().take(wanted.1).skip(wanted.0);
            of_these.flatten().count() as f64 >= KNOWN_SHARE * (wanted.1.saturating_sub(wanted.0)).max(1) as f64
        };
        let years: Vec<Vec<Stretch>> = years.into_iter().filter(counts).filter_map(filled).collect();
        (!years.is_empty()).then_some(Self { years })
    }

    /// How many years it rests on.
    #[must_use]
    pub fn years(&self) -> usize {
        self.years.len()
    }

    /// Mean temperature of those days over all its years, °C.
    #[must_use]
    pub fn mean_c(&self, from: usize, until: usize) -> f64 {
        let days = self.years.iter().flat_map(|days| days.iter().take(until).skip(from));
        mean_of(&days.filter_map(|day| day.known.mean()).collect::<Vec<_>>())
    }

    /// Thermal time gained by the end of each of `days` days from now on, in one future: one of the years as it was, some days earlier
    /// or later and warmer or colder throughout. `offset_c` is added to all temperatures, `pace` is a factor on the gain.
    #[must_use]
    pub fn by_day(&self, rate: &Rate, offset_c: f64, pace: f64, weather: &Weather, days: usize) -> Vec<f64> {
        let year = &self.years[((weather.which * self.years.len() as f64) as usize).min(self.years.len() - 1)];
        let moved = (DAYS_SD * weather.curve[0]).clamp(-MOST_DAYS, MOST_DAYS).round() as i64;
        let warmer_c = offset_c + YEAR_SD_C * weather.curve[1];
        let last = year.len() as i64 - 1;
        let mut sum = 0.0;
        std::iter::once(0.0)
            .chain((0..days).map(|day| {
                let stretch = &year[(day as i64 + moved).clamp(0, last) as usize];
                // A day that is known for a little less than all of it counts as a whole one.
                sum += stretch.known.gained(rate, warmer_c) * pace / stretch.known.duration();
                sum
            }))
            .collect()
    }
}

/// The days without holes; none where none is known.
fn filled(days: Vec<Option<Stretch>>) -> Option<Vec<Stretch>> {
    let known = |day: Option<Stretch>| day.filter(|day| day.known.duration() > 0.0);
    let days: Vec<Option<Stretch>> = days.into_iter().map(known).collect();
    let mut last = days.iter().flatten().next().cloned()?;
    Some(
        days.into_iter()
            .map(|day| {
                last = day.unwrap_or_else(|| last.clone());
                last.clone()
            })
            .collect(),
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{Dice, standard_deviation_of};
    use crate::thermal::Profile;

    fn day(celsius: f64) -> Option<Stretch> {
        Some(Stretch { known: Profile::new([(celsius - 2.0, 0.45), (celsius + 2.0, 0.45)]), ..Stretch::default() })
    }

    #[test]
    fn a_year_comes_again_about_as_it_was() {
        let year = |level: f64| (0..200).map(|at| day(level + f64::from(at) * 0.05)).collect::<Vec<_>>();
        let years = EarlierYears::new(vec![year(10.0), year(12.0)], (50, 150)).unwrap();
        assert_eq!(years.years(), 2);
        assert!((years.mean_c(50, 150) - 15.975).abs() < 1e-9);
        let rate = Rate::Threshold { base: 5.0 };
        let mut dice = Dice::new(1);
        let gained: Vec<f64> = (0..4000)
            .map(|_| {
                let course = years.by_day(&rate, 0.0, 1.0, &Weather::draw(&mut dice), 150);
                assert_eq!((course.len(), course[0]), (151, 0.0));
                course[150] - course[50]
            })
            .collect();
        assert!((mean_of(&gained) - 1097.5).abs() < 10.0, "100 days at 16 °C, a base of 5: {}", mean_of(&gained));
        // The years differ by ±1 °C, a level by 1 °C, days by 4 at 0.05 °C: 1.43 °C over 100 days.
        let sd = standard_deviation_of(&gained);
        assert!((sd - 143.0).abs() < 10.0, "{sd}");
    }

    #[test]
    fn years_of_which_little_is_known_do_not_count_and_holes_take_a_neighbour() {
        let holey = |every: usize| (0..100).map(|at| if at % every == 0 { None } else { day(15.0) }).collect::<Vec<_>>();
        assert!(EarlierYears::new(vec![holey(3)], (0, 100)).is_none());
        let known = EarlierYears::new(vec![holey(10), holey(2), vec![None; 100]], (0, 100)).unwrap();
        assert_eq!(known.years(), 1);
        let course = known.by_day(&Rate::Days, 0.0, 1.0, &Weather::draw(&mut Dice::new(1)), 120);
        assert!((course[120] - 120.0).abs() < 1e-9, "a day is a day");
        assert!(EarlierYears::new(Vec::new(), (0, 1)).is_none());
    }
}
