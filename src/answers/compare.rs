//! How treatments, lots, spots or batches differ.

use std::collections::{BTreeMap, BTreeSet};

use super::fit::Assumption;
use super::{Known, Shelf};
use crate::bench::{Bench, Check, Event, Name, Trial};
use crate::civil::Time;
use crate::experiment::{
    ASSUMED, Asked, BoxesDiffer, CompareAnswer, Factor, LeftOut, NoComparison, Reached, Seeds, Seen, ShareDiffers, Shuffles,
    SpeedDiffers, WarmthFrom, Watched, Wish, compare as compare_boxes,
};
use crate::germination::{Estimate, Fit, Informant, Level, Passage, Question};
use crate::stats::median_of;
use crate::thermal::Rate;
use crate::units::MICROS_PER_DAY;

/// Draws that the uncertainty of warmth is taken from: every 25th of a thousand.
const EVERY: usize = 25;

type Kind<'a> = (&'a Name, Event);

/// Compares boxes of one plant: that asked for, else the one sown last of which something differs.
///
/// # Errors
/// Why there is nothing to compare.
pub fn compare(known: &Known, wish: &Wish, difference: f64, shelf: &mut Shelf<'_>) -> Result<CompareAnswer, NoComparison> {
    let bench = &known.bench;
    names_there(bench, wish)?;
    let asked = |trial: &&Trial| {
        let container = &trial.container;
        container.owner.is_none()
            && wish.species.as_ref().is_none_or(|species| *species == container.species)
            && wish.batch.as_ref().is_none_or(|batch| *batch == container.batch)
    };
    let mut kinds: BTreeMap<Kind<'_>, Vec<&Trial>> = BTreeMap::new();
    for trial in bench.trials.values().filter(asked).filter(|trial| !emptied(trial)) {
        kinds.entry((&trial.container.species, trial.container.event)).or_default().push(trial);
    }
    kinds.retain(|_, trials| trials.iter().any(|trial| !trial.checks.is_empty()));
    let factor = wish.factor.unwrap_or(Factor::Treatment);
    let last = |trials: &[&Trial]| trials.iter().map(|trial| trial.container.sown).max();
    let differing = |kind: &&Kind<'_>| levels(known, &kinds[*kind], factor) > 1;
    let chosen = kinds.keys().filter(differing).max_by_key(|kind| last(&kinds[*kind]));
    let chosen = *chosen.or_else(|| kinds.keys().max_by_key(|kind| last(&kinds[*kind]))).ok_or(NoComparison::NoBox)?;
    let other_species: BTreeSet<Name> =
        kinds.keys().filter(differing).filter(|kind| **kind != chosen).map(|kind| kind.0.clone()).collect();
    let (trials, other_batches) = side_by_side(known, &kinds[&chosen], factor);
    let fit = fit(known, chosen, shelf);
    let eye = fit.as_ref().map(Eye::of);
    let mut left_out = Vec::new();
    let mut boxes = Vec::new();
    for trial in &trials {
        match watched(known, trial, eye.as_ref()) {
            Ok(one) => boxes.push(one),
            Err(why) => left_out.push((trial.container.name.clone(), why)),
        }
    }
    let all: Vec<&Watched> = boxes.iter().collect();
    let could = Factor::ALL.into_iter().map(|factor| (factor, count(factor, &all))).filter(|(_, levels)| *levels > 1).collect();
    let boxes_differ = fit.as_ref().map_or(ASSUMED, boxes_differ);
    let mut batches: Vec<(Time, Name)> = boxes.iter().map(|one| (one.sown, one.batch.clone())).collect();
    batches.sort();
    let batches = batches.into_iter().fold(Vec::new(), |mut batches, (_, batch)| {
        if !batches.contains(&batch) {
            batches.push(batch);
        }
        batches
    });
    Ok(CompareAnswer {
        as_of: known.now,
        species: chosen.0.clone(),
        event: chosen.1,
        batches,
        other_batches,
        other_species: other_species.into_iter().collect(),
        left_out,
        could,
        warmth: warmth_from(&boxes, fit.as_ref()),
        comparison: compare_boxes(&boxes, Asked { factor, boxes_differ, difference, shuffles: Shuffles::Yes }),
    })
}

