//! Which readings to trust: the open QARTOD flags, made anew from the series on every reading and never stored.
//!
//! Flags, tests and their order of precedence follow the Manual for Real-Time Quality Control of In-situ Temperature and
//! Salinity Data, IOOS QARTOD, version 2.0 (2016), <https://doi.org/10.7289/V5V40SD4>. The thresholds are the operator's; the
//! defaults here are for places where seeds stand. The published tests assume evenly spaced series; here neighbours that are
//! far in time say nothing, and so the spike test is then not evaluated.

mod beside;
mod fallen;
mod gaps;
mod limits;
mod sentinel;
mod series;
mod settle;
#[cfg(test)]
mod simulated;
mod span;
mod stuck;
mod sun;
mod warming;

pub use beside::{Apart, OddDay, apart, apart_by_night, odd_days};
pub use fallen::{FallenOut, fallen_out};
pub use gaps::stale_after_us;
pub use sentinel::{POWER_ON_C_E4, is_code};
pub use series::{FlatLimits, RateLimits, flat_line, rate_of_change};
pub use settle::{Settled, settled};
pub use span::{SpikeLimits, gross_range, lone_spike, spike};
pub use stuck::{Movement, flag_stuck};
pub use sun::{SUN_REACH_US, SunStrike, SunStruck, flag_sun_struck, sun_struck};
pub use warming::{Warming, warming};

use crate::bench::{Proof, Reading, USUAL_LIMITS};
use crate::units::{Bounds, MICROS_PER_HOUR, MICROS_PER_SECOND};

const MICROS_PER_MINUTE: i64 = 60 * MICROS_PER_SECOND;

/// What the tests say of one reading. The order is that of precedence: the worst test wins, and a test that could not be
/// made spoils nothing (9 < 2 < 1 < 3 < 4).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Flag {
    /// 9: there is no number.
    Missing,
    /// 2: no test could be made.
    NotEvaluated,
    /// 1: nothing against it.
    Pass,
    /// 3: to be used only with a note.
    Suspect,
    /// 4: not a temperature of this place.
    Fail,
}

impl Flag {
    /// The number that the standard gives it.
    #[must_use]
    pub fn number(self) -> u8 {
        match self {
            Self::Pass => 1,
            Self::NotEvaluated => 2,
            Self::Suspect => 3,
            Self::Fail => 4,
            Self::Missing => 9,
        }
    }

    /// The reading may be reckoned with (flags 1, 2 and 3).
    #[must_use]
    pub fn usable(self) -> bool {
        !matches!(self, Self::Missing | Self::Fail)
    }

    /// The reading may be reckoned with, but the result must say so (flag 3).
    #[must_use]
    pub fn doubtful(self) -> bool {
        self == Self::Suspect
    }

    /// The flag of a reading that got `self` in one test and `other` in another.
    #[must_use]
    pub fn rolled_up_with(self, other: Self) -> Self {
        self.max(other)
    }
}

/// Spike limits for neighbours up to some distance in time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpikeBand {
    /// The farther of the two neighbours is at most this far away, in microseconds.
    pub reach_us: i64,
    /// The limits that then hold.
    pub limits: SpikeLimits,
}

/// What the tests go by. All temperatures are raw ones, in °C.
#[derive(Debug, Clone, PartialEq)]
pub struct Thresholds {
    /// What the sensor can measure; a value outside fails.
    pub gross_fail: Bounds,
    /// What a place for seeds can be; a value outside is suspect.
    pub gross_suspect: Bounds,
    /// Spike limits, nearest reach first. Beyond the last one the test is not evaluated.
    pub spike: Vec<SpikeBand>,
    /// How fast a place may become warmer or cooler.
    pub rate: RateLimits,
    /// When a probe that shows one value is doubted, if another one moved meanwhile.
    pub flat: FlatLimits,
    /// As much as another probe must have moved meanwhile, in °C.
    pub moved_c: f64,
    /// What stands out by less than this is not asked about the sun, in °C.
    pub sun_c: f64,
    /// After a silence as long as this, in microseconds, the sensor may have been powered anew.
    pub long_gap_us: i64,
    /// A suspicious exact value this far from the last good reading, in °C, is a code and not a temperature.
    pub sentinel_step_c: f64,
}

