//! A fit as plain bytes, to be kept and brought back exactly as it was.
//!
//! Only what comes out of a fit is written; what went into it is known to whoever asks for it, by its digest. Whenever what a fit
//! holds changes, [`FORM`] is raised: bytes of another form are never read.

use serde::{Deserialize, Serialize};

use crate::bench::{Event, Name};
use crate::germination::{
    Calibrated, ContainerEffect, Draws, Effect, EffectOf, Estimate, Estimates, Fit, FitWarning, GerminableOf, Informant, Layout,
    Level, Needs, Question, Space, TrialSummary,
};
use crate::thermal::Rate;

/// Number of the form of the bytes, and of the estimator that made what they hold: part of every digest.
pub const FORM: u32 = 3;

#[derive(Debug, Serialize, Deserialize)]
struct Shape {
    trials: Vec<Trial>,
    seeds: u32,
    sprouted: u32,
    log_likelihood: f64,
    /// Base, optimum, ceiling, half, spread, germinable, container speed, container fraction.
    estimates: [Point; 8],
    /// Lot, treatment, fraction.
    germinable: Vec<(Option<String>, Option<String>, Point)>,
    effects: Vec<(Factor, [Point; 3])>,
    layout: Laid,
    mode: [f64; 6],
    valid_c: Option<(f64, f64)>,
    draws: Option<Drawn>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Trial {
    container: String,
    mean_c: Option<f64>,
    swing_c: f64,
    fraction: Option<f64>,
    lot: Option<String>,
    treatment: Option<String>,
}

#[derive(Debug, Serialize, Deserialize)]
enum Factor {
    Lot(Option<String>),
    Treatment(Option<String>),
}

#[derive(Debug, Serialize, Deserialize)]
struct Laid {
    containers_differ: bool,
    centre_c: Option<f64>,
    lots: Vec<Option<String>>,
    treatments: Vec<Option<String>>,
    offsets: Vec<(Word, f64)>,
}

#[derive(Debug, Serialize, Deserialize)]
enum Word {
    Given(String),
    /// Probes, calibrated or not.
    Read(Vec<(String, bool)>),
}

#[derive(Debug, Serialize, Deserialize)]
struct Point {
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    informed_by: Option<u8>,
}

#[derive(Debug, Serialize, Deserialize)]
struct Drawn {
    /// Draws have no more digits.
    points: Vec<Vec<f32>>,
    effective: f64,
}

#[derive(Debug, Serialize, Deserialize)]
enum Warning {
    NothingLearnt,
    OneTemperature { from_c: f64, to_c: f64 },
    BaseUnbounded,
    OptimumUnbounded,
    NeverAboveOptimum,
    StoppedEarly { trials: usize },
    RemovedMatters { low: f64, high: f64 },
    LotsTakenTogether { groups: usize },
    GuessedHours { share: f64 },
    LeftOut { containers: Vec<String> },
    SproutedAtOnce { containers: Vec<String> },
    Unconfirmed,
    RoughDraws { effective: f64 },
}

/// A fit as bytes; none where it cannot be written, which no fit has met yet.
#[must_use]
pub fn fit_bytes(fit: &Fit) -> Option<Vec<u8>> {
    let e = &fit.estimates;
    let shape = Shape {
        trials: fit.trials.iter().map(trial).collect(),
        seeds: fit.seeds,
        sprouted: fit.sprouted,
        log_likelihood: fit.log_likelihood,
        estimates: [e.base, e.optimum, e.ceiling, e.half, e.spread, e.germinable, e.speed_sd, e.fraction_sd].map(point),
        germinable: fit.germinable.iter().map(|row| (text(&row.lot), text(&row.treatment), point(row.germinable))).collect(),
        effects: fit.effects.iter().map(effect).collect(),
        layout: laid(&fit.layout),
        mode: needs(&fit.mode),
        valid_c: fit.valid_c,
        draws: fit.draws.as_ref().map(|draws| Drawn {
            points: draws.points.iter().map(|point| point.iter().map(|value| *value as f32).collect()).collect(),
            effective: draws.effective,
        }),
        warnings: fit.warnings.iter().map(warning).collect(),
    };
    postcard::to_stdvec(&shape).ok()
}

/// The fit of a species and a question whose bytes these are; none where they are of no fit.
#[must_use]
pub fn fit_of(bytes: &[u8], species: &Name, event: Event, question: Question) -> Option<Fit> {
    let (shape, rest) = postcard::take_from_bytes::<Shape>(bytes).ok()?;
    if !rest.is_empty() {
        return None;
    }
    let [base, optimum, ceiling, half, spread, germinable, speed_sd, fraction_sd] = shape.estimates.map(estimate);
    let space = Space { shape: question.shape, distribution: question.distribution };
    let draws = shape.draws.map(|drawn| Draws {
        points: drawn.points.into_iter().map(|point| point.into_iter().map(f64::from).collect()).collect(),
        effective: drawn.effective,
    });
    Some(Fit {
        species: species.clone(),
        event,
        question,
        trials: shape.trials.into_iter().map(trial_of).collect::<Option<_>>()?,
        seeds: shape.seeds,
        sprouted: shape.sprouted,
        log_likelihood: shape.log_likelihood,
        estimates: Estimates { base, optimum, ceiling, half, spread, germinable, speed_sd, fraction_sd },
        germinable: shape.germinable.into_iter().map(germinable_of).collect::<Option<_>>()?,
        effects: shape.effects.into_iter().map(effect_of).collect::<Option<_>>()?,
        layout: layout_of(space, shape.layout)?,
        mode: needs_of(shape.mode)?,
        valid_c: shape.valid_c,
        draws,
        warnings: shape.warnings.into_iter().map(warning_of).collect::<Option<_>>()?,
    })
}

fn trial(trial: &TrialSummary) -> Trial {
    let TrialSummary { container, mean_c, swing_c, fraction, lot, treatment } = trial;
    Trial {
        container: container.to_string(),
        mean_c: *mean_c,
        swing_c: *swing_c,
        fraction: *fraction,
        lot: text(lot),
        treatment: text(treatment),
    }
}

fn trial_of(trial: Trial) -> Option<TrialSummary> {
    let Trial { container, mean_c, swing_c, fraction, lot, treatment } = trial;
    let (lot, treatment) = (name(lot)?, name(treatment)?);
    Some(TrialSummary { container: Name::new(&container).ok()?, mean_c, swing_c, fraction, lot, treatment })
}

fn text(name: &Option<Name>) -> Option<String> {
    name.as_ref().map(Name::to_string)
}

/// None where the text is no name.
#[expect(clippy::option_option, reason = "no name is one thing, an impossible one another")]
fn name(text: Option<String>) -> Option<Option<Name>> {
    text.map_or(Some(None), |text| Name::new(&text).ok().map(Some))
}

fn germinable_of((lot, treatment, point): (Option<String>, Option<String>, Point)) -> Option<GerminableOf> {
    Some(GerminableOf { lot: name(lot)?, treatment: name(treatment)?, germinable: estimate(point) })
}

fn effect(effect: &Effect) -> (Factor, [Point; 3]) {
    let of = match &effect.of {
        EffectOf::Lot(lot) => Factor::Lot(text(lot)),
        EffectOf::Treatment(treatment) => Factor::Treatment(text(treatment)),
    };
    (of, [effect.fraction_logit, effect.ln_requirement, effect.base_c].map(point))
}

fn effect_of((of, points): (Factor, [Point; 3])) -> Option<Effect> {
    let of = match of {
        Factor::Lot(lot) => EffectOf::Lot(name(lot)?),
        Factor::Treatment(treatment) => EffectOf::Treatment(name(treatment)?),
    };
    let [fraction_logit, ln_requirement, base_c] = points.map(estimate);
    Some(Effect { of, fraction_logit, ln_requirement, base_c })
}

fn laid(layout: &Layout) -> Laid {
    let word = |level: &Level| match level {
        Level::Given(spot) => Word::Given(spot.to_string()),
        Level::Read(probes) => {
            Word::Read(probes.iter().map(|(probe, calibrated)| (probe.to_string(), *calibrated == Calibrated::Yes)).collect())
        }
    };
    Laid {
        containers_differ: layout.containers == ContainerEffect::On,
        centre_c: layout.centre_c,
        lots: layout.lots.iter().map(text).collect(),
        treatments: layout.treatments.iter().map(text).collect(),
        offsets: layout.offsets.iter().map(|(level, sd_c)| (word(level), *sd_c)).collect(),
    }
}

fn layout_of(space: Space, laid: Laid) -> Option<Layout> {
    let level = |(word, sd_c): (Word, f64)| {
        let level = match word {
            Word::Given(spot) => Level::Given(Name::new(&spot).ok()?),
            Word::Read(probes) => {
                let probe = |(probe, calibrated): (String, bool)| {
                    Some((Name::new(&probe).ok()?, if calibrated { Calibrated::Yes } else { Calibrated::No }))
                };
                Level::Read(probes.into_iter().map(probe).collect::<Option<_>>()?)
            }
        };
        Some((level, sd_c))
    };
    Some(Layout::of_parts(
        space,
        if laid.containers_differ { ContainerEffect::On } else { ContainerEffect::Off },
        laid.centre_c,
        laid.lots.into_iter().map(name).collect::<Option<_>>()?,
        laid.treatments.into_iter().map(name).collect::<Option<_>>()?,
        laid.offsets.into_iter().map(level).collect::<Option<_>>()?,
    ))
}

fn point(estimate: Estimate) -> Point {
    let Estimate { estimate, low, high, informed_by } = estimate;
    let informed_by = informed_by.map(|informant| match informant {
        Informant::Prior => 0,
        Informant::Both => 1,
        Informant::Trials => 2,
    });
    Point { estimate, low, high, informed_by }
}

fn estimate(point: Point) -> Estimate {
    let informed_by =
        point.informed_by.and_then(|code| [Informant::Prior, Informant::Both, Informant::Trials].get(usize::from(code)).copied());
    Estimate { estimate: point.estimate, low: point.low, high: point.high, informed_by }
}

/// The rate's base, optimum and ceiling (not-a-number where it has none), then the rest.
fn needs(needs: &Needs) -> [f64; 6] {
    let Needs { rate, ln_half, spread, germinable } = *needs;
    let [base, optimum, ceiling] = match rate {
        Rate::Days => [f64::NAN; 3],
        Rate::Threshold { base } => [base, f64::NAN, f64::NAN],
        Rate::Tent { base, optimum, ceiling } => [base, optimum, ceiling],
    };
    [base, optimum, ceiling, ln_half, spread, germinable]
}

fn needs_of([base, optimum, ceiling, ln_half, spread, germinable]: [f64; 6]) -> Option<Needs> {
    let rate = match (base.is_nan(), optimum.is_nan() || ceiling.is_nan()) {
        (true, true) => Rate::Days,
        (false, true) => Rate::Threshold { base },
        (false, false) => Rate::Tent { base, optimum, ceiling },
        (true, false) => return None,
    };
    Some(Needs { rate, ln_half, spread, germinable })
}

fn warning(warning: &FitWarning) -> Warning {
    let names = |containers: &[Name]| containers.iter().map(ToString::to_string).collect();
    match warning {
        FitWarning::NothingLearnt => Warning::NothingLearnt,
        FitWarning::OneTemperature { from_c, to_c } => Warning::OneTemperature { from_c: *from_c, to_c: *to_c },
        FitWarning::BaseUnbounded => Warning::BaseUnbounded,
        FitWarning::OptimumUnbounded => Warning::OptimumUnbounded,
        FitWarning::NeverAboveOptimum => Warning::NeverAboveOptimum,
        FitWarning::StoppedEarly { trials } => Warning::StoppedEarly { trials: *trials },
        FitWarning::RemovedMatters { low, high } => Warning::RemovedMatters { low: *low, high: *high },
        FitWarning::LotsTakenTogether { groups } => Warning::LotsTakenTogether { groups: *groups },
        FitWarning::GuessedHours { share } => Warning::GuessedHours { share: *share },
        FitWarning::LeftOut { containers } => Warning::LeftOut { containers: names(containers) },
        FitWarning::SproutedAtOnce { containers } => Warning::SproutedAtOnce { containers: names(containers) },
        FitWarning::Unconfirmed => Warning::Unconfirmed,
        FitWarning::RoughDraws { effective } => Warning::RoughDraws { effective: *effective },
    }
}

fn warning_of(warning: Warning) -> Option<FitWarning> {
    let names = |containers: Vec<String>| containers.iter().map(|name| Name::new(name).ok()).collect::<Option<Vec<_>>>();
    Some(match warning {
        Warning::NothingLearnt => FitWarning::NothingLearnt,
        Warning::OneTemperature { from_c, to_c } => FitWarning::OneTemperature { from_c, to_c },
        Warning::BaseUnbounded => FitWarning::BaseUnbounded,
        Warning::OptimumUnbounded => FitWarning::OptimumUnbounded,
        Warning::NeverAboveOptimum => FitWarning::NeverAboveOptimum,
        Warning::StoppedEarly { trials } => FitWarning::StoppedEarly { trials },
        Warning::RemovedMatters { low, high } => FitWarning::RemovedMatters { low, high },
        Warning::LotsTakenTogether { groups } => FitWarning::LotsTakenTogether { groups },
        Warning::GuessedHours { share } => FitWarning::GuessedHours { share },
        Warning::LeftOut { containers } => FitWarning::LeftOut { containers: names(containers)? },
        Warning::SproutedAtOnce { containers } => FitWarning::SproutedAtOnce { containers: names(containers)? },
        Warning::Unconfirmed => FitWarning::Unconfirmed,
        Warning::RoughDraws { effective } => FitWarning::RoughDraws { effective },
    })
}
