//! How often shuffled labels make a difference as large: permutation tests, counted out or drawn.

use std::collections::BTreeMap;

use super::Dice;

/// As many arrangements are counted out one by one; beyond that, as many are drawn.
const COUNTED_OUT: f64 = 200_000.0;
const DRAWN: usize = 100_000;
/// Sums are as large as the observed one if they fall short by no more than this: they are rounded.
const AS_LARGE: f64 = 1e-9;

/// Something that bears one label: a seed, or a container with all its seeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Unit {
    /// Its score.
    pub score: f64,
    /// Whether it is of the first group.
    pub first: bool,
    /// Labels are dealt out anew only among units of one block.
    pub block: usize,
}

/// What a permutation test says.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Permuted {
    /// The share of arrangements whose sum lies as far from its mean as the observed one, two-sided.
    pub p: f64,
    /// The smallest value that p could have taken with so many units.
    pub smallest: f64,
    /// Whether all arrangements were counted out; else p is of 100,000 draws and good to about √(p(1 − p)/100,000).
    pub exact: bool,
}

/// The two-sided permutation test of the sum of the first group's scores, labels dealt out anew within blocks. None where there is only
/// one arrangement.
///
/// # Formula
/// ```text
/// p = share of arrangements with |T − E T| ≥ |T observed − E T|
/// ```
/// E. J. G. Pitman 1937, "Significance tests which may be applied to samples from any populations", Supplement to the Journal of the
/// Royal Statistical Society 4:119–130, <https://doi.org/10.2307/2984124>. Draws count the observed arrangement among them, so that p is
/// never 0 (B. Phipson & G. K. Smyth 2010, Statistical Applications in Genetics and Molecular Biology 9:39,
/// <https://doi.org/10.2202/1544-6115.1585>).
#[must_use]
pub fn permuted(units: &[Unit], seed: u64) -> Option<Permuted> {
    let mut blocks: BTreeMap<usize, (Vec<f64>, usize)> = BTreeMap::new();
    for unit in units {
        let block = blocks.entry(unit.block).or_default();
        block.0.push(unit.score);
        block.1 += usize::from(unit.first);
    }
    let blocks: Vec<(Vec<f64>, usize)> = blocks.into_values().collect();
    let arrangements: f64 = blocks.iter().map(|(scores, first)| choose(scores.len(), *first)).product();
    if arrangements < 1.5 {
        return None;
    }
    let observed: f64 = units.iter().filter(|unit| unit.first).map(|unit| unit.score).sum();
    let mean: f64 = blocks.iter().map(|(scores, first)| scores.iter().sum::<f64>() * *first as f64 / scores.len() as f64).sum();
    let size: f64 = units.iter().map(|unit| unit.score.abs()).sum();
    let as_large = |sum: f64| (sum - mean).abs() >= (observed - mean).abs() - AS_LARGE * size;
    // An arrangement and its mirror image are as far from the mean where every block has as many of either.
    let mirrored = blocks.iter().all(|(scores, first)| scores.len() == 2 * first);
    let smallest = if mirrored { 2.0 } else { 1.0 } / arrangements;
    if arrangements <= COUNTED_OUT {
        let sums = blocks.iter().fold(vec![0.0], |sums, (scores, first)| {
            let own = sums_of(scores, *first);
            sums.iter().flat_map(|sum| own.iter().map(move |more| sum + more)).collect()
        });
        let extreme = sums.iter().filter(|sum| as_large(**sum)).count();
        return Some(Permuted { p: extreme as f64 / sums.len() as f64, smallest, exact: true });
    }
    let mut dice = Dice::new(seed);
    let mut blocks = blocks;
    let extreme =
        (0..DRAWN).filter(|_| as_large(blocks.iter_mut().map(|(scores, first)| dealt(scores, *first, &mut dice)).sum())).count();
    Some(Permuted { p: (extreme + 1) as f64 / (DRAWN + 1) as f64, smallest, exact: false })
}

fn choose(n: usize, k: usize) -> f64 {
    (0..k.min(n - k)).map(|at| (n - at) as f64 / (at + 1) as f64).product()
}

/// The sums of all choices of `take` out of `scores`.
fn sums_of(scores: &[f64], take: usize) -> Vec<f64> {
    let Some((score, rest)) = scores.split_first() else { return vec![0.0] };
    if take == 0 {
        return vec![0.0];
    }
    let mut sums: Vec<f64> = sums_of(rest, take - 1).into_iter().map(|sum| sum + score).collect();
    if rest.len() >= take {
        sums.extend(sums_of(rest, take));
    }
    sums
}

