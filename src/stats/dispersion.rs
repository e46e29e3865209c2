//! Whether boxes of a kind differ by more than luck.

use std::collections::BTreeMap;

use statrs::function::gamma::gamma_ur;

use super::Dice;

/// Steps of the exact reckoning that are worth their time: some tenths of a second; six boxes of 20 seeds take a tenth of that.
const MOST_STEPS: usize = 400_000;
/// Otherwise so many shuffles: their p is sure to ± .003 (two standard errors) at .05.
const SHUFFLES: u32 = 20_000;
/// In more seeds than this the χ² distribution is as good, and dealing them out would take long.
const MOST_DEALT: u64 = 1_000_000;

/// How far counts of boxes lie apart.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dispersion {
    /// Pearson's χ² of the boxes' counts about their common share.
    pub chi_square: f64,
    /// Its degrees of freedom: boxes with seeds, less one.
    pub freedom: usize,
    /// The chance of counts so far apart or farther where every seed sprouts with the same chance.
    pub p: f64,
    /// Whether that is exact; else it is of 20,000 shuffles, or of the χ² distribution beyond a million seeds.
    pub exact: bool,
}

/// What ranks the ways to share out the sprouts: a whole number, so that equals are equal.
struct Scale {
    /// By box: what the square of its count is multiplied by.
    by_box: Vec<u64>,
}

fn common_divisor(mut a: u64, mut b: u64) -> u64 {
    while b > 0 {
        (a, b) = (b, a % b);
    }
    a
}

impl Scale {
    /// None where boxes of very many sizes have no whole scale.
    fn of(boxes: &[(u32, u32)]) -> Option<Self> {
        let multiple = boxes.iter().try_fold(1u64, |multiple, (_, seeds)| {
            let seeds = u64::from(*seeds);
            multiple.checked_mul(seeds / common_divisor(multiple, seeds))
        })?;
        let squares: u64 =
            boxes.iter().try_fold(0u64, |sum, (_, seeds)| sum.checked_add(multiple.checked_mul(u64::from(*seeds))?))?;
        (squares < u64::MAX / 2).then(|| Self { by_box: boxes.iter().map(|(_, seeds)| multiple / u64::from(*seeds)).collect() })
    }

    fn rank(&self, at: usize, sprouted: u64) -> u64 {
        sprouted * sprouted * self.by_box[at]
    }
}

/// Chances of each (sprouts so far, rank so far), box after box, until all are shared out. None where it takes too long.
fn exact(boxes: &[(u32, u32)], scale: &Scale, total: u64, share: f64) -> Option<f64> {
    let ln_factorial = |n: u64| libm::lgamma(n as f64 + 1.0);
    let (ln_p, ln_q) = (share.ln(), (1.0 - share).ln());
    let mut left: u64 = boxes.iter().map(|(_, seeds)| u64::from(*seeds)).sum();
    let mut states: BTreeMap<(u64, u64), f64> = BTreeMap::from([((0, 0), 1.0)]);
    let mut steps = 0;
    for (at, (_, seeds)) in boxes.iter().enumerate() {
        let seeds = u64::from(*seeds);
        left -= seeds;
        let chances: Vec<f64> = (0..=seeds)
            .map(|x| {
                let ways = ln_factorial(seeds) - ln_factorial(x) - ln_factorial(seeds - x);
                (ways + x as f64 * ln_p + (seeds - x) as f64 * ln_q).exp()
            })
            .collect();
        let mut next = BTreeMap::new();
        for ((sum, rank), chance) in states {
            // What is left over must fit into the boxes to come.
            let (fewest, most) = (total.saturating_sub(sum + left), seeds.min(total - sum));
            steps += (most + 1).saturating_sub(fewest) as usize;
            if steps > MOST_STEPS {
                return None;
            }
            for x in fewest..=most {
                *next.entry((sum + x, rank + scale.rank(at, x))).or_insert(0.0) += chance * chances[x as usize];
            }
        }
        states = next;
    }
    let observed: u64 = boxes.iter().enumerate().map(|(at, (sprouted, _))| scale.rank(at, u64::from(*sprouted))).sum();
    let all: f64 = states.values().sum();
    let beyond: f64 = states.iter().filter(|((_, rank), _)| *rank >= observed).map(|(_, chance)| chance).sum();
    (all > 0.0).then(|| (beyond / all).min(1.0))
}

