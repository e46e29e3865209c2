//! All that is known of a spot's warmth.

use super::SpotRecord;
use crate::bench::SpotKind;

/// A spot's record with what it rests on.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotWarmth {
    /// Temperatures over time.
    pub record: SpotRecord,
    /// The temperature is set, not measured.
    pub set: bool,
    /// What kind of place it is.
    pub kind: SpotKind,
}
