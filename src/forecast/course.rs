//! Thermal time as it runs on: what has been gained by any instant, and when an amount will have been.

use super::{Outlook, SLOT_US, SLOTS_PER_HOUR, Weather};
use crate::thermal::Rate;
use crate::units::{MICROS_PER_DAY, MICROS_PER_HOUR};

/// Thermal time gained since a start, known at knots and straight between them.
#[derive(Debug, Clone, PartialEq)]
pub struct Course {
    /// (microseconds since 1970, thermal time since the start), both ascending.
    knots: Vec<(i64, f64)>,
}

/// A spot to come, with what is gained there.
#[derive(Debug, Clone)]
pub struct Ahead<'a> {
    /// Until when, microseconds since 1970; none: for good.
    pub until_us: Option<i64>,
    /// What may come there.
    pub outlook: &'a Outlook,
    /// Thermal time by hour and recent day, as [`Outlook::hourly_gains`] gives it.
    pub hourly: Vec<Vec<f64>>,
}

impl Course {
    /// A course beginning at `from_us` through temperatures sampled every quarter of an hour (the last slot may be cut short at
    /// `until_us`). Unknown slots gain what the one before gained.
    #[must_use]
    pub fn through(samples: &[Option<f64>], from_us: i64, until_us: i64, rate: &Rate, shift: f64) -> Self {
        let mut knots = vec![(from_us, 0.0)];
        let (mut sum, mut per_day) = (0.0, 0.0);
        for (at, celsius) in samples.iter().enumerate() {
            per_day = celsius.map_or(per_day, |celsius| rate.per_day(celsius + shift));
            let start = from_us + at as i64 * SLOT_US;
            let end = (start + SLOT_US).min(until_us);
            sum += per_day * (end - start).max(0) as f64 / MICROS_PER_DAY;
            if (at + 1) % SLOTS_PER_HOUR == 0 || at + 1 == samples.len() {
                knots.push((end, sum));
            }
        }
        Self { knots }
    }

    /// This course, and from its end the days to come at spots one after the other.
    #[must_use]
    pub fn then(mut self, coming: &[Ahead<'_>], weather: &Weather, days: usize) -> Self {
        let Some(&(mut at, mut sum)) = self.knots.last() else { return self };
        self.knots.reserve(24 * days);
        let mut spots = coming.iter();
        let Some(mut there) = spots.next() else { return self };
        for day in 0..days {
            for hour in 0..24 {
                while there.until_us.is_some_and(|until| until <= at) {
                    let Some(next) = spots.next() else { break };
                    there = next;
                }
                at += MICROS_PER_HOUR;
                sum +=
                    there.hourly.get(there.outlook.repeats(day, weather)).and_then(|gains| gains.get(hour)).copied().unwrap_or(0.0);
                self.knots.push((at, sum));
            }
        }
        self
    }

    /// Thermal time gained by an instant; the ends hold outside.
    #[must_use]
    pub fn by(&self, time_us: i64) -> f64 {
        let after = self.knots.partition_point(|knot| knot.0 < time_us);
        match (after.checked_sub(1).map(|before| self.knots[before]), self.knots.get(after)) {
            (Some(before), Some(next)) => before.1 + (next.1 - before.1) * (time_us - before.0) as f64 / (next.0 - before.0) as f64,
            (Some(last), None) => last.1,
            (None, first) => first.map_or(0.0, |knot| knot.1),
        }
    }

    /// When `thermal` will have been gained, microseconds since 1970; none if not by the end of the course.
    #[must_use]
    pub fn when(&self, thermal: f64) -> Option<i64> {
        let after = self.knots.partition_point(|knot| knot.1 < thermal);
        let next = self.knots.get(after)?;
        let Some(before) = after.checked_sub(1).map(|before| self.knots[before]) else { return Some(next.0) };
        Some(before.0 + ((next.0 - before.0) as f64 * (thermal - before.1) / (next.1 - before.1)).round() as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn amounts_and_instants_answer_each_other() {
        let rate = Rate::Threshold { base: 10.0 };
        let day = 24 * MICROS_PER_HOUR;
        let course = Course::through(&[Some(20.0); 96], 0, day, &rate, 0.0);
        assert!((course.by(day / 2) - 5.0).abs() < 1e-9 && (course.by(2 * day) - 10.0).abs() < 1e-9);
        assert_eq!(course.when(5.0), Some(day / 2));
        assert_eq!(course.when(10.5), None);
        assert_eq!(course.when(0.0), Some(0));
    }

    #[test]
    fn a_course_that_stands_still_is_passed_at_its_next_gain() {
        let rate = Rate::Threshold { base: 10.0 };
        let cold_then_warm: Vec<Option<f64>> = (0..96).map(|slot| Some(if slot < 48 { 5.0 } else { 20.0 })).collect();
        let course = Course::through(&cold_then_warm, 0, 24 * MICROS_PER_HOUR, &rate, 0.0);
        assert!(course.when(0.1).is_some_and(|time| time > 12 * MICROS_PER_HOUR && time < 13 * MICROS_PER_HOUR));
    }
}
