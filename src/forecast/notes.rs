//! What to know beside a box's forecast.

use crate::germination::Prior;

/// Who says that seeds want moist cold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ColdWantedBy {
    /// What is noted of their lot.
    Lot,
    /// The words of the box's own treatment.
    Treatment,
    /// The grower's past sowings of the species, chilled for three lengths or more.
    OwnSowings,
}

/// Moist cold that seeds standing in the warm were to have first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct ColdLack {
    /// Days that they are known to want.
    pub wanted_days: f64,
    /// Days that they had.
    pub had_days: f64,
    /// Who says so.
    pub by: ColdWantedBy,
}

/// Something to know beside a box's forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BoxNote {
    /// Nothing is known of the temperatures it had or will have, and no probe stands there.
    NoTemperatures,
    /// A probe stands there, but has given nothing that can be used for part of the box's time.
    NoReadings,
    /// It stands in the cold, where this species makes no progress: dates count from the day it is taken out.
    InTheCold,
    /// Its seeds are known to want moist cold first and had none, or too little.
    WantsChilling(ColdLack),
    /// Its seeds were not counted, so only what was seen can be said.
    SeedsNotCounted,
    /// Its seeds were counted roughly: the middle is taken.
    SeedsCountedRoughly,
    /// No sowing of this species has taught anything: all from what was assumed.
    AllAssumed {
        /// What was assumed.
        prior: Prior,
    },
    /// A spot where it will stand is colder or warmer than where the species' trials spent their time; the spot's mean, °C.
    OutsideKnownWarmth {
        /// Mean of the spot to come, °C.
        spot_c: f64,
    },
    /// Share of the warmth so far that was guessed.
    GuessedHours {
        /// 0 to 1.
        share: f64,
    },
}
