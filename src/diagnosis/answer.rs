//! The diagnosis of a bench.

use super::{BoxDelay, Chilled, Finding, Liked, ProbeFinding, Swaps};
use crate::bench::{Name, Trial};
use crate::civil::Time;

/// One box's diagnosis.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxDiagnosis {
    /// The box.
    pub trial: Trial,
    /// Where it stands.
    pub spot: Name,
    /// It has ended.
    pub ended: bool,
    /// The delay; none where nothing can be worked out.
    pub delay: Option<BoxDelay>,
    /// Share of its warmth so far that was guessed, 0 to 1; none where nothing was worked out.
    pub guessed: Option<f64>,
    /// What its species is known to sprout well in; none where nothing was worked out.
    pub liked: Option<Liked>,
    /// How its seeds were chilled; none where nothing of that is on record or wanted.
    pub chilled: Option<Chilled>,
    /// What is said.
    pub findings: Vec<Finding>,
}

/// The diagnosis of all present batches, and of the probes.
#[derive(Debug, Clone, PartialEq)]
pub struct Diagnosis {
    /// As of when.
    pub as_of: Time,
    /// Boxes by batch and name.
    pub boxes: Vec<BoxDiagnosis>,
    /// Boxes that should change places; none where nothing is gained.
    pub swaps: Option<Swaps>,
    /// Every placed probe with its spot and what is to be said of it.
    pub probes: Vec<(Name, Name, Vec<ProbeFinding>)>,
}
