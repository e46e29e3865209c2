//! How the share that sprouts, and the warmth needed, answer to days of moist cold.

mod curve;

use curve::{Curve, draws};

use super::distribution::Distribution;
use super::looks::{Looks, Shares};
use super::{Estimate, Evidence, Needs, RemovedRule};
use crate::bench::{Event, Name};
use crate::stats::{Dice, logistic, normal_quantile, quantile_of};

/// As many lengths must be on record.
const LENGTHS: usize = 3;
/// Lengths that differ by less than this, in days or as a share, are one.
const ALIKE_DAYS: f64 = 3.0;
const ALIKE_SHARE: f64 = 0.15;
/// A sowing with fewer sprouts says little of speed.
const SPROUTS_FOR_SPEED: u32 = 3;
/// Said from this chance on.
const SAID_FROM: f64 = 0.95;
/// Share of the whole change that is called enough.
const ENOUGH: f64 = 0.9;
/// A run of counts as unlike one curve as this is too unlike.
const UNLIKE: f64 = 0.05;
/// Boxes hardly ever differ by more than this in the logit of the share (84 in 100 are assumed to differ by less): what would make them seem
/// to is a curve that does not fit.
const UNUSUAL_SD: f64 = 0.6;
/// Nodes that a box's own difference is integrated over: equally likely slices of a normal.
const NODES: usize = 11;
/// Fewer independent draws than this are rough.
const ENOUGH_DRAWS: f64 = 100.0;
/// How far either side of the species' own half requirement a sowing's is looked for, in ln, and in what steps.
const LN_REACH: f64 = 2.5;
const LN_STEP: f64 = 0.05;

/// One sowing for the curves, as its looks tell it at the species' rate.
#[derive(Debug, Clone, PartialEq)]
pub struct ChilledSowing {
    /// Days of moist cold.
    pub days: f64,
    /// Seeds sown.
    pub seeds: f64,
    /// Seeds that sprouted.
    pub sprouted: f64,
    /// Seeds that never could have.
    pub dead: f64,
    /// Sound seeds left, or lost.
    pub left: f64,
    /// Share of those that can sprout that would have by the end.
    pub reached: f64,
    /// ln half requirement and its standard deviation, where enough sprouted.
    pub ln_half: Option<(f64, f64)>,
}

/// What came of one length.
#[derive(Debug, Clone, PartialEq)]
pub struct ChillLength {
    /// Mean days of moist cold.
    pub days: f64,
    /// Boxes.
    pub boxes: usize,
    /// Seeds in them.
    pub seeds: u32,
    /// Of them sprouted.
    pub sprouted: u32,
    /// The share that can sprout, by the curve.
    pub fraction: Estimate,
    /// The warmth needed, as a factor on that at the shortest length at which enough sprouted to tell, by the curve.
    pub requirement: Estimate,
}

/// What longer chilling does, over the lengths on record.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Longer {
    /// More sprout, or with less warmth.
    Helps,
    /// Fewer, or only with more warmth.
    Harms,
    /// It cannot be told.
    CannotTell,
}

/// A species' answer to days of moist cold.
#[derive(Debug, Clone, PartialEq)]
pub struct ChillResponse {
    /// The plant.
    pub species: Name,
    /// The event watched for.
    pub event: Event,
    /// What came of each length, shortest first.
    pub lengths: Vec<ChillLength>,
    /// Change of the share that can sprout from the shortest to the longest.
    pub fraction_change: Estimate,
    /// The same as a verdict.
    pub fraction: Longer,
    /// The warmth needed at the longest, as a factor on that at the shortest that tells.
    pub requirement_change: Estimate,
    /// The same as a verdict.
    pub speed: Longer,
    /// Days by which nine tenths of the change of the share are had, where there is one.
    pub enough_days: Option<Estimate>,
    /// The counts may have come from one curve that only rises or only falls.
    pub one_curve: bool,
    /// The draws are worth enough independent ones.
    pub sound: bool,
    curve: Vec<Curve>,
}

