//! The thresholds of a probe of which something else than usual is said.

use super::Thresholds;
use crate::bench::{Bench, Name, ProbeLimits};
use crate::units::MICROS_PER_HOUR;

impl Thresholds {
    /// Those that a probe of the bench goes by.
    #[must_use]
    pub fn of(bench: &Bench, probe: &Name) -> Self {
        bench.limits.get(probe).map_or_else(Self::default, |limits| Self::default().with(limits))
    }

    /// The same with what is said of one probe. Spike limits hold beside all neighbours that are near enough to be asked, since one
    /// probe has one spacing. How far the tests look is the same for all probes ([`super::FLAGS_REACH_US`]).
    #[must_use]
    pub fn with(mut self, limits: &ProbeLimits) -> Self {
        let ProbeLimits { probe: _, sensor, place, change, spike, repeat_hours } = limits;
        for (bounds, said) in [(&mut self.gross_fail, sensor), (&mut self.gross_suspect, place)] {
            (bounds.low, bounds.high) = said.or((bounds.low, bounds.high));
        }
        let rate = &mut self.rate;
        (rate.suspect_c_per_minute, rate.fail_c_per_minute) = change.or((rate.suspect_c_per_minute, rate.fail_c_per_minute));
        for band in &mut self.spike {
            (band.limits.suspect_c, band.limits.fail_c) = spike.or((band.limits.suspect_c, band.limits.fail_c));
        }
        // Where a place is said to stand out by more, the sun is not asked about below that either.
        self.sun_c = spike.low.map_or(self.sun_c, |said| self.sun_c.max(said));
        if let Some(hours) = repeat_hours {
            self.flat.suspect_us = (hours * MICROS_PER_HOUR as f64).round() as i64;
        }
        self
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::super::{FLAGS_REACH_US, Flag, Movement, flag_stuck, flags, stands_alone};
    use super::*;
    use crate::bench::{Ends, Proof, Reading, TENTHS_OF_MILLI};
    use crate::units::MICROS_PER_SECOND;

    const MINUTE_US: i64 = 60 * MICROS_PER_SECOND;

    fn ends(low: f64, high: f64) -> Ends {
        Ends { low: Some(low), high: Some(high) }
    }

    fn with(change: impl FnOnce(&mut ProbeLimits)) -> Thresholds {
        let mut limits = ProbeLimits::usual(Name::new("p1").unwrap());
        change(&mut limits);
        Thresholds::default().with(&limits)
    }

    fn numbers(thresholds: &Thresholds, spacing_minutes: i64, values: &[f64]) -> Vec<u8> {
        let reading = |(at, value): (usize, &f64)| Reading {
            time_us: at as i64 * spacing_minutes * MINUTE_US,
            raw_c_e4: Some((value * TENTHS_OF_MILLI).round() as i64),
            proof: Proof::Plain,
        };
        let readings: Vec<Reading> = values.iter().enumerate().map(reading).collect();
        flags(&readings, thresholds).into_iter().map(Flag::number).collect()
    }

    #[test]
    fn nothing_said_changes_nothing() {
        assert_eq!(with(|_| ()), Thresholds::default());
        let bench = Bench::empty(crate::civil::Zone::UTC);
        assert_eq!(Thresholds::of(&bench, &Name::new("p1").unwrap()), Thresholds::default());
    }

    #[test]
    fn each_limit_moves_its_own_test() {
        let hot = [68.0, 70.0, 130.0, 131.0];
        assert_eq!(numbers(&Thresholds::default(), 30, &hot), [3, 3, 4, 4]);
        assert_eq!(numbers(&with(|l| l.place = ends(0.0, 75.0)), 30, &hot), [1, 1, 4, 4]);
        assert_eq!(numbers(&with(|l| (l.sensor, l.place) = (ends(-200.0, 400.0), ends(0.0, 200.0))), 30, &hot), [1, 1, 1, 1]);
        assert_eq!(numbers(&with(|l| l.sensor = ends(0.0, 50.0)), 30, &[-0.5, 20.0, 51.0]), [4, 1, 4], "a sensor of small span");
        let quick = [20.0, 24.0, 36.0];
        assert_eq!(numbers(&Thresholds::default(), 1, &quick), [1, 3, 4]);
        assert_eq!(numbers(&with(|l| l.change = ends(5.0, 20.0)), 1, &quick), [1, 1, 3]);
        let bump = [20.0, 23.0, 20.0];
        assert_eq!(
            (numbers(&Thresholds::default(), 2, &bump), numbers(&Thresholds::default(), 15, &bump)),
            (vec![1, 3, 1], vec![1, 1, 1])
        );
        let strict = with(|l| l.spike = ends(1.0, 2.5));
        assert_eq!((numbers(&strict, 2, &bump), numbers(&strict, 15, &bump)), (vec![1, 4, 1], vec![1, 4, 1]));
    }

    #[test]
    fn a_value_may_repeat_for_as_long_as_is_said() {
        let still = |hour: i64| Reading { time_us: hour * MICROS_PER_HOUR, raw_c_e4: Some(375_000), proof: Proof::Plain };
        let readings: Vec<Reading> = (0..24).map(still).collect();
        let moving = Movement::of(&(0..24).map(|hour| (hour * MICROS_PER_HOUR, (hour % 5) as f64)).collect::<Vec<_>>());
        let suspect = |thresholds: &Thresholds| {
            let mut found = flags(&readings, thresholds);
            flag_stuck(&readings, &mut found, &[&moving], thresholds);
            found.iter().filter(|flag| flag.doubtful()).count()
        };
        assert_eq!(suspect(&Thresholds::default()), 18);
        assert_eq!(suspect(&with(|l| l.repeat_hours = Some(12.0))), 12);
        assert_eq!(suspect(&with(|l| l.repeat_hours = Some(48.0))), 0);
    }

    /// Mostly warm, with spikes, steps and codes, some minutes apart.
    fn series() -> impl Strategy<Value = Vec<Reading>> {
        let raw = prop_oneof![
            8 => (150_000_i64..300_000).prop_map(Some),
            3 => (-700_000_i64..1_600_000).prop_map(Some),
            1 => prop_oneof![Just(850_000), Just(0), Just(-1_270_000)].prop_map(Some),
            1 => Just(None),
        ];
        prop::collection::vec((raw, prop_oneof![9 => 20_i64..1200, 1 => 1200_i64..20_000]), 0..60).prop_map(|rows| {
            let mut time_us = 0;
            let reading = |(raw_c_e4, seconds): (Option<i64>, i64)| {
                time_us += seconds * MICROS_PER_SECOND;
                let proof = if raw_c_e4.is_some() { Proof::Plain } else { Proof::NotANumber };
                Reading { time_us, raw_c_e4, proof }
            };
            rows.into_iter().map(reading).collect()
        })
    }

    fn limits() -> impl Strategy<Value = ProbeLimits> {
        let end = |low: f64, high: f64| prop::option::of(low..high);
        (
            end(-60.0, 0.0),
            end(61.0, 160.0),
            end(-10.0, 18.0),
            end(20.0, 60.0),
            end(0.1, 3.0),
            end(10.0, 40.0),
            end(0.1, 2.0),
            end(10.0, 30.0),
            end(1.0, 90.0),
        )
            .prop_map(|(a, b, c, d, e, f, g, h, i)| ProbeLimits::of(Name::new("p1").unwrap(), [a, b, c, d, e, f, g, h, i]))
    }

    proptest! {
        #[test]
        fn flags_with_limits_are_the_same_each_time_and_as_far_as_they_reach(readings in series(), limits in limits()) {
            let thresholds = Thresholds::default().with(&limits);
            let all = flags(&readings, &thresholds);
            prop_assert_eq!(&all, &flags(&readings, &thresholds));
            for (from, reading) in readings.iter().enumerate().filter(|(_, reading)| stands_alone(reading, &thresholds)) {
                let begun = flags(&readings[from..], &thresholds);
                let settled = readings.iter().position(|later| later.time_us >= reading.time_us + FLAGS_REACH_US);
                let settled = settled.unwrap_or(readings.len());
                prop_assert_eq!(&begun[settled - from..], &all[settled..], "begun at {}", from);
            }
        }

        /// What a place can be and how fast it changes say nothing of a reading's neighbours.
        #[test]
        fn a_wider_place_or_a_quicker_change_makes_no_flag_worse(readings in series(), limits in limits(), more in 0.0_f64..30.0) {
            let narrow = Thresholds::default().with(&limits);
            let mut wide = narrow.clone();
            wide.gross_suspect.low -= more;
            wide.gross_suspect.high += more;
            wide.rate.suspect_c_per_minute += more;
            wide.rate.fail_c_per_minute += more;
            for (before, after) in flags(&readings, &narrow).into_iter().zip(flags(&readings, &wide)) {
                prop_assert!(after <= before, "{:?} became {:?}", before, after);
            }
        }

        /// A reading that failed and is used now is a neighbour to others: none else makes any flag worse, and it only near by; but for
        /// values that a sensor prints for want of one, which are held against the last good reading however old.
        #[test]
        fn a_wider_sensor_makes_a_flag_worse_only_beside_what_is_used_since(readings in series(), limits in limits(), more in 0.0_f64..60.0) {
            let narrow = Thresholds::default().with(&limits);
            let mut wide = narrow.clone();
            wide.gross_fail.low -= more;
            wide.gross_fail.high += more;
            let (before, after) = (flags(&readings, &narrow), flags(&readings, &wide));
            let sound = |reading: &Reading, thresholds: &Thresholds| stands_alone(reading, thresholds);
            let come: Vec<i64> = readings.iter().filter(|r| sound(r, &wide) && !sound(r, &narrow)).map(|r| r.time_us).collect();
            for ((reading, before), after) in readings.iter().zip(before).zip(after) {
                let code = reading.raw_c_e4 == Some(850_000) || reading.raw_c_e4 == Some(0);
                let near = come.iter().any(|time_us| time_us.abs_diff(reading.time_us) <= FLAGS_REACH_US as u64);
                prop_assert!(after <= before || near || code && !come.is_empty(), "{:?}: {:?} became {:?}", reading, before, after);
            }
        }
    }
}
