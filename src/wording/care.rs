//! How the bench file is cared for, in words.

use super::status::age;
use crate::civil::{Time, Zone};
use crate::diagnosis::{Care, CareTodo, LastBackup};
use crate::wording::moment;

/// A megabyte, as disks are sold.
const MEGABYTE: f64 = 1e6;

/// What the care for the file needs, as a sentence.
#[must_use]
pub fn care_words(todo: &CareTodo, as_of: Time, zone: Zone) -> String {
    match todo {
        CareTodo::MendBackup { time, why, last } => {
            format!("The backup of {} failed: {why}. {}", moment(*time, zone), last_words(last.as_ref(), as_of))
        }
        CareTodo::BackUp { last } => last_words(last.as_ref(), as_of),
        CareTodo::EndReader { bytes } => format!(
            "The log beside the bench has grown to {:.0} MB, since another program has been reading the bench for long: nothing is \
             lost, but the disk fills.",
            *bytes as f64 / MEGABYTE
        ),
        CareTodo::Full => {
            "The disk is full: nothing can be recorded. A logger that runs keeps up to 100,000 readings in memory and stores them \
             when there is room again."
                .to_owned()
        }
        CareTodo::ReadOnly => "The bench may not be written to: nothing can be recorded.".to_owned(),
        CareTodo::Moved(moved) => {
            let since = moment(moved.since, zone);
            let ports = match &moved.missing_ports[..] {
                [] => String::new(),
                ports => format!(" Not here any more: {}.", ports.join(", ")),
            };
            format!("Since {since} this computer logs here, and '{}' before.{ports}", moved.from)
        }
    }
}

/// What to do about it.
pub(super) fn care_next(todo: &CareTodo) -> String {
    match todo {
        CareTodo::MendBackup { .. } => "see to it, then `seedclock backup`".to_owned(),
        CareTodo::BackUp { .. } => "`seedclock backup`, and now and then a copy of it on another disk".to_owned(),
        CareTodo::EndReader { .. } => "close the program that has the bench open".to_owned(),
        CareTodo::Full => "make room on the disk that holds the bench".to_owned(),
        CareTodo::ReadOnly => "see whether the disk was mounted read-only after an error, and whose the file is".to_owned(),
        CareTodo::Moved(_) => "start no logger on the old one; give `seedclock log` the ports that are here".to_owned(),
    }
}

/// The last line of the machine: backups, and who logs.
pub(super) fn kept_words(care: &Care, as_of: Time) -> String {
    let logged = care.logged_by.as_ref().map(|name| format!(" It is logged by the computer '{name}', not by this one."));
    format!("{}{}", last_words(care.backup.as_ref(), as_of), logged.unwrap_or_default())
}

fn last_words(last: Option<&LastBackup>, as_of: Time) -> String {
    match last {
        Some(last) => format!("Last backup {} ago: {}.", age(last.time, as_of), last.file),
        None => "No backup was ever made.".to_owned(),
    }
}

/// What is told of a damaged day: "p1 on 2026-03-04: 1440 readings were written, 1439 are there".
#[must_use]
pub fn verified_text(probe: &str, day: Time, written: Option<i64>, found: Option<i64>) -> String {
    let what = match (written, found) {
        (_, None) => "its readings cannot be read".to_owned(),
        (None, Some(found)) => format!("{found} readings were never written"),
        (Some(written), Some(found)) if written == found => "a value was changed".to_owned(),
        (Some(written), Some(found)) => format!("{written} readings were written, {found} are there"),
    };
    format!("{probe} on {}: {what}", day.format("%Y-%m-%d"))
}
