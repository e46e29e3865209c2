//! Parameters with their 90 % intervals and who spoke on them.

use super::interval::profile_interval;
use super::posterior::Draws;
use super::search::Peak;
use super::space::Added;
use super::{Coordinate, Estimate, Informant, Model};
use crate::bench::Name;
use crate::stats::{logistic, quantile_of, standard_deviation_of};
use crate::thermal::Rate;

/// Level of the intervals.
const LEVEL: f64 = 0.9;

/// The parameters of a fit. Members that are no part of the model are all none.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Estimates {
    /// Base, °C.
    pub base: Estimate,
    /// Optimum, °C.
    pub optimum: Estimate,
    /// Ceiling, °C.
    pub ceiling: Estimate,
    /// Half requirement, °C·d (days on days alone).
    pub half: Estimate,
    /// Scale of ln Θ.
    pub spread: Estimate,
    /// Germinable fraction, lots and treatments at their middle.
    pub germinable: Estimate,
    /// Standard deviation of ln requirement between containers.
    pub speed_sd: Estimate,
    /// Standard deviation of the logit fraction between containers.
    pub fraction_sd: Estimate,
}

/// What one lot or treatment adds.
#[derive(Debug, Clone, PartialEq)]
pub struct Effect {
    /// Which.
    pub of: EffectOf,
    /// To the logit of the germinable fraction.
    pub fraction_logit: Estimate,
    /// To ln of the half requirement.
    pub ln_requirement: Estimate,
    /// To the base, °C; none for lots.
    pub base_c: Estimate,
}

/// What an effect belongs to; none: seeds of no named lot, or not treated.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum EffectOf {
    /// A lot.
    Lot(Option<Name>),
    /// A treatment.
    Treatment(Option<Name>),
}

/// The fraction that can sprout, of one lot and treatment.
#[derive(Debug, Clone, PartialEq)]
pub struct GerminableOf {
    /// The lot; none where lots do not differ, or for seeds of no named lot.
    pub lot: Option<Name>,
    /// The treatment likewise.
    pub treatment: Option<Name>,
    /// The fraction, at container effect 0.
    pub germinable: Estimate,
}

/// Medians and 5 to 95 % points of draws.
pub(super) fn by_draws(model: &Model, draws: &Draws) -> Estimates {
    let of = |which, turned| of_draws(model, draws, which, turned);
    let ceilings: Vec<f64> = draws
        .needs(&model.layout.space)
        .iter()
        .filter_map(|needs| match needs.rate {
            Rate::Tent { ceiling, .. } => Some(ceiling),
            Rate::Days | Rate::Threshold { .. } => None,
        })
        .collect();
    Estimates {
        base: of(Coordinate::Base, |x| x),
        optimum: of(Coordinate::Optimum, |x| x),
        ceiling: if ceilings.is_empty() { Estimate::default() } else { summed_up(ceilings, assumed_ceiling_sd(model), |x| x) },
        half: of(Coordinate::LnHalf, f64::exp),
        spread: of(Coordinate::LnSpread, f64::exp),
        germinable: of(Coordinate::LogitGerminable, logistic),
        speed_sd: of(Coordinate::LnSpeedSd, f64::exp),
        fraction_sd: of(Coordinate::LnFractionSd, f64::exp),
    }
}

/// A coordinate's draws in a scale where the prior is normal, turned into what is reported.
fn of_draws(model: &Model, draws: &Draws, which: Coordinate, turned: fn(f64) -> f64) -> Estimate {
    let layout = &model.layout;
    let Some(at) = layout.place_of(which) else { return Estimate::default() };
    let values: Vec<f64> = draws.points.iter().map(|point| point[at]).collect();
    let assumed = layout.normal(which).or_else(|| model.prior.normal(&layout.space, which)).map(|(_, sd)| sd);
    summed_up(values, assumed, turned)
}

/// What lots and treatments add, where there are several.
pub(super) fn effects(model: &Model, draws: &Draws) -> Vec<Effect> {
    let of = |which| of_draws(model, draws, which, |x| x);
    let lots = model.layout.lots.iter().enumerate().map(|(at, lot)| Effect {
        of: EffectOf::Lot(lot.clone()),
        fraction_logit: of(Coordinate::Lot(at, Added::Fraction)),
        ln_requirement: of(Coordinate::Lot(at, Added::Requirement)),
        base_c: Estimate::default(),
    });
    let treatments = model.layout.treatments.iter().enumerate().map(|(at, treatment)| Effect {
        of: EffectOf::Treatment(treatment.clone()),
        fraction_logit: of(Coordinate::Treatment(at, Added::Fraction)),
        ln_requirement: of(Coordinate::Treatment(at, Added::Requirement)),
        base_c: of(Coordinate::Treatment(at, Added::Base)),
    });
    lots.chain(treatments).collect()
}

