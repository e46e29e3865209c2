//! One species' trials → what its seeds need, with intervals and what could not be told.

use super::estimate::{Effect, Estimates, GerminableOf, by_draws, by_profile, effects, germinable_of};
use super::posterior::{Draws, draw};
use super::search::{Density, Peak, highest};
use super::{
    ContainerEffect, Coordinate, Distribution, Evidence, Layout, Length, Level, Model, Needs, Prior, RateShape, RemovedRule, Space,
};
use crate::bench::{Event, Name};
use crate::stats::{logit, median_of, normal_quantile};
use crate::thermal::Rate;

/// Climbs made: the best starts by height, as many from each top. Fewer, or from the best tops only, all ended on the level ground
/// where the optimum is above all that was seen.
const CLIMBS: usize = 8;
/// Tops of the tent to climb from: optimum, and from there to the ceiling, °C. The last is wide: with a narrow one seeds that
/// came up a little above 40 °C are impossible, and it is no start at all.
const TOPS: [(f64, f64); 4] = [(27.0, 11.0), (24.0, 9.0), (31.0, 12.0), (34.0, 20.0)];
/// Trials within this span of temperature cannot tell base from requirement, °C (rule: METHODS of thermal-time fitting ask for 5).
const NARROW_SPAN_C: f64 = 5.0;
/// A trial that ended below this multiple of the half requirement stopped early.
const EARLY: f64 = 1.5;
/// Containers that differ in ln requirement by more than this contradict each other: 99 in 100 are assumed to differ by less.
const UNUSUAL_SPEED_SD: f64 = 0.24;
/// Share of trial time above the optimum that tells something about it.
const TELLING_SHARE: f64 = 0.02;

/// What is asked of the trials.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Question {
    /// Family of the requirement.
    pub distribution: Distribution,
    /// Shape of the rate, or days alone.
    pub shape: RateShape,
    /// What is assumed.
    pub prior: Prior,
    /// What a removed seed says.
    pub removed: RemovedRule,
    /// Whether containers differ beyond lot and treatment.
    pub containers: ContainerEffect,
}

/// Who spoke on a number.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Informant {
    /// What was assumed: the trials narrowed it by less than a fifth.
    Prior,
    /// Both.
    Both,
    /// The trials: they narrowed it to less than three tenths.
    Trials,
}

/// A number with its 90 % interval; none where the evidence does not tell.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Estimate {
    /// Posterior median, or the maximum of the likelihood without a prior.
    pub estimate: Option<f64>,
    /// 5 % end.
    pub low: Option<f64>,
    /// 95 % end.
    pub high: Option<f64>,
    /// Who spoke.
    pub informed_by: Option<Informant>,
}

/// Something the reader of a fit must know.
#[derive(Debug, Clone, PartialEq)]
pub enum FitWarning {
    /// No container has sprouted or could teach yet: everything comes from what was assumed.
    NothingLearnt,
    /// All trials were kept so nearly alike that base and requirement cannot be told apart.
    OneTemperature {
        /// Coldest and warmest trial mean, °C.
        from_c: f64,
        /// See above.
        to_c: f64,
    },
    /// Without a prior the likelihood sets no bound on the base.
    BaseUnbounded,
    /// Without a prior the likelihood sets no bound on optimum or ceiling, though some time was spent above.
    OptimumUnbounded,
    /// No trial spent time above the optimum: optimum and ceiling are what was assumed.
    NeverAboveOptimum,
    /// A rate that rises for ever was asked for, and no trial was warm enough to tell it from one that falls again.
    ShapesAlike {
        /// Optima below this are hardly ever assumed, and no trial spent time above it, °C.
        above_c: f64,
    },
    /// Trials that ended before the slow seeds could have sprouted: the germinable fraction is unsure.
    StoppedEarly {
        /// How many.
        trials: usize,
    },
    /// Reading the removed seeds otherwise would move the germinable fraction from–to.
    RemovedMatters {
        /// Lowest over the three rules.
        low: f64,
        /// Highest.
        high: f64,
    },
    /// Containers of one lot and treatment differ far more in speed than is ever assumed.
    BoxesDisagree {
        /// Standard deviation of ln requirement between them.
        speed_sd: f64,
    },
    /// Lots or treatments differ in the trials, and are taken together, since nothing is assumed of how they differ.
    LotsTakenTogether {
        /// Distinct (lot, treatment) pairs.
        groups: usize,
    },
    /// Share of the trials' hours whose temperature was guessed.
    GuessedHours {
        /// 0 to 1.
        share: f64,
    },
    /// Containers left out, since nothing is known of their temperature for part of the time.
    LeftOut {
        /// Which.
        containers: Vec<Name>,
    },
    /// Containers left out, since their sprouts were recorded within hours of sowing.
    SproutedAtOnce {
        /// Which.
        containers: Vec<Name>,
    },
    /// The search did not come to the same place twice.
    Unconfirmed,
    /// The draws stand for few independent ones.
    RoughDraws {
        /// How many.
        effective: f64,
    },
}

