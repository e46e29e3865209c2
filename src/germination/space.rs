//! The parameters as coordinates to search and draw in.

use super::Distribution;
use crate::stats::{logistic, logit};
use crate::thermal::Rate;

/// The shape of the rate's answer to temperature, or days alone.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum RateShape {
    /// Linear above the base.
    Threshold,
    /// Linear to the optimum, falling to the ceiling.
    #[default]
    Tent,
    /// No temperatures: time alone.
    Days,
}

/// One coordinate of the search.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Coordinate {
    /// Base, °C.
    Base,
    /// Optimum, °C.
    Optimum,
    /// ln of (ceiling − optimum), °C.
    LnFall,
    /// ln of the half requirement, °C·d or days.
    LnHalf,
    /// ln of the spread of ln Θ (the family's scale).
    LnSpread,
    /// logit of the germinable fraction.
    LogitGerminable,
    /// ln of the standard deviation of ln requirement between containers.
    LnSpeedSd,
    /// ln of the standard deviation of the logit fraction between containers.
    LnFractionSd,
    /// Change of the logit fraction per °C of a container's mean temperature.
    FractionSlope,
    /// What one lot adds.
    Lot(usize, Added),
    /// What one treatment adds.
    Treatment(usize, Added),
    /// What has to be added to the temperatures on record at one spot, °C.
    Offset(usize),
}

/// To what a lot or a treatment adds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Added {
    /// The logit of the germinable fraction.
    Fraction,
    /// ln of the half requirement.
    Requirement,
    /// The base, °C.
    Base,
}

impl Coordinate {
    /// The range in which a value can be meant at all; a search or an interval that ends here has found no end.
    #[must_use]
    pub fn edges(self) -> (f64, f64) {
        match self {
            Base => (-30.0, 60.0),
            Optimum => (-30.0, 90.0),
            LnFall => (-3.0, 5.0),
            LnHalf => (-7.0, 14.0),
            LnSpread => (-6.0, 3.0),
            LogitGerminable => (-14.0, 14.0),
            LnSpeedSd | LnFractionSd => (-9.0, 2.0),
            FractionSlope => (-5.0, 5.0),
            Lot(_, Added::Base) | Treatment(_, Added::Base) | Offset(_) => (-20.0, 20.0),
            Lot(..) | Treatment(..) => (-14.0, 14.0),
        }
    }
}

use Coordinate::{
    Base, FractionSlope, LnFall, LnFractionSd, LnHalf, LnSpeedSd, LnSpread, LogitGerminable, Lot, Offset, Optimum, Treatment,
};

/// Which parameters there are and what they mean.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Space {
    /// Rate shape.
    pub shape: RateShape,
    /// Family of the requirement.
    pub distribution: Distribution,
}

/// What seeds need: one full set of parameters.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needs {
    /// How fast at which temperature.
    pub rate: Rate,
    /// ln of the thermal time by which half of the germinable seeds have sprouted (°C·d; days on days alone).
    pub ln_half: f64,
    /// Scale of ln Θ.
    pub spread: f64,
    /// Germinable fraction.
    pub germinable: f64,
}

impl Space {
    /// Its coordinates in order.
    #[must_use]
    pub fn coordinates(&self) -> &'static [Coordinate] {
        match self.shape {
            RateShape::Days => &[LnHalf, LnSpread, LogitGerminable],
            RateShape::Threshold => &[Base, LnHalf, LnSpread, LogitGerminable],
            RateShape::Tent => &[Base, Optimum, LnFall, LnHalf, LnSpread, LogitGerminable],
        }
    }

    /// Where a coordinate stands in a point; none where it is not part of this space.
    #[must_use]
    pub fn place_of(&self, which: Coordinate) -> Option<usize> {
        self.coordinates().iter().position(|coordinate| *coordinate == which)
    }

    /// The point at which the parameters are these.
    #[must_use]
    pub(super) fn point(&self, needs: &Needs) -> Vec<f64> {
        let value = |which: &Coordinate| match (which, needs.rate) {
            (Base, rate) => rate.base().unwrap_or_default(),
            (LnFall, Rate::Tent { optimum, ceiling, .. }) => (ceiling - optimum).ln(),
            (Optimum, rate) => rate.optimum().unwrap_or_default(),
            (LnHalf, _) => needs.ln_half,
            (LnSpread, _) => needs.spread.ln(),
            (LogitGerminable, _) => logit(needs.germinable),
            _ => 0.0,
        };
        self.coordinates().iter().map(value).collect()
    }

    /// The parameters at a point; none beyond the coordinates' edges, or where the optimum is not above the base.
    #[must_use]
    pub fn needs(&self, point: &[f64]) -> Option<Needs> {
        let get = |which: Coordinate| {
            let value = *point.get(self.place_of(which)?)?;
            let (low, high) = which.edges();
            (value >= low && value <= high).then_some(value)
        };
        let rate = match self.shape {
            RateShape::Days => Rate::Days,
            RateShape::Threshold => Rate::Threshold { base: get(Base)? },
            RateShape::Tent => {
                let (base, optimum) = (get(Base)?, get(Optimum)?);
                if optimum < base + 0.01 {
                    return None;
                }
                Rate::Tent { base, optimum, ceiling: optimum + get(LnFall)?.exp() }
            }
        };
        Some(Needs { rate, ln_half: get(LnHalf)?, spread: get(LnSpread)?.exp(), germinable: logistic(get(LogitGerminable)?) })
    }
}
