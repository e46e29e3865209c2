//! Commands that put something on record.

mod folder;

pub(super) use folder::{Export, Import};

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use anyhow::Context;

use super::Outcome;
use crate::bench::rules::{Admitted, Conflict, Counted, Entry, Fault};
use crate::bench::{Bench, Calibration, Check as Look, Container, Event, Move as Carried, Name, Placement, Siting, Trial};
use crate::changes::{self, ChangeError};
use crate::civil::{Time, Zone, local_time, read_time};
use crate::clock::{Clock, SystemClock, machine_zone};
use crate::store::{Store, StoreError};

/// As many faults and notes are printed.
const PRINTED: usize = 50;

/// Record a box of seeds
#[derive(Debug, clap::Args)]
pub(super) struct Sow {
    /// The box's name
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// The plant
    #[arg(long, value_parser = Name::new)]
    species: Name,
    /// How many seeds; leave it out if they were not counted
    #[arg(long, value_name = "N")]
    seeds: Option<u32>,
    /// Where it stands; a spot not known yet is made
    #[arg(long, value_parser = Name::new)]
    spot: Name,
    /// The boxes it is watched with [default: the month, such as 2026-11]
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// Which seeds: collected or bought together
    #[arg(long, value_parser = Name::new)]
    lot: Option<Name>,
    /// What they went through before sowing
    #[arg(long, value_parser = Name::new)]
    treatment: Option<Name>,
    /// What counts as sprouted: radicle (the root tip shows) or emergence (the seedling shows)
    #[arg(long, value_parser = event, default_value = "radicle")]
    event: Event,
    /// When the seeds were wetted [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Sow {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let now = SystemClock.now();
        let zone = bench_zone(bench)?;
        let sown = time(self.at.as_deref(), zone, now)?;
        let batch = self.batch.or_else(|| changes::usual_batch(sown, zone)).context("a batch is missing")?;
        let container = Container {
            lot: self.lot,
            treatment: self.treatment,
            seeds: self.seeds,
            event: self.event,
            ..Container::new(self.container, batch, self.species, self.spot, sown)
        };
        let wish = vec![Entry::Container(container.clone())];
        let admitted = changes::open_or_begin(bench, zone, |empty| changes::examine(empty, wish.clone(), Conflict::Refused, now))
            .and_then(|mut store| changes::record(&mut store, wish, now))
            .map_err(|error| refusal(error, "recorded"))?;
        let seeds = container.seeds.map_or_else(|| "uncounted seeds".to_owned(), |seeds| counted(seeds as usize, "seed", "seeds"));
        say_recorded(
            &admitted,
            &format!(
                "{}: {seeds} of {} sown on {} at '{}', batch {}",
                container.name,
                container.species,
                local_time(sown, zone),
                container.spot,
                container.batch
            ),
        );
        Ok(Outcome::Done)
    }
}

/// Record a look at a box
#[derive(Debug, clap::Args)]
pub(super) struct Check {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// Sprouts new since the last look, or none
    #[arg(value_name = "N|none", value_parser = sprouts)]
    sprouted: u32,
    /// Unsprouted seeds taken out mouldy or rotten
    #[arg(long, value_name = "N", default_value_t = 0)]
    removed: u32,
    /// Unsprouted seeds lost or taken
    #[arg(long, value_name = "N", default_value_t = 0)]
    lost: u32,
    /// Sprouts taken out to grow on
    #[arg(long, value_name = "N", default_value_t = 0)]
    potted_on: u32,
    /// Sprouts that died
    #[arg(long, value_name = "N", default_value_t = 0)]
    died: u32,
    /// How the box looked: fine, dry, wet, mould …
    #[arg(long, value_name = "WORD", value_parser = free_text)]
    condition: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    note: Option<String>,
    /// When [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Check {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let look = Look {
            container: self.container.clone(),
            time: time(self.at.as_deref(), zone, now)?,
            sprouted: self.sprouted,
            removed: self.removed,
            lost: self.lost,
            potted_on: self.potted_on,
            died: self.died,
            condition: self.condition,
            note: self.note,
        };
        let admitted = record(&mut store, Entry::Check(look, Counted::SinceLast), now)?;
        let stand = admitted.bench.trials.get(&self.container).map(stand).unwrap_or_default();
        let new = if self.sprouted == 0 { "none new".to_owned() } else { format!("{} new", self.sprouted) };
        say_recorded(&admitted, &format!("{}: {new}; {stand}", self.container));
        Ok(Outcome::Done)
    }
}