/// The sum of `take` scores dealt out: the first steps of a shuffle.
fn dealt(scores: &mut [f64], take: usize, dice: &mut Dice) -> f64 {
    for at in 0..take {
        scores.swap(at, at + dice.below(scores.len() - at));
    }
    scores[..take].iter().sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::fisher_two_sided;

    fn units(first: &[f64], second: &[f64], block: usize) -> Vec<Unit> {
        let of = |scores: &[f64], first| scores.iter().map(move |score| Unit { score: *score, first, block }).collect::<Vec<_>>();
        [of(first, true), of(second, false)].concat()
    }

    /// With k containers a group no p can be below 2 / C(2k, k): combinatorics.
    #[test]
    fn few_containers_cannot_tell() {
        for (k, smallest) in [(2, 0.333), (3, 0.100), (4, 0.0286), (5, 0.0079), (6, 0.0022)] {
            let (low, high): (Vec<f64>, Vec<f64>) =
                ((0..k).map(f64::from).collect(), (0..k).map(|n| 100.0 + f64::from(n)).collect());
            let told = permuted(&units(&high, &low, 0), 1).unwrap();
            assert!(told.exact && (told.p - told.smallest).abs() < 1e-12 && (told.p - smallest).abs() < 6e-4, "{k}: {told:?}");
        }
    }

    /// Darwin's maize, 15 pairs of crossed and self-fertilised plants (eighths of an inch; R. A. Fisher 1935, The Design of Experiments,
    /// § 21, from memory): of the 2^15 ways to label the pairs 1,726 make a difference as large, p .05267.
    #[test]
    fn darwins_maize() {
        let apart = [49.0, -67.0, 8.0, 16.0, 6.0, 23.0, 28.0, 41.0, 14.0, 29.0, 56.0, 24.0, 75.0, 60.0, -48.0];
        let pairs: Vec<Unit> = (0..).zip(apart).flat_map(|(block, apart)| units(&[apart], &[0.0], block)).collect();
        let told = permuted(&pairs, 1).unwrap();
        assert!(told.exact && (told.p * 32_768.0 - 1726.0).abs() < 1e-6, "{told:?}");
        assert!((told.smallest - 2.0 / 32_768.0).abs() < 1e-12);
    }

    /// With scores of 0 and 1 the test is Fisher's where both groups are alike in number.
    #[test]
    fn of_counts_it_is_fishers_test() {
        let (first, second) = ([1.0, 1.0, 1.0, 1.0, 1.0, 1.0, 0.0, 0.0], [1.0, 1.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0.0]);
        let told = permuted(&units(&first, &second, 0), 1).unwrap();
        assert!((told.p - fisher_two_sided((6, 8), (2, 8))).abs() < 1e-9, "{told:?}");
    }

    #[test]
    fn what_cannot_be_counted_out_is_drawn_and_the_draws_agree() {
        let (first, second): (Vec<f64>, Vec<f64>) =
            ((0..20).map(|n| f64::from(u8::from(n < 16))).collect(), (0..20).map(|n| f64::from(u8::from(n < 8))).collect());
        let told = permuted(&units(&first, &second, 0), 5).unwrap();
        let exact = fisher_two_sided((16, 20), (8, 20));
        assert!(!told.exact && (told.p - exact).abs() < 4.0 * (exact * (1.0 - exact) / 1e5).sqrt() + 1e-5, "{told:?} {exact}");
        assert_eq!(permuted(&units(&first, &second, 0), 5), Some(told), "the same seed, the same answer");
    }

    #[test]
    fn labels_stay_within_their_blocks() {
        // At either spot the treated box did better; without blocks the spots' difference would hide it.
        let blocked = [units(&[10.0, 11.0], &[1.0, 2.0], 0), units(&[110.0, 111.0], &[101.0, 102.0], 1)].concat();
        let told = permuted(&blocked, 1).unwrap();
        assert!((told.p - 2.0 / 36.0).abs() < 1e-12, "{told:?}");
        let all_in_one = blocked.iter().map(|unit| Unit { block: 0, ..*unit }).collect::<Vec<_>>();
        assert!(permuted(&all_in_one, 1).unwrap().p > 0.5);
        assert_eq!(permuted(&units(&[1.0, 2.0], &[], 0), 1), None);
        assert_eq!(permuted(&[], 1), None);
        let apart = [units(&[1.0], &[], 0), units(&[], &[2.0], 1)].concat();
        assert_eq!(permuted(&apart, 1), None, "where treatments and spots coincide nothing can be dealt out anew");
    }
}