/// A name that stands nowhere on the bench is a slip of the pen.
fn names_there(bench: &Bench, wish: &Wish) -> Result<(), NoComparison> {
    let own = || bench.trials.values().filter(|trial| trial.container.owner.is_none()).map(|trial| &trial.container);
    let listed = |names: BTreeSet<&Name>| names.into_iter().cloned().collect();
    let species: BTreeSet<&Name> = own().map(|container| &container.species).collect();
    let batches: BTreeSet<&Name> = own().map(|container| &container.batch).collect();
    if let Some(asked) = wish.species.as_ref().filter(|asked| !species.contains(asked)) {
        return Err(NoComparison::NoSuchSpecies(asked.clone(), listed(species)));
    }
    match wish.batch.as_ref().filter(|asked| !batches.contains(asked)) {
        Some(asked) => Err(NoComparison::NoSuchBatch(asked.clone(), listed(batches))),
        None => Ok(()),
    }
}

/// A bag whose seeds all went into other boxes before one sprouted has no story of its own.
fn emptied(trial: &Trial) -> bool {
    !trial.given.is_empty() && trial.sprouted() == 0 && trial.left() == Some(0)
}

fn level<'a>(known: &'a Known, trial: &'a Trial, factor: Factor) -> Option<&'a Name> {
    match factor {
        Factor::Treatment => trial.container.treatment.as_ref(),
        Factor::Lot => trial.container.lot.as_ref(),
        Factor::Spot => Some(main_spot(known, trial)),
        Factor::Batch => Some(&trial.container.batch),
    }
}

fn levels(known: &Known, trials: &[&Trial], factor: Factor) -> usize {
    trials.iter().map(|trial| level(known, trial, factor)).collect::<BTreeSet<_>>().len()
}

fn count(factor: Factor, boxes: &[&Watched]) -> usize {
    boxes.iter().map(|one| factor.of(one)).collect::<BTreeSet<_>>().len()
}

/// The boxes of those batches in which the factor differs, where there are such; beside them the batches left out.
fn side_by_side<'a>(known: &Known, trials: &[&'a Trial], factor: Factor) -> (Vec<&'a Trial>, Vec<Name>) {
    let mut batches: BTreeMap<&Name, Vec<&Trial>> = BTreeMap::new();
    for trial in trials {
        batches.entry(&trial.container.batch).or_default().push(trial);
    }
    let differ: BTreeSet<&Name> =
        batches.iter().filter(|(_, own)| levels(known, own, factor) > 1).map(|(batch, _)| *batch).collect();
    if differ.is_empty() || factor == Factor::Batch {
        return (trials.to_vec(), Vec::new());
    }
    let others = batches.keys().filter(|batch| !differ.contains(*batch)).map(|batch| (*batch).clone()).collect();
    (trials.iter().copied().filter(|trial| differ.contains(&trial.container.batch)).collect(), others)
}

/// What the species needs by all that is known of it.
fn fit(known: &Known, kind: Kind<'_>, shelf: &mut Shelf<'_>) -> Option<Fit> {
    let all = known.bench.trials.values().filter(|trial| (&trial.container.species, trial.container.event) == kind);
    let own: Vec<&Trial> = all.filter(|trial| !trial.checks.is_empty()).collect();
    let question = Question { prior: Assumption::BestKnown.of(&known.bench, kind.0, kind.1), ..Question::default() };
    Some(shelf.fit(known, kind.0, kind.1, &own, question)?.0)
}

/// How temperatures are looked at: the rate in the middle of what is known, and by some draws.
struct Eye<'a> {
    fit: &'a Fit,
    middle: Rate,
    drawn: Vec<(usize, Rate)>,
}

impl<'a> Eye<'a> {
    fn of(fit: &'a Fit) -> Self {
        let e = &fit.estimates;
        let middle = match (e.base.estimate, e.optimum.estimate, e.ceiling.estimate) {
            (Some(base), Some(optimum), Some(ceiling)) if optimum > base && ceiling > optimum => {
                Rate::Tent { base, optimum, ceiling }
            }
            _ => fit.mode.rate,
        };
        let points = fit.draws.iter().flat_map(|draws| draws.points.iter().enumerate().step_by(EVERY));
        let drawn = points.filter_map(|(at, point)| Some((at, fit.layout.space.needs(point)?.rate))).collect();
        Self { fit, middle, drawn }
    }

