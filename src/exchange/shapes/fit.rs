//! `fit` as JSON.

use serde::Serialize;

use super::{Warning, text_of};
use crate::bench::{Degrees, Event, Name};
use crate::germination::{
    self, ChillLength, ChillResponse, Distribution, Estimate, Fit, FitWarning, Informant, Longer, Prior, RateShape,
};
use crate::wording::{prior_source, response_words, warning_words};

#[derive(Debug, Serialize)]
struct Fits {
    fits: Vec<OneFit>,
}

#[derive(Debug, Serialize)]
struct OneFit {
    species: String,
    event: &'static str,
    distribution: &'static str,
    rate: Option<&'static str>,
    clock: &'static str,
    prior: &'static str,
    prior_source: Option<String>,
    trials: usize,
    seeds: u32,
    sprouted: u32,
    log_likelihood: f64,
    parameters: Parameters,
    germinable: Vec<Germinable>,
    effects: Vec<Effect>,
    valid_c: ValidC,
    chilling: Chilling,
    warnings: Vec<Warning>,
}

/// How the species answered to days of moist cold; of nothing where too few lengths are on record.
#[derive(Debug, Default, Serialize)]
struct Chilling {
    lengths: Vec<ChillingLength>,
    fraction_change: Ends,
    fraction: Option<&'static str>,
    requirement_change: Ends,
    speed: Option<&'static str>,
    enough_days: Ends,
    one_curve: Option<bool>,
    message: Option<String>,
}

#[derive(Debug, Serialize)]
struct ChillingLength {
    days: f64,
    boxes: usize,
    seeds: u32,
    sprouted: u32,
    fraction: Ends,
    requirement: Ends,
}

