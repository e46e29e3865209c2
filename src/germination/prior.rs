//! What is assumed before any trial.

use super::{Coordinate, RateShape, Space};

/// Which assumptions go in.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Prior {
    /// None: plain maximum likelihood.
    None,
    /// Seeds in general, of garden and wild plants of temperate climates.
    #[default]
    General,
}

/// An optimum less than this above the base is not considered, °C.
const LEAST_RISE_C: f64 = 5.0;

impl Prior {
    /// Mean and standard deviation assumed for a coordinate (all normal); none: nothing assumed.
    ///
    /// Base 6 ± 4 °C and optimum 27 ± 3 °C cover the spread of published base temperatures (−2 to 15 °C) and optima; half
    /// requirement e^(4.6 ± 1) = 100 °C·d within a factor of 2.7 (10 d on days alone: the same at 10 °C above the base); standard
    /// deviation of ln Θ 0.25 within a factor of 1.5; germinable fraction logit 0.8 ± 1.2 (about 0.4 to 0.9).
    #[must_use]
    pub fn normal(self, space: &Space, which: Coordinate) -> Option<(f64, f64)> {
        if self == Self::None {
            return None;
        }
        Some(match which {
            Coordinate::Base => (6.0, 4.0),
            Coordinate::Optimum => (27.0, 3.0),
            Coordinate::LnFall => (11f64.ln(), 0.3),
            Coordinate::LnHalf if space.shape == RateShape::Days => (10f64.ln(), 1.0),
            Coordinate::LnHalf => (4.6, 1.0),
            Coordinate::LnSpread => ((0.25 * space.distribution.scale_of_unit_sd()).ln(), 0.4),
            Coordinate::LogitGerminable => (0.8, 1.2),
        })
    }

    /// ln density at a point, up to a constant; −∞ where the optimum is less than 5 °C above the base.
    #[must_use]
    pub fn ln_density(self, space: &Space, point: &[f64]) -> f64 {
        if self == Self::None {
            return 0.0;
        }
        if let (Some(base), Some(optimum)) = (space.place_of(Coordinate::Base), space.place_of(Coordinate::Optimum))
            && point[optimum] < point[base] + LEAST_RISE_C
        {
            return f64::NEG_INFINITY;
        }
        let terms = space.coordinates().iter().zip(point).filter_map(|(which, at)| {
            let (mean, sd) = self.normal(space, *which)?;
            Some(-0.5 * ((at - mean) / sd).powi(2))
        });
        terms.sum()
    }

    /// Its gradient.
    #[must_use]
    pub fn gradient(self, space: &Space, point: &[f64]) -> Vec<f64> {
        let slope = |(which, at): (&Coordinate, &f64)| self.normal(space, *which).map_or(0.0, |(mean, sd)| (mean - at) / (sd * sd));
        space.coordinates().iter().zip(point).map(slope).collect()
    }
}