    /// What is to be added to a level's temperatures: in the middle, and by draw.
    fn offsets(&self, known: &Known, level: &Level) -> (f64, Vec<f64>) {
        let all = self.fit.offsets_of(level, known.level_sd_c(level));
        let middle = if all.is_empty() { 0.0 } else { median_of(&all) };
        (middle, self.drawn.iter().map(|(at, _)| all.get(*at).copied().unwrap_or(0.0)).collect())
    }
}

/// Adds up the warmth of stretches, spot by spot.
struct Sum<'a> {
    known: &'a Known,
    eye: Option<&'a Eye<'a>>,
    offsets: Vec<(Level, (f64, Vec<f64>))>,
    at: Reached,
}

impl<'a> Sum<'a> {
    fn new(known: &'a Known, eye: Option<&'a Eye<'a>>) -> Self {
        let at = Reached { days: 0.0, warmth: eye.map(|_| 0.0), by_draw: vec![0.0; eye.map_or(0, |eye| eye.drawn.len())] };
        Self { known, eye, offsets: Vec::new(), at }
    }

    fn add(&mut self, days: f64, passages: &[Passage]) {
        self.at.days += days;
        let Some(eye) = self.eye else { return };
        for passage in passages {
            if passage.stretch.unknown_days > 0.0 {
                (self.at.warmth, self.at.by_draw) = (None, Vec::new());
            }
            let place = self.offsets.iter().position(|(level, _)| *level == passage.level).unwrap_or_else(|| {
                self.offsets.push((passage.level.clone(), eye.offsets(self.known, &passage.level)));
                self.offsets.len() - 1
            });
            let (middle, by_draw) = &self.offsets[place].1;
            self.at.warmth = self.at.warmth.map(|sum| sum + passage.stretch.gained(&eye.middle, *middle, 0.0));
            for ((sum, (_, rate)), offset) in self.at.by_draw.iter_mut().zip(&eye.drawn).zip(by_draw) {
                *sum += passage.stretch.gained(rate, *offset, 0.0);
            }
        }
    }
}

fn days_between(from: Time, until: Time) -> f64 {
    (until - from).num_microseconds().unwrap_or(0).max(0) as f64 / MICROS_PER_DAY
}

/// A box as it was watched.
fn watched(known: &Known, trial: &Trial, eye: Option<&Eye<'_>>) -> Result<Watched, LeftOut> {
    let container = &trial.container;
    let counted = known.counts_from(trial).ok_or(LeftOut::InTheCold)?;
    let ended = trial.ended_at(known.now).is_some();
    if trial.checks.is_empty() && ended {
        return Err(LeftOut::NeverLooked);
    }
    let mut sum = Sum::new(known, eye);
    let sown = container.sown;
    sum.add(days_between(counted, sown), &known.passages(trial, counted, sown));
    let begun = sum.at.clone();
    let last_sprout = trial.checks.iter().rposition(|check| check.sprouted > 0);
    let lost_while_sprouting = |at: usize| last_sprout.is_some_and(|last| at <= last);
    let mut before = sown.max(counted);
    let mut looks = Vec::new();
    let mut left_out = 0;
    for (at, check) in trial.checks.iter().enumerate() {
        let from = before.min(check.time);
        sum.add(days_between(from, check.time), &known.passages(trial, from, check.time));
        before = before.max(check.time);
        let lost = if lost_while_sprouting(at) {
            left_out += check.lost;
            0
        } else {
            check.lost
        };
        looks.push(seen(check, lost, &sum.at));
    }
    let evidence = known.evidence(trial);
    Ok(Watched {
        container: container.name.clone(),
        treatment: container.treatment.clone(),
        lot: container.lot.clone(),
        spot: main_spot(known, trial).clone(),
        batch: container.batch.clone(),
        sown,
        seeds: seeds(trial, left_out),
        left_out,
        begun,
        looks,
        ended,
        mean_c: evidence.mean_c().filter(|_| evidence.unknown_days() == 0.0),
    })
}

