//! Two groups beside each other: how many, how fast, and whether a difference is shown.

use std::collections::BTreeMap;

use super::group::{LEVEL, OnClock, Sized, windows};
use super::verdict::{FEWEST_SPROUTS, WRONG};
use super::{
    Along, BoxesDiffer, Clock, Curve, Factor, Needed, Reckoned, Standing, Verdict, Why, along, curve, needed, smallest_shown,
};
use crate::bench::Name;
use crate::stats::{
    Unit as Bearer, fisher_two_sided, log_rank, mean_of, newcombe, normal_cdf, normal_quantile, permuted, seed_of,
    standard_deviation_of,
};

/// Two groups beside each other: differences are a − b, ratios a ÷ b.
#[derive(Debug, Clone, PartialEq)]
pub struct PairAnswer {
    /// The group sown or named first, by its place.
    pub a: usize,
    /// The other.
    pub b: usize,
    /// Difference of the shares that sprouted, as if boxes were alike.
    pub fraction_difference: Reckoned,
    /// The same with boxes that differ, at the level that the verdict goes by.
    pub fraction_judged: Reckoned,
    /// Fisher's exact test, two-sided, each seed by itself: how often luck alone makes a gap this big.
    pub fisher_p: Option<f64>,
    /// Log-rank on the clock; none where seeds were not counted.
    pub log_rank: Option<Ranked>,
    /// Log-rank in warmth.
    pub log_rank_warmth: Option<Ranked>,
    /// Ratio of the times that half of the sprouts took, in days.
    pub ratio_days: Reckoned,
    /// The same in warmth.
    pub ratio_warmth: Reckoned,
    /// The clock that the verdict on speed goes by.
    pub speed_on: Clock,
    /// The ratio on it, at the level that the verdict goes by.
    pub ratio_judged: Reckoned,
    /// Chance of a difference in shares like this where there is none, boxes allowed to differ, adjusted for as many pairs as there are.
    pub fraction_p: Option<f64>,
    /// The same of speed.
    pub speed_p: Option<f64>,
    /// Whether groups differ in how many sprout.
    pub fraction: Verdict,
    /// Whether they differ in how fast.
    pub speed: Verdict,
    /// What it takes to show the wished difference; none where seeds were not counted.
    pub needed: Option<Needed>,
    /// The smallest difference that so many seeds in such boxes show four times in five; none where none would be shown.
    pub smallest_shown: Option<f64>,
    /// What differs along with what is compared.
    pub along: Along,
}

/// A log-rank test.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ranked {
    /// Above 0 where a sprouts sooner or more.
    pub z: f64,
    /// Two-sided, each seed by itself.
    pub p: f64,
    /// The share of shuffles that part the groups as far; none where there is nothing to shuffle.
    pub exact_p: Option<f64>,
    /// What was shuffled.
    pub unit: Unit,
    /// The smallest share that shuffling whole boxes within spots could come to; none where no two arrangements differ.
    pub least_by_boxes: Option<f64>,
}

/// What labels are shuffled among.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// Seeds, each by itself.
    Seeds,
    /// Whole boxes, within each spot.
    Boxes,
}

/// Whether labels are shuffled.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shuffles {
    /// They are, where there are few pairs and not too many seeds.
    Yes,
    /// They are not.
    No,
}

/// More seeds than this are not shuffled: the test without shuffling is as good there.
const MOST_SHUFFLED: usize = 400;

/// What is the same for all pairs.
pub(super) struct Rules<'a> {
    pub(super) factor: Factor,
    pub(super) boxes_differ: &'a BoxesDiffer,
    pub(super) difference: f64,
    pub(super) draws: usize,
    pub(super) shuffles: Shuffles,
}

/// Counts of one group as the verdict on how many takes them.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Counts {
    sprouted: f64,
    seeds: f64,
}

