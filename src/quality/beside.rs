//! Two probes at one spot held against each other.

use std::collections::BTreeMap;

use crate::civil::{Zone, local_hour, time_from_micros};
use crate::stats::{median_of, outlying};
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// A day counts with as many hours in which both were read.
const LEAST_HOURS: usize = 12;
/// And of a night's eight hours.
const LEAST_NIGHT_HOURS: usize = 5;
/// As many days in a row, the last ones that both were read on, have to agree on the difference.
const LEAST_DAYS: usize = 3;

/// So many days tell what is usual between two probes: fewer, and the test's limits are not good.
const USUAL_DAYS: usize = 25;
/// No more odd days are looked for.
const ODD_DAYS: usize = 10;
/// The test's level.
const ODD_LEVEL: f64 = 0.05;

/// A day on which two probes differed by far more, or less, than they usually do.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OddDay {
    /// The beginning of the day (UTC), in microseconds.
    pub day_us: i64,
    /// How far the first read above the other, beyond what is usual, °C; below 0: it read lower.
    pub above_c: f64,
}

/// The days, in order, on which the difference of two probes lies apart from that of all other days by the generalised extreme studentised
/// deviate test, and by more than `limit_c`: a probe had fallen out of its box, or the sun stood on it. Differences of neighbours are
/// tested, and never readings themselves, which follow the hours and the weather. Nothing with fewer than 25 days of both.
#[must_use]
pub fn odd_days(one: &[(i64, f64)], other: &[(i64, f64)], limit_c: f64) -> Vec<OddDay> {
    let days = differences(one, other, LEAST_HOURS);
    if days.len() < USUAL_DAYS {
        return Vec::new();
    }
    let above: Vec<f64> = days.iter().map(|(_, above)| *above).collect();
    let usual = median_of(&above);
    let mut odd: Vec<OddDay> = outlying(&above, ODD_DAYS, ODD_LEVEL)
        .into_iter()
        .map(|at| OddDay { day_us: days[at].0 * DAY_US, above_c: above[at] - usual })
        .filter(|odd| odd.above_c.abs() > limit_c)
        .collect();
    odd.sort_by_key(|odd| odd.day_us);
    odd
}

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
    lasting(&differences(one, other, LEAST_HOURS), limit_c)
}

/// The same by the hours from 22 to 6 of the local clock alone, when no sun shines on either: for two probes that read one room's air.
#[must_use]
pub fn apart_by_night(one: &[(i64, f64)], other: &[(i64, f64)], limit_c: f64, zone: Zone) -> Option<Apart> {
    let night = |point: &&(i64, f64)| time_from_micros(point.0).is_some_and(|time| !(6.0..22.0).contains(&local_hour(time, zone)));
    let nights = |points: &[(i64, f64)]| points.iter().filter(night).copied().collect::<Vec<_>>();
    lasting(&differences(&nights(one), &nights(other), LEAST_NIGHT_HOURS), limit_c)
}

fn lasting(days: &[(i64, f64)], limit_c: f64) -> Option<Apart> {
    let (_, last) = *days.last()?;
    let alike = |(_, above): &&(i64, f64)| {
        above.abs() > limit_c && above.signum() == last.signum() && (above - last).abs() <= last.abs() / 2.0
    };
    let run: Vec<(i64, f64)> = days.iter().rev().take_while(alike).copied().collect();
    let (first, _) = *run.last()?;
    let above_c = median_of(&run.iter().map(|(_, above)| *above).collect::<Vec<f64>>());
    (run.len() >= LEAST_DAYS).then_some(Apart { since_us: first * DAY_US, above_c, days: run.len() })
}

/// The difference on each day (UTC) with enough hours of both, by its number: the median over its hours.
fn differences(one: &[(i64, f64)], other: &[(i64, f64)], least: usize) -> Vec<(i64, f64)> {
    let (one, other) = (hours(one), hours(other));
    let mut days: BTreeMap<i64, Vec<f64>> = BTreeMap::new();
    for (hour, celsius) in &one {
        if let Some(beside) = other.get(hour) {
            days.entry(hour.div_euclid(24)).or_default().push(celsius - beside);
        }
    }
    days.into_iter().filter(|(_, hours)| hours.len() >= least).map(|(day, hours)| (day, median_of(&hours))).collect()
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
    fn days_on_which_a_probe_had_fallen_out_stand_apart_from_the_usual() {
        // From day to day the two differ by some tenths; on two days one lay outside.
        let tenths = |n: i64| 0.1 * ((n / 144 * 7 % 11) as f64 - 5.0) / 5.0;
        let out = |n: i64| if matches!(n / 144, 12 | 30) { -3.0 } else { 0.0 };
        let (left, right) = (days(40, swing), days(40, |n| swing(n) + 0.4 + tenths(n) + out(n)));
        let odd = odd_days(&right, &left, 1.0);
        assert_eq!(odd.iter().map(|odd| odd.day_us / DAY_US).collect::<Vec<_>>(), [12, 30]);
        assert!(odd.iter().all(|odd| (odd.above_c + 3.0).abs() < 0.25), "{odd:?}");
        assert!(odd_days(&right, &left, 3.5).is_empty(), "within what two probes may differ by");
        assert!(
            odd_days(&days(20, |n| swing(n) + tenths(n) + out(n)), &left, 1.0).is_empty(),
            "too few days to know what is usual"
        );
        assert!(odd_days(&days(40, |n| swing(n) + tenths(n)), &left, 1.0).is_empty());
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