impl Default for Thresholds {
    /// Gross range, spikes, rate and flat line as [`crate::bench::UsualLimits`] says and argues; a rate in steps of a minute at least, and
    /// a flat line only while another probe moved by more than half a degree: never a failure.
    fn default() -> Self {
        let usual = USUAL_LIMITS;
        let bounds = |what, (low, high)| Bounds { what, low, high, unit: "°C" };
        let band = |minutes, (suspect_c, fail_c)| SpikeBand {
            reach_us: minutes * MICROS_PER_MINUTE,
            limits: SpikeLimits { suspect_c, fail_c },
        };
        let (suspect_c_per_minute, fail_c_per_minute) = usual.change;
        Self {
            gross_fail: bounds("what the sensor can measure", usual.sensor),
            gross_suspect: bounds("what a place for seeds can be", usual.place),
            spike: vec![band(2, usual.spike), band(16, usual.far_spike)],
            rate: RateLimits { suspect_c_per_minute, fail_c_per_minute, least_span_us: MICROS_PER_MINUTE },
            flat: FlatLimits {
                tolerance_c: 0.00005,
                suspect_us: (usual.repeat_hours * MICROS_PER_HOUR as f64) as i64,
                fail_us: None,
            },
            moved_c: 0.5,
            // A bare probe in the sun behind glass stands 5 to 20 °C above its air; a thermostat's swing ends at 3.
            sun_c: 4.0,
            long_gap_us: 30 * MICROS_PER_MINUTE,
            sentinel_step_c: 10.0,
        }
    }
}

/// Flags made from readings that begin this much earlier, in microseconds, are those of the whole series: a spike looks one reading
/// on and back, a rate back to the last two sound ones, and none of them farther than the widest spike band or half an hour.
pub const FLAGS_REACH_US: i64 = 2 * MICROS_PER_HOUR;
/// A change from a reading longer ago says nothing of a rate.
const RATE_REACH_US: u64 = 30 * MICROS_PER_MINUTE as u64;

/// One flag for each of `readings`, one probe's in order of time: gross range, sentinels, spikes and rate of change, rolled up.
///
/// A pure function of the series: the same readings and thresholds give the same flags every time. A reading that failed its
/// own tests counts as missing for the spike test of its neighbours, and a rate is reckoned from the last one that is neither
/// failed nor a spike, so that no reading takes its neighbours with it. Whether one failed for its rate has no part in what is said
/// of the next: else one odd value could decide on all that follow.
#[must_use]
pub fn flags(readings: &[Reading], thresholds: &Thresholds) -> Vec<Flag> {
    let mut flags = flags_by_value(readings, thresholds);
    // The last two sound readings, and the one in hand with its place.
    let (mut before, mut last): (Option<Sound>, Option<Sound>) = (None, None);
    let mut pending: Option<(usize, Sound)> = None;
    let mut at = 0;
    while at <= readings.len() {
        let next = match (readings.get(at), flags.get(at)) {
            (Some(reading), Some(flag)) => {
                let raw_c = if flag.usable() { reading.raw_c() } else { None };
                Some(raw_c.map(|raw_c| Sound { time_us: reading.time_us, raw_c, spike: Flag::NotEvaluated, index: at }))
            }
            _ => None,
        };
        if let Some((place, mut sound)) = pending.take() {
            let neighbour = |other: &Sound, apart: usize| other.index.abs_diff(sound.index) == apart;
            let earlier = last.as_ref().filter(|other| neighbour(other, 1));
            let later = next.as_ref().and_then(Option::as_ref).filter(|other| neighbour(other, 1));
            sound.spike = spike_of(earlier, &sound, later, thresholds);
            let from = last.as_ref().filter(|other| other.spike < Flag::Suspect).or(before.as_ref());
            let from = from.filter(|other| other.spike < Flag::Suspect && other.time_us.abs_diff(sound.time_us) <= RATE_REACH_US);
            let rate = from.map_or(Flag::NotEvaluated, |from| {
                rate_of_change(Some((from.time_us, from.raw_c)), (sound.time_us, sound.raw_c), &thresholds.rate)
            });
            if let Some(flag) = flags.get_mut(place) {
                *flag = flag.rolled_up_with(sound.spike).rolled_up_with(rate);
            }
            before = last.replace(sound);
        }
        pending = next.flatten().map(|sound| (at, sound));
        at += 1;
    }
    flags
}