/// How one trial went, for what may be advised.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialSummary {
    /// The container.
    pub container: Name,
    /// Mean temperature, °C.
    pub mean_c: Option<f64>,
    /// 95 % minus 5 % point of its temperatures, °C: how far it swung.
    pub swing_c: f64,
    /// Sprouts seen over seeds sown; none where not counted.
    pub fraction: Option<f64>,
    /// Its lot.
    pub lot: Option<Name>,
    /// Its treatment.
    pub treatment: Option<Name>,
}

/// What one species' seeds need, as far as can be told.
#[derive(Debug, Clone, PartialEq)]
pub struct Fit {
    /// The plant.
    pub species: Name,
    /// The event watched for.
    pub event: Event,
    /// What was asked.
    pub question: Question,
    /// How each container that taught went.
    pub trials: Vec<TrialSummary>,
    /// Seeds in them, as far as counted.
    pub seeds: u32,
    /// Sprouts in them.
    pub sprouted: u32,
    /// ln L at the mode, prior left out.
    pub log_likelihood: f64,
    /// The parameters.
    pub estimates: Estimates,
    /// Share of the seeds that can sprout, by lot and treatment.
    pub germinable: Vec<GerminableOf>,
    /// What lots and treatments add.
    pub effects: Vec<Effect>,
    /// The mode itself.
    pub mode: Needs,
    /// Temperatures the trials spent nine tenths of their time between, °C; none without a temperature.
    pub valid_c: Option<(f64, f64)>,
    /// What the numbers of a draw stand for.
    pub layout: Layout,
    /// Equally likely sets of parameters; none without a prior.
    pub draws: Option<Draws>,
    /// What the reader must know.
    pub warnings: Vec<FitWarning>,
}

/// Fits one species and event. `left_out` names containers that could not be used for want of temperatures; `level_sd_c` is how
/// unsure the temperatures of a level are, °C. None where nothing has sprouted and nothing is assumed, or where the evidence
/// is impossible under every start.
#[must_use]
pub fn fit(
    species: &Name,
    event: Event,
    evidence: &[Evidence],
    left_out: &[Name],
    level_sd_c: impl Fn(&Level) -> f64,
    question: Question,
    seed: u64,
) -> Option<Fit> {
    let space = Space { shape: question.shape, distribution: question.distribution };
    let (at_once, evidence): (Vec<Evidence>, Vec<Evidence>) = evidence.iter().cloned().partition(Evidence::sprouted_at_once);
    // A bag that has only lain in the cold says nothing yet.
    let evidence: Vec<Evidence> =
        evidence.into_iter().filter(|evidence| evidence.stretches().any(|stretch| stretch.duration() > 0.0)).collect();
    let evidence = &evidence[..];
    let sprouted = evidence.iter().map(Evidence::sprouted).sum();
    if question.prior == Prior::None && sprouted == 0 {
        return None;
    }
    let layout = Layout::new(space, question.containers, &question.prior, evidence, level_sd_c);
    let plain = Model::plain(evidence, space, question.removed, question.prior);
    let first = highest(&plain, &starts(&plain, evidence), &[])?;
    let model = Model::new(evidence, layout, question.removed, question.prior);
    let peak = whole_peak(&model, &first)?;
    let mode = space.needs(&peak.point)?;
    let draws = if question.prior.is_none() { None } else { Some(draw(&model, &peak.point, Length::default(), seed)?) };
    let estimates = draws.as_ref().map_or_else(|| by_profile(&model, &peak), |draws| by_draws(&model, draws));
    let trials: Vec<TrialSummary> = evidence.iter().map(summary).collect();
    let sown: Vec<_> = evidence.iter().map(|e| (e.lot.clone(), e.treatment.clone())).collect();
    let germinable = draws.as_ref().map_or_else(
        || vec![GerminableOf { lot: None, treatment: None, germinable: estimates.germinable }],
        |draws| germinable_of(&model, draws, &sown),
    );
    let mut fit = Fit {
        species: species.clone(),
        event,
        question,
        trials,
        seeds: evidence.iter().filter_map(|evidence| evidence.seeds).sum(),
        sprouted,
        log_likelihood: model.ln_likelihood(&peak.point),
        estimates,
        germinable,
        effects: draws.as_ref().map_or_else(Vec::new, |draws| effects(&model, draws)),
        mode,
        valid_c: temperature_points(evidence.iter(), [0.05, 0.95]).map(|[low, high]| (low, high)),
        layout: model.layout.clone(),
        draws,
        warnings: Vec::new(),
    };
    fit.warnings = warnings(&fit, &peak, evidence);
    if !left_out.is_empty() {
        fit.warnings.push(FitWarning::LeftOut { containers: left_out.to_vec() });
    }
    if !at_once.is_empty() {
        let containers = at_once.into_iter().map(|evidence| evidence.container).collect();
        fit.warnings.push(FitWarning::SproutedAtOnce { containers });
    }
    Some(fit)
}

