//! Groups of boxes compared with each other, all of them and two by two.

use super::group::{GroupAnswer, Sized, sized};
use super::overall::overall;
use super::pair::{PairAnswer, Rules, Shuffles, chances_without, pair};
use super::verdict::WRONG;
use super::{BoxesDiffer, Clock, Factor, Odd, Overall, Tally, Verdict, Watched, curve, groups};
use crate::stats::holm;

/// With more pairs than this no labels are shuffled: it would take minutes, and no verdict rests on it.
const SHUFFLED_PAIRS: usize = 6;

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Asked {
    /// What is compared.
    pub factor: Factor,
    /// How far boxes of one kind differ.
    pub boxes_differ: BoxesDiffer,
    /// The wished difference in shares, 0 to 1.
    pub difference: f64,
    /// Whether labels are shuffled.
    pub shuffles: Shuffles,
}

/// What came of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// What was asked.
    pub asked: Asked,
    /// The groups, that sown or named first before the others.
    pub groups: Vec<GroupAnswer>,
    /// Every two of them.
    pub pairs: Vec<PairAnswer>,
    /// All together, where there are more than two.
    pub overall: Option<Overall>,
    /// The verdicts without each sprout that surprises.
    pub without: Vec<Without>,
}

/// The verdicts with one surprising sprout left out, as if its seed had never been sown.
#[derive(Debug, Clone, PartialEq)]
pub struct Without {
    /// Its group, by its place.
    pub group: usize,
    /// The sprout.
    pub odd: Odd,
    /// Of each pair with that group: its place, and how many, how fast.
    pub verdicts: Vec<(usize, Verdict, Verdict)>,
}

/// Compares boxes of one species.
#[must_use]
pub fn compare(boxes: &[Watched], asked: Asked) -> Comparison {
    let all: Vec<&Watched> = boxes.iter().collect();
    let together = Tally::of(all.iter().copied(), Clock::Days).and_then(|tally| curve(&tally));
    let groups: Vec<Sized<'_>> =
        groups(&all, asked.factor).into_iter().map(|group| sized(group, &asked.boxes_differ, together.as_ref())).collect();
    let count = groups.len() * groups.len().saturating_sub(1) / 2;
    let draws = boxes.iter().map(|one| one.begun.by_draw.len()).min().unwrap_or(0);
    let rules = Rules {
        factor: asked.factor,
        boxes_differ: &asked.boxes_differ,
        difference: asked.difference,
        draws,
        shuffles: if count <= SHUFFLED_PAIRS { asked.shuffles } else { Shuffles::No },
    };
    let places = (0..groups.len()).flat_map(|a| (a + 1..groups.len()).map(move |b| (a, b)));
    let mut pairs: Vec<PairAnswer> = places.map(|(a, b)| pair(&groups, a, b, &rules)).collect();
    let (fraction, speed) = adjusted(&pairs);
    for (pair, (fraction_p, speed_p)) in pairs.iter_mut().zip(fraction.iter().zip(&speed)) {
        (pair.fraction_p, pair.speed_p) = (*fraction_p, *speed_p);
        pair.fraction = decided(pair.fraction, *fraction_p);
        pair.speed = decided(pair.speed, *speed_p);
    }
    let without = without(&groups, &pairs, &rules);
    let overall = (groups.len() > 2).then(|| overall(&groups, &speed, &rules));
    Comparison { asked, groups: groups.into_iter().map(|group| group.answer).collect(), pairs, overall, without }
}

/// The chances adjusted by Holm's rule among the pairs of which anything can be concluded; none for the others.
fn adjusted(pairs: &[PairAnswer]) -> (Vec<Option<f64>>, Vec<Option<f64>>) {
    let open = |verdict: Verdict, p: Option<f64>| p.filter(|_| !matches!(verdict, Verdict::CannotTell(_)));
    let fraction: Vec<Option<f64>> = pairs.iter().map(|pair| open(pair.fraction, pair.fraction_p)).collect();
    let speed: Vec<Option<f64>> = pairs.iter().map(|pair| open(pair.speed, pair.speed_p)).collect();
    (step_down(&fraction), step_down(&speed))
}

fn step_down(chances: &[Option<f64>]) -> Vec<Option<f64>> {
    let known: Vec<f64> = chances.iter().flatten().copied().collect();
    let mut adjusted = holm(&known).into_iter();
    chances.iter().map(|chance| chance.and_then(|_| adjusted.next())).collect()
}

fn decided(verdict: Verdict, p: Option<f64>) -> Verdict {
    match (verdict, p) {
        (Verdict::CannotTell(why), _) => Verdict::CannotTell(why),
        (_, Some(p)) if p <= WRONG => Verdict::Shown,
        _ => Verdict::NotShown,
    }
}

/// The verdicts without each sprout that surprises, one at a time.
fn without(groups: &[Sized<'_>], pairs: &[PairAnswer], rules: &Rules<'_>) -> Vec<Without> {
    let odd = groups.iter().enumerate().flat_map(|(place, group)| group.answer.odd.iter().map(move |odd| (place, *odd)));
    odd.map(|(group, odd)| {
        let concerned = |pair: &PairAnswer| pair.a == group || pair.b == group;
        let mut others = pairs.to_vec();
        for pair in others.iter_mut().filter(|pair| concerned(pair)) {
            (pair.fraction_p, pair.speed_p) = chances_without(groups, pair, group, odd.window, rules);
        }
        let (fraction, speed) = adjusted(&others);
        let verdicts = others.iter().enumerate().filter(|(_, pair)| concerned(pair));
        let verdicts =
            verdicts.map(|(place, pair)| (place, decided(pair.fraction, fraction[place]), decided(pair.speed, speed[place])));
        Without { group, odd, verdicts: verdicts.collect() }
    })
    .collect()
}
