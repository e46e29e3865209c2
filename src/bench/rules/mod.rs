//! The one way by which anything gets onto a bench: wishes are held against the bench and against each other, all that is
//! wrong with them is gathered, and either all of them are admitted or none.
//!
//! A key that is on record with the same values is passed over; with other values it is a fault, unless it is wished that the
//! new ones take their place. Keys: [`Key`].

mod checks;
mod containers;
mod entry;
mod limits;
mod places;
mod removal;

pub use entry::{BenchSetting, Counted, Entry, Key};

use std::collections::{BTreeMap, BTreeSet};
use std::fmt;
use std::sync::Arc;

use chrono::Duration;

use super::{Bench, Check, Name};
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

/// The one thing of an entry that a fault is about, so that it can be shown beside it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum About {
    /// What names it.
    Name,
    /// The plant.
    Species,
    /// Which seeds.
    Lot,
    /// How many seeds.
    Seeds,
    /// How deep they lie.
    Depth,
    /// The container that they came out of.
    From,
    /// The lid.
    Lid,
    /// Where it stands.
    Spot,
    /// When it was, or since when.
    Time,
    /// When it ended.
    End,
    /// What was counted.
    Counts,
    /// The temperature given for a spot.
    Given,
    /// How unsure that is.
    Uncertainty,
    /// What is too hot.
    TooHot,
    /// For how many there is room.
    Capacity,
    /// When something was changed at a spot.
    Changed,
    /// After how many days the packet says.
    PacketDays,
    /// At which temperature the packet says.
    PacketTemperature,
    /// How many in a hundred the packet says.
    PacketPercent,
    /// Days of moist cold.
    ChillDays,
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
    /// What it is about, where that is one thing.
    pub about: Option<About>,
}

impl Fault {
    /// A fault about which nothing more can be advised.
    #[must_use]
    pub fn new(origin: &Origin, what: impl Into<String>) -> Self {
        Self { origin: origin.clone(), what: what.into(), next: None, about: None }
    }

    /// The same, about one thing.
    #[must_use]
    pub fn about(self, about: About) -> Self {
        Self { about: Some(about), ..self }
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

/// What becomes of values on record for which a wish has others.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Conflict {
    /// They stay, and the wish is a fault.
    Refused,
    /// The wish takes their place, where the whole story still holds with it.
    Replaced,
}

/// Whether a move has happened.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Carried {
    Really,
    AsPlanned,
}

/// What is new, and the bench as it will be.
#[derive(Debug, Clone, PartialEq)]
pub struct Admitted {
    /// Spots that are new.
    pub spots: Vec<Name>,
    /// Those of them that exist only because a container or a placement names them.
    pub named_spots: BTreeSet<Name>,
    /// What is new, in an order in which it can be stored; sprouts of checks are counted since the last.
    pub entries: Vec<Entry>,
    /// What takes the place of other values of the same key, likewise in order.
    pub replaced: Vec<Entry>,
    /// Wishes that were on record already.
    pub repeated: usize,
    /// The bench with all of it.
    pub bench: Bench,
}

/// Holds wishes against the bench.
///
/// # Errors
/// All faults found, kind by kind; nothing is admitted then.
pub fn admit(bench: &Bench, entries: Vec<(Origin, Entry)>, conflict: Conflict, now: Time) -> Result<Admitted, Vec<Fault>> {
    amend(bench, &[], entries, conflict, now)
}

/// Holds against the bench that some entries are taken back and others come, as one change: only what comes of both must keep
/// the rules.
///
/// # Errors
/// All faults found: what is not there to be taken back, what the rest of the story needs, and those of [`admit`].
pub fn amend(
    bench: &Bench,
    taken_back: &[Key],
    entries: Vec<(Origin, Entry)>,
    conflict: Conflict,
    now: Time,
) -> Result<Admitted, Vec<Fault>> {
    let mut admission = Admission::new(bench, conflict, now);
    admission.take_back_all(taken_back);
    admission.take_in(entries);
    admission.outcome()
}

/// The instant after which a time is taken for a slip: a day from now, so that no difference of zones gets in the way.
#[must_use]
pub fn latest_credible(now: Time) -> Time {
    now + Duration::days(1)
}

/// Wishes being held against a bench.
struct Admission {
    now: Time,
    conflict: Conflict,
    admitted: Admitted,
    faults: Vec<Fault>,
    /// Where what is wished in this round came from.
    origins: BTreeMap<Key, Origin>,
    /// Containers of this round that have a fault themselves; what is said about them is not judged further.
    faulty: BTreeSet<Name>,
    /// Containers whose story must be gone through again, and for what.
    touched: BTreeMap<Name, Origin>,
}

