//! When the present boxes will sprout.

use super::{Known, Present};
use crate::bench::Trial;
use crate::forecast::{BoxAnswer, BoxCase, BoxForecast, BoxNote, ForecastAnswer, SLOT_US, by_week, forecast_box};
use crate::germination::{Fit, FitWarning};
use crate::stats::seed_of;

/// A share of guessed warmth from which it is said.
const GUESSED: f64 = 0.1;
/// A spot this far outside the warmth that trials had is said, °C.
const OUTSIDE_C: f64 = 1.0;

/// Forecasts every container of each batch with one that has not ended, over `days` days.
#[must_use]
pub fn forecast(known: &Known, present: &Present<'_>, days: usize) -> ForecastAnswer {
    let boxes: Vec<BoxAnswer> = present.trials.iter().map(|trial| forecast_one(known, present, trial, days)).collect();
    let together = by_week(boxes.iter().map(|answer| &answer.forecast), known.bench.zone);
    ForecastAnswer { as_of: known.now, days, boxes, together, fits: present.needs() }
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
    let probe = known.bench.stands_at(&spot).any(|(_, left)| left.is_none());
    forecast.notes = notes(&case, &forecast, fit, probe);
    BoxAnswer { trial: trial.clone(), spot, ended, forecast }
}

fn notes(case: &BoxCase<'_>, forecast: &BoxForecast, fit: Option<&Fit>, probe: bool) -> Vec<BoxNote> {
    let mut notes = Vec::new();
    if case.ended {
        return notes;
    }
    if case.outlook.is_none() || case.evidence.unknown_days() > 0.0 {
        notes.push(if probe { BoxNote::NoReadings } else { BoxNote::NoTemperatures });
    }
    if case.trial.container.seeds.is_none() {
        notes.push(BoxNote::SeedsNotCounted);
    }
    if fit.is_none_or(|fit| fit.warnings.contains(&FitWarning::NothingLearnt)) {
        notes.push(BoxNote::AllAssumed { prior: fit.map(|fit| fit.question.prior).unwrap_or_default() });
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
