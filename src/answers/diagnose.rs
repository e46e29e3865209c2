//! Which boxes are slow, and why.

use std::collections::{BTreeMap, BTreeSet};

use super::chilling::{Answers, chill_answers, chilled_as_known};
use super::{Known, Present};
use crate::bench::{Name, SpotKind, Trial};
use crate::civil::{Time, local_date, local_hour, time_from_micros};
use crate::diagnosis::{
    Because, BoxDelay, BoxDiagnosis, Chilled, Diagnosis, Doubted, Finding, PlacedBox, SpotPath, chilling_findings, diagnose_box,
    doubted, findings, liked, suspects, swaps,
};
use crate::forecast::{SLOT_US, imputed_share};
use crate::germination::{Fit, Needs, OwnNeeds};
use crate::units::MICROS_PER_DAY;

/// Draws that a diagnosis is made from: every fifth of a thousand.
const EVERY: usize = 5;
/// A spot must have been measured for this share of a box's life to be compared with.
const MEASURED_SHARE: f64 = 0.8;
/// A box younger than this is too young, in slots of a quarter of an hour: one day.
const YOUNG: usize = 96;

/// Diagnoses every container of each batch with one that has not ended.
#[must_use]
pub fn diagnose(known: &Known, present: &Present<'_>) -> Diagnosis {
    let answers = chill_answers(known, present);
    let boxes: Vec<BoxDiagnosis> = present.trials.iter().map(|trial| diagnose_one(known, present, &answers, trial)).collect();
    let since = present.trials.iter().map(|trial| trial.container.sown).min().unwrap_or(known.now);
    let since = local_date(since, known.bench.zone);
    let probes = known.tallies.iter().filter_map(|tally| {
        let placed = known.bench.placements.iter().rev().find(|placement| placement.probe == tally.probe)?;
        Some((tally.probe.clone(), placed.spot.clone(), doubted(tally, since)))
    });
    // Boxes of which nothing was worked out keep their places.
    let movable = |spot: &Name| boxes.iter().filter(|one| !one.ended && one.delay.is_some() && one.spot == *spot).count() as u32;
    let places = present.room.iter().map(|(spot, room)| (*spot, room + movable(spot))).collect();
    let swaps = swaps(&boxes, &places);
    Diagnosis { as_of: known.now, boxes, swaps, probes: probes.collect() }
}

fn diagnose_one(known: &Known, present: &Present<'_>, answers: &Answers<'_>, trial: &Trial) -> BoxDiagnosis {
    let end = known.end_of(trial);
    let spot = trial.spot_at(end).clone();
    let ended = trial.ended_at(known.now).is_some();
    let container = &trial.container;
    let fit = present.fits.get(&(&container.species, container.event));
    let chilled = chilled_as_known(known, answers, trial);
    let (worked, mut findings, liked) = match known.counts_from(trial) {
        Some(counted) => {
            let (worked, findings) = slowness(known, present, trial, counted, &spot, fit, chilled.as_ref());
            (worked, findings, fit.map(liked))
        }
        None if ended => (None, Vec::new(), None),
        None => (None, vec![Finding::too_early(Because::InTheCold)], None),
    };
    let (delay, guessed) = worked.map_or((None, None), |worked| (Some(worked.delay), worked.guessed));
    findings.extend(chilled.iter().flat_map(|chilled| chilling_findings(chilled, trial, known.now)));
    BoxDiagnosis { trial: trial.clone(), spot, ended, delay, guessed, liked, chilled, findings }
}

