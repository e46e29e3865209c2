//! All that is watched, judged at one time.

use std::collections::BTreeMap;

use chrono::Duration;

use super::AlarmState;
use super::level::{GAP_MINUTES, Harm, Heard, go_on, together};
use super::limits::heat_limit;
use crate::bench::{AlarmKind, Bench, Name, SpotKind, Trial};
use crate::civil::Time;

/// A probe whose own spacing is not known, and that has been silent for longer than this, has stopped.
const SILENT_HOURS: i64 = 1;
/// Heard again for so long it counts as back, in minutes: a loose plug speaks now and then.
const HEARD_MINUTES: i64 = 15;
/// Readings older than this say nothing of now, in hours: a logger that begins again after days does not go through them.
const LATE_HOURS: i64 = 6;
/// In a fridge little happens in a week.
const FRIDGE_LOOK_HOURS: i64 = 7 * 24;
/// So long after a sprout was due it is told though nobody has looked since.
const UNSEEN_HOURS: i64 = 24;
/// What comes back from a time away is looked at within this.
const BACK_HOURS: i64 = 24;
/// What alarms on looks are about.
const BOXES: &str = "boxes";

/// What is known when alarms are judged.
#[derive(Debug, Clone, Copy)]
pub struct Watched<'a> {
    /// The bench as of now.
    pub bench: &'a Bench,
    /// Now, by the clock that readings go by.
    pub now: Time,
    /// Since when somebody has listened to the probes.
    pub listening_since: Time,
    /// What was heard of each placed probe.
    pub heard: &'a BTreeMap<Name, Heard>,
    /// What is too hot for a species by its own sowings, in °C.
    pub heat: &'a BTreeMap<Name, f64>,
    /// By when the next sprout of a box was to be there.
    pub due: &'a BTreeMap<Name, Time>,
}

/// How everything stands, given how it stood. What is watched no more ends, and what never was an alarm is forgotten then.
#[must_use]
pub fn judge(watched: &Watched<'_>, earlier: &[AlarmState]) -> Vec<AlarmState> {
    let mut states: Vec<AlarmState> = Vec::new();
    let before = |kind, subject: &Name| earlier.iter().find(|state| state.kind == kind && state.subject == *subject).cloned();
    let wants = |kind| watched.bench.alarms.wants(kind);
    for (spot, boxes) in &boxes_by_spot(watched.bench, watched.now) {
        if wants(AlarmKind::TooHot) {
            let limits = boxes.iter().map(|trial| heat_limit(watched.bench, watched.heat, spot, trial, watched.now).celsius);
            let limit_c = limits.reduce(f64::min);
            let state = limit_c.map(|limit_c| {
                temperature(watched, AlarmKind::TooHot, spot, before(AlarmKind::TooHot, spot), Harm::Above, limit_c)
            });
            states.extend(state);
        }
        let chills = watched.bench.spots.get(spot).is_some_and(|spot| spot.kind_at(watched.now) == SpotKind::Fridge);
        if chills && wants(AlarmKind::Freezing) {
            let limit_c = watched.bench.alarms.freezing_c();
            states.push(temperature(watched, AlarmKind::Freezing, spot, before(AlarmKind::Freezing, spot), Harm::Below, limit_c));
        }
        if wants(AlarmKind::Silent) {
            for probe in probes_at(watched.bench, spot) {
                states.extend(silence(watched, probe, before(AlarmKind::Silent, probe)));
            }
        }
    }
    if wants(AlarmKind::Overdue) {
        let boxes = watched.bench.trials.values().filter(|trial| is_present(trial, watched.now));
        states.extend(boxes.filter_map(|trial| {
            let name = &trial.container.name;
            overdue(watched, trial, before(AlarmKind::Overdue, name))
        }));
    }
    if wants(AlarmKind::Look)
        && let Ok(all) = Name::new(BOXES)
    {
        states.extend(looks(watched, before(AlarmKind::Look, &all), all));
    }
    for old in earlier {
        if !states.iter().any(|state| (state.kind, &state.subject) == (old.kind, &old.subject)) {
            let mut gone = old.clone();
            if gone.is_present() {
                gone.end(watched.now);
                gone.looked = watched.now;
            }
            // Without news it need not be kept.
            if gone.since.is_some() {
                states.push(gone);
            }
        }
    }
    states
}

fn is_present(trial: &Trial, now: Time) -> bool {
    trial.container.owner.is_none() && trial.ended_at(now).is_none()
}

fn boxes_by_spot(bench: &Bench, now: Time) -> BTreeMap<&Name, Vec<&Trial>> {
    let mut boxes: BTreeMap<&Name, Vec<&Trial>> = BTreeMap::new();
    for trial in bench.trials.values().filter(|trial| is_present(trial, now)) {
        boxes.entry(trial.spot_at(now)).or_default().push(trial);
    }
    boxes
}

