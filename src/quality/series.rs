//! The QARTOD tests of a whole series, their thresholds explicit: rate of change and flat line, by the time that truly passed.

use super::Flag;
use crate::units::MICROS_PER_SECOND;

/// How fast a value may change, in °C a minute.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RateLimits {
    /// Faster than this is suspect.
    pub suspect_c_per_minute: f64,
    /// Faster than this fails.
    pub fail_c_per_minute: f64,
    /// Values closer together than this, in microseconds, are judged as if they were so far apart: a sensor's smallest step
    /// within a second is no change of the place.
    pub least_span_us: i64,
}

/// When a value that does not change is doubted.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FlatLimits {
    /// Changes below this are none, in °C.
    pub tolerance_c: f64,
    /// Unchanged for so long is suspect, in microseconds.
    pub suspect_us: i64,
    /// Unchanged for so long fails, in microseconds; none: it never fails.
    pub fail_us: Option<i64>,
}

/// Rate of change test of one value at `now` after another at `before`, times in microseconds; the first passes.
///
/// # Formula
/// ```text
/// r = | x[n] − x[n−1] | / max(t[n] − t[n−1], least span)      r > suspect: 3;  r > fail: 4      (r in °C a minute)
/// ```
#[must_use]
pub fn rate_of_change(before: Option<(i64, f64)>, now: (i64, f64), limits: &RateLimits) -> Flag {
    let Some((before_us, before_c)) = before else { return Flag::Pass };
    let span_us = now.0.abs_diff(before_us).max(u64::try_from(limits.least_span_us).unwrap_or(0)).max(1);
    let minutes = span_us as f64 / (60 * MICROS_PER_SECOND) as f64;
    // Not by dividing: 3 °C in just a minute are not more than 3 °C a minute.
    let change_c = (now.1 - before_c).abs();
    if change_c > limits.fail_c_per_minute * minutes {
        Flag::Fail
    } else if change_c > limits.suspect_c_per_minute * minutes {
        Flag::Suspect
    } else {
        Flag::Pass
    }
}

/// Flat line test of values in order of time: one flag each. A value is flat when all of the span that ends with it, as far back as
/// the limit says, lies within the tolerance; before a series is as old as that nothing can be said against it, and it passes.
#[must_use]
pub fn flat_line(values: &[(i64, f64)], limits: &FlatLimits) -> Vec<Flag> {
    let mut flags = vec![Flag::Pass; values.len()];
    mark_flat(values, limits.suspect_us, limits.tolerance_c, Flag::Suspect, &mut flags);
    if let Some(fail_us) = limits.fail_us {
        mark_flat(values, fail_us, limits.tolerance_c, Flag::Fail, &mut flags);
    }
    flags
}

