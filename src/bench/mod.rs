//! The words of the bench as types, and the rules that every change must keep.

mod alarm;
mod away;
mod container;
mod history;
mod later;
mod limits;
mod lot;
mod name;
mod place;
mod reading;
pub mod rules;
mod start;

pub use alarm::{AlarmKind, AlarmRules, AlarmSetting, Quiet};
pub use away::Away;
pub use container::{Check, Chilling, Container, Event, Given, Move, Stay, Trial};
pub use later::Later;
pub use limits::{Ends, ProbeLimits, USUAL_LIMITS, UsualLimits};
pub use lot::Lot;
pub use name::{Name, NameFault};
pub use place::{Calibration, DayAndNight, GivenTemperature, Placement, SetTemperature, Setting, Siting, Spot, SpotKind};
pub use reading::{Doubt, Proof, Reading, Stamp, TENTHS_OF_MILLI};
pub use start::{Anchor, AnchoredBy, ClockStatus, ClockStep, EARLIEST_US, Standing, UndatedStart, WhyDoubted};

use std::collections::{BTreeMap, BTreeSet};

use crate::civil::{Time, Zone};

/// The degrees that a grower reads and types.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Degrees {
    /// °C.
    #[default]
    Celsius,
    /// °F.
    Fahrenheit,
}

impl Degrees {
    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Celsius => "celsius",
            Self::Fahrenheit => "fahrenheit",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Celsius, Self::Fahrenheit].into_iter().find(|known| known.word() == word)
    }

    /// The °C that a temperature in these degrees is.
    #[must_use]
    pub fn to_celsius(self, shown: f64) -> f64 {
        match self {
            Self::Celsius => shown,
            Self::Fahrenheit => (shown - 32.0) / 1.8,
        }
    }

    /// The °C that a difference of temperatures in these degrees is: without the 32.
    #[must_use]
    pub fn difference_to_celsius(self, shown: f64) -> f64 {
        match self {
            Self::Celsius => shown,
            Self::Fahrenheit => shown / 1.8,
        }
    }

    /// The sign written after a number.
    #[must_use]
    pub fn sign(self) -> &'static str {
        match self {
            Self::Celsius => "°C",
            Self::Fahrenheit => "°F",
        }
    }
}

/// Everything one grower keeps but the readings, which are many and are asked for by probe and time.
#[derive(Debug, Clone, PartialEq)]
pub struct Bench {
    /// The zone whose local time dates are said in.
    pub zone: Zone,
    /// The degrees that temperatures are said in; none: never said, and so °C.
    pub units: Option<Degrees>,
    /// What was said of alarms.
    pub alarms: AlarmRules,
    /// When nobody is there, in order of `from`.
    pub aways: Vec<Away>,
    /// What is known of lots, by name. Containers may name lots of which nothing is known.
    pub lots: BTreeMap<Name, Lot>,
    /// Every spot that exists, by name.
    pub spots: BTreeMap<Name, Spot>,
    /// Every probe that exists: placed, or known from its readings alone.
    pub probes: BTreeSet<Name>,
    /// Where probes stood, ordered by (probe, since).
    pub placements: Vec<Placement>,
    /// Readings not to be used, ordered by (probe, from).
    pub doubts: Vec<Doubt>,
    /// What is said of probes in place of the usual limits, by probe. It is of their sensors and places, and so of all time.
    pub limits: BTreeMap<Name, ProbeLimits>,
    /// Every container with its checks and moves, by name.
    pub trials: BTreeMap<Name, Trial>,
}

impl Bench {
    /// A bench on which nothing stands yet.
    #[must_use]
    pub fn empty(zone: Zone) -> Self {
        Self {
            zone,
            units: None,
            alarms: AlarmRules::default(),
            aways: Vec::new(),
            lots: BTreeMap::new(),
            spots: BTreeMap::new(),
            probes: BTreeSet::new(),
            placements: Vec::new(),
            doubts: Vec::new(),
            limits: BTreeMap::new(),
            trials: BTreeMap::new(),
        }
    }

    /// The bench as it was known at `time`: nothing that happened later is left in it. Plans stay: they say nothing of what
    /// happened.
    #[must_use]
    pub fn as_of(&self, time: Time) -> Self {
        let mut known = self.clone();
        known.placements.retain(|placement| placement.since <= time);
        known.doubts.retain(|doubt| doubt.from <= time);
        for spot in known.spots.values_mut() {
            spot.settings.retain(|setting| setting.since.is_none_or(|since| since <= time));
            for setting in &mut spot.settings {
                setting.changed = setting.changed.filter(|changed| *changed <= time);
            }
        }
        known.trials.retain(|_, trial| trial.container.sown <= time);
        for trial in known.trials.values_mut() {
            trial.checks.retain(|check| check.time <= time);
            trial.moves.retain(|moved| moved.time <= time);
            trial.given.retain(|given| given.time <= time);
            trial.container.ended = trial.container.ended.filter(|ended| *ended <= time);
        }
        known.link();
        known
    }

    /// The stretches during which a probe stood at `spot`, with the placement and the end (none: it still stands there).
    pub fn stands_at<'a>(&'a self, spot: &'a Name) -> impl Iterator<Item = (&'a Placement, Option<Time>)> {
        self.placements.iter().enumerate().filter(move |(_, placement)| placement.spot == *spot).map(|(at, placement)| {
            let next = self.placements[at + 1..].iter().find(|later| later.probe == placement.probe);
            (placement, next.map(|later| later.since))
        })
    }

    /// The time away that holds an instant.
    #[must_use]
    pub fn away_at(&self, time: Time) -> Option<&Away> {
        self.aways.iter().find(|away| away.from <= time && time < away.until)
    }

    /// The names of all placed probes.
    #[must_use]
    pub fn placed_probes(&self) -> BTreeSet<&Name> {
        self.placements.iter().map(|placement| &placement.probe).collect()
    }

    /// The friends whose benches are kept beside one's own; their things' names begin with theirs ([`Name::is_of`]).
    #[must_use]
    pub fn friends(&self) -> BTreeSet<&Name> {
        self.trials.values().filter_map(|trial| trial.container.owner.as_ref()).collect()
    }

    /// The batches that have a container which has not ended by `now`, with their containers (ended ones too), by batch name.
    /// What is a friend's is not there.
    #[must_use]
    pub fn present_batches(&self, now: Time) -> BTreeMap<&Name, Vec<&Trial>> {
        let mut batches: BTreeMap<&Name, Vec<&Trial>> = BTreeMap::new();
        for trial in self.trials.values().filter(|trial| trial.container.owner.is_none()) {
            batches.entry(&trial.container.batch).or_default().push(trial);
        }
        batches.retain(|_, trials| trials.iter().any(|trial| trial.ended_at(now).is_none()));
        batches
    }
}
