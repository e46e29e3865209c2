//! How the requirement differs from seed to seed.

use crate::stats::{ln_normal_cdf, ln_normal_density, ln_one_minus_exp, logistic, logit, normal_cdf, normal_quantile, softplus};
use std::f64::consts::LN_2;

/// The family of F, on the standard scale z = (ln Θ − ln Θ½)/s where F(0) = ½.
///
/// # Formula
/// ```text
/// log-logistic  F = 1/(1 + e⁻ᶻ)            s = logistic scale of ln Θ
/// log-normal    F = Φ(z)                   s = standard deviation of ln Θ
/// Weibull       F = 1 − exp(−ln 2 · eᶻ)    s = 1/shape
/// ```
/// Log-logistic fitted best in 13 of 15 species in a comparison of five families ("Estimation of thermal time model parameters for
/// seed germination in 15 species: the importance of distribution function", Seed Science Research, about 2021).
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Distribution {
    /// The default.
    #[default]
    LogLogistic,
    /// The historical choice.
    LogNormal,
    /// Skewed to early sprouts.
    Weibull,
}

/// ln F, ln(1 − F) and ln dF/dz at one z.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Tails {
    z: f64,
    ln_share: f64,
    ln_rest: f64,
    ln_density: f64,
}

/// F, 1 − F and dF/dz at one z.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Sides {
    pub(super) z: f64,
    pub(super) share: f64,
    pub(super) rest: f64,
    pub(super) density: f64,
}

impl Distribution {
    /// F(z).
    #[must_use]
    pub fn share(self, z: f64) -> f64 {
        match self {
            Self::LogLogistic => logistic(z),
            Self::LogNormal => normal_cdf(z),
            Self::Weibull => -(-LN_2 * z.exp()).exp_m1(),
        }
    }

    /// 1 − F(z).
    #[must_use]
    pub fn rest(self, z: f64) -> f64 {
        match self {
            Self::LogLogistic => logistic(-z),
            Self::LogNormal => normal_cdf(-z),
            Self::Weibull => (-LN_2 * z.exp()).exp(),
        }
    }

    /// z at which F(z) = p; infinite at 0 and 1.
    #[must_use]
    pub fn at_share(self, p: f64) -> f64 {
        match self {
            Self::LogLogistic => logit(p),
            Self::LogNormal => normal_quantile(p),
            Self::Weibull => (-(-p).ln_1p() / LN_2).ln(),
        }
    }

    /// ln of dF/dz.
    #[must_use]
    pub fn ln_density(self, z: f64) -> f64 {
        match self {
            Self::LogLogistic => -softplus(-z) - softplus(z),
            Self::LogNormal => ln_normal_density(z),
            Self::Weibull => LN_2.ln() + z - LN_2 * z.exp(),
        }
    }

    /// d ln(dF/dz)/dz: how the density bends.
    #[must_use]
    pub fn ln_density_slope(self, z: f64) -> f64 {
        match self {
            Self::LogLogistic => 1.0 - 2.0 * logistic(z),
            Self::LogNormal => -z,
            Self::Weibull => 1.0 - LN_2 * z.exp(),
        }
    }

    /// The logarithms that a likelihood wants at one z, worked out together; z may be −∞.
    fn tails(self, z: f64) -> Tails {
        let (ln_share, ln_rest) = match self {
            Self::LogLogistic => {
                let beyond = (-z.abs()).exp().ln_1p();
                if z > 0.0 { (-beyond, -z - beyond) } else { (z - beyond, -beyond) }
            }
            Self::LogNormal => (ln_normal_cdf(z), ln_normal_cdf(-z)),
            Self::Weibull => {
                let ln_rest = -LN_2 * z.exp();
                (ln_one_minus_exp(ln_rest), ln_rest)
            }
        };
        let ln_density = match self {
            Self::LogLogistic => ln_share + ln_rest,
            Self::LogNormal | Self::Weibull => self.ln_density(z),
        };
        Tails { z, ln_share, ln_rest, ln_density }
    }

    /// ln(F(to) − F(from)) from both their tails, exact in either tail; −∞ for an empty interval.
    fn ln_between_tails(self, from: &Tails, to: &Tails) -> f64 {
        if from.z >= to.z {
            return f64::NEG_INFINITY;
        }
        match self {
            // F(b) − F(a) = F(b) (1 − F(a)) (1 − e^−(b−a)).
            Self::LogLogistic => to.ln_share + from.ln_rest + ln_one_minus_exp(from.z - to.z),
            // In the upper half the complements are subtracted, so that both are small numbers known to full precision.
            Self::LogNormal if from.z > 0.0 => from.ln_rest + ln_one_minus_exp(to.ln_rest - from.ln_rest),
            Self::LogNormal => to.ln_share + ln_one_minus_exp(from.ln_share - to.ln_share),
            Self::Weibull => from.ln_rest + ln_one_minus_exp(to.ln_rest - from.ln_rest),
        }
    }