/// The same by dealing the sprouts out anew.
fn shuffled(boxes: &[(u32, u32)], total: u64, seed: u64) -> f64 {
    let mut owner: Vec<usize> = boxes.iter().enumerate().flat_map(|(at, (_, seeds))| vec![at; *seeds as usize]).collect();
    // Dealing out those that are fewer is enough: squares about the mean are the same.
    let dealt = (total as usize).min(owner.len() - total as usize);
    let apart =
        |counts: &[f64]| -> f64 { counts.iter().zip(boxes).map(|(count, (_, seeds))| count * count / f64::from(*seeds)).sum() };
    let as_dealt = |(sprouted, seeds): &(u32, u32)| f64::from(if dealt as u64 == total { *sprouted } else { seeds - sprouted });
    let observed = apart(&boxes.iter().map(as_dealt).collect::<Vec<_>>()) * (1.0 - 1e-9);
    let mut dice = Dice::new(seed);
    let mut beyond = 0;
    for _ in 0..SHUFFLES {
        let mut counts = vec![0.0; boxes.len()];
        for place in 0..dealt {
            let other = place + dice.below(owner.len() - place);
            owner.swap(place, other);
            counts[owner[place]] += 1.0;
        }
        beyond += u32::from(apart(&counts) >= observed);
    }
    f64::from(beyond + 1) / f64::from(SHUFFLES + 1)
}

