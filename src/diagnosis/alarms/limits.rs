//! What seeds bear, and by when a sprout was all but sure.

use std::collections::BTreeMap;

use chrono::Duration;

use crate::bench::{Bench, Name, Trial};
use crate::civil::Time;
use crate::forecast::KeptForecast;
use crate::germination::{Estimate, Fit, FitWarning, Informant, published_heat};

/// Who says what is too hot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Whence {
    /// The grower, of this spot.
    Spot,
    /// The bench's own sowings: half-way from where the species is fastest to where it stops.
    Sowings,
    /// A published source.
    Published(&'static str),
    /// The bench's setting for seeds of which nothing is known.
    Setting,
}

/// From which temperature on it is too hot.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct HeatLimit {
    /// °C.
    pub celsius: f64,
    /// Who says so.
    pub whence: Whence,
}

/// What a fit says of heat: half-way from the optimum to the ceiling, where seeds go at half of their best pace; none where its sowings
/// never told.
#[must_use]
pub fn heat_known(fit: &Fit) -> Option<f64> {
    let never_told = |warning: &FitWarning| {
        matches!(warning, FitWarning::NothingLearnt | FitWarning::NeverAboveOptimum | FitWarning::OptimumUnbounded)
    };
    let told = |estimate: &Estimate| matches!(estimate.informed_by, Some(Informant::Trials | Informant::Both));
    if fit.warnings.iter().any(never_told) || !told(&fit.estimates.optimum) {
        return None;
    }
    Some(f64::midpoint(fit.estimates.optimum.estimate?, fit.estimates.ceiling.estimate?))
}

/// What is too hot for a box at a spot: as the grower says of the spot; else as its species' own sowings showed (`known`, in °C); else
/// as published; else the bench's setting.
#[must_use]
pub fn heat_limit(bench: &Bench, known: &BTreeMap<Name, f64>, spot: &Name, trial: &Trial, now: Time) -> HeatLimit {
    let limit = |celsius, whence| HeatLimit { celsius, whence };
    let species = &trial.container.species;
    if let Some(celsius) = bench.spots.get(spot).and_then(|spot| spot.setting_at(now).too_hot_c) {
        limit(celsius, Whence::Spot)
    } else if let Some(celsius) = known.get(species) {
        limit(*celsius, Whence::Sowings)
    } else if let Some(heat) = published_heat(species) {
        limit(heat.limit_c, Whence::Published(heat.source))
    } else {
        limit(bench.alarms.too_hot_c(), Whence::Setting)
    }
}

/// When something last happened to a box that makes earlier forecasts of it say nothing: it was sown, carried, sprouted, or its spot
/// was changed.
#[must_use]
pub fn last_happened(bench: &Bench, trial: &Trial, now: Time) -> Time {
    let sprouted = trial.checks.iter().rev().find(|check| check.sprouted > 0).map(|check| check.time);
    let changed = bench.spots.get(trial.spot_at(now)).and_then(|spot| spot.changed_by(now));
    let moved = trial.moves.last().map(|moved| moved.time);
    [sprouted, changed, moved].into_iter().flatten().fold(trial.container.sown, Time::max)
}

/// By when a forecast had one sprout more with 95 %; none where it was never so sure.
#[must_use]
pub fn due_by(forecast: &KeptForecast) -> Option<Time> {
    // The 5 % quantile of the count has reached one more: with 95 % it is at least that.
    let day = forecast.counts.iter().position(|counts| counts[0] > forecast.sprouted)?;
    forecast.as_of.checked_add_signed(Duration::days(i64::try_from(day).ok()? + 1))
}