fn seen(check: &Check, lost: u32, at: &Reached) -> Seen {
    Seen { at: at.clone(), sprouted: check.sprouted, removed: check.removed, lost }
}

/// The seeds that can be reckoned with: without those put into other boxes, and those lost while others still sprouted.
fn seeds(trial: &Trial, left_out: u32) -> Seeds {
    let container = &trial.container;
    let given: Option<u32> = trial.given.iter().map(|given| given.seeds).sum();
    let Some(given) = given else { return Seeds::Unknown };
    let without = |sown: u32| {
        let told: u32 = trial.checks.iter().map(|check| check.sprouted + check.removed + check.lost).sum();
        sown.saturating_sub(given + left_out).max(told.saturating_sub(left_out))
    };
    match (container.seeds, container.seeds_low, container.seeds_high) {
        (Some(sown), ..) => Seeds::Counted(without(sown)),
        (None, Some(low), Some(high)) => Seeds::Roughly(without(low.midpoint(high))),
        (None, ..) => Seeds::Unknown,
    }
}

/// Where a box stood longest since its days counted; where it stands if they do not yet.
fn main_spot<'a>(known: &'a Known, trial: &'a Trial) -> &'a Name {
    let end = known.end_of(trial);
    let from = known.counts_from(trial).unwrap_or(trial.container.sown);
    let mut spent: BTreeMap<&Name, f64> = BTreeMap::new();
    for stay in known.bench.stays(trial, from, end) {
        *spent.entry(stay.spot).or_default() += days_between(stay.from, stay.until);
    }
    let longest = spent.into_iter().max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(a.0)));
    longest.map_or_else(|| trial.spot_at(end), |(spot, _)| spot)
}

/// How far boxes of a species differ, by one's own sowings where these told.
fn boxes_differ(fit: &Fit) -> BoxesDiffer {
    let share = own_sd(&fit.estimates.fraction_sd).map_or(ASSUMED.share, ShareDiffers::Own);
    let speed = own_sd(&fit.estimates.speed_sd).map_or(ASSUMED.speed, SpeedDiffers::Own);
    BoxesDiffer { share, speed }
}

/// The root of the mean square of a standard deviation whose logarithm is about normal.
///
/// # Formula
/// ```text
/// √E[τ²] = median · e^(v²),   v = ln(high/low) / (2 · 1.645) from the ends of the 90 % interval
/// ```
fn own_sd(estimate: &Estimate) -> Option<f64> {
    let told = matches!(estimate.informed_by, Some(Informant::Both | Informant::Trials));
    let (median, low, high) = (estimate.estimate?, estimate.low?, estimate.high?);
    let spread = (high / low).ln() / (2.0 * 1.645);
    (told && low > 0.0 && spread.is_finite()).then(|| median * (spread * spread).exp())
}

fn warmth_from(boxes: &[Watched], fit: Option<&Fit>) -> WarmthFrom {
    let base = fit.and_then(|fit| Some((fit.estimates.base.estimate?, fit.estimates.base.informed_by?)));
    match base.filter(|_| boxes.iter().all(|one| one.last().warmth.is_some())) {
        None => WarmthFrom::Nowhere,
        Some((base, Informant::Prior)) => WarmthFrom::Assumed(base),
        Some((base, Informant::Both | Informant::Trials)) => WarmthFrom::Sowings(base),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ln τ normal with mean ln .06 and sd .3: √E[τ²] = .06 e^(.3²).
    #[test]
    fn own_boxes_count_only_where_they_told_and_by_their_mean_square() {
        let reach = 0.3 * 1.645;
        let told = |informed_by| Estimate {
            estimate: Some(0.06),
            low: Some(0.06 * f64::exp(-reach)),
            high: Some(0.06 * f64::exp(reach)),
            informed_by: Some(informed_by),
        };
        assert_eq!(own_sd(&told(Informant::Prior)), None);
        let expected = 0.06 * 0.09_f64.exp();
        assert!((own_sd(&told(Informant::Both)).unwrap() - expected).abs() < 1e-12);
        assert_eq!(own_sd(&Estimate { low: None, ..told(Informant::Trials) }), None, "without an end nothing is known of it");
    }
}