pub(super) fn pair(groups: &[Sized<'_>], a: usize, b: usize, rules: &Rules<'_>) -> PairAnswer {
    let (one, other) = (&groups[a], &groups[b]);
    let counts = one.counts().zip(other.counts());
    let (days, warmth) = (rules.log_rank(one, other, Clock::Days), rules.log_rank(one, other, Clock::Warmth));
    let along = along(&one.group, &other.group, rules.factor);
    let (speed_on, speed_known) = rules.clock(one, other);
    let days_ratio = rules.ratio(one, other, Clock::Days);
    let warmth_ratio = rules.ratio(one, other, Clock::Warmth);
    let judged = if speed_on == Clock::Warmth { warmth_ratio } else { days_ratio };
    let at = |level: f64, ratio: Option<Ratio>| ratio.map_or_else(Reckoned::default, |ratio| ratio.interval(level));
    let needed_counts = counts.map(|(a, b)| ((a.sprouted + b.sprouted) / (a.seeds + b.seeds), rules.per_box(one, other)));
    let mut answer = PairAnswer {
        a,
        b,
        fraction_difference: counts.map_or_else(Reckoned::default, |(a, b)| difference(a, b, 1.0, 1.0, LEVEL)),
        fraction_judged: Reckoned::default(),
        fisher_p: counts.map(|(a, b)| fisher_two_sided(a.whole(), b.whole())),
        log_rank: days,
        log_rank_warmth: warmth,
        ratio_days: at(LEVEL, days_ratio),
        ratio_warmth: at(LEVEL, warmth_ratio),
        speed_on,
        ratio_judged: at(1.0 - WRONG, judged),
        fraction_p: None,
        speed_p: judged.map(|ratio| ratio.p()),
        fraction: Verdict::NotShown,
        speed: Verdict::NotShown,
        needed: needed_counts.map(|(share, per_box)| needed(rules.difference, share, per_box, rules.boxes_differ)),
        smallest_shown: None,
        along,
    };
    if let Some((first, second)) = counts {
        let (d_first, d_second) = rules.inflations(one, other, first, second);
        answer.fraction_judged = difference(first, second, d_first, d_second, 1.0 - WRONG);
        answer.fraction_p = Some(difference_p(first, second, d_first, d_second));
        answer.smallest_shown = smallest_shown(
            (first.sprouted + second.sprouted) / (first.seeds + second.seeds),
            (first.seeds / d_first, second.seeds / d_second),
        );
    }
    let unfinished = [unfinished(one), unfinished(other)].into_iter().flatten().min();
    answer.fraction = match (unfinished, counts) {
        (Some(why), _) => Verdict::CannotTell(why),
        (None, None) => Verdict::CannotTell(Why::NotCounted),
        (None, Some((first, second))) if !rules.could_show(one, other, first, second) => Verdict::CannotTell(Why::TooFewSeeds),
        (None, Some(_)) => Verdict::NotShown,
    };
    let few = |one: &Sized<'_>| one.answer.sprouted < FEWEST_SPROUTS;
    answer.speed = match (unfinished, speed_known, judged) {
        (Some(why), ..) => Verdict::CannotTell(why),
        (None, ..) if few(one) || few(other) => Verdict::CannotTell(Why::TooFewSprouts),
        (None, Known::No, _) => Verdict::CannotTell(Why::NoTemperatures),
        (None, _, None) => Verdict::CannotTell(Why::TooFewSprouts),
        (None, Known::Yes, Some(_)) => Verdict::NotShown,
    };
    answer
}

/// The chances of a pair's differences in shares and speed with one sprout of `group` left out, as if its seed had never been sown.
pub(super) fn chances_without(
    groups: &[Sized<'_>],
    pair: &PairAnswer,
    group: usize,
    window: usize,
    rules: &Rules<'_>,
) -> (Option<f64>, Option<f64>) {
    let (one, other) = (&groups[pair.a], &groups[pair.b]);
    let less = |place: usize, counts: Counts| {
        if place == group { Counts { sprouted: counts.sprouted - 1.0, seeds: counts.seeds - 1.0 } } else { counts }
    };
    let counts = one.counts().zip(other.counts()).map(|(a, b)| (less(pair.a, a), less(pair.b, b)));
    let fraction = counts.filter(|(a, b)| a.seeds > 0.0 && b.seeds > 0.0).map(|(a, b)| {
        let (d_a, d_b) = rules.inflations(one, other, a, b);
        difference_p(a, b, d_a, d_b)
    });
    let curve_of = |place: usize| -> Option<Curve> {
        let on = groups[place].on(pair.speed_on)?;
        if place == group { curve(&on.tally.without(window)) } else { on.curve }
    };
    let curves = curve_of(pair.a).zip(curve_of(pair.b));
    (fraction, curves.map(|(a, b)| rules.ratio_of(&a, &b, one, other, pair.speed_on).p()))
}

impl Counts {
    fn whole(self) -> (u64, u64) {
        (self.sprouted as u64, self.seeds as u64)
    }
}

/// Whether speed can be judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Known {
    Yes,
    No,
}

fn unfinished(one: &Sized<'_>) -> Option<Why> {
    match one.answer.standing {
        Standing::Finished => None,
        Standing::StillWatched | Standing::NotLooked => Some(Why::StillWatched),
        Standing::GivenUpEarly => Some(Why::GivenUpEarly),
    }
}

impl Sized<'_> {
    fn counts(&self) -> Option<Counts> {
        Some(Counts { sprouted: f64::from(self.answer.counted_sprouts), seeds: f64::from(self.answer.seeds?) })
    }

    fn on(&self, clock: Clock) -> Option<&OnClock> {
        match clock {
            Clock::Days => Some(&self.days),
            Clock::Warmth => self.warmth.as_ref(),
        }
    }

    fn boxes_with_sprouts(&self) -> f64 {
        self.group.boxes.iter().filter(|one| one.sprouted() > 0).count().max(1) as f64
    }

    /// ln of the warmth gathered by the day on which half of the sprouts had come, averaged over the boxes, by a draw.
    fn ln_warmth_at_half(&self, draw: usize) -> Option<f64> {
        let half = self.days.curve.as_ref()?.ln_half.exp();
        let all = self.group.boxes.iter().filter(|one| one.sprouted() > 0).map(|one| one.warmth_by(half, draw).map(f64::ln));
        all.collect::<Option<Vec<f64>>>().filter(|all| !all.is_empty()).map(|all| mean_of(&all))
    }
}

