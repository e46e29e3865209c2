//! What was put on record just now, in a grower's words.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::record::{calibrated_words, changed_words, entry_name, seeds_words, stand_words};
use crate::bench::rules::Entry;
use crate::bench::{Bench, Container, Name, Placement, Siting};
use crate::civil::{Time, local_time};

/// "A1, A2, A4".
#[must_use]
pub fn listed<'a>(names: impl IntoIterator<Item = &'a Name>) -> String {
    names.into_iter().map(Name::as_str).collect::<Vec<_>>().join(", ")
}

/// Boxes sown, all alike: "A1, A2: 20 seeds of leek each, sown on … at 'sill', batch 2026-11".
#[must_use]
pub fn sown_words(sown: &[Container], after: &Bench) -> String {
    let Some(first) = sown.first() else { return String::new() };
    let each = if sown.len() == 1 { "" } else { " each," };
    let mut said = format!(
        "{}: {} of {}{each} sown on {} at '{}', batch {}",
        listed(sown.iter().map(|container| &container.name)),
        seeds_words(first),
        first.species,
        local_time(first.sown, after.zone),
        first.spot,
        first.batch
    );
    if let Some(bag) = first.from.as_ref().and_then(|from| after.trials.get(from)) {
        let wetted = local_time(after.wetted(bag), after.zone);
        // Writing to a string cannot fail.
        let _ = write!(said, ", out of {} (wetted {wetted})", bag.container.name);
        let _ = write!(said, "; {}: {}", bag.container.name, stand_words(bag));
        said += &bag.left().map(|left| format!(", {left} left")).unwrap_or_default();
    }
    said
}

/// Boxes carried: "A1, A2: at 'mat' from … on"; and where they are still to be carried.
#[must_use]
pub fn carried_words(boxes: &[Name], spot: &Name, at: Time, after: &Bench, now: Time) -> String {
    let mut said = format!("{}: at '{spot}' from {} on", listed(boxes), local_time(at, after.zone));
    for trial in boxes.iter().filter_map(|name| after.trials.get(name)) {
        if let Some(plan) = trial.planned.iter().find(|plan| plan.time > at.max(now)) {
            let (name, to, on) = (&trial.container.name, &plan.spot, local_time(plan.time, after.zone));
            let _ = write!(said, "; {name} is still to be moved to '{to}' on {on}");
        }
    }
    said
}

/// A probe placed: "probe p1: beside the boxes at 'sill' from … on, not calibrated".
#[must_use]
pub fn placed_words(placement: &Placement, after: &Bench) -> String {
    let siting = match placement.siting {
        Siting::InBox => "in a box at",
        Siting::Beside => "beside the boxes at",
        Siting::Room => "in the same room as",
    };
    let (on, calibrated) = (local_time(placement.since, after.zone), calibrated_words(placement));
    format!("probe {}: {siting} '{}' from {on} on, {calibrated}", placement.probe, placement.spot)
}

/// An entry put right: "corrected the look at A3 on …: new 2 (before: 3); 5 of 20 have sprouted".
#[must_use]
pub fn corrected_words(was: &Entry, is: &Entry, after: &Bench) -> String {
    let zone = after.zone;
    let mut said = format!("corrected {}: {}", entry_name(was, zone), changed_words(was, is, zone));
    let of_box = match is {
        Entry::Check(look, _) => Some(&look.container),
        Entry::Container(container) => Some(&container.name),
        _ => None,
    };
    if let Some(trial) = of_box.and_then(|name| after.trials.get(name)) {
        let _ = write!(said, "; {}", stand_words(trial));
    }
    said
}

/// Boxes closed, a line each.
#[must_use]
pub fn closed_words(boxes: &[Name], at: Time, after: &Bench) -> String {
    let stand = |name: &Name| {
        let trial = after.trials.get(name)?;
        Some(format!("{name}: closed on {}; {}", local_time(at, after.zone), stand_words(trial)))
    };
    boxes.iter().filter_map(stand).collect::<Vec<_>>().join("\n")
}

/// Boxes opened again, and which of them count as ended all the same.
#[must_use]
pub fn reopened_words(boxes: &[Name], after: &Bench, now: Time) -> String {
    let is = if boxes.len() == 1 { "is" } else { "are" };
    let mut said = format!("{} {is} open again", listed(boxes));
    let unseen = |name: &&Name| after.trials.get(*name).is_some_and(|trial| trial.ended_at(now).is_some());
    let unseen = listed(boxes.iter().filter(unseen));
    if !unseen.is_empty() {
        let _ = write!(said, "; nobody has looked at {unseen} for over 30 days: present again from the next look on");
    }
    said
}

/// "; 'mat' is a new spot" for each.
#[must_use]
pub fn new_spots_words(spots: &BTreeSet<Name>) -> String {
    spots.iter().map(|spot| format!("; '{spot}' is a new spot")).collect()
}