/// The peak of the whole model, climbed to from where containers were taken to be alike.
fn whole_peak(model: &Model, plain: &Peak) -> Option<Peak> {
    let layout = &model.layout;
    if layout.coordinates().len() == plain.point.len() {
        return Some(plain.clone());
    }
    let start = |sd: f64| -> Vec<f64> {
        let beside = layout.coordinates()[plain.point.len()..].iter().map(|which| match which {
            Coordinate::LnSpeedSd | Coordinate::LnFractionSd => layout.normal(*which).map_or(0.0, |(mean, _)| mean + sd),
            _ => 0.0,
        });
        plain.point.iter().copied().chain(beside).collect()
    };
    // With a prior the chains, begun apart, are the second opinion.
    if !model.prior.is_none() {
        let peak = highest(model, &[start(0.0)], &[])?;
        return Some(Peak { reached_from: plain.reached_from, starts: plain.starts, ..peak });
    }
    highest(model, &[start(0.0), start(1.5), start(-1.5)], &[])
}

/// Points to climb from: several bases and optima, the requirement taken from the looks at which half had sprouted.
fn starts(model: &Model, evidence: &[Evidence]) -> Vec<Vec<f64>> {
    let (space, prior) = (model.layout.space, model.prior);
    let mut bases: Vec<f64> = if space.shape == RateShape::Days { vec![0.0] } else { vec![6.0, 2.0, 10.0, 13.0, -3.0, 16.0] };
    bases.extend(prior.normal(&space, Coordinate::Base).filter(|_| space.shape != RateShape::Days).map(|(base, _)| base));
    let tops: &[(f64, f64)] = if space.shape == RateShape::Tent { &TOPS } else { &TOPS[..1] };
    let (seeds, sprouted) =
        evidence.iter().filter_map(|e| Some((e.seeds?, e.sprouted()))).fold((0, 0), |a, b| (a.0 + b.0, a.1 + b.1));
    let fraction = (f64::from(sprouted) + 0.5) / (f64::from(seeds) + 1.0);
    let mut chosen = Vec::new();
    for &(optimum, fall) in tops {
        let mut starts: Vec<(f64, Vec<f64>)> = Vec::new();
        for &base in &bases {
            let rate = match space.shape {
                RateShape::Days => Rate::Days,
                RateShape::Threshold => Rate::Threshold { base },
                RateShape::Tent => Rate::Tent { base, optimum, ceiling: optimum + fall },
            };
            let halves: Vec<f64> = evidence.iter().filter_map(|evidence| half_reached(evidence, &rate)).collect();
            let assumed = || prior.normal(&space, Coordinate::LnHalf).map_or(100.0, |(ln_half, _)| ln_half.exp());
            let half = if halves.is_empty() { assumed() } else { median_of(&halves) };
            for width in [1.0, 2.0] {
                let value = |which: &Coordinate| match which {
                    Coordinate::Base => base,
                    Coordinate::Optimum => optimum,
                    Coordinate::LnFall => fall.ln(),
                    Coordinate::LnHalf => half.max(0.01).ln(),
                    Coordinate::LnSpread => (0.2 * width * space.distribution.scale_of_unit_sd()).ln(),
                    Coordinate::LogitGerminable => logit(fraction.clamp(0.02, 0.98)),
                    _ => 0.0,
                };
                let start: Vec<f64> = space.coordinates().iter().map(value).collect();
                starts.push((model.at(&start), start));
            }
        }
        starts.sort_by(|a, b| b.0.total_cmp(&a.0));
        chosen.extend(starts.into_iter().take(CLIMBS / tops.len()).map(|(_, start)| start));
    }
    chosen
}