/// The germinable fraction of each pair of lot and treatment that was sown.
pub(super) fn germinable_of(model: &Model, draws: &Draws, sown: &[(Option<Name>, Option<Name>)]) -> Vec<GerminableOf> {
    let layout = &model.layout;
    let (lots, treatments) = (!layout.lots.is_empty(), !layout.treatments.is_empty());
    let mut pairs: Vec<_> =
        sown.iter().map(|(lot, treatment)| (lot.clone().filter(|_| lots), treatment.clone().filter(|_| treatments))).collect();
    pairs.sort();
    pairs.dedup();
    if pairs.is_empty() {
        pairs.push((None, None));
    }
    let one = |(lot, treatment): (Option<Name>, Option<Name>)| {
        let mut which = vec![Coordinate::LogitGerminable];
        which.extend(layout.lot(lot.as_ref()).map(|at| Coordinate::Lot(at, Added::Fraction)));
        which.extend(layout.treatment(treatment.as_ref()).map(|at| Coordinate::Treatment(at, Added::Fraction)));
        let value = |point: &Vec<f64>| which.iter().map(|which| layout.value(point, *which)).sum();
        let germinable = summed_up(draws.points.iter().map(value).collect(), assumed_logit_sd(model), logistic);
        GerminableOf { lot, treatment, germinable }
    };
    pairs.into_iter().map(one).collect()
}

fn assumed_logit_sd(model: &Model) -> Option<f64> {
    model.prior.normal(&model.layout.space, Coordinate::LogitGerminable).map(|(_, sd)| sd)
}

/// The prior's standard deviation of the ceiling: optimum and fall (log-normal, small relative sd) added in squares.
fn assumed_ceiling_sd(model: &Model) -> Option<f64> {
    let space = model.layout.space;
    let (_, optimum) = model.prior.normal(&space, Coordinate::Optimum)?;
    let (ln_fall, sd) = model.prior.normal(&space, Coordinate::LnFall)?;
    Some(optimum.hypot(ln_fall.exp() * sd))
}

fn summed_up(mut values: Vec<f64>, assumed_sd: Option<f64>, turned: fn(f64) -> f64) -> Estimate {
    let sd = standard_deviation_of(&values);
    values.sort_by(f64::total_cmp);
    let point = |p| Some(turned(quantile_of(&values, p)));
    let informed_by = assumed_sd.map(|assumed| match sd / assumed {
        ratio if ratio > 0.8 => Informant::Prior,
        ratio if ratio < 0.3 => Informant::Trials,
        _ => Informant::Both,
    });
    Estimate { estimate: point(0.5), low: point(0.05), high: point(0.95), informed_by }
}

/// The maximum and its profile likelihood intervals. A number on which the likelihood sets no bound below is not estimated: on
/// real counts it runs to absurd values. The same holds for the optimum and the way down from it without a bound above: few counts
/// above the optimum are as likely with no ceiling at all. The requirement goes with the base. The ceiling, which is no coordinate
/// of its own, is given without an interval.
pub(super) fn by_profile(model: &Model, peak: &Peak) -> Estimates {
    let space = model.layout.space;
    let of = |which: Coordinate, step: f64, turned: fn(f64) -> f64| {
        let Some(at) = model.layout.place_of(which) else { return Estimate::default() };
        let (low, high) = profile_interval(model, &peak.point, at, step, LEVEL);
        let (lowest, highest) = which.edges();
        // An end at the edge of what could be meant is no end.
        let low = low.filter(|low| *low > lowest + 0.01).map(turned);
        let high = high.filter(|high| *high < highest - 0.01).map(turned);
        let told = match which {
            Coordinate::LogitGerminable => true,
            Coordinate::Optimum | Coordinate::LnFall => low.is_some() && high.is_some(),
            Coordinate::LnSpeedSd | Coordinate::LnFractionSd => high.is_some(),
            _ => low.is_some(),
        };
        let estimate = told.then(|| turned(peak.point[at]));
        Estimate { estimate, low, high, informed_by: estimate.map(|_| Informant::Trials) }
    };
    let base = of(Coordinate::Base, 0.5, |x| x);
    let mut half = of(Coordinate::LnHalf, 0.05, f64::exp);
    if base.estimate.is_none() && space.place_of(Coordinate::Base).is_some() {
        half = Estimate::default();
    }
    let optimum = of(Coordinate::Optimum, 0.5, |x| x);
    let ceiling = match space.needs(&peak.point).map(|needs| needs.rate) {
        Some(Rate::Tent { ceiling, .. })
            if optimum.estimate.is_some() && of(Coordinate::LnFall, 0.2, f64::exp).estimate.is_some() =>
        {
            Estimate { estimate: Some(ceiling), informed_by: Some(Informant::Trials), ..Estimate::default() }
        }
        _ => Estimate::default(),
    };
    let germinable = of(Coordinate::LogitGerminable, 0.1, logistic);
    // A likelihood that goes on rising as containers become alike sets no end below: 0.
    let alike = |sd: Estimate| if sd.estimate.is_some() { Estimate { low: sd.low.or(Some(0.0)), ..sd } } else { sd };
    Estimates {
        speed_sd: alike(of(Coordinate::LnSpeedSd, 0.3, f64::exp)),
        fraction_sd: alike(of(Coordinate::LnFractionSd, 0.3, f64::exp)),
        base,
        half,
        optimum,
        ceiling,
        spread: of(Coordinate::LnSpread, 0.1, f64::exp),
        germinable: Estimate { low: germinable.low.or(Some(0.0)), high: germinable.high.or(Some(1.0)), ..germinable },
    }
}