/// A reading with nothing against its own value.
#[derive(Debug, Clone, Copy)]
struct Sound {
    time_us: i64,
    raw_c: f64,
    spike: Flag,
    index: usize,
}

fn spike_of(before: Option<&Sound>, sound: &Sound, after: Option<&Sound>, thresholds: &Thresholds) -> Flag {
    let (Some(before), Some(after)) = (before, after) else { return Flag::NotEvaluated };
    let distance = sound.time_us.abs_diff(before.time_us).max(after.time_us.abs_diff(sound.time_us));
    match thresholds.spike.iter().find(|band| u64::try_from(band.reach_us).is_ok_and(|reach| distance <= reach)) {
        Some(band) => lone_spike(Some(before.raw_c), Some(sound.raw_c), Some(after.raw_c), band.limits),
        None => Flag::NotEvaluated,
    }
}

/// Whether a reading is good whatever was read before it: flags worked out from it on are those of the whole series from
/// [`FLAGS_REACH_US`] later on.
#[must_use]
pub fn stands_alone(reading: &Reading, thresholds: &Thresholds) -> bool {
    let raw_c = reading.raw_c().filter(|_| reading.proof == Proof::Plain);
    gross_range(raw_c, &thresholds.gross_fail, &thresholds.gross_suspect).usable() && sentinel::says_nothing(reading)
}

