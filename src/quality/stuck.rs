//! A probe that repeats one value while another moves: doubted, never thrown out.

use std::collections::BTreeMap;

use super::{Flag, Thresholds, flat_line};
use crate::bench::Reading;
use crate::units::MICROS_PER_HOUR;

/// How a probe moved, by the hour: enough to tell whether it did over some hours, and small beside its readings.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Movement(BTreeMap<i64, (f64, f64)>);

impl Movement {
    /// Of points by time, in microseconds and °C.
    #[must_use]
    pub fn of(points: &[(i64, f64)]) -> Self {
        let mut hours: BTreeMap<i64, (f64, f64)> = BTreeMap::new();
        let mut hold: Option<(i64, (f64, f64))> = None;
        for (time_us, celsius) in points {
            let hour = time_us.div_euclid(MICROS_PER_HOUR);
            hold = match hold {
                Some((at, (low, high))) if at == hour => Some((at, (low.min(*celsius), high.max(*celsius)))),
                other => {
                    hours.extend(other);
                    Some((hour, (*celsius, *celsius)))
                }
            };
        }
        hours.extend(hold);
        Self(hours)
    }

    /// From its lowest to its highest in the whole hours between two instants, °C; 0 where it gave nothing.
    #[must_use]
    pub fn range_c(&self, from_us: i64, until_us: i64) -> f64 {
        let (first, last) = (from_us.div_euclid(MICROS_PER_HOUR) + 1, until_us.div_euclid(MICROS_PER_HOUR));
        if first >= last {
            return 0.0;
        }
        let within = self.0.range(first..last).map(|(_, ends)| *ends);
        within.reduce(|(low, high), (other_low, other_high)| (low.min(other_low), high.max(other_high))).map_or(0.0, |(l, h)| h - l)
    }
}

/// Makes suspect what was the very same value for as long as the thresholds say while one of `others` moved. Suspect is as far as
/// it goes, and a suspect reading is reckoned with like any other: so nothing of a warmth rests on these neighbours.
/// Gives the first and the last time at which that was so, in microseconds.
pub fn flag_stuck(readings: &[Reading], flags: &mut [Flag], others: &[&Movement], thresholds: &Thresholds) -> Option<(i64, i64)> {
    let mut when: Option<(i64, i64)> = None;
    let sound: Vec<(usize, (i64, f64))> = readings
        .iter()
        .zip(flags.iter())
        .enumerate()
        .filter(|(_, (_, flag))| flag.usable())
        .filter_map(|(at, (reading, _))| Some((at, (reading.time_us, reading.raw_c()?))))
        .collect();
    let values: Vec<(i64, f64)> = sound.iter().map(|(_, value)| *value).collect();
    let span_us = thresholds.flat.suspect_us;
    for ((at, (time_us, _)), flat) in sound.iter().zip(flat_line(&values, &thresholds.flat)) {
        let moved = || others.iter().any(|other| other.range_c(time_us.saturating_sub(span_us), *time_us) > thresholds.moved_c);
        if flat == Flag::Suspect && moved() {
            if let Some(flag) = flags.get_mut(*at) {
                *flag = flag.rolled_up_with(Flag::Suspect);
            }
            when = Some((when.map_or(*time_us, |(first, _)| first), *time_us));
        }
    }
    when
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use crate::quality::flags;

    const MINUTE_US: i64 = MICROS_PER_HOUR / 60;

    fn day(celsius: impl Fn(i64) -> f64) -> Vec<Reading> {
        let reading = |minute: i64| Reading {
            time_us: minute * MINUTE_US,
            raw_c_e4: Some((celsius(minute) * 10_000.0).round() as i64),
            proof: Proof::Plain,
        };
        (0..24 * 60).map(reading).collect()
    }

    fn moving(readings: &[Reading]) -> Movement {
        Movement::of(&readings.iter().filter_map(|reading| Some((reading.time_us, reading.raw_c()?))).collect::<Vec<_>>())
    }

    #[test]
    fn fault_30_a_value_repeated_for_ever_is_suspect_and_never_failed() {
        let thresholds = Thresholds::default();
        let (stuck, swinging) = (day(|_| 21.5), day(|minute| 20.0 + 3.0 * (minute as f64 / 220.0).sin()));
        let mut found = flags(&stuck, &thresholds);
        flag_stuck(&stuck, &mut found, &[&moving(&swinging)], &thresholds);
        let suspect = found.iter().filter(|flag| **flag == Flag::Suspect).count();
        assert_eq!(suspect, 18 * 60, "all but the first six hours");
        assert!(found.iter().all(|flag| flag.usable()));
    }

    #[test]
    fn a_steady_place_is_believed_where_nothing_else_moved_or_for_less_than_six_hours() {
        let thresholds = Thresholds::default();
        let doubted = |own: &[Reading], others: &[&Movement]| {
            let mut found = flags(own, &thresholds);
            flag_stuck(own, &mut found, others, &thresholds);
            found.iter().filter(|flag| flag.doubtful()).count()
        };
        let (still, swinging) = (day(|_| 21.5), day(|minute| 20.0 + 3.0 * (minute as f64 / 220.0).sin()));
        assert_eq!(doubted(&still, &[]), 0, "no other probe");
        assert_eq!(doubted(&still, &[&moving(&day(|minute| 19.0 + (minute % 9) as f64 * 0.05))]), 0, "the other is steady too");
        let stepping = day(|minute| 21.5 + (minute / 300 % 2) as f64 * 0.0625);
        assert_eq!(doubted(&stepping, &[&moving(&swinging)]), 0, "a sixteenth up or down within six hours");
    }
}
