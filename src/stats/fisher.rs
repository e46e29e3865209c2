//! Fisher's exact test of two counted shares, and its power.

use libm::lgamma;

/// Tables are as likely as the observed one if they are at most this share likelier: sums of logarithms differ in their last digits.
const AS_LIKELY: f64 = 1e-7;
/// In more than this the tables would fill the memory.
const MOST: u64 = 10_000_000;
/// The smallest difference is found to this.
const SHARE_STEP: f64 = 1e-4;

fn ln_choose(n: u64, k: u64) -> f64 {
    lgamma(n as f64 + 1.0) - lgamma(k as f64 + 1.0) - lgamma((n - k) as f64 + 1.0)
}

/// The likelihoods of all tables with these margins, by the first cell, from the smallest it can be.
fn tables(n_a: u64, n_b: u64, total: u64) -> (u64, Vec<f64>) {
    let (low, high) = (total.saturating_sub(n_b), total.min(n_a));
    let all = ln_choose(n_a + n_b, total);
    (low, (low..=high).map(|x| (ln_choose(n_a, x) + ln_choose(n_b, total - x) - all).exp()).collect())
}

/// The two-sided p-value of each table with these margins: the summed likelihood of all that are no likelier.
fn p_values(n_a: u64, n_b: u64, total: u64) -> (u64, Vec<f64>) {
    let (low, likelihoods) = tables(n_a, n_b, total);
    let mut ascending = likelihoods.clone();
    ascending.sort_by(f64::total_cmp);
    let sums: Vec<f64> = ascending
        .iter()
        .scan(0.0, |sum, one| {
            *sum += one;
            Some(*sum)
        })
        .collect();
    let p = |of: f64| {
        let no_likelier = ascending.partition_point(|one| *one <= of * (1.0 + AS_LIKELY));
        no_likelier.checked_sub(1).map_or(0.0, |last| sums[last]).min(1.0)
    };
    (low, likelihoods.iter().map(|of| p(*of)).collect())
}

/// The two-sided p-value of `a` = (count, of) against `b`; 1 where a count is beyond its number or there is nothing to compare,
/// not a number beyond ten million in all.
///
/// # Formula
/// ```text
/// p = Σ P(x) over all tables of the same margins with P(x) ≤ P(observed),   P(x) = C(n₁, x) C(n₂, m − x) / C(n₁ + n₂, m)
/// ```
/// R. A. Fisher 1935, "The logic of inductive inference", Journal of the Royal Statistical Society 98:39–82,
/// <https://doi.org/10.2307/2342435>.
#[must_use]
pub fn fisher_two_sided(a: (u64, u64), b: (u64, u64)) -> f64 {
    if a.0 > a.1 || b.0 > b.1 {
        return 1.0;
    }
    if a.1.saturating_add(b.1) > MOST {
        return f64::NAN;
    }
    let (low, p) = p_values(a.1, b.1, a.0 + b.0);
    p.get((a.0 - low) as usize).copied().unwrap_or(1.0)
}

/// Binomial likelihoods of 0 to n.
fn binomial(n: u64, share: f64) -> Vec<f64> {
    let share = share.clamp(0.0, 1.0);
    let part = |k: u64, x: f64| if k == 0 { 0.0 } else { k as f64 * x.ln() };
    (0..=n).map(|k| (ln_choose(n, k) + part(k, share) + part(n - k, 1.0 - share)).exp()).collect()
}

/// The tables of a trial that Fisher's test calls different at `level`, by both counts.
struct Called {
    n_a: u64,
    n_b: u64,
    /// For each total: the smallest first cell, and whether the table from it on is called different.
    by_total: Vec<(u64, Vec<bool>)>,
}

impl Called {
    fn new(n_a: u64, n_b: u64, level: f64) -> Self {
        let called = |total| {
            let (low, p) = p_values(n_a, n_b, total);
            (low, p.into_iter().map(|p| p <= level).collect())
        };
        Self { n_a, n_b, by_total: (0..=n_a + n_b).map(called).collect() }
    }

    fn is_called(&self, x: u64, y: u64) -> bool {
        self.by_total.get((x + y) as usize).is_some_and(|(low, called)| called.get((x - low) as usize) == Some(&true))
    }

    /// The chance that the test calls the two different.
    fn power(&self, share_a: f64, share_b: f64) -> f64 {
        let (of_a, of_b) = (binomial(self.n_a, share_a), binomial(self.n_b, share_b));
        let mut power = 0.0;
        for (x, p_x) in (0..).zip(&of_a) {
            power += p_x * (0..).zip(&of_b).filter(|(y, _)| self.is_called(x, *y)).map(|(_, p_y)| p_y).sum::<f64>();
        }
        power
    }
}

/// The chance that Fisher's test at `level` calls shares of `share_a` of `n_a` and `share_b` of `n_b` different: exact.
#[must_use]
pub fn fisher_power(share_a: f64, share_b: f64, n_a: u64, n_b: u64, level: f64) -> f64 {
    Called::new(n_a, n_b, level).power(share_a, share_b)
}