/// ln of a ratio of times with its error.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Ratio {
    ln: f64,
    se: f64,
}

impl Ratio {
    fn interval(&self, level: f64) -> Reckoned {
        let reach = normal_quantile(0.5 * (1.0 + level)) * self.se;
        Reckoned { estimate: Some(self.ln.exp()), low: Some((self.ln - reach).exp()), high: Some((self.ln + reach).exp()) }
    }

    fn p(&self) -> f64 {
        (2.0 * normal_cdf(-(self.ln / self.se).abs())).min(1.0)
    }
}

impl Rules<'_> {
    /// Warmth where it is known of both, since it takes out what they had more or less of; days where they stood at the same spots.
    fn clock(&self, one: &Sized<'_>, other: &Sized<'_>) -> (Clock, Known) {
        let warmth = |one: &Sized<'_>| one.warmth.as_ref().is_some_and(|on| on.curve.is_some());
        if warmth(one) && warmth(other) {
            (Clock::Warmth, Known::Yes)
        } else if one.answer.spots == other.answer.spots {
            (Clock::Days, Known::Yes)
        } else {
            (Clock::Days, Known::No)
        }
    }

    /// The ratio of the times of half of the sprouts.
    ///
    /// # Formula
    /// ```text
    /// var ln ratio = se_a² + se_b² + τ² (1/k_a + 1/k_b) + v
    /// ```
    /// k boxes with sprouts, τ the standard deviation of ln time between boxes, v (in warmth only) the variance of ln ratio over what the
    /// rate at a temperature may be.
    fn ratio(&self, one: &Sized<'_>, other: &Sized<'_>, clock: Clock) -> Option<Ratio> {
        let (a, b) = (one.on(clock)?.curve?, other.on(clock)?.curve?);
        Some(self.ratio_of(&a, &b, one, other, clock))
    }

    fn ratio_of(&self, a: &Curve, b: &Curve, one: &Sized<'_>, other: &Sized<'_>, clock: Clock) -> Ratio {
        let between = self.boxes_differ.speed_sd().powi(2) * (1.0 / one.boxes_with_sprouts() + 1.0 / other.boxes_with_sprouts());
        let rate = if clock == Clock::Warmth { self.rate_variance(one, other) } else { 0.0 };
        let variance = a.ln_half_se.powi(2) + b.ln_half_se.powi(2) + between + rate;
        Ratio { ln: a.ln_half - b.ln_half, se: variance.sqrt() }
    }

    fn rate_variance(&self, one: &Sized<'_>, other: &Sized<'_>) -> f64 {
        let ln = |draw| Some(one.ln_warmth_at_half(draw)? - other.ln_warmth_at_half(draw)?);
        let drawn: Vec<f64> = (0..self.draws).filter_map(ln).collect();
        standard_deviation_of(&drawn).powi(2)
    }

    /// Design effects of two groups.
    fn inflations(&self, one: &Sized<'_>, other: &Sized<'_>, a: Counts, b: Counts) -> (f64, f64) {
        let share = (a.sprouted + b.sprouted) / (a.seeds + b.seeds);
        (self.boxes_differ.design_effect(&one.group.boxes, share), self.boxes_differ.design_effect(&other.group.boxes, share))
    }

    /// Whether all of one group against none of the other would be enough: for the interval, and beyond luck (the interval alone is
    /// content with three seeds each, which luck parts so once in ten).
    fn could_show(&self, one: &Sized<'_>, other: &Sized<'_>, a: Counts, b: Counts) -> bool {
        let (d_a, d_b) = self.inflations(one, other, a, b);
        let (all, none) = (Counts { sprouted: a.seeds, ..a }, Counts { sprouted: 0.0, ..b });
        difference(all, none, d_a, d_b, 1.0 - WRONG).low.is_some_and(|low| low > 0.0)
            && fisher_two_sided(all.whole(), none.whole()) <= WRONG
    }

    fn per_box(&self, one: &Sized<'_>, other: &Sized<'_>) -> f64 {
        let boxes = || one.group.boxes.iter().chain(&other.group.boxes).filter_map(|one| one.seeds.number());
        let seeds: Vec<f64> = boxes().map(f64::from).collect();
        mean_of(&seeds).max(1.0)
    }

    /// The log-rank test of the boxes where seeds were counted, and how often labels dealt out anew part the groups as far: whole boxes within
    /// spots and batches where there are boxes enough, else seeds.
    fn log_rank(&self, one: &Sized<'_>, other: &Sized<'_>, clock: Clock) -> Option<Ranked> {
        let mut places: BTreeMap<(Option<&Name>, Option<&Name>), usize> = BTreeMap::new();
        // What is compared is what labels are; the other of spot and batch bounds the shuffling.
        let unless = |factor: Factor, name| (self.factor != factor).then_some(name);
        let (mut all, mut of_box) = (Vec::new(), Vec::new());
        let mut boxes: Vec<Bearer> = Vec::new();
        for (group, sized) in [one, other].into_iter().enumerate() {
            for one in sized.group.boxes.iter().filter(|one| one.seeds.number().is_some()) {
                let next = places.len();
                let block = *places.entry((unless(Factor::Spot, &one.spot), unless(Factor::Batch, &one.batch))).or_insert(next);
                for (window, seeds) in windows(&one.tally(clock)?) {
                    all.push((window, seeds, group));
                    of_box.push(boxes.len());
                }
                boxes.push(Bearer { score: 0.0, first: group == 0, block });
            }
        }
        let found = log_rank(&all, 2);
        let (z, p) = (found.z?, found.p?);
        let mut ranked = Ranked { z, p, exact_p: None, unit: Unit::Seeds, least_by_boxes: None };
        if self.shuffles == Shuffles::No {
            return Some(ranked);
        }
        for ((score, at), (_, seeds, _)) in found.scores.iter().zip(&of_box).zip(&all) {
            boxes[*at].score += score * seeds;
        }
        let seed = seed_of("shuffled labels");
        let by_boxes = permuted(&boxes, seed);
        ranked.least_by_boxes = by_boxes.map(|found| found.smallest);
        if let Some(found) = by_boxes.filter(|found| found.smallest <= 0.05) {
            return Some(Ranked { exact_p: Some(found.p), unit: Unit::Boxes, ..ranked });
        }
        let seeds = || {
            found.scores.iter().zip(&all).flat_map(|(score, (_, seeds, group))| {
                let unit = Bearer { score: *score, first: *group == 0, block: 0 };
                std::iter::repeat_n(unit, *seeds as usize)
            })
        };
        if seeds().count() <= MOST_SHUFFLED {
            ranked.exact_p = permuted(&seeds().collect::<Vec<_>>(), seed).map(|found| found.p);
        }
        Some(ranked)
    }
}

/// Difference of two shares by Newcombe's method 10, counts divided by their design effects.
fn difference(a: Counts, b: Counts, d_a: f64, d_b: f64, level: f64) -> Reckoned {
    let (low, high) = newcombe((a.sprouted / d_a, a.seeds / d_a), (b.sprouted / d_b, b.seeds / d_b), level);
    Reckoned { estimate: Some(a.sprouted / a.seeds - b.sprouted / b.seeds), low: Some(low), high: Some(high) }
}

/// The level at which the interval of the difference just touches 0, as a chance: by halving.
fn difference_p(a: Counts, b: Counts, d_a: f64, d_b: f64) -> f64 {
    let holds_nought = |level: f64| {
        let found = difference(a, b, d_a, d_b, level);
        found.low.is_none_or(|low| low <= 0.0) && found.high.is_none_or(|high| high >= 0.0)
    };
    // The interval widens with the level; below this chance nobody asks how small it is.
    let (mut shut, mut open) = (0.0, 1.0 - 1e-9);
    if !holds_nought(open) {
        return 1e-9;
    }
    for _ in 0..40 {
        let middle = 0.5 * (shut + open);
        if holds_nought(middle) { open = middle } else { shut = middle }
    }
    1.0 - open
}