/// Gross range and sentinels, for which a reading needs no neighbours but the last good one.
fn flags_by_value(readings: &[Reading], thresholds: &Thresholds) -> Vec<Flag> {
    let mut last_good: Option<&Reading> = None;
    readings
        .iter()
        .map(|reading| {
            let raw_c = reading.raw_c().filter(|_| reading.proof != Proof::NotANumber);
            let flag = gross_range(raw_c, &thresholds.gross_fail, &thresholds.gross_suspect)
                .rolled_up_with(sentinel::flag(reading, last_good, thresholds));
            if flag.usable() {
                last_good = Some(reading);
            }
            flag
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::TENTHS_OF_MILLI;
    use proptest::prelude::*;

    fn series(spacing_seconds: i64, values: &[f64]) -> Vec<Reading> {
        let reading = |(at, value): (usize, &f64)| Reading {
            time_us: at as i64 * spacing_seconds * MICROS_PER_SECOND,
            raw_c_e4: Some((value * TENTHS_OF_MILLI).round() as i64),
            proof: Proof::Plain,
        };
        values.iter().enumerate().map(reading).collect()
    }

    fn numbers(readings: &[Reading]) -> Vec<u8> {
        flags(readings, &Thresholds::default()).into_iter().map(Flag::number).collect()
    }

    /// Roll-up precedence as in `qartod_compare` of ioos_qc, the reference code of the manual.
    #[test]
    fn the_worst_test_wins_and_one_not_made_spoils_no_pass() {
        use Flag::{Fail, Missing, NotEvaluated, Pass, Suspect};
        let worse = [Missing, NotEvaluated, Pass, Suspect, Fail];
        for (rank, flag) in worse.into_iter().enumerate() {
            for (other_rank, other) in worse.into_iter().enumerate() {
                assert_eq!(flag.rolled_up_with(other), worse[rank.max(other_rank)]);
            }
        }
        assert_eq!(worse.map(Flag::number), [9, 2, 1, 3, 4]);
        assert_eq!(worse.map(Flag::usable), [false, true, true, true, false]);
        assert!(Suspect.doubtful() && !Pass.doubtful());
    }

    #[test]
    fn a_value_out_of_the_sensors_span_fails_alone() {
        assert_eq!(numbers(&series(60, &[21.0, 21.0, 999.0, 21.0, 21.0])), [1, 1, 4, 1, 1]);
        assert_eq!(numbers(&series(60, &[-9.9, -10.0, -10.1])), [1, 1, 3]);
    }

    #[test]
    fn how_high_a_spike_may_be_depends_on_how_near_its_neighbours_are() {
        let bump = |height: f64| [20.0, 20.0, 20.0 + height, 20.0, 20.0];
        assert_eq!(numbers(&series(60, &bump(2.0))), [1, 1, 1, 1, 1], "at the limit is within it");
        assert_eq!(numbers(&series(60, &bump(3.0))), [1, 1, 3, 1, 1]);
        assert_eq!(numbers(&series(120, &bump(5.5))), [1, 1, 4, 1, 1]);
        assert_eq!(numbers(&series(900, &bump(5.5))), [1, 1, 3, 1, 1]);
        assert_eq!(numbers(&series(900, &bump(10.5))), [1, 1, 4, 1, 1]);
        assert_eq!(numbers(&series(1000, &bump(30.0))), [1, 1, 1, 1, 1], "too far apart to say");
    }

    #[test]
    fn a_probe_powered_up_shorted_or_torn_off_is_known_by_its_codes() {
        let mut proved = series(60, &[85.0, 21.0, 21.0, 85.0, 85.0, 21.0]);
        proved[0].proof = Proof::PowerOn;
        assert_eq!(numbers(&proved), [4, 1, 1, 4, 4, 1]);
        assert_eq!(numbers(&series(60, &[80.0, 84.0, 85.0, 84.0])), [3, 3, 3, 3], "it came there by degrees");
        let mut late = series(60, &[80.0, 85.0]);
        late[1].time_us += 31 * MICROS_PER_MINUTE;
        assert_eq!(numbers(&late), [3, 4], "first after a long silence");
        assert_eq!(numbers(&series(60, &[21.0, 0.0, 0.0, 21.0, 20.0])), [1, 4, 4, 1, 1], "a shorted data line");
        assert_eq!(numbers(&series(600, &[4.0, 1.0, 0.0, 1.0])), [1, 1, 1, 1], "a fridge may well be at 0");
    }

    #[test]
    fn no_number_is_missing() {
        let mut readings = series(60, &[21.0, 21.0, 21.0]);
        readings[1] = Reading { raw_c_e4: None, proof: Proof::NotANumber, ..readings[1] };
        assert_eq!(numbers(&readings), [1, 9, 1]);
        readings[1] = Reading { raw_c_e4: None, proof: Proof::Plain, ..readings[1] };
        assert_eq!(numbers(&readings), [1, 9, 1]);
        assert_eq!(numbers(&[]), [0; 0]);
    }

    fn any_reading() -> impl Strategy<Value = Reading> {
        let proof = prop_oneof![Just(Proof::Plain), Just(Proof::PowerOn), Just(Proof::Disconnected), Just(Proof::NotANumber)];
        let raw = prop_oneof![Just(None), any::<i64>().prop_map(Some), (-1_300_000i64..1_300_000).prop_map(Some)];
        let time = prop_oneof![any::<i64>(), 0..MICROS_PER_MINUTE * 60];
        (time, raw, proof).prop_map(|(time_us, raw_c_e4, proof)| Reading { time_us, raw_c_e4, proof })
    }

    proptest! {
        #[test]
        fn flags_never_fail_and_are_the_same_every_time(readings in prop::collection::vec(any_reading(), 0..60)) {
            let first = flags(&readings, &Thresholds::default());
            prop_assert_eq!(first.len(), readings.len());
            prop_assert_eq!(&first, &flags(&readings, &Thresholds::default()));
            for (reading, flag) in readings.iter().zip(&first) {
                let nothing = reading.raw_c_e4.is_none() && reading.proof != Proof::Disconnected;
                prop_assert!(!nothing || !flag.usable(), "{:?} has no number, yet {:?}", reading, flag);
            }
        }
    }
}
