//! Slots that were missed: when a probe has been silent for too long.

use crate::units::MICROS_PER_SECOND;

/// A probe counts as silent after so many of its own intervals.
const INTERVALS: i64 = 3;
/// But not before this: a logger puts readings on disk once a minute or so.
const AT_LEAST_US: i64 = 5 * 60 * MICROS_PER_SECOND;

/// How long after its last reading a probe has missed three of its slots, in microseconds: by the middle of the spacings of the times
/// given, its last readings in order. None where these are fewer than three.
#[must_use]
pub fn stale_after_us(times_us: &[i64]) -> Option<i64> {
    let mut spacings: Vec<i64> = times_us.windows(2).map(|pair| pair[1].saturating_sub(pair[0])).collect();
    spacings.sort_unstable();
    let middle = (spacings.len() >= 2).then(|| spacings.get(spacings.len() / 2).copied())??;
    Some(middle.saturating_mul(INTERVALS).max(AT_LEAST_US))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fault_29_a_silent_probe_is_stale_after_three_of_its_own_intervals() {
        let minute = 60 * MICROS_PER_SECOND;
        let every = |minutes: i64| (0..12).map(|n| n * minutes * minute).collect::<Vec<i64>>();
        assert_eq!(stale_after_us(&every(10)), Some(30 * minute));
        assert_eq!(stale_after_us(&every(60)), Some(180 * minute));
        assert_eq!(stale_after_us(&every(1)), Some(5 * minute), "not before the logger has put it on disk");
        let mut with_a_hole = every(10);
        with_a_hole.iter_mut().skip(6).for_each(|time| *time += 600 * minute);
        assert_eq!(stale_after_us(&with_a_hole), Some(30 * minute), "one long silence is not its spacing");
        assert_eq!(stale_after_us(&[0, minute]), None);
        assert_eq!(stale_after_us(&[]), None);
    }
}
