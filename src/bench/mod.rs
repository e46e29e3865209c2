//! The words of the bench as types, and the rules that every change must keep.

mod container;
mod name;
mod place;
mod reading;
pub mod rules;

pub use container::{Check, Container, Event, Move, Stay, Trial};
pub use name::{Name, NameFault};
pub use place::{Calibration, Placement, SetTemperature, Siting, Spot, SpotKind};
pub use reading::{Proof, Reading, Stamp, TENTHS_OF_MILLI};

use std::collections::{BTreeMap, BTreeSet};

use crate::civil::{Time, Zone};

/// Everything one grower keeps but the readings, which are many and are asked for by probe and time.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// The zone whose local time dates are said in.
    pub zone: Zone,
    /// Every spot that exists, by name.
    pub spots: BTreeMap<Name, Spot>,
    /// Where probes stood, ordered by (probe, since).
    pub placements: Vec<Placement>,
    /// Every container with its checks and moves, by name.
    pub trials: BTreeMap<Name, Trial>,
}

impl Bench {
    /// A bench on which nothing stands yet.
    #[must_use]
    pub fn empty(zone: Zone) -> Self {
        Self { zone, spots: BTreeMap::new(), placements: Vec::new(), trials: BTreeMap::new() }
    }

    /// The bench as it was known at `time`: nothing that happened later is left in it.
    #[must_use]
    pub fn as_of(&self, time: Time) -> Self {
        let mut known = self.clone();
        known.placements.retain(|placement| placement.since <= time);
        known.trials.retain(|_, trial| trial.container.sown <= time);
        for trial in known.trials.values_mut() {
            trial.checks.retain(|check| check.time <= time);
            trial.moves.retain(|moved| moved.time <= time);
            trial.container.ended = trial.container.ended.filter(|ended| *ended <= time);
        }
        known
    }

    /// The stretches during which a probe stood at `spot`, with the placement and the end (none: it still stands there).
    pub fn stands_at<'a>(&'a self, spot: &'a Name) -> impl Iterator<Item = (&'a Placement, Option<Time>)> {
        self.placements.iter().enumerate().filter(move |(_, placement)| placement.spot == *spot).map(|(at, placement)| {
            let next = self.placements[at + 1..].iter().find(|later| later.probe == placement.probe);
            (placement, next.map(|later| later.since))
        })
    }

    /// The names of all placed probes.
    #[must_use]
    pub fn placed_probes(&self) -> BTreeSet<&Name> {
        self.placements.iter().map(|placement| &placement.probe).collect()
    }

    /// The batches that have a container which has not ended by `now`, with their containers (ended ones too), by batch name.
    #[must_use]
    pub fn present_batches(&self, now: Time) -> BTreeMap<&Name, Vec<&Trial>> {
        let mut batches: BTreeMap<&Name, Vec<&Trial>> = BTreeMap::new();
        for trial in self.trials.values() {
            batches.entry(&trial.container.batch).or_default().push(trial);
        }
        batches.retain(|_, trials| trials.iter().any(|trial| trial.ended_at(now).is_none()));
        batches
    }
}
