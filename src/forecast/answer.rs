//! The forecast of a bench.

use super::{BoxForecast, WeekTogether};
use crate::bench::{Name, SetTemperature, Trial};
use crate::civil::Time;
use crate::germination::Fit;

/// What a grower assumes of a spot's temperatures to come.
#[derive(Debug, Clone, PartialEq)]
pub struct Assumed {
    /// The spot.
    pub spot: Name,
    /// What is assumed.
    pub supposed: Supposed,
}

/// A temperature, or another spot's.
#[derive(Debug, Clone, PartialEq)]
pub enum Supposed {
    /// One temperature at all hours, and how sure it is.
    Steady(SetTemperature),
    /// Whatever comes at that spot.
    Like(Name),
}

/// One box's forecast with where it stands.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxAnswer {
    /// The box.
    pub trial: Trial,
    /// Where it stands.
    pub spot: Name,
    /// It has ended.
    pub ended: bool,
    /// What is expected.
    pub forecast: BoxForecast,
}

/// The forecast of all present batches.
#[derive(Debug, Clone, PartialEq)]
pub struct ForecastAnswer {
    /// As of when.
    pub as_of: Time,
    /// Days asked for.
    pub days: usize,
    /// What was assumed of temperatures to come.
    pub assumed: Vec<Assumed>,
    /// Boxes by batch and name.
    pub boxes: Vec<BoxAnswer>,
    /// New sprouts and pots wanted by week over all of them.
    pub together: Vec<WeekTogether>,
    /// What the species' needs are taken to be.
    pub fits: Vec<Fit>,
}
