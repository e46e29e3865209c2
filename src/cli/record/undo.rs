//! Entries taken back: the last one typed, or any that is pointed at.

use std::path::Path;

use super::{Outcome, bench_zone, existing, fault, optional_time, refusal, say, trial};
use crate::bench::rules::{Entry, Fault, Key};
use crate::bench::{Bench, Name};
use crate::changes::{self, Made};
use crate::civil::{Time, Zone, local_time};
use crate::store::Store;
use crate::wording::{entry_words, look_words, stand_words};

/// Take back the last entry typed, or the one that is named; the values are kept beside
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_value_name = "WHAT")]
pub(in crate::cli) struct Undo {
    #[command(subcommand)]
    what: Option<What>,
}

/// An entry to be taken back.
#[derive(Debug, clap::Subcommand)]
enum What {
    /// A look: the last at the box, or the one at a time
    Check(OfBox),
    /// A move: the last of the box, or the one at a time
    Move(OfBox),
    /// A planned move: the next of the box, or the one at a time
    Plan(OfBox),
    /// A sowing, where nothing else is on record of the box
    Box {
        /// The box
        #[arg(value_parser = Name::new)]
        container: Name,
    },
    /// Where a probe was put, and how it was calibrated: the last time, or the one since a time
    Probe(OfProbe),
    /// A doubt of a probe's readings: the last, or the one from a time on
    Doubt(OfProbe),
    /// What was said last of a probe's limits
    Limits {
        /// The probe
        #[arg(value_name = "NAME", value_parser = Name::new)]
        probe: Name,
    },
    /// What is said of a spot: the last, or what holds since a time
    Spot(OfProbe),
    /// What is said of a lot
    Lot {
        /// The lot
        #[arg(value_parser = Name::new)]
        lot: Name,
    },
}

#[derive(Debug, clap::Args)]
struct OfBox {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// When it was [default: the last]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

#[derive(Debug, clap::Args)]
struct OfProbe {
    /// Its name
    #[arg(value_name = "NAME", value_parser = Name::new)]
    name: Name,
    /// Since when [default: the last]
    #[arg(long, value_name = "TIME", alias = "from")]
    since: Option<String>,
}

/// A look to be taken back.
pub(super) struct Looked<'a> {
    /// The box.
    pub(super) name: &'a Name,
    /// When; none: the last time.
    pub(super) at: Option<Time>,
    /// How many it found new, where that is said.
    pub(super) found: Option<u32>,
}

impl Undo {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let Some(what) = self.what else {
            let undone = changes::undo_last(&mut store, now).map_err(|error| refusal(error, "taken back"))?;
            // The zone itself may be what was taken back.
            say(&undone.words(bench_zone(bench)?, now));
            return Ok(Outcome::Done);
        };
        if let What::Limits { probe } = &what {
            return limits_taken_back(&mut store, zone, now, probe);
        }
        let (name, typed, key) = what.parts();
        let at = optional_time(typed.as_deref(), zone, now)?;
        match key {
            None => look_taken_back(&mut store, zone, now, Looked { name: &name, at, found: None }),
            Some(key) => pick(&mut store, zone, now, |bench| key(bench, &name, at)),
        }
    }
}

impl What {
    /// The name, the time typed, and how the key is found; none for a look.
    fn parts(self) -> (Name, Option<String>, Option<FindKey>) {
        match self {
            Self::Check(OfBox { container, at }) => (container, at, None),
            Self::Move(OfBox { container, at }) => (container, at, Some(of_move)),
            Self::Plan(OfBox { container, at }) => (container, at, Some(of_plan)),
            Self::Box { container } => (container, None, Some(|_, name, _| Ok(Key::Container(name.clone())))),
            Self::Probe(OfProbe { name, since }) => (name, since, Some(of_placement)),
            Self::Doubt(OfProbe { name, since }) => (name, since, Some(of_doubt)),
            Self::Limits { probe } => (probe, None, Some(|_, name, _| Ok(Key::Limits(name.clone())))),
            Self::Spot(OfProbe { name, since }) => (name, since, Some(of_spot)),
            Self::Lot { lot } => (lot, None, Some(|_, name, _| Ok(Key::Lot(name.clone())))),
        }
    }
}

/// Finds what is to be taken back by its name and, where one is given, its time.
type FindKey = fn(&Bench, &Name, Option<Time>) -> Found;
type Found = Result<Key, Vec<Fault>>;

fn of_move(bench: &Bench, name: &Name, at: Option<Time>) -> Found {
    let last = trial(bench, name)?.moves.last().map(|moved| moved.time);
    at.or(last).map(|time| Key::Move(name.clone(), time)).ok_or_else(|| fault(format!("box '{name}' was never moved")))
}

