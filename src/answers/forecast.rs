//! When the present boxes will sprout.

use std::collections::BTreeMap;

use super::chilling::lacks_by_own_sowings;
use super::own::{gained_by_last_look, unsure};
use super::{Known, Present};
use crate::bench::{Event, Move, Name, Trial};
use crate::forecast::{
    Ahead, Assumed, BoxAnswer, BoxCase, BoxForecast, BoxNote, ColdLack, Coming, ForecastAnswer, Outlook, PottingOn, SLOT_US,
    SinceLook, Supposed, Weeks, by_week, forecast_box, horizon_days,
};
use crate::germination::{Evidence, Fit, FitWarning, Needs};
use crate::stats::{Dice, parallel_map, seed_of};

/// A share of guessed warmth from which it is said.
const GUESSED: f64 = 0.1;
/// A spot this far outside the warmth that trials had is said, °C.
pub(super) const OUTSIDE_C: f64 = 1.0;
/// How unsure ln of the pace becomes for every °C beyond the warmth that trials had. Rates run straight only over part of their range:
/// near the base and the optimum they bend, by some 20 to 30 % within 5 °C beyond the straight part (from memory, no source).
const PACE_SD_PER_C: f64 = 0.05;
/// Boxes worked out one after the other by one thread, so that those on the same path share its course: at the most, and fewer where
/// there would not be so many lots of work.
const MOST_IN_A_ROW: usize = 16;
const LEAST_LOTS: usize = 8;

/// Forecasts every container of each batch with one that has not ended, over `days` days.
#[must_use]
pub fn forecast(known: &Known, present: &Present<'_>, days: usize) -> ForecastAnswer {
    forecast_assuming(known, present, days, &[])
}

/// The same with temperatures to come as the grower assumes them; of several assumptions on a spot the first holds.
#[must_use]
pub fn forecast_assuming(known: &Known, present: &Present<'_>, days: usize, assumed: &[Assumed]) -> ForecastAnswer {
    let forecaster = Forecaster::new(known, present, days, assumed);
    // Boxes of one kind on one path side by side; their order says nothing about their draws.
    let mut order: Vec<usize> = (0..present.trials.len()).collect();
    order.sort_by(|one, other| forecaster.path_order(present.trials[*one], present.trials[*other]));
    let in_a_row = (order.len() / LEAST_LOTS).clamp(1, MOST_IN_A_ROW);
    let chunks: Vec<Vec<&Trial>> =
        order.chunks(in_a_row).map(|chunk| chunk.iter().map(|at| present.trials[*at]).collect()).collect();
    let worked = parallel_map(&chunks, |chunk| forecaster.chunk(chunk));
    let mut placed: Vec<(usize, BoxAnswer)> = order.into_iter().zip(worked.into_iter().flatten()).collect();
    placed.sort_by_key(|(at, _)| *at);
    let boxes: Vec<BoxAnswer> = placed.into_iter().map(|(_, answer)| answer).collect();
    let together = by_week(boxes.iter().map(|answer| &answer.forecast), &forecaster.weeks);
    ForecastAnswer { as_of: known.now, days, assumed: assumed.to_vec(), boxes, together, fits: present.needs() }
}

/// What all boxes' forecasts share.
struct Forecaster<'a> {
    known: &'a Known,
    present: &'a Present<'a>,
    days: usize,
    weeks: Weeks,
    /// Spots of which something is assumed, with the outlook that it gives and how sure its level is.
    assumed: BTreeMap<&'a Name, (&'a Supposed, Option<Outlook>)>,
    potting: BTreeMap<(&'a Name, Event), Option<PottingOn>>,
    /// What boxes lack of cold by the grower's own sowings.
    cold_lacks: BTreeMap<Name, ColdLack>,
}

impl<'a> Forecaster<'a> {
    fn new(known: &'a Known, present: &'a Present<'a>, days: usize, assumed: &'a [Assumed]) -> Self {
        let outlook = |one: &Assumed| match &one.supposed {
            Supposed::Steady(set) => Some(Outlook::steady(set.celsius)),
            Supposed::Like(_) => None,
        };
        let trials = || known.bench.trials.values();
        let learnt = |kind: (&Name, Event)| {
            let own = trials().filter(|trial| (&trial.container.species, trial.container.event) == kind);
            PottingOn::learnt(own, trials())
        };
        let kinds = present.trials.iter().map(|trial| (&trial.container.species, trial.container.event));
        Self {
            known,
            present,
            days,
            weeks: Weeks::of(known.now, days, known.bench.zone),
            assumed: assumed.iter().rev().map(|one| (&one.spot, (&one.supposed, outlook(one)))).collect(),
            potting: kinds.map(|kind| (kind, learnt(kind))).collect(),
            cold_lacks: lacks_by_own_sowings(known, present),
        }
    }