impl ChilledSowing {
    /// A sowing that had so many days of moist cold, from its looks, with the rate and the spread that its species is fitted with; none where
    /// its seeds were not counted or nobody looked.
    #[must_use]
    pub fn new(evidence: &Evidence, days: f64, needs: &Needs, family: Distribution, removed: RemovedRule) -> Option<Self> {
        let seeds = f64::from(evidence.seeds?);
        let (sprouted, left) = (f64::from(evidence.sprouted()), f64::from(evidence.left?));
        let gone: f64 = evidence.segments.iter().map(|segment| f64::from(segment.removed)).sum();
        let dead = if removed == RemovedRule::Dead { gone } else { 0.0 };
        let times = evidence.thermal_times(&needs.rate);
        let last = times.last().copied()?;
        if evidence.unknown_days() > 0.0 || evidence.sprouted_at_once() || !needs.ln_half.is_finite() {
            return None;
        }
        let ln_half = (evidence.sprouted() >= SPROUTS_FOR_SPEED).then(|| speed(evidence, &times, needs, family, removed)).flatten();
        let middle = ln_half.map_or(needs.ln_half, |(middle, _)| middle);
        let reached = if last > 0.0 { family.share((last.ln() - middle) / needs.spread) } else { 0.0 };
        Some(Self { days, seeds, sprouted, dead, left: left.max(seeds - sprouted - dead), reached, ln_half })
    }

    /// ln L of the share that can sprout.
    fn ln_likelihood(&self, germinable: f64) -> f64 {
        let term = |count: f64, ln: f64| if count > 0.0 { count * ln } else { 0.0 };
        term(self.sprouted, germinable.ln())
            + term(self.dead, (1.0 - germinable).ln())
            + term(self.left, (1.0 - germinable * self.reached).ln())
    }
}

/// Mean and standard deviation of a sowing's ln half requirement given its looks, level before, its fraction likewise.
fn speed(evidence: &Evidence, times: &[f64], needs: &Needs, family: Distribution, removed: RemovedRule) -> Option<(f64, f64)> {
    let looks = Looks::new(evidence, removed);
    let z = |thermal: f64| if thermal > 0.0 { (thermal.ln() - needs.ln_half) / needs.spread } else { f64::NEG_INFINITY };
    let places: Vec<f64> =
        std::iter::once(z(evidence.thermal_before(&needs.rate))).chain(times.iter().map(|thermal| z(*thermal))).collect();
    let steps = (LN_REACH / LN_STEP) as i32;
    let mut shares = Shares::default();
    let at: Vec<(f64, f64)> = (-steps..=steps)
        .map(|step| {
            let apart = f64::from(step) * LN_STEP;
            looks.share(family, &places, apart / needs.spread, &mut shares);
            let values: Vec<f64> = (1..20).map(|twentieth| looks.at_fraction(&shares, f64::from(twentieth) / 20.0)).collect();
            let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            let sum: f64 = values.iter().map(|value| (value - top).exp()).sum();
            (apart, if top.is_finite() { top + sum.ln() } else { f64::NEG_INFINITY })
        })
        .collect();
    let top = at.iter().map(|(_, ln)| *ln).fold(f64::NEG_INFINITY, f64::max);
    if !top.is_finite() {
        return None;
    }
    let weights: Vec<(f64, f64)> = at.iter().map(|(apart, ln)| (*apart, (ln - top).exp())).collect();
    let all: f64 = weights.iter().map(|(_, weight)| weight).sum();
    let mean = weights.iter().map(|(apart, weight)| apart * weight).sum::<f64>() / all;
    let variance = weights.iter().map(|(apart, weight)| (apart - mean).powi(2) * weight).sum::<f64>() / all;
    Some((needs.ln_half + mean, variance.sqrt().max(LN_STEP / 3.0)))
}

