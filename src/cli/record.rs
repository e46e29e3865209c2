//! Commands that put something on record, correct it, or take it back.

mod amended;
mod away;
mod calibrate;
mod check;
mod correct;
mod ends;
mod extremes;
mod folder;
mod limits;
mod moved;
mod placed;
mod probe;
mod recall;
mod setting;
mod sow;
mod undo;
mod watch;
mod which;

pub(super) use away::Away;
pub(super) use check::Check;
pub(super) use correct::Correct;
pub(super) use ends::{Close, Reopen};
pub(super) use extremes::Minmax;
pub(super) use folder::{Export, Import};
pub(super) use moved::Move;
pub(super) use probe::{Doubt, Probe, place_beside};
pub(super) use recall::Recall;
pub(super) use setting::{Lot, Set, Spot};
pub(super) use sow::Sow;
pub(super) use undo::Undo;

use std::fmt::Write as _;
use std::io::Write as _;
use std::path::Path;

use super::Outcome;
use crate::bench::rules::{Fault, Origin};
use crate::bench::{Bench, Event, Name, Siting, Trial};
use crate::changes::{self, ChangeError, Made, Wish};
use crate::civil::{Time, Zone, read_time};
use crate::clock::{Clock, SystemClock, machine_zone};
use crate::store::{Store, StoreError};
use crate::wording::{listed, new_spots_words};

/// As many faults and notes are printed.
const PRINTED: usize = 50;

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

/// Makes what is wished of the bench as it is.
fn make(store: &mut Store, now: Time, wishes: impl FnOnce(&Bench) -> Result<Vec<Wish>, Vec<Fault>>) -> anyhow::Result<Made> {
    changes::make(store, now, wishes).map_err(|error| refusal(error, "recorded"))
}

/// A fault of something typed.
fn fault(what: impl Into<String>) -> Vec<Fault> {
    vec![Fault::new(&Origin::Typed, what)]
}

/// A fault of something typed, with what to do about it.
fn fault_with(what: impl Into<String>, next: impl Into<String>) -> Vec<Fault> {
    vec![Fault { next: Some(next.into()), ..Fault::new(&Origin::Typed, what) }]
}

/// The box of a name.
fn trial<'a>(bench: &'a Bench, name: &Name) -> Result<&'a Trial, Vec<Fault>> {
    changes::box_named(bench, name).map_err(|fault| vec![fault])
}

/// The time typed; now, to the second, where none is typed or the word for it.
fn time(typed: Option<&str>, zone: Zone, now: Time) -> anyhow::Result<Time> {
    let Some(text) = typed.filter(|text| *text != "now") else {
        return Ok(Time::from_timestamp(now.timestamp(), 0).unwrap_or(now));
    };
    let reckoned = read_time(text, zone)?;
    if reckoned.occurred_twice {
        note(&[format!("{text} came twice in {zone}; the first is taken")]);
    }
    Ok(reckoned.time)
}

/// The time typed, where one is.
fn optional_time(typed: Option<&str>, zone: Zone, now: Time) -> anyhow::Result<Option<Time>> {
    typed.map(|text| time(Some(text), zone, now)).transpose()
}

pub(super) fn event(text: &str) -> Result<Event, String> {
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
pub(super) fn refusal(error: ChangeError, done: &str) -> anyhow::Error {
    match error {
        ChangeError::Store(error) => error.into(),
        ChangeError::Faults(mut faults) => {
            // What is wrong with one spot need not be said for each box.
            faults.dedup();
            anyhow::anyhow!(refused(&faults, done))
        }
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
fn say_made(made: &Made, said: &str) {
    let mut said = said.to_owned() + &new_spots_words(&made.named_spots);
    if made.repeated {
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