fn of_plan(bench: &Bench, name: &Name, at: Option<Time>) -> Found {
    let next = trial(bench, name)?.planned.first().map(|moved| moved.time);
    at.or(next).map(|time| Key::Plan(name.clone(), time)).ok_or_else(|| fault(format!("no move of box '{name}' is planned")))
}

fn of_placement(bench: &Bench, name: &Name, since: Option<Time>) -> Found {
    let last = bench.placements.iter().rev().find(|there| there.probe == *name).map(|there| there.since);
    let key = since.or(last).map(|since| Key::Placement(name.clone(), since));
    key.ok_or_else(|| fault(format!("probe '{name}' was never placed")))
}

fn of_doubt(bench: &Bench, name: &Name, from: Option<Time>) -> Found {
    let last = bench.doubts.iter().rev().find(|there| there.probe == *name).map(|there| there.from);
    from.or(last).map(|from| Key::Doubt(name.clone(), from)).ok_or_else(|| fault(format!("probe '{name}' is not doubted")))
}

fn of_spot(bench: &Bench, name: &Name, since: Option<Time>) -> Found {
    let last = bench.spots.get(name).and_then(|spot| spot.settings.last()).map(|setting| setting.since);
    let key = since.map(Some).or(last).map(|since| Key::Spot(name.clone(), since));
    key.ok_or_else(|| fault(format!("nothing is said of spot '{name}'")))
}

/// Takes one entry back and says what it was.
fn pick(store: &mut Store, zone: Zone, now: Time, key: impl FnOnce(&Bench) -> Result<Key, Vec<Fault>>) -> anyhow::Result<Outcome> {
    let mut picked = None;
    let made = changes::take_back(store, now, |bench| {
        let key = key(bench)?;
        picked = bench.entry(&key);
        Ok(vec![key])
    })
    .map_err(|error| refusal(error, "taken back"))?;
    if let Some(entry) = picked {
        say(&format!("taken back: {}{}", entry_words(&entry, zone), stand_after(&made, &entry)));
    }
    Ok(Outcome::Done)
}

/// How the box stands without an entry that was about its seeds.
fn stand_after(made: &Made, entry: &Entry) -> String {
    let Entry::Check(look, _) = entry else { return String::new() };
    made.after.trials.get(&look.container).map(|trial| format!("; {}", stand_words(trial))).unwrap_or_default()
}

/// Takes a look back and says what it had found.
pub(super) fn look_taken_back(store: &mut Store, zone: Zone, now: Time, looked: Looked<'_>) -> anyhow::Result<Outcome> {
    let Looked { name, at, found } = looked;
    let mut time = at;
    let made = changes::take_back(store, now, |bench| {
        let trial = trial(bench, name)?;
        let last = trial.checks.last().map(|check| check.time);
        time = at.or(last);
        let none = || fault(format!("nobody has looked at box '{name}' yet: there is no look to take back"));
        let time = time.ok_or_else(none)?;
        let there = trial.checks.iter().find(|check| check.time == time);
        match there.zip(found).filter(|(check, found)| check.sprouted != *found) {
            Some((check, found)) => {
                let on = local_time(time, zone);
                Err(fault(format!("the look at box '{name}' on {on} found {} new, not {found}", check.sprouted)))
            }
            None => Ok(vec![Key::Check(name.clone(), time)]),
        }
    })
    .map_err(|error| refusal(error, "taken back"))?;
    let (Some(before), Some(after)) = (made.before.trials.get(name), made.after.trials.get(name)) else {
        return Ok(Outcome::Done);
    };
    if let Some(look) = before.checks.iter().find(|check| Some(check.time) == time) {
        let on = local_time(look.time, zone);
        let mut said = format!("{name}: taken back the look on {on} ({}); {}", look_words(look), stand_words(after));
        if let (None, Some(ended)) = (before.container.ended, after.container.ended) {
            said += &format!("; closed again since {}", local_time(ended, zone));
        }
        say(&said);
    }
    Ok(Outcome::Done)
}

/// Takes back what was said last of a probe's limits, so that what was said before holds again; limits that were imported go whole.
pub(super) fn limits_taken_back(store: &mut Store, zone: Zone, now: Time, probe: &Name) -> anyhow::Result<Outcome> {
    let key = Key::Limits(probe.clone());
    match changes::undo_of(store, &key, now).map_err(|error| refusal(error, "taken back"))? {
        Some(undone) => {
            say(&undone.words(zone, now));
            Ok(Outcome::Done)
        }
        None => pick(store, zone, now, |_| Ok(key)),
    }
}