/// Linear: of each window the highest and the lowest stand first in two queues that fall and rise.
fn mark_flat(values: &[(i64, f64)], span_us: i64, tolerance_c: f64, mark: Flag, flags: &mut [Flag]) {
    let (mut highest, mut lowest) = (std::collections::VecDeque::new(), std::collections::VecDeque::new());
    let Some((begun_us, _)) = values.first() else { return };
    let mut first = 0;
    for (at, (time_us, value)) in values.iter().enumerate() {
        while highest.back().is_some_and(|(_, high)| high <= value) {
            highest.pop_back();
        }
        highest.push_back((at, *value));
        while lowest.back().is_some_and(|(_, low)| low >= value) {
            lowest.pop_back();
        }
        lowest.push_back((at, *value));
        let from_us = time_us.saturating_sub(span_us);
        while values.get(first).is_some_and(|(earlier_us, _)| *earlier_us < from_us) {
            first += 1;
        }
        while highest.front().is_some_and(|(at, _)| *at < first) {
            highest.pop_front();
        }
        while lowest.front().is_some_and(|(at, _)| *at < first) {
            lowest.pop_front();
        }
        let range_c = highest.front().zip(lowest.front()).map(|((_, high), (_, low))| high - low);
        if *begun_us <= from_us
            && range_c.is_some_and(|range_c| range_c < tolerance_c)
            && let Some(flag) = flags.get_mut(at)
        {
            *flag = flag.rolled_up_with(mark);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const QUARTER_US: i64 = 15 * 60 * MICROS_PER_SECOND;

    fn every_quarter(values: &[f64]) -> Vec<(i64, f64)> {
        values.iter().enumerate().map(|(at, value)| (at as i64 * QUARTER_US, *value)).collect()
    }

    fn numbers(flags: impl IntoIterator<Item = Flag>) -> Vec<u8> {
        flags.into_iter().map(Flag::number).collect()
    }

    /// Vector of the rate of change test in the test file of ioos_qc (tests/test_qartod.py), the reference code of the QARTOD
    /// manual v2.0, <https://doi.org/10.7289/V5V40SD4>: 5 in 15 minutes is suspect, nothing fails.
    #[test]
    fn rate_of_change_gives_the_published_flags() {
        let values = every_quarter(&[
            2.0, 10.0, 2.1, 3.0, 4.0, 5.0, 7.0, 10.0, 0.0, 2.0, 2.2, 2.0, 1.0, 2.0, 3.0, 90.0, 91.0, 92.0, 93.0, 1.0, 2.0, 3.0,
            4.0, 5.0,
        ]);
        let limits = RateLimits { suspect_c_per_minute: 5.0 / 15.0, fail_c_per_minute: f64::INFINITY, least_span_us: 0 };
        let flags = values.iter().enumerate().map(|(at, now)| {
            let before = at.checked_sub(1).map(|before| values[before]);
            rate_of_change(before, *now, &limits)
        });
        let published = [1, 3, 3, 1, 1, 1, 1, 1, 3, 1, 1, 1, 1, 1, 1, 3, 1, 1, 1, 3, 1, 1, 1, 1];
        assert_eq!(numbers(flags), published);
    }

    /// Vector of the flat line test in the same file: suspect after 3000 s, failed after 4800 s, tolerance 0.01.
    #[test]
    fn flat_line_gives_the_published_flags() {
        let values = every_quarter(&[1.0, 2.0, 2.0001, 2.0, 2.0001, 2.0, 2.0001, 2.0, 4.0, 5.0, 3.0, 3.0001, 3.0005, 3.00001]);
        let second = MICROS_PER_SECOND;
        let limits = FlatLimits { tolerance_c: 0.01, suspect_us: 3000 * second, fail_us: Some(4800 * second) };
        assert_eq!(numbers(flat_line(&values, &limits)), [1, 1, 1, 1, 3, 3, 4, 4, 1, 1, 1, 1, 1, 3]);
    }

    #[test]
    fn what_time_truly_passed_decides() {
        let limits = RateLimits { suspect_c_per_minute: 3.0, fail_c_per_minute: 10.0, least_span_us: 60 * MICROS_PER_SECOND };
        let after =
            |seconds: i64, change: f64| rate_of_change(Some((0, 20.0)), (seconds * MICROS_PER_SECOND, 20.0 + change), &limits);
        assert_eq!(after(60, 3.0), Flag::Pass);
        assert_eq!(after(60, -3.1), Flag::Suspect);
        assert_eq!(after(60, 10.1), Flag::Fail);
        assert_eq!(after(600, 25.0), Flag::Pass);
        assert_eq!(after(1, 0.0625), Flag::Pass, "one step of a sensor read each second");
        assert_eq!(after(1, 3.5), Flag::Suspect);
        assert_eq!(rate_of_change(None, (0, 20.0), &limits), Flag::Pass);
    }

    #[test]
    fn a_series_of_any_spacing_is_flat_by_its_hours() {
        let limits = FlatLimits { tolerance_c: 0.01, suspect_us: 3600 * MICROS_PER_SECOND, fail_us: None };
        let at = |minutes: &[i64]| -> Vec<(i64, f64)> { minutes.iter().map(|m| (m * 60 * MICROS_PER_SECOND, 4.0)).collect() };
        assert_eq!(numbers(flat_line(&at(&[0, 7, 59, 60, 61]), &limits)), [1, 1, 1, 3, 3]);
        assert_eq!(numbers(flat_line(&[], &limits)), [0_u8; 0]);
    }
}
