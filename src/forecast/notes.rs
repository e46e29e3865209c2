//! What to know beside a box's forecast.

use crate::germination::Prior;

/// Something to know beside a box's forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BoxNote {
    /// Nothing is known of the temperatures it had or will have, and no probe stands there.
    NoTemperatures,
    /// A probe stands there, but has given nothing that can be used for part of the box's time.
    NoReadings,
    /// It stands in the cold, where this species makes no progress: dates count from the day it is taken out.
    InTheCold,
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
