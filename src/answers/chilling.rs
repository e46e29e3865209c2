//! How the seeds of a box were chilled, from what is on record where they stood.

use std::collections::BTreeMap;

use super::Known;
use super::warmth::{Sources, Wanted, merge};
use crate::bench::{Bench, Name, Placement, SpotKind, Stay, Trial};
use crate::civil::Time;
use crate::diagnosis::{
    BoxDiagnosis, ChillTodo, Chilled, Stood, ToldBy, chilled, chilling_findings, chilling_todo,
};
use crate::store::{Store, StoreError};
use crate::thermal::SpotWarmth;

/// A box's diagnosis with how its seeds were chilled, and what is said of that.
pub(super) fn with_chilling(known: &Known, mut one: BoxDiagnosis) -> BoxDiagnosis {
    one.chilled = chilled_of(&known.bench, &known.warmth, &one.trial, known.now);
    if let Some(chilled) = &one.chilled {
        one.findings.extend(chilling_findings(chilled, &one.trial, known.now));
    }
    one
}

/// What is to be done now about boxes that stand in a fridge. Reads no more than the temperatures that they had there.
pub(super) fn chilling_now(store: &Store, bench: &Bench, now: Time) -> Result<Vec<ChillTodo>, StoreError> {
    let in_fridge = |trial: &&Trial| {
        trial.container.owner.is_none()
            && trial.ended_at(now).is_none()
            && kind_at(bench, trial.spot_at(now), now) == SpotKind::Fridge
    };
    let trials: Vec<&Trial> = bench.trials.values().filter(in_fridge).collect();
    let mut wanted = Wanted::new();
    for stay in trials.iter().flat_map(|trial| bench.history(trial, now)) {
        wanted.entry(stay.spot.clone()).or_default().push((stay.from.timestamp_micros(), stay.until.timestamp_micros()));
    }
    wanted.retain(|spot, _| bench.spots.get(spot).is_some_and(|spot| spot.settings.iter().any(|s| s.kind != SpotKind::Indoors)));
    merge(&mut wanted);
    let all = wanted.values().flatten();
    let Some(from_us) = all.map(|stretch| stretch.0).min() else { return Ok(Vec::new()) };
    let warmth = Sources::new(store, bench, now)?.within(from_us, now.timestamp_micros(), &wanted)?;
    let todo = |trial: &&Trial| {
        let chilled = chilled_of(bench, &warmth, trial, now);
        chilled.map_or_else(Vec::new, |chilled| chilling_todo(&chilled, trial, now))
    };
    Ok(trials.iter().flat_map(todo).collect())
}

/// How a trial's seeds were chilled; none where that is neither on record nor wanted.
fn chilled_of(bench: &Bench, warmth: &BTreeMap<Name, SpotWarmth>, trial: &Trial, now: Time) -> Option<Chilled> {
    let end = trial.ended_at(now).unwrap_or(now);
    let history = bench.history(trial, end);
    let stood: Vec<Stood<'_>> = history.into_iter().flat_map(|stay| parts(bench, warmth, stay)).collect();
    let sources: Vec<&Trial> = bench.sources(trial).skip(1).collect();
    let lot = trial.container.lot.as_ref().and_then(|lot| bench.lots.get(lot));
    chilled(trial, &sources, lot, &stood, now, bench.zone)
}

fn kind_at(bench: &Bench, spot: &Name, time: Time) -> SpotKind {
    bench.spots.get(spot).map(|spot| spot.kind_at(time)).unwrap_or_default()
}

/// A stay, cut where something else was said of the spot or a probe was brought or taken away.
fn parts<'a>(bench: &Bench, warmth: &BTreeMap<Name, SpotWarmth>, stay: Stay<'a>) -> Vec<Stood<'a>> {
    let placements: Vec<(&Placement, Option<Time>)> = bench.stands_at(stay.spot).collect();
    let settings = bench.spots.get(stay.spot).into_iter().flat_map(|spot| &spot.settings).filter_map(|setting| setting.since);
    let moved = placements.iter().flat_map(|(placement, left)| [Some(placement.since), *left]).flatten();
    let mut edges: Vec<Time> = settings.chain(moved).filter(|edge| *edge > stay.from && *edge < stay.until).collect();
    edges.extend([stay.from, stay.until]);
    edges.sort_unstable();
    edges.dedup();
    let part = |edge: &[Time]| {
        let (from, until) = (edge[0], edge[1]);
        let there = warmth.get(stay.spot);
        let steps = there.map(|there| there.record.within(from.timestamp_micros(), until.timestamp_micros()).collect());
        let probes = placements.iter().filter(|(placement, left)| placement.since <= from && left.is_none_or(|left| left > from));
        let uncalibrated = probes.clone().any(|(placement, _)| placement.calibration.is_none());
        let given = bench.spots.get(stay.spot).and_then(|spot| spot.setting_at(from).given);
        let measured = there.is_some_and(|there| !there.set) && probes.count() > 0;
        let told = match (measured, given) {
            (true, _) => ToldBy::Probes { uncalibrated },
            (false, Some(_)) => ToldBy::Given,
            (false, None) => ToldBy::Nobody,
        };
        Stood {
            spot: stay.spot,
            kind: kind_at(bench, stay.spot, from),
            from,
            until,
            steps: steps.unwrap_or_default(),
            told,
            given_sd_c: given.filter(|_| told == ToldBy::Given).map_or(0.0, |given| given.sd_c()),
        }
    };
    edges.windows(2).map(part).collect()
}
