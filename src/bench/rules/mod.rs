//! The one way by which anything gets onto a bench: wishes are held against the bench and against each other, all that is
//! wrong with them is gathered, and either all of them are admitted or none.
//!
//! A key that is on record with the same values is passed over; with other values it is a fault. Keys: spot, container,
//! (probe, since), (container, time of a check), (container, time of a move).

mod checks;
mod places;

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::Arc;

use chrono::Duration;

use super::{Bench, Check, Container, Move, Name, Placement, Spot};
use crate::civil::{Time, local_time};

/// Where a wish came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Origin {
    /// Typed as a command.
    Typed,
    /// A file, or a line of it.
    File {
        /// The file's name.
        file: Arc<str>,
        /// The line, counted from 1; none where the whole file is meant.
        line: Option<u64>,
    },
}

impl Origin {
    /// What one calls a container there: files name it by their column.
    fn container(&self) -> &'static str {
        if matches!(self, Self::Typed) { "box" } else { "container" }
    }
}

impl fmt::Display for Origin {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Typed => Ok(()),
            Self::File { file, line: None } => write!(f, "{file}"),
            Self::File { file, line: Some(line) } => write!(f, "{file}:{line}"),
        }
    }
}

/// Something wrong with a wish: the value and the rule it breaks, in a grower's words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Fault {
    /// Where the wish came from.
    pub origin: Origin,
    /// Value and rule.
    pub what: String,
    /// What to do about it, where more can be said than "correct it".
    pub next: Option<String>,
}

impl Fault {
    /// A fault about which nothing more can be advised.
    #[must_use]
    pub fn new(origin: &Origin, what: impl Into<String>) -> Self {
        Self { origin: origin.clone(), what: what.into(), next: None }
    }

    /// The advice: the fault's own, or to correct its line.
    #[must_use]
    pub fn advice(&self) -> Option<String> {
        self.next.clone().or_else(|| match &self.origin {
            Origin::File { line: Some(line), .. } => Some(format!("correct line {line}")),
            _ => None,
        })
    }
}

impl fmt::Display for Fault {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.origin {
            Origin::Typed => write!(f, "{}", self.what),
            Origin::File { .. } => write!(f, "{}: {}", self.origin, self.what),
        }
    }
}

/// How a check counted its sprouts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Those new since the last check.
    SinceLast,
    /// All that ever sprouted there; the check's own number is then made the difference.
    InTotal,
}

/// One thing wished onto the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A spot and what is known of it.
    Spot(Spot),
    /// A probe put somewhere. Its spot need not exist yet.
    Placement(Placement),
    /// A container sown. Its spot need not exist yet.
    Container(Container),
    /// A look at a container.
    Check(Check, Counted),
    /// A container carried to a spot that exists.
    Move(Move),
}

/// What is new, in an order in which it can be stored, and the bench as it will be.
#[derive(Debug, Clone, PartialEq)]
pub struct Admitted {
    /// Spots that are new, or of which more is known now than their name.
    pub spots: Vec<Spot>,
    /// New placements.
    pub placements: Vec<Placement>,
    /// New containers.
    pub containers: Vec<Container>,
    /// New checks, their sprouts counted since the last.
    pub checks: Vec<Check>,
    /// New moves.
    pub moves: Vec<Move>,
    /// Spots that exist from now on only because a container or a placement names them.
    pub named_spots: BTreeSet<Name>,
    /// Wishes that were on record already.
    pub repeated: usize,
    /// The bench with all of it.
    pub bench: Bench,
}

/// Holds wishes against the bench.
///
/// # Errors
/// All faults found, in the order spots, containers, placements, checks, moves; nothing is admitted then.
pub fn admit(bench: &Bench, entries: Vec<(Origin, Entry)>, now: Time) -> Result<Admitted, Vec<Fault>> {
    let mut spots = Vec::new();
    let mut placements = Vec::new();
    let mut containers = Vec::new();
    let mut checks: BTreeMap<Name, Vec<(Origin, Check, Counted)>> = BTreeMap::new();
    let mut moves = Vec::new();
    for (origin, entry) in entries {
        match entry {
            Entry::Spot(spot) => spots.push((origin, spot)),
            Entry::Placement(placement) => placements.push((origin, placement)),
            Entry::Container(container) => containers.push((origin, container)),
            Entry::Check(check, counted) => checks.entry(check.container.clone()).or_default().push((origin, check, counted)),
            Entry::Move(moved) => moves.push((origin, moved)),
        }
    }
    let mut admission = Admission::new(bench, now);
    admission.spots(spots);
    admission.containers(containers);
    admission.placements(placements);
    for (container, looks) in checks {
        admission.checks(&container, looks);
    }
    admission.moves(moves);
    if admission.faults.is_empty() { Ok(admission.admitted) } else { Err(admission.faults) }
}

/// The instant after which a time is taken for a slip: a day from now, so that no difference of zones gets in the way.
#[must_use]
pub fn latest_credible(now: Time) -> Time {
    now + Duration::days(1)
}

/// Wishes being held against a bench.
struct Admission {
    now: Time,
    admitted: Admitted,
    faults: Vec<Fault>,
    /// Where the containers and spots of this round came from.
    container_origins: BTreeMap<Name, Origin>,
    spot_origins: BTreeMap<Name, Origin>,
    /// Containers of this round that have a fault themselves; what is said about them is not judged further.
    faulty: BTreeSet<Name>,
}

impl Admission {
    fn new(bench: &Bench, now: Time) -> Self {
        let admitted = Admitted {
            spots: Vec::new(),
            placements: Vec::new(),
            containers: Vec::new(),
            checks: Vec::new(),
            moves: Vec::new(),
            named_spots: BTreeSet::new(),
            repeated: 0,
            bench: bench.clone(),
        };
        Self {
            now,
            admitted,
            faults: Vec::new(),
            container_origins: BTreeMap::new(),
            spot_origins: BTreeMap::new(),
            faulty: BTreeSet::new(),
        }
    }

    fn fault(&mut self, origin: &Origin, what: impl Into<String>) {
        self.faults.push(Fault::new(origin, what));
    }

    fn said(&self, time: Time) -> String {
        local_time(time, self.admitted.bench.zone)
    }

    /// Whether `time` is no slip; a fault if it is.
    fn has_come(&mut self, origin: &Origin, what: &str, time: Time) -> bool {
        let come = time <= latest_credible(self.now);
        if !come {
            self.fault(origin, format!("{what}, {}, lies in the future", self.said(time)));
        }
        come
    }
}

/// The values in which two records of the same key differ, as "seeds 20, here 25".
fn differences(pairs: &[(&str, String, String)]) -> String {
    let said = |value: &str| if value.is_empty() { "none".to_owned() } else { value.to_owned() };
    let differing: Vec<String> = pairs
        .iter()
        .filter(|(_, there, here)| there != here)
        .map(|(what, there, here)| format!("{what} {}, here {}", said(there), said(here)))
        .collect();
    differing.join("; ")
}

fn text<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}