/// The smallest share above `share_b` that would be called different from it with a chance of at least `power`; none where not even
/// all of `n_a` would.
#[must_use]
pub fn smallest_difference_shown(share_b: f64, n_a: u64, n_b: u64, level: f64, power: f64) -> Option<f64> {
    let called = Called::new(n_a, n_b, level);
    let (mut low, mut high) = (share_b, 1.0);
    if called.power(high, share_b) < power {
        return None;
    }
    // Power grows with the distance.
    while high - low > SHARE_STEP {
        let middle = 0.5 * (low + high);
        if called.power(middle, share_b) < power { low = middle } else { high = middle }
    }
    Some(high)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// The lady tasting tea (R. A. Fisher 1935, The Design of Experiments, ch. 2) and criminal twins (J. Lange 1929, in R. A.
    /// Fisher 1925–, Statistical Methods for Research Workers, § 21.02), from memory; p-values recomputed with scipy.
    #[test]
    fn the_classics() {
        for (a, b, p) in [((3, 4), (1, 4), 0.485_714), ((4, 4), (0, 4), 0.028_571), ((10, 13), (2, 17), 0.000_536_72)] {
            assert!((fisher_two_sided(a, b) - p).abs() < 5e-7, "{a:?} {b:?}: {}", fisher_two_sided(a, b));
        }
    }

    /// Rows of R. G. Newcombe 1998, Statistics in Medicine 17:873–890, table II (from memory), with Fisher's p by scipy.
    #[test]
    fn the_same_tables_as_of_the_intervals() {
        for (a, b, p) in [
            ((56, 70), (48, 80), 0.0125),
            ((9, 10), (3, 10), 0.0198),
            ((6, 7), (2, 7), 0.1026),
            ((5, 56), (0, 29), 0.1606),
            ((0, 10), (0, 20), 1.0),
            ((16, 20), (8, 20), 0.02248),
        ] {
            assert!((fisher_two_sided(a, b) - p).abs() < 6e-5, "{a:?} {b:?}: {}", fisher_two_sided(a, b));
        }
        assert!((fisher_two_sided((10, 10), (0, 20)) - 3e-8).abs() < 5e-9);
        assert!((fisher_two_sided((10, 10), (0, 10)) - 1e-5).abs() < 2e-6);
        assert_eq!(fisher_two_sided((5, 4), (0, 10)), 1.0);
        assert!(fisher_two_sided((0, u64::MAX), (1, u64::MAX)).is_nan());
    }

    fn smallest_called(n: u64, control: u64) -> Option<u64> {
        (control..=n).find(|treated| fisher_two_sided((*treated, n), (control, n)) <= 0.05)
    }

    /// Smallest treated counts that reach p ≤ .05 with as many seeds in both groups, worked out with scipy.stats.fisher_exact.
    #[test]
    fn the_smallest_counts_that_are_called_different() {
        for (n, control, treated) in [
            (5, 0, Some(4)),
            (5, 1, Some(5)),
            (5, 2, None),
            (8, 0, Some(5)),
            (8, 2, Some(7)),
            (8, 3, Some(8)),
            (8, 4, None),
            (10, 2, Some(8)),
            (10, 4, Some(10)),
            (15, 3, Some(10)),
            (15, 8, Some(14)),
            (20, 4, Some(11)),
            (20, 8, Some(16)),
            (20, 10, Some(17)),
            (25, 0, Some(6)),
            (30, 15, Some(24)),
            (50, 10, Some(20)),
            (50, 25, Some(36)),
        ] {
            assert_eq!(smallest_called(n, control), treated, "{control} of {n}");
        }
    }

    /// Exact power at .05, worked out with scipy (binom and fisher_exact over all tables).
    #[test]
    fn power_is_exact() {
        for (n, powers) in [
            (10, [0.243, 0.132, 0.152, 0.635, 0.055]),
            (15, [0.434, 0.246, 0.325, 0.872, 0.097]),
            (20, [0.599, 0.409, 0.492, 0.961, 0.163]),
            (25, [0.782, 0.510, 0.591, 0.994, 0.232]),
            (30, [0.838, 0.596, 0.705, 0.998, 0.259]),
            (40, [0.941, 0.749, 0.852, 1.0, 0.368]),
            (50, [0.979, 0.853, 0.927, 1.0, 0.463]),
        ] {
            let shares = [(0.3, 0.7), (0.5, 0.8), (0.6, 0.9), (0.2, 0.8), (0.5, 0.7)];
            for ((low, high), expected) in shares.into_iter().zip(powers) {
                let power = fisher_power(high, low, n, n, 0.05);
                assert!((power - expected).abs() < 6e-4, "{n} seeds, {low} to {high}: {power}");
            }
        }
    }

    #[test]
    fn the_smallest_difference_is_the_one_with_just_the_power() {
        let share = smallest_difference_shown(0.4, 20, 20, 0.05, 0.8).unwrap();
        assert!(fisher_power(share, 0.4, 20, 20, 0.05) >= 0.8 && fisher_power(share - 0.001, 0.4, 20, 20, 0.05) < 0.8, "{share}");
        assert_eq!(smallest_difference_shown(0.5, 5, 5, 0.05, 0.8), None);
        assert_eq!(smallest_difference_shown(0.5, 0, 0, 0.05, 0.8), None);
    }

    proptest! {
        #[test]
        fn which_group_comes_first_makes_no_difference(n_a in 0u64..40, n_b in 0u64..40, x in 0u64..40, y in 0u64..40) {
            let (a, b) = ((x.min(n_a), n_a), (y.min(n_b), n_b));
            let (there, back) = (fisher_two_sided(a, b), fisher_two_sided(b, a));
            prop_assert!((there - back).abs() < 1e-9 && there > 0.0 && there <= 1.0, "{} {}", there, back);
        }
    }
}