/// How a box stands: "5 of 20 have sprouted, 1 removed".
fn stand(trial: &Trial) -> String {
    let sum = |count: fn(&Look) -> u32| trial.checks.iter().map(count).sum::<u32>();
    let sprouted = trial.sprouted();
    let has = if sprouted == 1 { "has" } else { "have" };
    let mut said = match trial.container.seeds {
        Some(seeds) => format!("{sprouted} of {seeds} {has} sprouted"),
        None => format!("{sprouted} {has} sprouted"),
    };
    let others: [(&str, u32); 4] = [
        ("removed", sum(|look| look.removed)),
        ("lost", sum(|look| look.lost)),
        ("potted on", sum(|look| look.potted_on)),
        ("died", sum(|look| look.died)),
    ];
    for (what, count) in others.into_iter().filter(|(_, count)| *count > 0) {
        let _ = write!(said, ", {count} {what}");
    }
    said
}

/// Record that a box was carried to another spot
#[derive(Debug, clap::Args)]
pub(super) struct Move {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// Where to: a spot that exists
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// When [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Move {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let moved = Carried { time: time(self.at.as_deref(), zone, now)?, container: self.container, spot: self.spot };
        let said = format!("{}: at '{}' from {} on", moved.container, moved.spot, local_time(moved.time, zone));
        let admitted = record(&mut store, Entry::Move(moved), now)?;
        say_recorded(&admitted, &said);
        Ok(Outcome::Done)
    }
}

/// Probes.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Probe {
    /// Say where a probe stands, and from when on
    Place(Place),
}

/// Say where a probe stands, and from when on
#[derive(Debug, clap::Args)]
pub(super) struct Place {
    /// The probe
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// Where it stands; a spot not known yet is made
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// From when on [default: now]
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
    /// Calibrated: °C to add to what it shows, 0 if it shows true
    #[arg(long, value_name = "C", allow_negative_numbers = true)]
    offset: Option<f64>,
    /// Calibrated: the factor on what it shows
    #[arg(long, value_name = "FACTOR")]
    gain: Option<f64>,
    /// Where it is: in a box, beside the boxes, or only in the same room
    #[arg(long, value_name = "in|beside|room", value_parser = siting, default_value = "beside")]
    siting: Siting,
}

impl Probe {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        match self {
            Self::Place(place) => place.run(bench),
        }
    }
}

impl Place {
    fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let calibrated = self.offset.is_some() || self.gain.is_some();
        let placement = Placement {
            probe: self.probe,
            spot: self.spot,
            since: time(self.since.as_deref(), zone, now)?,
            calibration: calibrated.then(|| Calibration { offset_c: self.offset.unwrap_or(0.0), gain: self.gain.unwrap_or(1.0) }),
            siting: self.siting,
        };
        let siting = match placement.siting {
            Siting::InBox => "in a box at",
            Siting::Beside => "beside the boxes at",
            Siting::Room => "in the same room as",
        };
        let calibration = placement.calibration.map_or_else(
            || "not calibrated".to_owned(),
            |calibration| format!("true = {} × shown {:+} °C", calibration.gain, calibration.offset_c),
        );
        let since = local_time(placement.since, zone);
        let said = format!("probe {}: {siting} '{}' from {since} on, {calibration}", placement.probe, placement.spot);
        let admitted = record(&mut store, Entry::Placement(placement), now)?;
        say_recorded(&admitted, &said);
        Ok(Outcome::Done)
    }
}

