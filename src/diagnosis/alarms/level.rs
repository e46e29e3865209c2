//! Temperatures held against a limit, reading by reading.

use std::collections::BTreeMap;

use chrono::Duration;

use super::AlarmState;
use crate::bench::Name;
use crate::civil::Time;

/// So far within the limit it must be before it counts as back: probes step, and thermostats swing, by less.
pub(super) const MARGIN_C: f64 = 1.0;
/// And for so long, in minutes.
const BACK_MINUTES: i64 = 30;
/// Without a reading for longer nothing is known of what was between, in minutes; longer for a probe that speaks less often.
pub(super) const GAP_MINUTES: i64 = 30;

/// What was heard of a probe: sound readings of late, in order, as true temperatures.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Heard {
    /// Time and °C.
    pub points: Vec<(Time, f64)>,
    /// Its last reading, sound or not.
    pub last: Option<Time>,
    /// Silent for longer than this it has stopped; none where its spacing is not known.
    pub silent_after: Option<Duration>,
}

/// On which side of the limit harm lies.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Harm {
    /// Above it.
    Above,
    /// Below it.
    Below,
}

impl Harm {
    /// How far beyond the limit, in °C; below 0 within.
    fn beyond(self, celsius: f64, limit_c: f64) -> f64 {
        match self {
            Self::Above => celsius - limit_c,
            Self::Below => limit_c - celsius,
        }
    }

    fn worse(self, one: f64, other: f64) -> f64 {
        match self {
            Self::Above => one.max(other),
            Self::Below => one.min(other),
        }
    }
}

/// The worst that the probes of one spot show together, at each reading after `after`: of each its last, if that is no older than
/// `hold`.
pub(super) fn together(probes: &[(&Name, &[(Time, f64)])], harm: Harm, after: Time, hold: Duration) -> Vec<(Time, f64)> {
    let mut all: Vec<(Time, &Name, f64)> =
        probes.iter().flat_map(|(probe, points)| points.iter().map(|(time, celsius)| (*time, *probe, *celsius))).collect();
    all.sort_by(|one, other| (one.0, one.1).cmp(&(other.0, other.1)));
    let mut last: BTreeMap<&Name, (Time, f64)> = BTreeMap::new();
    let mut worst = Vec::new();
    for (time, probe, celsius) in all {
        last.insert(probe, (time, celsius));
        if time > after {
            let held = last.values().filter(|(at, _)| time - *at <= hold).map(|(_, celsius)| *celsius);
            worst.extend(held.reduce(|one, other| harm.worse(one, other)).map(|celsius| (time, celsius)));
        }
    }
    worst
}

/// Goes on with a state over further readings. An alarm begins where it was beyond the limit for `after`, not well within it in
/// between; it ends where it was well within for half an hour.
pub(super) fn go_on(state: &mut AlarmState, points: &[(Time, f64)], harm: Harm, limit_c: f64, after: Duration, gap: Duration) {
    state.limit_c = Some(limit_c);
    for (time, celsius) in points.iter().filter(|(time, _)| *time > state.looked).copied().collect::<Vec<_>>() {
        if time - state.looked > gap {
            state.under = None;
            if !state.is_present() {
                state.over = None;
            }
        }
        state.looked = time;
        let beyond = harm.beyond(celsius, limit_c);
        let (is_beyond, is_back) = (beyond > 0.0, beyond < -MARGIN_C);
        if state.is_present() {
            if is_beyond {
                state.worst_c = Some(state.worst_c.map_or(celsius, |worst| harm.worse(worst, celsius)));
            }
            match state.under {
                _ if !is_back => state.under = None,
                None => state.under = Some(time),
                Some(under) if time - under >= Duration::minutes(BACK_MINUTES) => state.end(under),
                Some(_) => {}
            }
        } else if is_beyond {
            let over = *state.over.get_or_insert(time);
            let before = state.worst_c.filter(|_| over < time);
            state.worst_c = Some(before.map_or(celsius, |worst| harm.worse(worst, celsius)));
            if time - over >= after {
                state.begin(over);
            }
        } else if is_back {
            state.over = None;
        }
    }
}
