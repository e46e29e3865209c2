//! What is answered when boxes are to be compared.

use super::{Comparison, Factor};
use crate::bench::{Event, Name};
use crate::civil::Time;

/// What was asked for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wish {
    /// What to compare by; none: treatments.
    pub factor: Option<Factor>,
    /// Boxes of one batch only.
    pub batch: Option<Name>,
    /// Boxes of one plant only.
    pub species: Option<Name>,
}

/// Boxes compared, and what stands beside the comparison.
#[derive(Debug, Clone, PartialEq)]
pub struct CompareAnswer {
    /// As of when.
    pub as_of: Time,
    /// The plant.
    pub species: Name,
    /// The event watched for.
    pub event: Event,
    /// The batches that the boxes are of.
    pub batches: Vec<Name>,
    /// Batches of the plant left out, since in them nothing differs.
    pub other_batches: Vec<Name>,
    /// Other plants of which the same could be compared.
    pub other_species: Vec<Name>,
    /// Boxes left out, and why.
    pub left_out: Vec<(Name, LeftOut)>,
    /// What boxes could be compared by, with how many levels.
    pub could: Vec<(Factor, usize)>,
    /// How warmth is counted.
    pub warmth: WarmthFrom,
    /// The comparison.
    pub comparison: Comparison,
}

/// Why a box is left out.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum LeftOut {
    /// It stands in the cold, where nothing counts yet.
    InTheCold,
    /// It was forgotten without a single look.
    NeverLooked,
}

/// Where it is known from how fast warmth is gathered at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum WarmthFrom {
    /// No temperatures, or nothing to go by.
    Nowhere,
    /// From one's own sowings: where seeds start, °C.
    Sowings(f64),
    /// Mostly from what was assumed.
    Assumed(f64),
}

/// Why nothing can be compared.
#[derive(Debug, Clone, PartialEq)]
pub enum NoComparison {
    /// The bench has no such plant; those it has.
    NoSuchSpecies(Name, Vec<Name>),
    /// The bench has no such batch; those it has.
    NoSuchBatch(Name, Vec<Name>),
    /// No box that was asked about has been looked at.
    NoBox,
}
