//! Counts among independent seeds, and shares drawn from what was counted.

use statrs::function::beta::{checked_beta_reg, inv_beta_reg};

/// Chance that at least `count` of `trials` come, each with `chance`: the same as that the `count`-th comes within so many.
///
/// # Formula
/// ```text
/// P(X ≥ k) = I_p(k, n − k + 1),   X ~ Binomial(n, p);  = P(N ≤ n),   N ~ negative binomial: trials until the k-th success
/// ```
/// Abramowitz & Stegun 1964, Handbook of Mathematical Functions, 26.5.24 and 26.5.26.
#[must_use]
pub fn at_least(count: u32, trials: u32, chance: f64) -> f64 {
    if count == 0 {
        return 1.0;
    }
    if count > trials || chance.is_nan() || chance <= 0.0 {
        return 0.0;
    }
    if chance >= 1.0 {
        return 1.0;
    }
    let (k, n) = (f64::from(count), f64::from(trials));
    checked_beta_reg(k, n - k + 1.0, chance).unwrap_or(0.0)
}

/// The `p`-quantile of a beta distribution with these two parameters, both above 0; 0 to 1.
#[must_use]
pub fn beta_quantile(a: f64, b: f64, p: f64) -> f64 {
    // Outside these the inversion would panic.
    let sane = |x: f64| if x.is_finite() { x.clamp(1e-6, 1e9) } else { 1.0 };
    inv_beta_reg(sane(a), sane(b), p.clamp(0.0, 1.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Summed term by term, smallest first.
    fn summed(count: u32, trials: u32, chance: f64) -> f64 {
        let mut term = chance.powi(trials as i32);
        let mut sum = term;
        for at in (count..trials).rev() {
            term *= f64::from(at + 1) / f64::from(trials - at) * (1.0 - chance) / chance;
            sum += term;
        }
        sum
    }

    /// scipy 1.17: `binom.sf(11, 20, .7)`, `nbinom.cdf(20 − 12, 12, .7)`; `beta.ppf([.05, .5, .95], 42, 6)`.
    #[test]
    fn it_agrees_with_scipy() {
        assert!((at_least(12, 20, 0.7) - 0.886_668_537_1).abs() < 1e-9, "{}", at_least(12, 20, 0.7));
        for (p, share) in [(0.05, 0.789_240_24), (0.5, 0.880_214_55), (0.95, 0.942_915_19)] {
            assert!((beta_quantile(42.0, 6.0, p) - share).abs() < 1e-7, "{p}: {}", beta_quantile(42.0, 6.0, p));
        }
    }

    #[test]
    fn edges_are_answered() {
        assert_eq!([at_least(0, 0, 0.5), at_least(1, 0, 0.5), at_least(3, 5, 0.0), at_least(3, 5, 1.0)], [1.0, 0.0, 0.0, 1.0]);
        assert_eq!(at_least(3, 5, f64::NAN), 0.0);
        assert!((0.0..=1.0).contains(&beta_quantile(0.0, f64::NAN, 2.0)));
    }

    proptest! {
        #[test]
        fn it_is_the_sum_of_its_terms(count in 1u32..80, more in 0u32..80, chance in 0.02..0.98f64) {
            let trials = count + more;
            prop_assert!((at_least(count, trials, chance) - summed(count, trials, chance)).abs() < 1e-9);
        }
    }
}
