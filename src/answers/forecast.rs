//! When the present boxes will sprout.

use super::{Known, Present};
use crate::bench::{Move, Name, Trial};
use crate::civil::Time;
use crate::forecast::{BoxAnswer, BoxCase, BoxForecast, BoxNote, Coming, ForecastAnswer, SLOT_US, by_week, forecast_box};
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
    let counted = known.counts_from(trial).is_some();
    let coming = if counted && draws.is_some() { coming(present, trial, &spot, known.now) } else { None }.unwrap_or_default();
    let case = BoxCase {
        trial,
        evidence: &evidence,
        since_look: &since_look,
        coming: &coming,
        level_sd_c: warmth.filter(|warmth| warmth.set).map_or(0.0, |warmth| warmth.level_sd_c),
        ended,
        left: trial.left().or_else(|| rough_left(trial)),
    };
    let needs: Vec<_> = fit.map_or_else(Vec::new, |fit| {
        let mean_c = evidence.mean_c().or_else(|| Some(coming.first()?.outlook.mean_c()));
        fit.needs_of(&trial.container, mean_c).into_iter().map(|needs| needs.own).collect()
    });
    let family = fit.map(|fit| fit.question.distribution).unwrap_or_default();
    let mut forecast =
        forecast_box(&case, family, &needs, &present.weather, known.now, days, seed_of(trial.container.name.as_str()));
    let probe = known.bench.stands_at(&spot).any(|(_, left)| left.is_none());
    forecast.notes = notes(&case, &forecast, fit, counted, probe);
    BoxAnswer { trial: trial.clone(), spot, ended, forecast }
}

/// What is left in a box whose seeds were counted roughly, taking the middle of low and high.
fn rough_left(trial: &Trial) -> Option<u32> {
    let container = &trial.container;
    let middle = container.seeds_low?.midpoint(container.seeds_high?);
    Some(middle.saturating_sub(trial.sprouted() + trial.gone()))
}

/// Where a box will stand, by what is planned; none where nothing is known of one of these spots.
fn coming<'a>(present: &'a Present<'_>, trial: &Trial, spot: &Name, now: Time) -> Option<Vec<Coming<'a>>> {
    let ahead: Vec<&Move> = trial.planned.iter().filter(|planned| planned.time > now).collect();
    let spots = std::iter::once(spot).chain(ahead.iter().map(|planned| &planned.spot));
    let ends = ahead.iter().map(|planned| Some(planned.time.timestamp_micros())).chain([None]);
    spots.zip(ends).map(|(spot, until_us)| Some(Coming { until_us, outlook: present.outlooks.get(spot)? })).collect()
}

fn notes(case: &BoxCase<'_>, forecast: &BoxForecast, fit: Option<&Fit>, counted: bool, probe: bool) -> Vec<BoxNote> {
    let mut notes = Vec::new();
    if case.ended {
        return notes;
    }
    if !counted {
        notes.push(BoxNote::InTheCold);
    } else if case.coming.is_empty() || case.evidence.unknown_days() > 0.0 {
        notes.push(if probe { BoxNote::NoReadings } else { BoxNote::NoTemperatures });
    }
    match (case.trial.container.seeds, case.left) {
        (None, None) => notes.push(BoxNote::SeedsNotCounted),
        (None, Some(_)) => notes.push(BoxNote::SeedsCountedRoughly),
        (Some(_), _) => {}
    }
    if fit.is_none_or(|fit| fit.warnings.contains(&FitWarning::NothingLearnt)) {
        notes.push(BoxNote::AllAssumed { prior: fit.map(|fit| fit.question.prior).unwrap_or_default() });
    } else if let (Some((low, high)), Some(there)) = (fit.and_then(|fit| fit.valid_c), case.coming.first()) {
        let spot_c = there.outlook.mean_c();
        if spot_c < low - OUTSIDE_C || spot_c > high + OUTSIDE_C {
            notes.push(BoxNote::OutsideKnownWarmth { spot_c });
        }
    }
    if let Some(share) = forecast.imputed_share.filter(|share| *share >= GUESSED) {
        notes.push(BoxNote::GuessedHours { share });
    }
    notes
}
