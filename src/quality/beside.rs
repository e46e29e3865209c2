//! Two probes at one spot held against each other.

use std::collections::BTreeMap;

use crate::stats::median_of;
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// A day counts with as many hours in which both were read.
const LEAST_HOURS: usize = 12;
/// As many days in a row, the last ones that both were read on, have to agree on the difference.
const LEAST_DAYS: usize = 3;

/// How far one probe reads above another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Apart {
    /// Since the beginning of this day (UTC), in microseconds.
    pub since_us: i64,
    /// The middle of the daily differences, °C; below 0: it reads lower.
    pub above_c: f64,
    /// How many days that was.
    pub days: usize,
}

/// How far the first of two probes reads above the other on the last days that both were read, where that is more than `limit_c` on each of
/// three or more days in a row, always to the same side, and within half as much again from day to day. Points are true temperatures by
/// time, in microseconds and °C. Hours are compared by their medians, days by the medians of their hours: a sunbeam that
/// strikes one of them for an hour, or a hand, makes no difference.
#[must_use]
pub fn apart(one: &[(i64, f64)], other: &[(i64, f64)], limit_c: f64) -> Option<Apart> {
    let (one, other) = (hours(one), hours(other));
    let mut days: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (hour, celsius) in &one {
        if let Some(beside) = other.get(hour) {
            days.entry(hour.div_euclid(24)).or_default().push(celsius - beside);
        }
    }
    let days: Vec<(i64, f64)> =
        days.into_iter().filter(|(_, hours)| hours.len() >= LEAST_HOURS).map(|(day, hours)| (day, median_of(&hours))).collect();
    let (_, last) = *days.last()?;
    let alike = |(_, above): &&(i64, f64)| {
        above.abs() > limit_c && above.signum() == last.signum() && (above - last).abs() <= last.abs() / 2.0
    };
    let run: Vec<(i64, f64)> = days.iter().rev().take_while(alike).copied().collect();
    let (first, _) = *run.last()?;
    let above_c = median_of(&run.iter().map(|(_, above)| *above).collect::<Vec<f64>>());
    (run.len() >= LEAST_DAYS).then_some(Apart { since_us: first * DAY_US, above_c, days: run.len() })
}

fn hours(points: &[(i64, f64)]) -> BTreeMap<i64, f64> {
    let mut hours = BTreeMap::new();
    for within in points.chunk_by(|a, b| a.0.div_euclid(MICROS_PER_HOUR) == b.0.div_euclid(MICROS_PER_HOUR)) {
        let values: Vec<f64> = within.iter().map(|(_, celsius)| *celsius).collect();
        if let Some((time_us, _)) = within.first() {
            hours.insert(time_us.div_euclid(MICROS_PER_HOUR), median_of(&values));
        }
    }
    hours
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings every ten minutes over some days.
    fn days(count: i64, celsius: impl Fn(i64) -> f64) -> Vec<(i64, f64)> {
        (0..count * 144).map(|n| (n * DAY_US / 144, celsius(n))).collect()
    }

    fn swing(n: i64) -> f64 {
        20.0 + 4.0 * (n as f64 / 144.0 * std::f64::consts::TAU).sin()
    }

    #[test]
    fn a_probe_that_reads_above_its_neighbour_for_days_is_told_with_the_day_it_began() {
        let (left, right) = (days(10, swing), days(10, |n| swing(n) + if n >= 4 * 144 { 1.3 } else { 0.1 }));
        let found = apart(&right, &left, 1.0).unwrap();
        assert_eq!((found.since_us, found.days), (4 * DAY_US, 6));
        assert!((found.above_c - 1.3).abs() < 1e-9);
        let turned = apart(&left, &right, 1.0).unwrap();
        assert!((turned.above_c + 1.3).abs() < 1e-9);
    }

    #[test]
    fn what_two_probes_may_differ_by_is_not_told() {
        let left = days(10, swing);
        let none = |right: &[(i64, f64)], limit_c: f64| assert_eq!(apart(right, &left, limit_c), None);
        none(&days(10, |n| swing(n) + 0.9), 1.0);
        none(&days(10, |n| swing(n) + if n % 144 < 40 { 6.0 } else { 0.0 }), 1.0);
        none(&days(2, |n| swing(n) + 2.0), 1.0);
        none(&days(10, |n| swing(n) + if n >= 8 * 144 { 0.0 } else { 2.0 }), 1.0);
        none(&[], 1.0);
    }
}
