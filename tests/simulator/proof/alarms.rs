//! Alarms on made-up benches, held against what is true: how many a bench-month, and how many of them without reason.

use std::collections::BTreeMap;

use chrono::{DateTime, Duration, Utc};
use seedclock::answers::{Keeping, Present, forecast, to_keep};
use seedclock::bench::{AlarmKind, Bench, Name};
use seedclock::diagnosis::alarms::{AlarmState, Heard, Watched, due_by, heat_known, judge, last_happened};
use seedclock::forecast::KeptForecast;

use super::asked::Asked;
use crate::simulator::world::bench::BEFORE_DAYS;
use crate::simulator::world::{Mix, TrueBox, World, days, mouldy_by};

/// How often everything is judged. The logger does so each minute; the steps of the made-up weather are half hours.
const JUDGED_EVERY_MINUTES: i64 = 30;
/// A forecast is kept so often, days.
const FORECAST_EVERY_DAYS: i64 = 3;
/// Readings of so many hours are heard.
const HEARD_HOURS: i64 = 7;
/// A probe that shows a limit passed may be so far off, °C: twice the standard deviation of one never calibrated.
const PROBE_C: f64 = 0.5;
const DAYS_A_MONTH: f64 = 30.0;

/// An alarm of a bench.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Rung {
    kind: AlarmKind,
    /// Nothing that it is about was true.
    without_reason: bool,
}

/// What rang on a bench, over how many days.
#[derive(Debug, Clone, Default)]
pub(crate) struct Watch {
    rung: Vec<Rung>,
    days: f64,
    boxes: usize,
}

/// Watches the present season of a bench up to its last morning.
pub(crate) fn watch(seed: u64, mix: Mix) -> Watch {
    let world = World::of(seed, mix);
    let asked = Asked::about(&world.folder);
    let readings = readings(&world);
    let season = &world.seasons[world.present()];
    let (begin, end) = (season.first - Duration::hours(6), *world.mornings.last().unwrap());
    let mut watch = Watch {
        days: days(end - begin),
        boxes: world.boxes.iter().filter(|one| one.season == world.present()).count(),
        ..Watch::default()
    };
    let (mut earlier, mut kept): (Vec<AlarmState>, Vec<KeptForecast>) = (Vec::new(), Vec::new());
    let mut heat = BTreeMap::new();
    let whole: Bench = asked.known(end).bench;
    let mut now = begin;
    let mut forecast_next = season.first + Duration::hours(9);
    while now <= end {
        if now >= forecast_next {
            let known = asked.known(now);
            let present = Present::new(&known);
            kept.extend(to_keep(&known, &present, &forecast(&known, &present, 60), now, Keeping::FirstOfDay));
            heat = present.needs().iter().filter_map(|fit| Some((fit.species.clone(), heat_known(fit)?))).collect();
            forecast_next += Duration::days(FORECAST_EVERY_DAYS);
        }
        let bench = whole.as_of(now);
        let due = due(&bench, &kept, now);
        let heard = heard(&bench, &readings, now);
        let states =
            judge(&Watched { bench: &bench, now, listening_since: begin, heard: &heard, heat: &heat, due: &due }, &earlier);
        for state in states.iter().filter(|state| state.is_present()) {
            let before = earlier.iter().any(|one| one.kind == state.kind && one.subject == state.subject && one.is_present());
            if !before {
                watch.rung.push(Rung { kind: state.kind, without_reason: !is_true(&world, state, now) });
            }
        }
        earlier = states;
        now += Duration::minutes(JUDGED_EVERY_MINUTES);
    }
    watch
}

/// Each probe's readings, in order.
type Readings = BTreeMap<Name, Vec<(DateTime<Utc>, f64)>>;

fn readings(world: &World) -> Readings {
    let from = world.seasons[world.present()].first - Duration::days(BEFORE_DAYS);
    let mut readings = Readings::new();
    for line in world.folder["readings.csv"].lines().skip(1) {
        let cells: Vec<&str> = line.split(',').collect();
        let time: DateTime<Utc> = cells[0].parse().unwrap();
        // What a board says of itself when its power comes back is no temperature: flags take it out before it is heard.
        if time >= from && cells[2] != "85" {
            readings.entry(Name::new(cells[1]).unwrap()).or_default().push((time, cells[2].parse().unwrap()));
        }
    }
    readings
}