/// Thermal time halfway into the look by which half of a container's sprouts had come.
fn half_reached(evidence: &Evidence, rate: &Rate) -> Option<f64> {
    let half = evidence.sprouted().div_ceil(2);
    let mut seen = 0;
    let mut before = 0.0;
    for (segment, reached) in evidence.segments.iter().zip(evidence.thermal_times(rate)) {
        seen += segment.sprouted;
        if half > 0 && seen >= half {
            return Some(0.5 * (before + reached)).filter(|middle| *middle > 0.0);
        }
        before = reached;
    }
    None
}

fn summary(evidence: &Evidence) -> TrialSummary {
    let points = temperature_points(std::iter::once(evidence), [0.05, 0.95]);
    TrialSummary {
        container: evidence.container.clone(),
        mean_c: evidence.mean_c(),
        swing_c: points.map_or(0.0, |[low, high]| high - low),
        lot: evidence.lot.clone(),
        treatment: evidence.treatment.clone(),
        fraction: evidence.seeds.map(|seeds| f64::from(evidence.sprouted()) / f64::from(seeds)),
    }
}

/// Temperatures below which the given shares of the containers' time were spent.
fn temperature_points<'a, const N: usize>(evidence: impl Iterator<Item = &'a Evidence>, shares: [f64; N]) -> Option<[f64; N]> {
    let mut spent: Vec<(f64, f64)> = evidence
        .flat_map(|evidence| &evidence.segments)
        .flat_map(super::Segment::stretches)
        .flat_map(|stretch| stretch.known.pairs().chain(stretch.guessed.pairs()))
        .collect();
    spent.sort_by(|a, b| a.0.total_cmp(&b.0));
    let total: f64 = spent.iter().map(|(_, days)| days).sum();
    let last = spent.last()?.0;
    Some(shares.map(|share| {
        let mut reached = 0.0;
        let found = spent.iter().find(|(_, days)| {
            reached += days;
            reached >= share * total
        });
        found.map_or(last, |(celsius, _)| *celsius)
    }))
}