/// The delay of a box whose warmth counts from `counted` on, and what is said of it; without advice for one that has ended.
fn slowness(
    known: &Known,
    present: &Present<'_>,
    trial: &Trial,
    counted: Time,
    spot: &Name,
    fit: Option<&Fit>,
    chilled: Option<&Chilled>,
) -> (Option<Worked>, Vec<Finding>) {
    let (end, container) = (known.end_of(trial), &trial.container);
    let told = fit.and_then(|fit| worked_out(known, present, trial, counted, spot, end, fit));
    let (Some(worked), Some(fit)) = (told, fit) else {
        let young = slots_of(counted, end) < YOUNG;
        return (None, vec![Finding::too_early(if young { Because::LittleWarmth } else { Because::NoTemperatures })]);
    };
    let others = fit.trials.iter().filter(|other| other.container != container.name && other.fraction.is_some_and(|f| f > 0.0));
    let lot = container.lot.as_ref().and_then(|lot| known.bench.lots.get(lot));
    let mut said = findings(&worked.delay, fit, trial, suspects(trial, lot, chilled), spot, others.count(), worked.alone);
    if trial.ended_at(known.now).is_some() {
        said.iter_mut().for_each(Finding::without_advice);
    }
    (Some(worked), said)
}

fn slots_of(from: Time, until: Time) -> usize {
    ((until - from).num_microseconds().unwrap_or(0) / SLOT_US).max(0) as usize
}

/// What was worked out of a box.
struct Worked {
    delay: BoxDelay,
    /// Why there was no other spot to compare with, where there was none.
    alone: Option<Because>,
    /// Share of its warmth so far that was guessed.
    guessed: Option<f64>,
}

/// The delay; `sown` is the time that its days count from.
fn worked_out(
    known: &Known,
    present: &Present<'_>,
    trial: &Trial,
    sown: Time,
    spot: &Name,
    end: Time,
    fit: &Fit,
) -> Option<Worked> {
    fit.draws.as_ref()?;
    let slots = slots_of(sown, end);
    if slots < YOUNG {
        return None;
    }
    let own_past_c = without_holes(known.sampled(trial, sown, end, SLOT_US, 0.0).into_iter().take(slots))?;
    let own_spots = known.spots_of(trial, sown, end, slots);
    if own_spots.len() != slots {
        return None;
    }
    let local_hours: Vec<f64> = slot_times(sown, YOUNG).map(|time| local_hour(time, known.bench.zone)).collect();
    let mut spots = BTreeMap::new();
    let friends = known.bench.friends();
    let elsewhere = |name: &Name| friends.iter().any(|friend| name.is_of(friend));
    for (name, warmth) in known.warmth.iter().filter(|(name, _)| !elsewhere(name)) {
        let candidate =
            name == spot || (warmth.kind != SpotKind::Fridge && measured_share(known, name, sown, end) >= MEASURED_SHARE);
        let Some(outlook) = present.outlooks.get(name).filter(|_| candidate) else { continue };
        let sampled = warmth.record.sampled(sown.timestamp_micros(), SLOT_US, slots, 0.0);
        let Some(past_c) = without_holes(sampled.into_iter()) else { continue };
        let offsets = known.offsets_now(fit, name).into_iter().step_by(EVERY).collect();
        let room = present.room.get(name).copied();
        let doubted = doubted_at(known, name, sown, slots);
        spots.insert(
            name,
            SpotPath { past_c, outlook, offsets, room, uncalibrated: never_calibrated(known, name, sown, end), doubted },
        );
    }
    let evidence = known.evidence(trial);
    if evidence.unknown_days() > 0.0 {
        return None;
    }
    let placed =
        PlacedBox { trial, own_past_c: &own_past_c, own_spots: &own_spots, spot, local_hours: &local_hours, spots: &spots };
    let needs: Vec<OwnNeeds> = fit.needs_of(&trial.container, evidence.mean_c()).into_iter().step_by(EVERY).collect();
    let weather: Vec<_> = present.weather.iter().step_by(EVERY).cloned().collect();
    let delay = diagnose_box(&placed, fit.question.distribution, &needs, &weather, &middle(fit))?;
    let placeable = known
        .bench
        .spots
        .iter()
        .filter(|(name, there)| there.kind_at(known.now) != SpotKind::Fridge && !elsewhere(name) && *name != spot);
    let alone = match (spots.len(), placeable.count()) {
        (0 | 1, 0) => Some(Because::OneSpotOnly),
        (0 | 1, _) => Some(Because::OthersUnmeasured),
        _ => None,
    };
    let own: Vec<Needs> = needs.iter().map(|needs| needs.own).collect();
    Some(Worked { delay, alone, guessed: imputed_share(&evidence, &own) })
}

