//! What can be put on a bench, and what names it there.

use crate::bench::{AlarmSetting, Away, Bench, Check, Container, Degrees, Doubt, Lot, Move, Name, Placement, ProbeLimits, Setting};
use crate::civil::{Time, Zone};

/// How a check counted its sprouts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Counted {
    /// Those new since the last check.
    SinceLast,
    /// All that ever sprouted there; the check's own number is then made the difference.
    InTotal,
}

/// A setting of the whole bench.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BenchSetting {
    /// The zone whose local time dates are said in.
    Zone(Zone),
    /// The degrees that temperatures are said in.
    Units(Degrees),
    /// What is told at once, and when not.
    Alarm(AlarmSetting),
}

impl BenchSetting {
    /// The word for it in files and options.
    #[must_use]
    pub fn key(self) -> &'static str {
        match self {
            Self::Zone(_) => "zone",
            Self::Units(_) => "units",
            Self::Alarm(setting) => setting.key(),
        }
    }

    /// Its value in files and options.
    #[must_use]
    pub fn value(self) -> String {
        match self {
            Self::Zone(zone) => zone.name().to_owned(),
            Self::Units(degrees) => degrees.word().to_owned(),
            Self::Alarm(setting) => setting.value(),
        }
    }

    /// All keys.
    pub fn keys() -> impl Iterator<Item = &'static str> {
        ["zone", "units"].into_iter().chain(AlarmSetting::KEYS)
    }
}

/// One thing wished onto the bench.
#[derive(Debug, Clone, PartialEq)]
pub enum Entry {
    /// A setting of the bench.
    Bench(BenchSetting),
    /// A time in which nobody is there.
    Away(Away),
    /// What is known of a lot.
    Lot(Lot),
    /// What is said of a spot, which need not exist yet.
    Spot(Name, Setting),
    /// A probe put somewhere. Its spot need not exist yet.
    Placement(Placement),
    /// Readings not to be used.
    Doubt(Doubt),
    /// The limits of a probe that exists.
    Limits(ProbeLimits),
    /// A container sown. Its spot need not exist yet.
    Container(Container),
    /// A look at a container.
    Check(Check, Counted),
    /// A container carried to a spot that exists.
    Move(Move),
    /// A container to be carried to a spot that exists.
    Plan(Move),
}

impl Entry {
    /// What names it.
    #[must_use]
    pub fn key(&self) -> Key {
        match self {
            Self::Bench(setting) => Key::Bench(setting.key()),
            Self::Away(away) => Key::Away(away.from),
            Self::Lot(lot) => Key::Lot(lot.name.clone()),
            Self::Spot(spot, setting) => Key::Spot(spot.clone(), setting.since),
            Self::Placement(placement) => Key::Placement(placement.probe.clone(), placement.since),
            Self::Doubt(doubt) => Key::Doubt(doubt.probe.clone(), doubt.from),
            Self::Limits(limits) => Key::Limits(limits.probe.clone()),
            Self::Container(container) => Key::Container(container.name.clone()),
            Self::Check(check, _) => Key::Check(check.container.clone(), check.time),
            Self::Move(moved) => Key::Move(moved.container.clone(), moved.time),
            Self::Plan(moved) => Key::Plan(moved.container.clone(), moved.time),
        }
    }

    /// Its place in an order in which each entry finds what it refers to on record.
    pub(super) fn rank(&self) -> usize {
        match self {
            Self::Bench(_) | Self::Away(_) => 0,
            Self::Lot(_) => 1,
            Self::Spot(..) => 2,
            Self::Placement(_) => 3,
            Self::Doubt(_) => 4,
            Self::Limits(_) => 5,
            Self::Container(_) => 6,
            Self::Check(..) => 7,
            Self::Move(_) => 8,
            Self::Plan(_) => 9,
        }
    }
}

/// What names an entry: no two on a bench have the same.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Key {
    /// A setting of the bench, by its word.
    Bench(&'static str),
    /// A time away, by its beginning.
    Away(Time),
    /// A lot.
    Lot(Name),
    /// A spot, and from when on something is said of it.
    Spot(Name, Option<Time>),
    /// A probe, and since when it stands there.
    Placement(Name, Time),
    /// A probe, and from when it is doubted.
    Doubt(Name, Time),
    /// A probe, of which limits are said.
    Limits(Name),
    /// A container.
    Container(Name),
    /// A container, and when it was looked at.
    Check(Name, Time),
    /// A container, and when it was carried.
    Move(Name, Time),
    /// A container, and when it is to be carried.
    Plan(Name, Time),
}

impl Bench {
    /// What is on record under a key.
    #[must_use]
    pub fn entry(&self, key: &Key) -> Option<Entry> {
        let trial = |container: &Name| self.trials.get(container);
        match key {
            Key::Bench("zone") => Some(Entry::Bench(BenchSetting::Zone(self.zone))),
            Key::Bench("units") => self.units.map(|units| Entry::Bench(BenchSetting::Units(units))),
            Key::Bench(key) => self.alarms.of(key).map(|setting| Entry::Bench(BenchSetting::Alarm(setting))),
            Key::Away(from) => self.aways.iter().find(|away| away.from == *from).copied().map(Entry::Away),
            Key::Lot(lot) => self.lots.get(lot).cloned().map(Entry::Lot),
            Key::Spot(spot, since) => {
                let setting = self.spots.get(spot)?.settings.iter().find(|setting| setting.since == *since)?;
                Some(Entry::Spot(spot.clone(), setting.clone()))
            }
            Key::Placement(probe, since) => {
                let placement = self.placements.iter().find(|there| there.probe == *probe && there.since == *since);
                placement.cloned().map(Entry::Placement)
            }
            Key::Doubt(probe, from) => {
                self.doubts.iter().find(|there| there.probe == *probe && there.from == *from).cloned().map(Entry::Doubt)
            }
            Key::Limits(probe) => self.limits.get(probe).cloned().map(Entry::Limits),
            Key::Container(container) => trial(container).map(|trial| Entry::Container(trial.container.clone())),
            Key::Check(container, time) => {
                let check = trial(container)?.checks.iter().find(|check| check.time == *time)?;
                Some(Entry::Check(check.clone(), Counted::SinceLast))
            }
            Key::Move(container, time) => {
                trial(container)?.moves.iter().find(|moved| moved.time == *time).cloned().map(Entry::Move)
            }
            Key::Plan(container, time) => {
                trial(container)?.planned.iter().find(|moved| moved.time == *time).cloned().map(Entry::Plan)
            }
        }
    }
}