fn heard(bench: &Bench, readings: &Readings, now: DateTime<Utc>) -> BTreeMap<Name, Heard> {
    let of = |probe: &Name| {
        let all = readings.get(probe)?;
        let until = all.partition_point(|(time, _)| *time <= now);
        let from = all.partition_point(|(time, _)| *time < now - Duration::hours(HEARD_HOURS));
        let spacing = all.windows(2).map(|pair| pair[1].0 - pair[0].0).min()?;
        let last = all[..until].last()?.0;
        let points = all.get(from..until).unwrap_or_default().to_vec();
        Some((probe.clone(), Heard { points, last: Some(last), silent_after: Some(spacing * 3) }))
    };
    bench.placements.iter().filter_map(|placement| of(&placement.probe)).collect()
}

fn due(bench: &Bench, kept: &[KeptForecast], now: DateTime<Utc>) -> BTreeMap<Name, DateTime<Utc>> {
    let present = bench.trials.values().filter(|trial| trial.ended_at(now).is_none());
    present
        .filter_map(|trial| {
            let name = &trial.container.name;
            let since = last_happened(bench, trial, now);
            let first = kept.iter().find(|one| one.container == *name && one.as_of >= since && one.sprouted == trial.sprouted())?;
            Some((name.clone(), due_by(first)?))
        })
        .collect()
}

/// Whether what an alarm is about was so.
fn is_true(world: &World, state: &AlarmState, now: DateTime<Utc>) -> bool {
    let season = &world.seasons[world.present()];
    let subject = state.subject.as_str();
    match state.kind {
        AlarmKind::TooHot => {
            let Some(spot) = world.spots.iter().position(|spot| spot.name == subject) else { return false };
            let track = &season.tracks[spot];
            let hottest = track.celsius[track.step(now - Duration::hours(12))..=track.step(now)]
                .iter()
                .copied()
                .fold(f64::NEG_INFINITY, f64::max);
            state.limit_c.is_some_and(|limit_c| hottest > limit_c - PROBE_C)
        }
        // It is to be late by chance once in twenty times; late with a reason is one whose seeds are late, dead or mouldy.
        AlarmKind::Overdue => {
            let one = world.boxes.iter().find(|one| one.name == subject);
            one.is_some_and(|one| is_slow(one, now))
        }
        // Gaps of readings and missed looks are made up; nothing else makes these ring.
        AlarmKind::Silent | AlarmKind::Look | AlarmKind::Freezing => true,
    }
}

/// A box slower than its kind, or of which less sprouts.
fn is_slow(one: &TrueBox, now: DateTime<Utc>) -> bool {
    let slower = one.needs.ln_half - one.typical.ln_half > 0.06;
    let fewer = one.fates.iter().filter(|fate| fate.wants.is_some()).count() as f64
        <= f64::from(one.seeds) * one.typical.germinable() - 1.0 - mouldy_by(one.age_days(now));
    slower || fewer
}

/// The table: alarms a bench-month by kind, and how many of them without reason.
pub(crate) fn table(watches: &[Watch]) -> String {
    let months = watches.iter().map(|watch| watch.days).sum::<f64>() / DAYS_A_MONTH;
    let boxes: usize = watches.iter().map(|watch| watch.boxes).sum();
    let mut text = format!(
        "{months:.0} bench-months, {boxes} boxes\n\n| alarm | a bench-month | without reason, a bench-month |\n|---|---|---|\n"
    );
    for kind in AlarmKind::ALL {
        let of = || watches.iter().flat_map(|watch| &watch.rung).filter(|rung| rung.kind == kind);
        let without = of().filter(|rung| rung.without_reason).count();
        text += &format!("| {} | {:.2} | {:.2} |\n", kind.word(), of().count() as f64 / months, without as f64 / months);
    }
    text
}