    /// What boxes that share a course have in common; the name last, so that the order is a whole one.
    fn path_order(&self, one: &Trial, other: &Trial) -> std::cmp::Ordering {
        let [one, other] = [one, other].map(|trial| {
            let container = &trial.container;
            (&container.species, container.event, &container.treatment, trial.spot_at(self.known.now), &container.name)
        });
        one.cmp(&other)
    }

    /// Boxes in order of their paths: each takes over the course of the one before it where it is the same.
    fn chunk(&self, trials: &[&'a Trial]) -> Vec<BoxAnswer> {
        let inputs: Vec<Input<'_>> = trials.iter().map(|trial| self.input(trial)).collect();
        let mut shared: Option<Ahead<'_>> = None;
        let mut answers = Vec::with_capacity(inputs.len());
        for input in &inputs {
            let rates = || input.needs.iter().map(|needs| needs.rate);
            if !shared.as_ref().is_some_and(|ahead| ahead.is_of(rates(), &input.coming)) {
                let (now_us, horizon) = (self.known.now.timestamp_micros(), horizon_days(self.days));
                shared = Some(Ahead::new(&input.coming, &self.present.weather, rates().collect(), now_us, horizon));
            }
            answers.push(self.answer(input, shared.as_mut().filter(|_| !input.coming.is_empty())));
        }
        answers
    }

    fn input(&self, trial: &'a Trial) -> Input<'_> {
        let known = self.known;
        let spot = trial.spot_at(known.end_of(trial));
        let (look, ended) = (trial.last_look(), trial.ended_at(known.now).is_some());
        let fit = self.present.fits.get(&(&trial.container.species, trial.container.event));
        let evidence = known.evidence(trial);
        let mean_c = evidence.mean_c().or_else(|| Some(self.present.outlooks.get(spot)?.mean_c()));
        let needs: Vec<Needs> =
            fit.map_or_else(Vec::new, |fit| fit.needs_of(&trial.container, mean_c).into_iter().map(|needs| needs.own).collect());
        let counted = known.counts_from(trial).is_some();
        let coming = if counted && !ended && !needs.is_empty() { self.coming(trial, spot, fit, needs.len()) } else { None };
        let sampled = |guess: f64| {
            if ended { Vec::new() } else { known.sampled(trial, look, known.now.max(look), SLOT_US, guess) }
        };
        let since_look =
            SinceLook::new(look.timestamp_micros(), known.now.max(look).timestamp_micros(), [-1.0, 0.0, 1.0].map(sampled));
        Input {
            trial,
            spot,
            ended,
            fit,
            counted,
            gained: gained_by_last_look(&evidence, &needs, fit, |level| known.level_sd_c(level)),
            offsets: fit.map_or_else(Vec::new, |fit| known.offsets_now(fit, spot)),
            coming: coming.unwrap_or_default(),
            evidence,
            needs,
            since_look,
        }
    }

    /// Where a box will stand, by what is planned; none where nothing is known of one of these spots.
    fn coming(&self, trial: &Trial, spot: &'a Name, fit: Option<&Fit>, draws: usize) -> Option<Vec<Coming<'_>>> {
        let ahead: Vec<&Move> = trial.planned.iter().filter(|planned| planned.time > self.known.now).collect();
        let spots = std::iter::once(spot).chain(ahead.iter().map(|planned| &planned.spot));
        let ends = ahead.iter().map(|planned| Some(planned.time.timestamp_micros())).chain([None]);
        spots
            .zip(ends)
            .map(|(spot, until_us)| {
                let (outlook, offsets) = self.at(spot, fit?, draws)?;
                let pace = pace(fit, outlook.mean_c(), draws);
                Some(Coming { until_us, outlook, offsets, pace })
            })
            .collect()
    }

    /// What may come at a spot, as assumed or as known, and the offsets of its level.
    fn at(&self, spot: &Name, fit: &Fit, draws: usize) -> Option<(&Outlook, Vec<f64>)> {
        let as_known = |spot: &Name| Some((self.present.outlooks.get(spot)?, self.known.offsets_now(fit, spot)));
        let steady = |spot: &Name| match self.assumed.get(spot)? {
            (Supposed::Steady(set), Some(outlook)) => Some((outlook, unsure(spot, set.sd_c, draws))),
            _ => None,
        };
        match self.assumed.get(spot) {
            None => as_known(spot),
            Some((Supposed::Like(other), _)) => steady(other).or_else(|| as_known(other)),
            Some(_) => steady(spot),
        }
    }

    fn answer(&self, input: &Input<'_>, ahead: Option<&mut Ahead<'_>>) -> BoxAnswer {
        let (trial, known) = (input.trial, self.known);
        let container = &trial.container;
        let case = BoxCase {
            trial,
            evidence: &input.evidence,
            needs: &input.needs,
            gained: &input.gained,
            since_look: &input.since_look,
            offsets: &input.offsets,
            ended: input.ended,
            left: trial.left().or_else(|| rough_left(trial)),
            potting: self.potting.get(&(&container.species, container.event)).and_then(Option::as_ref),
        };
        let family = input.fit.map(|fit| fit.question.distribution).unwrap_or_default();
        let mut forecast = forecast_box(&case, family, ahead, &self.weeks, known.now, seed_of(container.name.as_str()));
        let probe = known.bench.stands_at(input.spot).any(|(_, left)| left.is_none());
        forecast.notes = notes(&case, input, &forecast, probe);
        if input.counted && !input.ended {
            let lack = known.cold_lacks.get(&container.name).or_else(|| self.cold_lacks.get(&container.name));
            forecast.notes.extend(lack.copied().map(BoxNote::WantsChilling));
        }
        BoxAnswer { trial: trial.clone(), spot: input.spot.clone(), ended: input.ended, forecast }
    }
}

/// One box with all that its forecast is made from.
struct Input<'a> {
    trial: &'a Trial,
    spot: &'a Name,
    ended: bool,
    fit: Option<&'a Fit>,
    /// Its warmth counts: it is not in the cold.
    counted: bool,
    evidence: Evidence,
    needs: Vec<Needs>,
    gained: Vec<f64>,
    offsets: Vec<f64>,
    coming: Vec<Coming<'a>>,
    since_look: SinceLook,
}

/// The factor on the thermal time gained at a spot of this mean temperature, draw by draw: unsure where the species is not known.
pub(super) fn pace(fit: Option<&Fit>, spot_c: f64, draws: usize) -> Vec<f64> {
    // Where all rests on what was assumed, that is unsure enough.
    let learnt = fit.filter(|fit| !nothing_learnt(fit)).and_then(|fit| Some((fit, beyond(fit.valid_c?, spot_c))));
    let Some((fit, beyond_c)) = learnt.filter(|(_, beyond_c)| *beyond_c > 0.0) else { return vec![1.0; draws] };
    let sd = PACE_SD_PER_C * beyond_c;
    let mut dice = Dice::new(seed_of(&format!("pace of {}", fit.species)));
    (0..draws).map(|_| (sd * dice.normal()).exp()).collect()
}

/// °C that a temperature lies beyond a range.
pub(super) fn beyond((low, high): (f64, f64), celsius: f64) -> f64 {
    (low - celsius).max(celsius - high).max(0.0)
}

pub(super) fn nothing_learnt(fit: &Fit) -> bool {
    fit.warnings.contains(&FitWarning::NothingLearnt)
}

/// What is left in a box whose seeds were counted roughly, taking the middle of low and high.
fn rough_left(trial: &Trial) -> Option<u32> {
    let container = &trial.container;
    let middle = container.seeds_low?.midpoint(container.seeds_high?);
    Some(middle.saturating_sub(trial.sprouted() + trial.gone()))
}

fn notes(case: &BoxCase<'_>, input: &Input<'_>, forecast: &BoxForecast, probe: bool) -> Vec<BoxNote> {
    let mut notes = Vec::new();
    if case.ended {
        return notes;
    }
    if !input.counted {
        notes.push(BoxNote::InTheCold);
    } else if input.coming.is_empty() || case.evidence.unknown_days() > 0.0 {
        notes.push(if probe { BoxNote::NoReadings } else { BoxNote::NoTemperatures });
    }
    match (case.trial.container.seeds, case.left) {
        (None, None) => notes.push(BoxNote::SeedsNotCounted),
        (None, Some(_)) => notes.push(BoxNote::SeedsCountedRoughly),
        (Some(_), _) => {}
    }
    match input.fit.filter(|fit| !nothing_learnt(fit)) {
        None => notes.push(BoxNote::AllAssumed { prior: input.fit.map(|fit| fit.question.prior).unwrap_or_default() }),
        Some(Fit { valid_c: Some(valid), .. }) => {
            let means = input.coming.iter().map(|there| there.outlook.mean_c());
            let outside = means.filter(|mean| beyond(*valid, *mean) > OUTSIDE_C);
            let furthest = outside.max_by(|one, other| beyond(*valid, *one).total_cmp(&beyond(*valid, *other)));
            notes.extend(furthest.map(|spot_c| BoxNote::OutsideKnownWarmth { spot_c }));
        }
        Some(_) => {}
    }
    if let Some(share) = forecast.imputed_share.filter(|share| *share >= GUESSED && forecast.more_chance.is_some()) {
        notes.push(BoxNote::GuessedHours { share });
    }
    notes
}