fn warnings(fit: &Fit, peak: &Peak, evidence: &[Evidence]) -> Vec<FitWarning> {
    let mut warnings = Vec::new();
    let thermal = fit.question.shape != RateShape::Days;
    if fit.sprouted == 0 {
        warnings.push(FitWarning::NothingLearnt);
    }
    let taught = evidence.iter().filter(|evidence| evidence.sprouted() > 0);
    let means: Vec<f64> = taught.filter_map(Evidence::mean_c).collect();
    let (from_c, to_c) = means.iter().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), c| (low.min(*c), high.max(*c)));
    // Two trials apart in their means, or one that swung widely, can tell.
    let swung = fit.trials.iter().any(|trial| trial.swing_c > NARROW_SPAN_C);
    if thermal && !means.is_empty() && to_c - from_c < NARROW_SPAN_C && !swung {
        warnings.push(FitWarning::OneTemperature { from_c, to_c });
    }
    if thermal && fit.question.prior == Prior::None && fit.estimates.base.estimate.is_none() {
        warnings.push(FitWarning::BaseUnbounded);
    }
    let never_above = |celsius: f64| {
        let profiles = || evidence.iter().flat_map(Evidence::stretches).map(|stretch| &stretch.known);
        let all: f64 = profiles().map(crate::thermal::Profile::duration).sum();
        let above: f64 = profiles().map(|profile| profile.days_above(celsius)).sum();
        all > 0.0 && above < TELLING_SHARE * all
    };
    if fit.question.shape == RateShape::Threshold
        && let Some(above_c) = lowest_optimum_c(fit.question.distribution).filter(|lowest| never_above(*lowest))
    {
        warnings.push(FitWarning::ShapesAlike { above_c });
    }
    if let Some(optimum) = fit.mode.rate.optimum() {
        if never_above(optimum) {
            warnings.push(FitWarning::NeverAboveOptimum);
        } else if fit.question.prior.is_none()
            && (fit.estimates.optimum.estimate.is_none() || fit.estimates.ceiling.estimate.is_none())
        {
            warnings.push(FitWarning::OptimumUnbounded);
        }
    }
    let early = evidence.iter().filter(|evidence| {
        let end = evidence.thermal_times(&fit.mode.rate).last().copied().unwrap_or(0.0);
        evidence.left.unwrap_or(0) > 0 && end < EARLY * fit.mode.ln_half.exp()
    });
    let early = early.count();
    if fit.sprouted > 0 && 2 * early > evidence.len() {
        warnings.push(FitWarning::StoppedEarly { trials: early });
    }
    warnings.extend(removed_matters(fit, evidence));
    if let Some(speed_sd) = fit.estimates.speed_sd.estimate.filter(|sd| *sd > UNUSUAL_SPEED_SD) {
        warnings.push(FitWarning::BoxesDisagree { speed_sd });
    }
    let mut groups: Vec<_> = evidence.iter().map(|e| (&e.lot, &e.treatment)).collect();
    groups.sort();
    groups.dedup();
    if groups.len() > 1 && fit.question.prior.is_none() {
        warnings.push(FitWarning::LotsTakenTogether { groups: groups.len() });
    }
    let (all, guessed) = evidence
        .iter()
        .flat_map(Evidence::stretches)
        .fold((0.0, 0.0), |sum, s| (sum.0 + s.duration(), sum.1 + s.guessed.duration()));
    if thermal && guessed > 0.05 * all {
        warnings.push(FitWarning::GuessedHours { share: guessed / all });
    }
    if peak.reached_from < 2 {
        warnings.push(FitWarning::Unconfirmed);
    }
    if let Some(draws) = fit.draws.as_ref().filter(|draws| draws.effective < 100.0) {
        warnings.push(FitWarning::RoughDraws { effective: draws.effective });
    }
    warnings
}

/// The 5 % point of what is assumed of the optimum of seeds in general, °C.
fn lowest_optimum_c(distribution: Distribution) -> Option<f64> {
    let tent = Space { shape: RateShape::Tent, distribution };
    Prior::General.normal(&tent, Coordinate::Optimum).map(|(mean, sd)| mean + sd * normal_quantile(0.05))
}

/// The range of the germinable fraction over the rules for removed seeds, containers taken to be alike, where it is wider than half its
/// own interval.
fn removed_matters(fit: &Fit, evidence: &[Evidence]) -> Option<FitWarning> {
    if evidence.iter().all(|evidence| evidence.removed() == 0) {
        return None;
    }
    let space = fit.layout.space;
    let at = space.place_of(Coordinate::LogitGerminable)?;
    let rules = [RemovedRule::Dead, RemovedRule::Censored, RemovedRule::Rotted];
    let by_rule: Vec<f64> = crate::stats::parallel_map(&rules, |removed| {
        let otherwise = Model::plain(evidence, space, *removed, fit.question.prior);
        Some(crate::stats::logistic(highest(&otherwise, &[space.point(&fit.mode)], &[])?.point[at]))
    })
    .into_iter()
    .flatten()
    .collect();
    let (low, high) = by_rule.iter().fold((1.0, 0.0), |(low, high), value| (f64::min(low, *value), f64::max(high, *value)));
    let width = fit.estimates.germinable.high? - fit.estimates.germinable.low?;
    (high - low > 0.5 * width).then_some(FitWarning::RemovedMatters { low, high })
}