/// The zone of the bench, or the machine's where there is none yet.
fn bench_zone(bench: &Path) -> anyhow::Result<Zone> {
    match Store::open_read_only(bench) {
        Ok(store) => Ok(store.bench()?.zone),
        Err(StoreError::Missing(_)) => Ok(machine_zone()),
        Err(error) => Err(error.into()),
    }
}

/// The bench that a daily command is about, its zone, and now.
fn existing(bench: &Path) -> anyhow::Result<(Store, Zone, Time)> {
    let store = Store::open(bench)?;
    let Bench { zone, .. } = store.bench()?;
    Ok((store, zone, SystemClock.now()))
}

fn record(store: &mut Store, entry: Entry, now: Time) -> anyhow::Result<Admitted> {
    changes::record(store, vec![entry], now).map_err(|error| refusal(error, "recorded"))
}

/// The time typed, or now to the second.
fn time(typed: Option<&str>, zone: Zone, now: Time) -> anyhow::Result<Time> {
    let Some(text) = typed else {
        return Ok(Time::from_timestamp(now.timestamp(), 0).unwrap_or(now));
    };
    let reckoned = read_time(text, zone)?;
    if reckoned.occurred_twice {
        note(&[format!("{text} came twice in {zone}; the first is taken")]);
    }
    Ok(reckoned.time)
}

fn sprouts(text: &str) -> Result<u32, String> {
    if text == "none" { Ok(0) } else { text.parse().map_err(|_| "write how many are new, or none".to_owned()) }
}

fn event(text: &str) -> Result<Event, String> {
    Event::from_word(text).ok_or_else(|| "write radicle or emergence".to_owned())
}

fn siting(text: &str) -> Result<Siting, String> {
    Siting::from_word(text).ok_or_else(|| "write in, beside or room".to_owned())
}

/// Free text as a bench folder can carry it: trimmed, not empty.
fn free_text(text: &str) -> Result<String, String> {
    let text = text.trim();
    if text.is_empty() { Err("it is empty".to_owned()) } else { Ok(text.to_owned()) }
}

/// Turns a refused change into what the user reads: each fault, then what was kept and what to do.
fn refusal(error: ChangeError, done: &str) -> anyhow::Error {
    match error {
        ChangeError::Store(error) => error.into(),
        ChangeError::Faults(faults) => anyhow::anyhow!(refused(&faults, done)),
    }
}

fn refused(faults: &[Fault], done: &str) -> String {
    let nothing = format!("\n  nothing was {done}");
    if let [fault] = faults {
        let next = fault.advice().map(|advice| format!("; next: {advice}")).unwrap_or_default();
        return format!("{fault}{nothing}{next}");
    }
    let mut said = format!("{} things are wrong", faults.len());
    for fault in faults.iter().take(PRINTED) {
        let _ = write!(said, "\n  {fault}");
    }
    if faults.len() > PRINTED {
        let _ = write!(said, "\n  and {} more", faults.len() - PRINTED);
    }
    said + &nothing
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Says what is on record now, and which spots exist only from now on.
fn say_recorded(admitted: &Admitted, said: &str) {
    let mut said = said.to_owned();
    for spot in &admitted.named_spots {
        let _ = write!(said, "; '{spot}' is a new spot");
    }
    if admitted.repeated > 0 {
        said.push_str(" (on record already)");
    }
    say(&said);
}

fn say(text: &str) {
    // What is recorded stays so though nobody listens.
    let _ = writeln!(std::io::stdout(), "{text}");
}

fn note(notes: &[String]) {
    let mut out = std::io::stderr();
    for note in notes.iter().take(PRINTED) {
        let _ = writeln!(out, "seedclock: note: {note}");
    }
    if notes.len() > PRINTED {
        let _ = writeln!(out, "seedclock: note: and {} more of the kind", notes.len() - PRINTED);
    }
}