/// Whether boxes of one kind, each (sprouted, seeds), lie farther apart than seeds that all sprout with one chance would make them. The
/// p-value is exact given how many sprouted in all, or of shuffles by `seed` where that would take too long. None with fewer than two
/// boxes that hold seeds; 1 where all or none sprouted. A box with more sprouted than seeds is left out.
///
/// # Formula
/// ```text
/// χ² = Σ (xᵢ − nᵢ p)² / (nᵢ p (1 − p)),   p = Σ x / Σ n;   P(x | Σ x) = Π C(nᵢ, xᵢ) / C(Σ n, Σ x),   p-value = P(χ² ≥ observed)
/// ```
/// R. A. Fisher 1950, "The significance of deviations from expectation in a Poisson series", Biometrics 6:17–24,
/// <https://doi.org/10.2307/3001420>, for the exact distribution given the total.
#[must_use]
pub fn dispersion(boxes: &[(u32, u32)], seed: u64) -> Option<Dispersion> {
    let boxes: Vec<(u32, u32)> = boxes.iter().copied().filter(|(sprouted, seeds)| *seeds > 0 && sprouted <= seeds).collect();
    let freedom = boxes.len().checked_sub(1).filter(|freedom| *freedom > 0)?;
    let total: u64 = boxes.iter().map(|(sprouted, _)| u64::from(*sprouted)).sum();
    let seeds: u64 = boxes.iter().map(|(_, seeds)| u64::from(*seeds)).sum();
    if total == 0 || total == seeds {
        return Some(Dispersion { chi_square: 0.0, freedom, p: 1.0, exact: true });
    }
    let share = total as f64 / seeds as f64;
    let chi_square: f64 = boxes
        .iter()
        .map(|(x, n)| {
            let expected = f64::from(*n) * share;
            (f64::from(*x) - expected).powi(2) / (expected * (1.0 - share))
        })
        .sum();
    if seeds > MOST_DEALT {
        let p = gamma_ur(0.5 * freedom as f64, (0.5 * chi_square).max(f64::MIN_POSITIVE));
        return Some(Dispersion { chi_square, freedom, p, exact: false });
    }
    let exactly = Scale::of(&boxes).and_then(|scale| exact(&boxes, &scale, total, share));
    let (p, exact) = exactly.map_or_else(|| (shuffled(&boxes, total, seed), false), |p| (p, true));
    Some(Dispersion { chi_square, freedom, p, exact })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fisher_two_sided;
    use proptest::prelude::*;

    /// By hand: 4 sprouts over two boxes of 4 come as 4 : 0 or 0 : 4 in 2 of C(8, 4) = 70 ways.
    #[test]
    fn worked_by_hand() {
        let found = dispersion(&[(4, 4), (0, 4)], 1).unwrap();
        assert!((found.p - 2.0 / 70.0).abs() < 1e-12 && (found.chi_square - 8.0).abs() < 1e-12, "{found:?}");
        // Three boxes of 2, three sprouts: 2 : 1 : 0 in any order has 6 · 2 of C(6, 3) = 20 ways.
        let found = dispersion(&[(2, 2), (1, 2), (0, 2)], 1).unwrap();
        assert!((found.p - 0.6).abs() < 1e-12 && found.exact && found.freedom == 2, "{found:?}");
        assert_eq!(dispersion(&[(3, 20)], 1), None);
        assert_eq!(dispersion(&[(3, 20), (0, 0), (9, 5)], 1), None);
        assert_eq!(dispersion(&[(0, 20), (0, 20)], 1).unwrap().p, 1.0);
    }

    /// Tolerated ranges between replicates of 100 seeds: mean percentage, largest tolerated difference of two and of four replicates; 7 CFR
    /// 201.55, reckoned at 2.5 % (Miles 1963, Proceedings of the International Seed Testing Association 28:525–686, from memory). Two
    /// replicates that far apart pass at 2.5 %, two points more do not. Four at the limit, two of them at the mean, pass too; four points
    /// more do not: χ² asks about all four, the table about the outer two.
    #[test]
    fn it_draws_the_line_where_seed_testing_does() {
        for (mean, two, four) in [(90, 9, 12), (85, 11, 14), (79, 13, 16), (74, 14, 17), (71, 14, 18)] {
            let apart = |range: u32| vec![(mean - range / 2, 100), (mean + range.div_ceil(2), 100)];
            let p = |boxes: &[(u32, u32)]| dispersion(boxes, 1).unwrap().p;
            assert!(p(&apart(two)) > 0.025 && p(&apart(two + 2)) < 0.025, "{mean}: {} {}", p(&apart(two)), p(&apart(two + 2)));
            let among_four = |range: u32| p(&[apart(range), vec![(mean, 100), (mean, 100)]].concat());
            assert!(
                among_four(four) > 0.025 && among_four(four + 4) < 0.025,
                "{mean}: {} {}",
                among_four(four),
                among_four(four + 4)
            );
        }
    }

    #[test]
    fn shuffles_come_to_the_exact_chance() {
        for boxes in
            [vec![(12, 20), (15, 20), (7, 20)], vec![(3, 12), (22, 41), (15, 30), (32, 51)], vec![(10, 39), (23, 62), (26, 51)]]
        {
            let found = dispersion(&boxes, 1).unwrap();
            let total = boxes.iter().map(|(sprouted, _)| u64::from(*sprouted)).sum();
            let error = (found.p * (1.0 - found.p) / f64::from(SHUFFLES)).sqrt();
            assert!(found.exact && (found.p - shuffled(&boxes, total, 7)).abs() < 4.0 * error, "{found:?}");
        }
    }

    #[test]
    fn many_boxes_of_many_sizes_are_shuffled() {
        let boxes: Vec<(u32, u32)> = (0..40).map(|at| (50 + at % 7, 97 + at)).collect();
        let found = dispersion(&boxes, 3).unwrap();
        let of_chi_square = gamma_ur(0.5 * 39.0, 0.5 * found.chi_square);
        assert!(!found.exact && (found.p - of_chi_square).abs() < 0.02, "{found:?}, by the χ² distribution {of_chi_square}");
        assert_eq!(Some(found), dispersion(&boxes, 3));
        let huge = dispersion(&[(u32::MAX / 2, u32::MAX), (u32::MAX / 2, u32::MAX)], 1).unwrap();
        assert!(!huge.exact && (huge.p - 1.0).abs() < 1e-9, "{huge:?}");
    }

    proptest! {
        #[test]
        fn two_boxes_of_one_size_are_fishers_test(n in 1u32..30, x in 0u32..30, y in 0u32..30) {
            let (x, y) = (x.min(n), y.min(n));
            let found = dispersion(&[(x, n), (y, n)], 1).unwrap();
            let fisher = fisher_two_sided((u64::from(x), u64::from(n)), (u64::from(y), u64::from(n)));
            prop_assert!((found.p - fisher).abs() < 1e-9, "{:?} {}", found, fisher);
        }
    }
}