/// A species' answer to days of moist cold; none with fewer than three lengths on record. `ln_half` is the species' own.
#[must_use]
pub fn chill_response(species: &Name, event: Event, sowings: &[ChilledSowing], ln_half: f64, seed: u64) -> Option<ChillResponse> {
    let groups = lengths(sowings);
    if groups.len() < LENGTHS {
        return None;
    }
    let longest = sowings.iter().map(|sowing| sowing.days).fold(0.0, f64::max);
    let nodes: Vec<f64> = (0..NODES).map(|at| normal_quantile((at as f64 + 0.5) / NODES as f64)).collect();
    let share = |curve: &Curve| -> f64 {
        let of = |sowing: &ChilledSowing| {
            let middle = curve.at(sowing.days);
            let values: Vec<f64> = nodes.iter().map(|node| sowing.ln_likelihood(logistic(middle + curve.sd * node))).collect();
            let top = values.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            top + values.iter().map(|value| (value - top).exp()).sum::<f64>().ln()
        };
        sowings.iter().map(of).sum()
    };
    let fractions = draws(&share, [(0.0, 2.0), (0.0, 2.0)], (0.3f64.ln(), 0.7), longest, seed);
    let timed: Vec<(f64, f64, f64)> =
        sowings.iter().filter_map(|sowing| sowing.ln_half.map(|(ln_half, sd)| (sowing.days, ln_half, sd))).collect();
    let speed = |curve: &Curve| -> f64 {
        let of = |(days, ln_half, sd): &(f64, f64, f64)| {
            let variance = sd * sd + curve.sd * curve.sd;
            -0.5 * ((ln_half - curve.at(*days)).powi(2) / variance + variance.ln())
        };
        timed.iter().map(of).sum()
    };
    let speeds = draws(&speed, [(ln_half, 1.0), (ln_half, 1.0)], (0.06f64.ln(), 0.6), longest, seed ^ 1);
    let shortest = groups.first()?.0;
    let of_share = |turned: &dyn Fn(&Curve) -> f64| estimate(fractions.0.iter().map(turned).collect());
    // Of a length at which too few sprouted to tell, the curve is only assumed.
    let told = |days: f64| timed.iter().any(|(other, ..)| alike(days.min(*other), days.max(*other)));
    let beside = groups.iter().map(|(days, _)| *days).find(|days| told(*days));
    let factor = |days: f64| {
        let beside = beside.filter(|beside| told(days) && *beside < longest)?;
        Some(speeds.0.iter().map(|curve| (curve.at(days) - curve.at(beside)).exp()).collect::<Vec<f64>>())
    };
    let factors = |days: f64| factor(days).map_or_else(Estimate::default, estimate);
    let change = |curve: &Curve| logistic(curve.last) - logistic(curve.at(shortest));
    let fraction = verdict(fractions.0.iter().map(change));
    let last = groups.last()?.0;
    let speed = factor(last).filter(|_| beside.is_some_and(|beside| beside < last));
    let speed = speed.map_or(Longer::CannotTell, |factors| verdict(factors.iter().map(|factor| 1.0 - factor)));
    let one_curve = unlike(sowings, &groups, &fractions.0, seed) >= UNLIKE;
    let enough_days = (fraction != Longer::CannotTell && one_curve).then(|| of_share(&|curve| curve.days_for(ENOUGH)));
    let length = |(days, members): &(f64, Vec<&ChilledSowing>)| ChillLength {
        days: *days,
        boxes: members.len(),
        seeds: members.iter().map(|sowing| sowing.seeds).sum::<f64>() as u32,
        sprouted: members.iter().map(|sowing| sowing.sprouted).sum::<f64>() as u32,
        fraction: of_share(&|curve| logistic(curve.at(*days))),
        requirement: factors(*days),
    };
    Some(ChillResponse {
        species: species.clone(),
        event,
        lengths: groups.iter().map(length).collect(),
        fraction_change: of_share(&change),
        fraction,
        requirement_change: factors(last),
        speed,
        enough_days,
        one_curve,
        sound: fractions.1 >= ENOUGH_DRAWS && speeds.1 >= ENOUGH_DRAWS,
        curve: fractions.0,
    })
}