/// The probes that a spot was known by over a time, where none of them was ever calibrated.
fn never_calibrated(known: &Known, spot: &Name, from: Time, until: Time) -> Vec<Name> {
    let stood = |left: Option<Time>| left.is_none_or(|left| left > from);
    let there: Vec<_> = known.bench.stands_at(spot).filter(|(placement, left)| placement.since < until && stood(*left)).collect();
    if there.iter().any(|(placement, _)| placement.calibration.is_some()) {
        return Vec::new();
    }
    let probes: BTreeSet<&Name> = there.iter().map(|(placement, _)| &placement.probe).collect();
    probes.into_iter().cloned().collect()
}

/// When readings of the probes that stood at a spot were suspect.
fn doubted_at(known: &Known, spot: &Name, from: Time, slots: usize) -> Vec<Doubted> {
    let from_us = from.timestamp_micros();
    let slot = |time_us: i64, round: i64| ((time_us - from_us + round).div_euclid(SLOT_US).max(0) as usize).min(slots);
    let mut doubted = Vec::new();
    for (placement, left) in known.bench.stands_at(spot) {
        let tally = known.tallies.iter().find(|tally| tally.probe == placement.probe);
        let (since_us, left_us) = (placement.since.timestamp_micros(), left.map_or(i64::MAX, |left| left.timestamp_micros()));
        for (from_us, until_us) in tally.into_iter().flat_map(|tally| &tally.unsure) {
            let slots = slot((*from_us).max(since_us), 0)..slot((*until_us).min(left_us), SLOT_US - 1);
            if !slots.is_empty() {
                doubted.push(Doubted { probe: placement.probe.clone(), slots });
            }
        }
    }
    doubted
}

/// The needs of the middle of the estimates.
pub(super) fn middle(fit: &Fit) -> Needs {
    let e = &fit.estimates;
    let rate = match (e.base.estimate, e.optimum.estimate, e.ceiling.estimate) {
        (Some(base), Some(optimum), Some(ceiling)) if optimum > base && ceiling > optimum => {
            crate::thermal::Rate::Tent { base, optimum, ceiling }
        }
        _ => fit.mode.rate,
    };
    Needs { rate, ln_half: e.half.estimate.map_or(fit.mode.ln_half, f64::ln), ..fit.mode }
}

fn slot_times(from: Time, slots: usize) -> impl Iterator<Item = Time> {
    let from_us = from.timestamp_micros();
    (0..slots).map(move |slot| time_from_micros(from_us + slot as i64 * SLOT_US).unwrap_or(from))
}

/// The samples, a hole taking the value before it (the first ones that after them); none where nothing is known.
fn without_holes(samples: impl Iterator<Item = Option<f64>>) -> Option<Vec<f64>> {
    let samples: Vec<Option<f64>> = samples.collect();
    let mut last = samples.iter().flatten().next().copied()?;
    Some(
        samples
            .into_iter()
            .map(|sample| {
                last = sample.unwrap_or(last);
                last
            })
            .collect(),
    )
}

/// Share of a stretch for which a spot's temperature was measured or set.
fn measured_share(known: &Known, spot: &Name, from: Time, until: Time) -> f64 {
    let (from_us, until_us) = (from.timestamp_micros(), until.timestamp_micros());
    let stretch = known.record(spot).stretch(from_us, until_us);
    stretch.known.duration() * MICROS_PER_DAY / (until_us - from_us).max(1) as f64
}