impl Admission {
    fn new(bench: &Bench, conflict: Conflict, now: Time) -> Self {
        let admitted = Admitted {
            spots: Vec::new(),
            named_spots: BTreeSet::new(),
            entries: Vec::new(),
            replaced: Vec::new(),
            repeated: 0,
            bench: bench.clone(),
        };
        Self {
            now,
            conflict,
            admitted,
            faults: Vec::new(),
            origins: BTreeMap::new(),
            faulty: BTreeSet::new(),
            touched: BTreeMap::new(),
        }
    }

    fn take_in(&mut self, entries: Vec<(Origin, Entry)>) {
        let (mut containers, mut moves) = (Vec::new(), Vec::new());
        let (mut placements, mut doubts, mut limits) = (Vec::new(), Vec::new(), Vec::new());
        let mut checks: BTreeMap<Name, Vec<(Origin, Check, Counted)>> = BTreeMap::new();
        for (origin, entry) in entries {
            match entry {
                Entry::Bench(setting) => self.bench_setting(origin, setting),
                Entry::Away(away) => self.away(origin, away),
                Entry::Lot(lot) => self.lot(origin, lot),
                Entry::Spot(spot, setting) => self.spot(origin, spot, setting),
                Entry::Placement(placement) => placements.push((origin, placement)),
                Entry::Doubt(doubt) => doubts.push((origin, doubt)),
                Entry::Limits(of_probe) => limits.push((origin, of_probe)),
                Entry::Container(container) => containers.push((origin, container)),
                Entry::Check(check, counted) => checks.entry(check.container.clone()).or_default().push((origin, check, counted)),
                Entry::Move(moved) => moves.push((origin, moved, Carried::Really)),
                Entry::Plan(moved) => moves.push((origin, moved, Carried::AsPlanned)),
            }
        }
        self.containers(containers);
        placements.into_iter().for_each(|(origin, placement)| self.placement(origin, placement));
        doubts.into_iter().for_each(|(origin, doubt)| self.doubt(origin, doubt));
        limits.into_iter().for_each(|(origin, limits)| self.limits(origin, limits));
        for (container, looks) in checks {
            self.checks(&container, looks);
        }
        self.stories();
        moves.into_iter().for_each(|(origin, moved, carried)| self.carried(origin, moved, carried));
        self.lids();
    }

    fn outcome(mut self) -> Result<Admitted, Vec<Fault>> {
        if !self.faults.is_empty() {
            return Err(self.faults);
        }
        self.admitted.entries.sort_by_key(Entry::rank);
        self.admitted.replaced.sort_by_key(Entry::rank);
        Ok(self.admitted)
    }

    fn fault(&mut self, origin: &Origin, what: impl Into<String>) {
        self.faults.push(Fault::new(origin, what));
    }

    fn fault_about(&mut self, about: About, origin: &Origin, what: impl Into<String>) {
        self.faults.push(Fault::new(origin, what).about(about));
    }

    fn said(&self, time: Time) -> String {
        local_time(time, self.admitted.bench.zone)
    }

    /// Whether `time` is no slip; a fault if it is.
    fn has_come(&mut self, origin: &Origin, what: &str, time: Time) -> bool {
        self.has_come_about(About::Time, origin, what, time)
    }

    fn has_come_about(&mut self, about: About, origin: &Origin, what: &str, time: Time) -> bool {
        let come = time <= latest_credible(self.now);
        if !come {
            self.fault_about(about, origin, format!("{what}, {}, lies in the future", self.said(time)));
        }
        come
    }

    /// Takes an entry whose key is not on record.
    fn is_new(&mut self, origin: Origin, entry: Entry) {
        self.origins.insert(entry.key(), origin);
        self.admitted.entries.push(entry);
    }

    /// Takes note of an entry that is on record as it is.
    fn is_repeated(&mut self, origin: Origin, key: Key) {
        self.admitted.repeated += 1;
        self.origins.entry(key).or_insert(origin);
    }

    /// Lets an entry take the place of what is on record for its key; whether it may: else a fault, made of `what` is known and the
    /// differences. Two values in one round are a fault in any case.
    fn replaces(&mut self, origin: &Origin, entry: Entry, what: &str, differences: &str) -> bool {
        let key = entry.key();
        let may = self.conflict == Conflict::Replaced && !self.origins.contains_key(&key);
        if may {
            self.origins.insert(key, origin.clone());
            self.admitted.replaced.push(entry);
        } else {
            self.fault_about(About::Name, origin, format!("{what}, with other values: {differences}"));
        }
        may
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