impl ChillResponse {
    /// What staying in the cold from `days` on until the longest time on record does to the share that sprouts: the change, and whether it
    /// may be called one. None where no longer time is on record, or the counts do not lie on one curve.
    #[must_use]
    pub fn longer_than(&self, days: f64) -> Option<(Estimate, Longer)> {
        let longest = self.lengths.last()?.days;
        if !self.one_curve || alike(days, longest) || days > longest {
            return None;
        }
        let changes: Vec<f64> = self.curve.iter().map(|curve| logistic(curve.last) - logistic(curve.at(days))).collect();
        let told = verdict(changes.iter().copied());
        Some((estimate(changes), told))
    }
}

fn verdict(gains: impl ExactSizeIterator<Item = f64>) -> Longer {
    let count = gains.len().max(1) as f64;
    let more = gains.filter(|gain| *gain > 0.0).count() as f64 / count;
    match more {
        more if more >= SAID_FROM => Longer::Helps,
        more if more <= 1.0 - SAID_FROM => Longer::Harms,
        _ => Longer::CannotTell,
    }
}

fn alike(shorter: f64, longer: f64) -> bool {
    longer - shorter <= ALIKE_DAYS.max(ALIKE_SHARE * longer)
}

/// Sowings by length, shortest first, each length's mean days with its sowings.
fn lengths(sowings: &[ChilledSowing]) -> Vec<(f64, Vec<&ChilledSowing>)> {
    let mut sorted: Vec<&ChilledSowing> = sowings.iter().collect();
    sorted.sort_by(|a, b| a.days.total_cmp(&b.days));
    let mut groups: Vec<Vec<&ChilledSowing>> = Vec::new();
    for sowing in sorted {
        match groups.last_mut().filter(|group| group.first().is_some_and(|first| alike(first.days, sowing.days))) {
            Some(group) => group.push(sowing),
            None => groups.push(vec![sowing]),
        }
    }
    groups.into_iter().map(|group| (group.iter().map(|one| one.days).sum::<f64>() / group.len() as f64, group)).collect()
}

fn estimate(mut values: Vec<f64>) -> Estimate {
    values.sort_by(f64::total_cmp);
    let point = |p| Some(quantile_of(&values, p));
    Estimate { estimate: point(0.5), low: point(0.05), high: point(0.95), informed_by: None }
}

/// How often counts drawn from the curves lie at least as far from them, length by length, as those on record.
fn unlike(sowings: &[ChilledSowing], groups: &[(f64, Vec<&ChilledSowing>)], curves: &[Curve], seed: u64) -> f64 {
    let mut dice = Dice::new(seed ^ 0x5eed);
    let few: Vec<&Curve> = curves.iter().step_by((curves.len() / 400).max(1)).collect();
    if sowings.is_empty() || few.is_empty() {
        return 1.0;
    }
    let further = few.iter().filter(|curve| {
        let (mut on_record, mut drawn) = (0.0, 0.0);
        for (_, group) in groups {
            let (mut seen, mut made, mut expected, mut variance) = (0.0, 0.0, 0.0, 0.0);
            for sowing in group {
                let middle = curve.at(sowing.days);
                let share = logistic(middle) * sowing.reached;
                let sd = curve.sd.min(UNUSUAL_SD);
                let slope = share * (1.0 - logistic(middle)) * sd;
                let own = (logistic(middle + sd * dice.normal()) * sowing.reached).clamp(0.0, 1.0);
                seen += sowing.sprouted;
                made += (0..sowing.seeds as usize).filter(|_| dice.uniform() < own).count() as f64;
                expected += sowing.seeds * share;
                variance += sowing.seeds * share * (1.0 - share) + (sowing.seeds * slope).powi(2);
            }
            // Half a seed keeps a length at which all or none are expected from deciding alone.
            on_record += (seen - expected).powi(2) / (variance + 0.25);
            drawn += (made - expected).powi(2) / (variance + 0.25);
        }
        drawn >= on_record
    });
    further.count() as f64 / few.len() as f64
}

#[cfg(test)]
mod tests;
