//! Probes doubted before places are blamed.

use chrono::NaiveDate;

use crate::bench::{Name, Placement, Reading};
use crate::civil::{Zone, local_date, time_from_micros};
use crate::quality::Flag;

/// A day with more than this share of readings that failed or are suspect is a bad day.
const BAD_DAY: f64 = 0.05;

/// One day of one probe.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ProbeDay {
    /// The local date.
    pub date: NaiveDate,
    /// Lines that came.
    pub readings: usize,
    /// Flag 3.
    pub suspect: usize,
    /// Flags 4 and 9.
    pub failed: usize,
}

/// A probe's readings counted by day.
#[derive(Debug, Clone, PartialEq)]
pub struct ProbeTally {
    /// The probe.
    pub probe: Name,
    /// Its days in order.
    pub days: Vec<ProbeDay>,
    /// What else was found of it.
    pub also: Vec<ProbeFinding>,
    /// Stretches of time, in microseconds, in which its readings were suspect and yet reckoned with.
    pub unsure: Vec<(i64, i64)>,
}

/// Why a probe is doubted.
#[derive(Debug, Clone, PartialEq)]
pub enum ProbeFinding {
    /// On some days many readings could not be used.
    BadDays {
        /// How many such days.
        days: usize,
        /// The worst of them.
        worst: ProbeDay,
    },
    /// It showed one value for hours while another probe moved.
    Stuck {
        /// The first day on which that was so.
        from: NaiveDate,
        /// The last one.
        until: NaiveDate,
    },
    /// On some days it read far otherwise beside another one at the same spot than it usually does.
    OddDays {
        /// The other one.
        other: Name,
        /// How many such days.
        days: usize,
        /// The last of them.
        last: NaiveDate,
        /// By how much it read above the usual then, °C; below 0: under it.
        above_c: f64,
    },
    /// It reads otherwise than another one at the same spot.
    Beside {
        /// The other one.
        other: Name,
        /// By how much it reads above that, °C; below 0: under it.
        above_c: f64,
        /// Since this day.
        since: NaiveDate,
        /// How many of the two were never calibrated.
        uncalibrated: usize,
        /// How near to each other they are.
        near: Near,
    },
    /// On some days the sun stood on the probe itself; what it showed then is left out.
    SunStruck {
        /// How many days.
        days: usize,
        /// The first of them.
        first: NaiveDate,
        /// The last of them.
        last: NaiveDate,
        /// The hour of the local clock at which that was highest, the middle one.
        hour: f64,
        /// How far it then stood above what it read around that, °C, the middle one.
        above_c: f64,
        /// It was as clear every day, so that it may also be something switched by a clock: nothing is left out.
        every_day: bool,
    },
    /// Said to be in a box, it moves as the room's air does.
    FallenOut {
        /// The probe that reads the air.
        air: Name,
        /// Since this day.
        since: NaiveDate,
        /// How many times as much as before it moves beside that.
        times: f64,
    },
}

/// How near two probes are that are held against each other.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Near {
    /// At one spot.
    OneSpot,
    /// In the air of one room, compared by night.
    OneRoom,
}

/// What two probes at one spot may differ by before anything is said, °C: half a degree between places of one spot, and as much more
/// as a probe that was never calibrated may be off for half the two of them (0.5 °C each, the usual sensor's own figure).
#[must_use]
pub fn may_differ_c(uncalibrated: usize) -> f64 {
    0.5 + 0.25 * uncalibrated as f64
}

/// What two probes that are sited unlike each other, or both in a room's air, may differ by before anything is said, °C: twice the standard
/// deviation of their difference, by what calibration and siting leave open of each.
#[must_use]
pub fn sited_apart_may_differ_c(one: &Placement, two: &Placement) -> f64 {
    2.0 * one.sd_c().hypot(two.sd_c())
}

/// Counts a probe's flags by local day.
#[must_use]
pub fn tally(probe: Name, readings: &[Reading], flags: &[Flag], zone: Zone) -> ProbeTally {
    let mut days: Vec<ProbeDay> = Vec::new();
    for (reading, flag) in readings.iter().zip(flags) {
        let Some(date) = time_from_micros(reading.time_us).map(|time| local_date(time, zone)) else { continue };
        if days.last().is_none_or(|day| day.date != date) {
            days.push(ProbeDay { date, readings: 0, suspect: 0, failed: 0 });
        }
        if let Some(day) = days.last_mut() {
            day.readings += 1;
            day.suspect += usize::from(flag.doubtful());
            day.failed += usize::from(!flag.usable());
        }
    }
    ProbeTally { probe, days, also: Vec::new(), unsure: Vec::new() }
}

/// What is to be said of a probe from a date on.
#[must_use]
pub fn doubted(tally: &ProbeTally, since: NaiveDate) -> Vec<ProbeFinding> {
    let share = |day: &ProbeDay| (day.suspect + day.failed) as f64 / day.readings.max(1) as f64;
    let bad: Vec<&ProbeDay> = tally.days.iter().filter(|day| day.date >= since && share(day) > BAD_DAY).collect();
    let worst = bad.iter().max_by(|a, b| share(a).total_cmp(&share(b)));
    let worst = worst.map(|worst| ProbeFinding::BadDays { days: bad.len(), worst: **worst });
    let present = |finding: &&ProbeFinding| match finding {
        ProbeFinding::Stuck { until, .. } => *until >= since,
        ProbeFinding::OddDays { last, .. } => *last >= since,
        ProbeFinding::SunStruck { last, .. } => *last >= since,
        ProbeFinding::BadDays { .. } | ProbeFinding::Beside { .. } | ProbeFinding::FallenOut { .. } => true,
    };
    worst.into_iter().chain(tally.also.iter().filter(present).cloned()).collect()
}
