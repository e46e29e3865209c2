//! When the present boxes will sprout.

use std::collections::BTreeMap;

use super::Known;
use super::fit::fit_species;
use crate::bench::{Event, Name, Trial};
use crate::forecast::{BoxAnswer, BoxCase, BoxForecast, BoxNote, ForecastAnswer, Outlook, SLOT_US, Weather, by_week, forecast_box};
use crate::germination::{Fit, FitWarning, Question};
use crate::stats::{Dice, seed_of};

/// Draws that a forecast is made from, at most.
const DRAWS: usize = 1000;
/// Days of weather drawn: as far as any forecast reaches.
const WEATHER_DAYS: usize = 400;
/// A share of guessed warmth from which it is said.
const GUESSED: f64 = 0.1;
/// A spot this far outside the warmth that trials had is said, °C.
const OUTSIDE_C: f64 = 1.0;

/// Fits of the species of the present boxes, by species and event, and what may come at each spot.
pub(super) struct Present<'a> {
    pub(super) trials: Vec<&'a Trial>,
    pub(super) fits: BTreeMap<(&'a Name, Event), Fit>,
    pub(super) outlooks: BTreeMap<&'a Name, Outlook>,
    pub(super) weather: Vec<Weather>,
}

impl<'a> Present<'a> {
    pub(super) fn new(known: &'a Known) -> Self {
        let batches = known.bench.present_batches(known.now);
        let trials: Vec<&Trial> = batches.into_values().flatten().collect();
        let mut fits = BTreeMap::new();
        for trial in &trials {
            let key = (&trial.container.species, trial.container.event);
            if fits.contains_key(&key) {
                continue;
            }
            let own = known.bench.trials.values().filter(|other| (&other.container.species, other.container.event) == key);
            let own: Vec<&Trial> = own.filter(|other| !other.checks.is_empty()).collect();
            fits.extend(fit_species(known, key.0, key.1, &own, Question::default()).map(|fit| (key, fit)));
        }
        let now_us = known.now.timestamp_micros();
        let outlooks =
            known.warmth.iter().filter_map(|(name, warmth)| Some((name, Outlook::new(&warmth.record, now_us)?))).collect();
        let mut dice = Dice::new(seed_of("weather"));
        let weather = (0..DRAWS).map(|_| Weather::draw(WEATHER_DAYS, &mut dice)).collect();
        Self { trials, fits, outlooks, weather }
    }
}

/// Forecasts every container of each batch with one that has not ended, over `days` days.
#[must_use]
pub fn forecast(known: &Known, days: usize) -> ForecastAnswer {
    let present = Present::new(known);
    let boxes: Vec<BoxAnswer> = present.trials.iter().map(|trial| forecast_one(known, &present, trial, days)).collect();
    let together = by_week(boxes.iter().map(|answer| &answer.forecast), known.bench.zone);
    ForecastAnswer { as_of: known.now, days, boxes, together, fits: present.fits.into_values().collect() }
}

fn forecast_one(known: &Known, present: &Present<'_>, trial: &Trial, days: usize) -> BoxAnswer {
    let end = known.end_of(trial);
    let spot = trial.spot_at(end).clone();
    let ended = trial.ended_at(known.now).is_some();
    let evidence = known.evidence(trial);
    let look = trial.last_look();
    let since_look = [-1.0, 0.0, 1.0].map(|guess| known.sampled(trial, look, known.now.max(look), SLOT_US, guess));
    let warmth = known.warmth.get(&spot);
    let key = (&trial.container.species, trial.container.event);
    let fit = present.fits.get(&key);
    let draws = fit.and_then(|fit| fit.draws.as_ref());
    let outlook = present.outlooks.get(&spot).filter(|_| draws.is_some());
    let case = BoxCase {
        trial,
        evidence: &evidence,
        since_look: &since_look,
        outlook,
        level_sd_c: warmth.filter(|warmth| warmth.set).map_or(0.0, |warmth| warmth.level_sd_c),
        ended,
    };
    let needs = draws.map_or(&[][..], |draws| &draws.needs[..]);
    let family = fit.map(|fit| fit.question.distribution).unwrap_or_default();
    let mut forecast =
        forecast_box(&case, family, needs, &present.weather, known.now, days, seed_of(trial.container.name.as_str()));
    forecast.notes = notes(&case, &forecast, fit, ended);
    BoxAnswer { trial: trial.clone(), spot, ended, forecast }
}

fn notes(case: &BoxCase<'_>, forecast: &BoxForecast, fit: Option<&Fit>, ended: bool) -> Vec<BoxNote> {
    let mut notes = Vec::new();
    if ended {
        return notes;
    }
    if case.outlook.is_none() || case.evidence.unknown_days() > 0.0 {
        notes.push(BoxNote::NoTemperatures);
    }
    if case.trial.container.seeds.is_none() {
        notes.push(BoxNote::SeedsNotCounted);
    }
    if fit.is_none_or(|fit| fit.warnings.contains(&FitWarning::NothingLearnt)) {
        notes.push(BoxNote::AllAssumed);
    } else if let (Some((low, high)), Some(outlook)) = (fit.and_then(|fit| fit.valid_c), case.outlook) {
        let spot_c = outlook.mean_c();
        if spot_c < low - OUTSIDE_C || spot_c > high + OUTSIDE_C {
            notes.push(BoxNote::OutsideKnownWarmth { spot_c });
        }
    }
    if let Some(share) = forecast.imputed_share.filter(|share| *share >= GUESSED) {
        notes.push(BoxNote::GuessedHours { share });
    }
    notes
}
