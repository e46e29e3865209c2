//! What comes while nobody is there, and where it would come later.

use crate::bench::{Name, Trial};
use crate::civil::Time;

/// Why a colder spot may not be good for seeds.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Suffering {
    /// It is so cold there that they hardly go on, and lie wet for long.
    NearTheBase,
    /// It is colder than anywhere their species was ever seen to sprout.
    Untested,
}

/// A colder spot for one box.
#[derive(Debug, Clone, PartialEq)]
pub struct ColderSpot {
    /// Where.
    pub spot: Name,
    /// How warm it is to be there, °C.
    pub mean_c: f64,
    /// Sprouts meanwhile if it were carried there today, on average.
    pub expected: f64,
    /// Days by which its next sprout would come later, at the median; none: not within what can be told.
    pub days_later: Option<f64>,
    /// What its seeds may suffer.
    pub suffering: Option<Suffering>,
}

/// One box.
#[derive(Debug, Clone, PartialEq)]
pub struct AwayBox {
    /// The box.
    pub trial: Trial,
    /// Where it stands.
    pub spot: Name,
    /// Sprouts meanwhile, on average; none where that cannot be told.
    pub expected: Option<f64>,
    /// Sprouts in all at the end, 10 and 90 % points.
    pub by_then: Option<(u32, u32)>,
    /// Colder spots where fewer would come, the best first.
    pub colder: Vec<ColderSpot>,
}

/// What comes while nobody is there.
#[derive(Debug, Clone, PartialEq)]
pub struct AwayAnswer {
    /// From when on nobody is there.
    pub from: Time,
    /// Until when.
    pub until: Time,
    /// The present boxes.
    pub boxes: Vec<AwayBox>,
}
