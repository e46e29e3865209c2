//! All that is known of a spot's warmth.

use super::SpotRecord;
use crate::bench::SpotKind;

/// A spot's record with how far its level can be trusted.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotWarmth {
    /// Temperatures over time.
    pub record: SpotRecord,
    /// Standard uncertainty of the level, °C: of the set temperature, or of "the probe reads what the seeds have".
    pub level_sd_c: f64,
    /// The temperature is set, not measured.
    pub set: bool,
    /// What kind of place it is.
    pub kind: SpotKind,
}