    /// Both sides of one z as plain numbers; z may be −∞.
    pub(super) fn sides(self, z: f64) -> Sides {
        match self {
            Self::LogLogistic => {
                let odds = (-z.abs()).exp();
                let most = 1.0 / (1.0 + odds);
                let least = odds * most;
                let (share, rest) = if z > 0.0 { (most, least) } else { (least, most) };
                Sides { z, share, rest, density: most * least }
            }
            Self::LogNormal | Self::Weibull => {
                Sides { z, share: self.share(z), rest: self.rest(z), density: self.ln_density(z).exp() }
            }
        }
    }

    /// ln(F(to) − F(from)) with its slopes, with `to` and (turned round) with `from`; −∞ for an empty interval.
    pub(super) fn between(self, from: &Sides, to: &Sides) -> (f64, f64, f64) {
        let (larger, smaller) = if from.z > 0.0 { (from.rest, to.rest) } else { (to.share, from.share) };
        let between = larger - smaller;
        // Far enough apart that the difference has thirteen digits.
        if between > 1e-3 * larger && between > 1e-280 {
            return (between.ln(), to.density / between, from.density / between);
        }
        let (from, to) = (self.tails(from.z), self.tails(to.z));
        let ln_between = self.ln_between_tails(&from, &to);
        (ln_between, (to.ln_density - ln_between).exp(), (from.ln_density - ln_between).exp())
    }

    /// The scale s that goes with a standard deviation of ln Θ of 1: π⁻¹√3, 1 and √6/π.
    #[must_use]
    pub fn scale_of_unit_sd(self) -> f64 {
        match self {
            Self::LogLogistic => 3f64.sqrt() / std::f64::consts::PI,
            Self::LogNormal => 1.0,
            Self::Weibull => 6f64.sqrt() / std::f64::consts::PI,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    const ALL: [Distribution; 3] = [Distribution::LogLogistic, Distribution::LogNormal, Distribution::Weibull];

    /// scipy.stats: logistic.cdf(1.2), norm.cdf(1.2), weibull_min.cdf(1.2, c = 2) with z on its own scale.
    #[test]
    fn shares_agree_with_scipy() {
        assert!((Distribution::LogLogistic.share(1.2) - 0.768_524_783_499_017_6).abs() < 1e-14);
        assert!((Distribution::LogNormal.share(1.2) - 0.884_930_329_778_291_8).abs() < 1e-12);
        // c = 2, x = 1.2: 1 − exp(−1.44) = 0.763072…; z = ln(x² / ln 2).
        let z = (1.44 / LN_2).ln();
        assert!((Distribution::Weibull.share(z) - 0.763_072_241_317_878_5).abs() < 1e-14);
    }

    proptest! {
        #[test]
        fn an_interval_is_the_difference_of_its_ends(from in -6.0..6.0f64, width in 0.01..4.0f64) {
            for family in ALL {
                let plain = family.share(from + width) - family.share(from);
                let kept = family.ln_between_tails(&family.tails(from), &family.tails(from + width)).exp();
                prop_assert!((plain - kept).abs() < 1e-12, "{family:?}: {plain} against {kept}");
                prop_assert!((family.share(from) + family.rest(from) - 1.0).abs() < 1e-12);
                let step = 1e-5;
                let slope = (family.share(from + step) - family.share(from - step)) / (2.0 * step);
                prop_assert!((slope - family.ln_density(from).exp()).abs() < 1e-8);
                let (low, high) = (family.sides(from), family.sides(from + width));
                let (ln_between, up, down) = family.between(&low, &high);
                prop_assert!((ln_between - family.ln_between_tails(&family.tails(from), &family.tails(from + width))).abs() < 1e-10);
                prop_assert!((up * plain - family.ln_density(from + width).exp()).abs() < 1e-10);
                prop_assert!((down * plain - family.ln_density(from).exp()).abs() < 1e-10);
                prop_assert!((low.rest - family.rest(from)).abs() < 1e-14);
            }
        }

        #[test]
        fn far_tails_stay_finite(from in -600.0..-30.0f64) {
            for family in [Distribution::LogLogistic, Distribution::LogNormal] {
                let by_tails = family.ln_between_tails(&family.tails(from), &family.tails(from + 0.5));
                prop_assert!(by_tails.is_finite());
                let (ln_between, up, down) = family.between(&family.sides(from), &family.sides(from + 0.5));
                prop_assert!((ln_between - by_tails).abs() < 1e-9 * ln_between.abs());
                prop_assert!(up.is_finite() && down.is_finite() && up > down);
            }
        }

        #[test]
        fn quantiles_invert_shares(p in 0.001..0.999f64) {
            for family in ALL {
                prop_assert!((family.share(family.at_share(p)) - p).abs() < 1e-10);
            }
        }
    }
}
