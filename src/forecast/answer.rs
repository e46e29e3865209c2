//! The forecast of a bench.

use super::{BoxForecast, WeekTogether};
use crate::bench::{Name, Trial};
use crate::civil::Time;
use crate::germination::Fit;

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
    /// Boxes by batch and name.
    pub boxes: Vec<BoxAnswer>,
    /// New sprouts by week over all of them.
    pub together: Vec<WeekTogether>,
    /// What the species' needs are taken to be.
    pub fits: Vec<Fit>,
}
