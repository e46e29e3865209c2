//! The normal distribution, with tails good enough for logarithms.

use libm::erfc;
use statrs::function::erf::erfc_inv;

const LN_SQRT_TWO_PI: f64 = 0.918_938_533_204_672_7;

/// Φ(x), to the last digit: by libm, since statrs' erfc (0.19) steps by 1e-11 between its pieces, which a search by gradients trips
/// over.
#[must_use]
pub fn normal_cdf(x: f64) -> f64 {
    0.5 * erfc(-x * std::f64::consts::FRAC_1_SQRT_2)
}

/// ln φ(x).
#[must_use]
pub fn ln_normal_density(x: f64) -> f64 {
    -0.5 * x * x - LN_SQRT_TWO_PI
}

/// ln Φ(x). Below −30, where Φ nears the smallest doubles, by its asymptotic series
/// (Abramowitz & Stegun 1964, 26.2.12); the term left out there is under 1e-10 of the value.
#[must_use]
pub fn ln_normal_cdf(x: f64) -> f64 {
    if x > -30.0 {
        normal_cdf(x).ln()
    } else if x == f64::NEG_INFINITY {
        x
    } else {
        let square = x * x;
        ln_normal_density(x) - (-x).ln() + (-1.0 / square + 3.0 / (square * square) - 15.0 / (square * square * square)).ln_1p()
    }
}

/// Φ⁻¹(p); infinite at and beyond 0 and 1.
#[must_use]
pub fn normal_quantile(p: f64) -> f64 {
    if p <= 0.0 {
        f64::NEG_INFINITY
    } else if p >= 1.0 {
        f64::INFINITY
    } else {
        -std::f64::consts::SQRT_2 * erfc_inv(2.0 * p)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Reference values: scipy.stats.norm.logcdf and ppf (scipy 1.15).
    #[test]
    fn the_tails_agree_with_scipy() {
        for (x, expected) in [
            (-40.0, -804.608_442_013_753_8),
            (-30.0, -454.321_243_956_343),
            (-5.0, -15.064_998_393_988_727),
            (1.0, -0.172_753_779_023_449_88),
        ] {
            assert!((ln_normal_cdf(x) - expected).abs() < 1e-9 * f64::abs(expected), "{x}: {}", ln_normal_cdf(x));
        }
        assert!((normal_quantile(0.975) - 1.959_963_984_540_054).abs() < 1e-12);
        assert_eq!(normal_quantile(0.0), f64::NEG_INFINITY);
        assert_eq!(ln_normal_cdf(f64::NEG_INFINITY), f64::NEG_INFINITY);
    }
}
