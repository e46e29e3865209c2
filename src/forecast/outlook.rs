//! The temperatures to come at a spot: whole days of the recent past, drawn in runs.

use crate::stats::Dice;
use crate::thermal::{Rate, SpotRecord};
use crate::units::MICROS_PER_HOUR;

/// Temperatures are sampled four times an hour.
pub const SLOTS_PER_HOUR: usize = 4;
/// Length of a slot, microseconds.
pub const SLOT_US: i64 = MICROS_PER_HOUR / SLOTS_PER_HOUR as i64;
const SLOTS_PER_DAY: usize = 24 * SLOTS_PER_HOUR;
/// Days of the past that may come again.
const RECENT_DAYS: usize = 14;
/// Days drawn in a row: weather lasts.
const RUN_DAYS: usize = 3;
/// A day with fewer known slots than this share is not drawn.
const WHOLE: f64 = 0.9;

/// Which recent days come again: the same for every spot, since they share their weather.
#[derive(Debug, Clone, PartialEq)]
pub struct Weather {
    /// For each run of days, where in the recent past it begins, 0 to 1.
    begins: Vec<f64>,
}

impl Weather {
    /// Weather for so many days.
    pub fn draw(days: usize, dice: &mut Dice) -> Self {
        Self { begins: (0..days.div_ceil(RUN_DAYS)).map(|_| dice.uniform()).collect() }
    }

    fn day(&self, future: usize, recent: usize) -> usize {
        let begin = self.begins.get(future / RUN_DAYS).copied().unwrap_or(0.0);
        ((begin * recent as f64) as usize + future % RUN_DAYS) % recent
    }
}

/// Recent days of a spot, each a list of °C every quarter of an hour, beginning at the hour of "now".
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    days: Vec<Vec<f64>>,
}

impl Outlook {
    /// From the last 14 days of a record, none from before `since_us` (the spot was changed then). Where no whole day is known, one day made of the means by time of day, or of the mean of
    /// what is known, stands for all. None where nothing is known of these days.
    #[must_use]
    pub fn new(record: &SpotRecord, now_us: i64, since_us: Option<i64>) -> Option<Self> {
        let from_us = now_us - RECENT_DAYS as i64 * 24 * MICROS_PER_HOUR;
        let mut slots = record.sampled(from_us, SLOT_US, RECENT_DAYS * SLOTS_PER_DAY, 0.0);
        let forgotten = since_us.map_or(0, |since| ((since - from_us).max(0) as u64).div_ceil(SLOT_US as u64) as usize);
        slots.iter_mut().take(forgotten).for_each(|slot| *slot = None);
        let known: Vec<f64> = slots.iter().flatten().copied().collect();
        if known.is_empty() {
            return None;
        }
        let mean = known.iter().sum::<f64>() / known.len() as f64;
        let by_time: Vec<f64> = (0..SLOTS_PER_DAY)
            .map(|time| {
                let values: Vec<f64> = slots.iter().skip(time).step_by(SLOTS_PER_DAY).flatten().copied().collect();
                if values.is_empty() { mean } else { values.iter().sum::<f64>() / values.len() as f64 }
            })
            .collect();
        let whole = slots.chunks(SLOTS_PER_DAY).filter(|day| day.iter().flatten().count() as f64 >= WHOLE * SLOTS_PER_DAY as f64);
        let mut days: Vec<Vec<f64>> =
            whole.map(|day| day.iter().zip(&by_time).map(|(slot, usual)| slot.unwrap_or(*usual)).collect()).collect();
        if days.is_empty() {
            days.push(by_time);
        }
        Some(Self { days })
    }

    /// The °C of one future day under a weather, quarter hours from the hour of "now".
    #[must_use]
    pub fn day(&self, future: usize, weather: &Weather) -> &[f64] {
        &self.days[weather.day(future, self.days.len())]
    }

    /// The recent days that may come again, each a list of °C every quarter of an hour.
    #[must_use]
    pub fn days(&self) -> &[Vec<f64>] {
        &self.days
    }

    /// Thermal time gained in each hour of each recent day, temperatures raised by `shift` °C.
    #[must_use]
    pub fn hourly_gains(&self, rate: &Rate, shift: f64) -> Vec<Vec<f64>> {
        let per_slot = 1.0 / SLOTS_PER_DAY as f64;
        let hour = |slots: &[f64]| slots.iter().map(|celsius| rate.per_day(celsius + shift) * per_slot).sum();
        self.days.iter().map(|day| day.chunks(SLOTS_PER_HOUR).map(hour).collect()).collect()
    }

    /// Which recent day a future day repeats.
    #[must_use]
    pub fn repeats(&self, future: usize, weather: &Weather) -> usize {
        weather.day(future, self.days.len())
    }

    /// Mean temperature of the days that may come, °C.
    #[must_use]
    pub fn mean_c(&self) -> f64 {
        let slots = self.days.len() * SLOTS_PER_DAY;
        self.days.iter().flatten().sum::<f64>() / slots as f64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thermal::Step;

    fn record(hours: i64, celsius: impl Fn(i64) -> f64) -> SpotRecord {
        let step = |hour: i64| Step {
            from_us: hour * MICROS_PER_HOUR,
            until_us: (hour + 1) * MICROS_PER_HOUR,
            celsius: celsius(hour),
            share: 1.0,
            guess: None,
        };
        SpotRecord::nothing().with((0..hours).map(step).collect())
    }

    #[test]
    fn the_days_that_may_come_are_whole_recent_days_at_their_own_hours() {
        let now = 24 * 20 * MICROS_PER_HOUR;
        let outlook = Outlook::new(&record(24 * 20, |hour| (hour / 24) as f64 + (hour % 24) as f64 / 100.0), now, None).unwrap();
        let mut dice = Dice::new(1);
        let mut seen: Vec<i64> = Vec::new();
        for _ in 0..200 {
            let weather = Weather::draw(6, &mut dice);
            let day = outlook.day(0, &weather);
            assert!((day[4 * 13] - day[0] - 0.13).abs() < 1e-9, "13 hours on it is 13 hours later in the day");
            assert!((outlook.day(1, &weather)[0] - day[0] - 1.0).abs() < 1e-9 || day[0] == 19.0, "days follow each other in runs");
            seen.push(day[0] as i64);
        }
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen, (6..20).collect::<Vec<i64>>(), "any of the last 14 days");
    }

    #[test]
    fn days_from_before_a_change_do_not_come_again() {
        let changed = 24 * 17 * MICROS_PER_HOUR;
        let outlook = Outlook::new(&record(24 * 20, |hour| (hour / 24) as f64), 24 * 20 * MICROS_PER_HOUR, Some(changed)).unwrap();
        assert_eq!(outlook.days().iter().map(|day| day[0] as i64).collect::<Vec<_>>(), [17, 18, 19]);
    }

    #[test]
    fn a_few_hours_make_one_day_and_nothing_makes_none() {
        let outlook = Outlook::new(&record(5, |_| 18.0), 5 * MICROS_PER_HOUR, None).unwrap();
        assert!((outlook.mean_c() - 18.0).abs() < 1e-9);
        assert!(Outlook::new(&record(5, |_| 18.0), 24 * 40 * MICROS_PER_HOUR, None).is_none());
    }
}