/// The boxes that stand at a spot.
#[must_use]
pub fn boxes_at<'a>(bench: &'a Bench, spot: &Name, now: Time) -> Vec<&'a Trial> {
    bench.trials.values().filter(|trial| is_present(trial, now) && trial.spot_at(now) == spot).collect()
}

fn probes_at<'a>(bench: &'a Bench, spot: &'a Name) -> impl Iterator<Item = &'a Name> {
    bench.stands_at(spot).filter(|(_, left)| left.is_none()).map(|(placement, _)| &placement.probe)
}

fn temperature(
    watched: &Watched<'_>,
    kind: AlarmKind,
    spot: &Name,
    before: Option<AlarmState>,
    harm: Harm,
    limit_c: f64,
) -> AlarmState {
    let earliest = watched.now - Duration::hours(LATE_HOURS);
    let mut state = before.unwrap_or_else(|| AlarmState::new(kind, spot.clone(), earliest));
    let of_spot: Vec<(&Name, &Heard)> =
        probes_at(watched.bench, spot).filter_map(|probe| Some((probe, watched.heard.get(probe)?))).collect();
    let slowest = of_spot.iter().filter_map(|(_, heard)| heard.silent_after).max();
    let gap = slowest.unwrap_or_default().max(Duration::minutes(GAP_MINUTES));
    let points: Vec<(&Name, &[(Time, f64)])> = of_spot.iter().map(|(probe, heard)| (*probe, &heard.points[..])).collect();
    let points = together(&points, harm, state.looked.max(earliest), gap);
    go_on(&mut state, &points, harm, limit_c, watched.bench.alarms.after(), gap);
    state
}

fn silence(watched: &Watched<'_>, probe: &Name, before: Option<AlarmState>) -> Option<AlarmState> {
    let heard = watched.heard.get(probe);
    // A probe that was never heard of is not silent: nobody may have plugged it in yet.
    let last = heard.and_then(|heard| heard.last)?;
    let limit = heard.and_then(|heard| heard.silent_after).unwrap_or(Duration::hours(SILENT_HOURS));
    let now = watched.now;
    let mut state = before.unwrap_or_else(|| AlarmState::new(AlarmKind::Silent, probe.clone(), now));
    state.looked = now;
    if !state.is_present() {
        if now - last.max(watched.listening_since) > limit {
            state.begin(last);
        }
    } else if now - last > limit {
        state.under = None;
    } else if now - *state.under.get_or_insert(now) >= Duration::minutes(HEARD_MINUTES) {
        let back = state.under.unwrap_or(now);
        state.end(back);
    }
    Some(state)
}

fn overdue(watched: &Watched<'_>, trial: &Trial, before: Option<AlarmState>) -> Option<AlarmState> {
    let now = watched.now;
    let name = &trial.container.name;
    let due = watched.due.get(name);
    let is_over = |due: &&Time| trial.last_look() >= **due || now >= **due + Duration::hours(UNSEEN_HOURS);
    let over = due.filter(is_over);
    let mut state = before.or_else(|| over.map(|_| AlarmState::new(AlarmKind::Overdue, name.clone(), now)))?;
    state.looked = now;
    match over {
        // Nobody is there to look into it.
        Some(_) if watched.bench.away_at(now).is_some() => {}
        Some(due) if !state.is_present() || state.since != Some(*due) => {
            // Another sprout that is late is another alarm.
            state.begin(*due);
        }
        Some(_) => {}
        None if state.is_present() => state.end(now),
        None => {}
    }
    Some(state)
}

/// The boxes at which nobody has looked for longer than usual, with their last looks; a box back from a time away in which nobody
/// was there has a day more.
#[must_use]
pub fn not_looked_at(bench: &Bench, now: Time) -> Vec<(&Name, Time)> {
    let Some(every) = bench.alarms.look_every() else { return Vec::new() };
    let present = bench.trials.values().filter(|trial| is_present(trial, now));
    let due = |trial: &&Trial| {
        let spot = bench.spots.get(trial.spot_at(now));
        let chills = spot.is_some_and(|spot| spot.kind_at(now) == SpotKind::Fridge);
        let due = trial.last_touched() + if chills { every.max(Duration::hours(FRIDGE_LOOK_HOURS)) } else { every };
        let back = bench.aways.iter().filter(|away| away.until > trial.last_touched() && away.from <= now).map(|away| away.until);
        now >= back.max().map_or(due, |back| due.max(back + Duration::hours(BACK_HOURS)))
    };
    present.filter(due).map(|trial| (&trial.container.name, trial.last_touched())).collect()
}

fn looks(watched: &Watched<'_>, before: Option<AlarmState>, all: Name) -> Option<AlarmState> {
    let now = watched.now;
    let longest = not_looked_at(watched.bench, now).into_iter().map(|(_, last)| last).min();
    let mut state = before.or_else(|| longest.map(|_| AlarmState::new(AlarmKind::Look, all, now)))?;
    state.looked = now;
    match longest {
        Some(last) if !state.is_present() => state.begin(last),
        None if state.is_present() => state.end(now),
        _ => {}
    }
    Some(state)
}
