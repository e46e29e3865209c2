//! Parameters with their 90 % intervals and who spoke on them.

use super::interval::profile_interval;
use super::posterior::Draws;
use super::search::{Peak, Target};
use super::{Coordinate, Estimate, Informant};
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
    /// Germinable fraction.
    pub germinable: Estimate,
}

/// Medians and 5 to 95 % points of draws.
pub(super) fn by_draws(target: Target<'_>, draws: &Draws) -> Estimates {
    let space = target.likelihood.space;
    // A coordinate's draws in a scale where the prior is normal, turned into what is reported.
    let of = |which: Coordinate, turned: fn(f64) -> f64| {
        let Some(at) = space.place_of(which) else { return Estimate::default() };
        let values: Vec<f64> = draws.points.iter().map(|point| point[at]).collect();
        let assumed = target.prior.normal(&space, which).map(|(_, sd)| sd);
        summed_up(values, assumed, turned)
    };
    let ceilings: Vec<f64> = draws
        .needs
        .iter()
        .filter_map(|needs| match needs.rate {
            Rate::Tent { ceiling, .. } => Some(ceiling),
            Rate::Days | Rate::Threshold { .. } => None,
        })
        .collect();
    Estimates {
        base: of(Coordinate::Base, |x| x),
        optimum: of(Coordinate::Optimum, |x| x),
        ceiling: if ceilings.is_empty() { Estimate::default() } else { summed_up(ceilings, assumed_ceiling_sd(target), |x| x) },
        half: of(Coordinate::LnHalf, f64::exp),
        spread: of(Coordinate::LnSpread, f64::exp),
        germinable: of(Coordinate::LogitGerminable, logistic),
    }
}

/// The prior's standard deviation of the ceiling: optimum and fall (log-normal, small relative sd) added in squares.
fn assumed_ceiling_sd(target: Target<'_>) -> Option<f64> {
    let space = target.likelihood.space;
    let (_, optimum) = target.prior.normal(&space, Coordinate::Optimum)?;
    let (ln_fall, sd) = target.prior.normal(&space, Coordinate::LnFall)?;
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
pub(super) fn by_profile(target: Target<'_>, peak: &Peak) -> Estimates {
    let space = target.likelihood.space;
    let of = |which: Coordinate, step: f64, turned: fn(f64) -> f64| {
        let Some(at) = space.place_of(which) else { return Estimate::default() };
        let (low, high) = profile_interval(target, &peak.point, at, step, LEVEL);
        let (lowest, highest) = which.edges();
        // An end at the edge of what could be meant is no end.
        let low = low.filter(|low| *low > lowest + 0.01).map(turned);
        let high = high.filter(|high| *high < highest - 0.01).map(turned);
        let told = match which {
            Coordinate::LogitGerminable => true,
            Coordinate::Optimum | Coordinate::LnFall => low.is_some() && high.is_some(),
            Coordinate::Base | Coordinate::LnHalf | Coordinate::LnSpread => low.is_some(),
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
    Estimates {
        base,
        half,
        optimum,
        ceiling,
        spread: of(Coordinate::LnSpread, 0.1, f64::exp),
        germinable: Estimate { low: germinable.low.or(Some(0.0)), high: germinable.high.or(Some(1.0)), ..germinable },
    }
}
