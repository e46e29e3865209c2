//! The χ² distribution.

use statrs::function::gamma::gamma_ur;

/// P(χ² > `value`) with so many degrees of freedom; 1 at and below 0, and without freedom.
#[must_use]
pub fn chi_squared_above(value: f64, freedom: f64) -> f64 {
    // statrs panics on arguments that are not positive, and on infinite ones.
    if value.is_nan() || value <= 0.0 || freedom <= 0.0 {
        1.0
    } else if value.is_infinite() {
        0.0
    } else {
        gamma_ur(0.5 * freedom, 0.5 * value)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The usual table's 5 % points (from memory): 3.841 with 1, 11.070 with 5, 124.342 with 100 degrees of freedom.
    #[test]
    fn the_table_is_met() {
        for (value, freedom) in [(3.841, 1.0), (11.070, 5.0), (124.342, 100.0)] {
            assert!((chi_squared_above(value, freedom) - 0.05).abs() < 2e-5, "{value} with {freedom}");
        }
        assert_eq!(
            [chi_squared_above(0.0, 3.0), chi_squared_above(f64::INFINITY, 3.0), chi_squared_above(5.0, 0.0)],
            [1.0, 0.0, 1.0]
        );
    }
}