#[derive(Debug, Default, Serialize)]
struct Ends {
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Parameters {
    base_c: Parameter,
    optimum_c: Parameter,
    ceiling_c: Parameter,
    half_requirement: Parameter,
    spread_ln: Parameter,
    container_speed_sd: Parameter,
    container_fraction_sd: Parameter,
}

#[derive(Debug, Serialize)]
struct Parameter {
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    informed_by: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct Germinable {
    lot: Option<String>,
    treatment: Option<String>,
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}

/// What a lot or a treatment adds: medians, with the ends of the 90 % intervals in `low` and `high`.
#[derive(Debug, Serialize)]
struct Effect {
    #[serde(flatten)]
    of: EffectOf,
    #[serde(flatten)]
    median: Added,
    low: Added,
    high: Added,
}

#[derive(Debug, Serialize)]
#[serde(rename_all = "lowercase")]
enum EffectOf {
    Lot(Option<String>),
    Treatment(Option<String>),
}

#[derive(Debug, Serialize)]
struct Added {
    fraction_logit: Option<f64>,
    ln_requirement: Option<f64>,
    base_c: Option<f64>,
}

impl Added {
    fn of(effect: &germination::Effect, end: fn(&Estimate) -> Option<f64>) -> Self {
        Self {
            fraction_logit: end(&effect.fraction_logit),
            ln_requirement: end(&effect.ln_requirement),
            base_c: end(&effect.base_c),
        }
    }
}

#[derive(Debug, Serialize)]
struct ValidC {
    low: Option<f64>,
    high: Option<f64>,
}

impl From<&Estimate> for Parameter {
    fn from(value: &Estimate) -> Self {
        let informed_by = value.informed_by.map(|informant| match informant {
            Informant::Prior => "prior",
            Informant::Both => "both",
            Informant::Trials => "trials",
        });
        Self { estimate: value.estimate, low: value.low, high: value.high, informed_by }
    }
}

/// All fits as JSON.
#[must_use]
pub fn fit_json(fits: &[Fit], chilling: &[Option<ChillResponse>], degrees: Degrees) -> String {
    let answers = chilling.iter().map(Option::as_ref).chain(std::iter::repeat(None));
    text_of(&Fits { fits: fits.iter().zip(answers).map(|(fit, answer)| one_fit(fit, answer, degrees)).collect() })
}

impl From<&Estimate> for Ends {
    fn from(value: &Estimate) -> Self {
        Self { estimate: value.estimate, low: value.low, high: value.high }
    }
}

fn chilling(answer: &ChillResponse) -> Chilling {
    let word = |longer: Longer| match longer {
        Longer::Helps => "helps",
        Longer::Harms => "harms",
        Longer::CannotTell => "cannot-tell",
    };
    let length = |length: &ChillLength| ChillingLength {
        days: length.days,
        boxes: length.boxes,
        seeds: length.seeds,
        sprouted: length.sprouted,
        fraction: (&length.fraction).into(),
        requirement: (&length.requirement).into(),
    };
    Chilling {
        lengths: answer.lengths.iter().map(length).collect(),
        fraction_change: (&answer.fraction_change).into(),
        fraction: Some(word(answer.fraction)),
        requirement_change: (&answer.requirement_change).into(),
        speed: Some(word(answer.speed)),
        enough_days: (&answer.enough_days.unwrap_or_default()).into(),
        one_curve: Some(answer.one_curve),
        message: Some(response_words(answer)),
    }
}

fn one_fit(fit: &Fit, answer: Option<&ChillResponse>, degrees: Degrees) -> OneFit {
    let e = &fit.estimates;
    let thermal = fit.question.shape != RateShape::Days;
    OneFit {
        species: fit.species.to_string(),
        event: match fit.event {
            Event::Radicle => "radicle",
            Event::Emergence => "emergence",
        },
        distribution: match fit.question.distribution {
            Distribution::LogLogistic => "log-logistic",
            Distribution::LogNormal => "log-normal",
            Distribution::Weibull => "weibull",
        },
        rate: match fit.question.shape {
            RateShape::Threshold => Some("threshold"),
            RateShape::Tent => Some("tent"),
            RateShape::Days => None,
        },
        clock: if thermal { "thermal" } else { "days" },
        prior: match fit.question.prior {
            Prior::None => "none",
            Prior::General => "general",
            Prior::Published(_) => "published",
            Prior::Packet(..) => "packet",
        },
        prior_source: prior_source(&fit.question.prior),
        trials: fit.trials.len(),
        seeds: fit.seeds,
        sprouted: fit.sprouted,
        log_likelihood: fit.log_likelihood,
        parameters: Parameters {
            base_c: (&e.base).into(),
            optimum_c: (&e.optimum).into(),
            ceiling_c: (&e.ceiling).into(),
            half_requirement: (&e.half).into(),
            spread_ln: (&e.spread).into(),
            container_speed_sd: (&e.speed_sd).into(),
            container_fraction_sd: (&e.fraction_sd).into(),
        },
        germinable: fit.germinable.iter().map(germinable).collect(),
        effects: fit.effects.iter().map(effect).collect(),
        valid_c: {
            let valid = fit.valid_c.filter(|_| thermal);
            ValidC { low: valid.map(|valid| valid.0), high: valid.map(|valid| valid.1) }
        },
        chilling: answer.map(chilling).unwrap_or_default(),
        warnings: fit
            .warnings
            .iter()
            .map(|warning| Warning { kind: kind(warning), message: warning_words(warning, fit, degrees) })
            .collect(),
    }
}

fn germinable(row: &germination::GerminableOf) -> Germinable {
    let text = |name: &Option<Name>| name.as_ref().map(Name::to_string);
    let Estimate { estimate, low, high, .. } = row.germinable;
    Germinable { lot: text(&row.lot), treatment: text(&row.treatment), estimate, low, high }
}

fn effect(effect: &germination::Effect) -> Effect {
    let text = |name: &Option<Name>| name.as_ref().map(Name::to_string);
    Effect {
        of: match &effect.of {
            germination::EffectOf::Lot(lot) => EffectOf::Lot(text(lot)),
            germination::EffectOf::Treatment(treatment) => EffectOf::Treatment(text(treatment)),
        },
        median: Added::of(effect, |estimate| estimate.estimate),
        low: Added::of(effect, |estimate| estimate.low),
        high: Added::of(effect, |estimate| estimate.high),
    }
}

fn kind(warning: &FitWarning) -> &'static str {
    match warning {
        FitWarning::NothingLearnt => "nothing-learnt",
        FitWarning::OneTemperature { .. } => "one-temperature",
        FitWarning::BaseUnbounded => "base-unbounded",
        FitWarning::OptimumUnbounded => "optimum-unbounded",
        FitWarning::NeverAboveOptimum => "never-above-optimum",
        FitWarning::BoxesDisagree { .. } => "boxes-disagree",
        FitWarning::ShapesAlike { .. } => "shapes-alike",
        FitWarning::StoppedEarly { .. } => "stopped-early",
        FitWarning::RemovedMatters { .. } => "removed-matters",
        FitWarning::LotsTakenTogether { .. } => "lots-taken-together",
        FitWarning::GuessedHours { .. } => "guessed-hours",
        FitWarning::LeftOut { .. } => "left-out",
        FitWarning::SproutedAtOnce { .. } => "sprouted-at-once",
        FitWarning::Unconfirmed => "unconfirmed",
        FitWarning::RoughDraws { .. } => "rough-draws",
    }
}
