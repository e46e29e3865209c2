//! Rows of a bench folder, each turned into a wish; none for a row with a fault.
//!
//! Every cell is read before the first wrong one ends a row, so that all its faults are told.

use super::cells;
use super::table::Row;
use crate::bench::rules::{Counted, Entry};
use crate::bench::{
    Away, Calibration, Check, Container, DayAndNight, Doubt, Event, GivenTemperature, Lot, Move, Placement, ProbeLimits,
    SetTemperature, Setting, Siting, SpotKind,
};
use crate::units;

pub(super) fn container(row: &mut Row<'_>) -> Option<Entry> {
    let (name, batch, species) = (row.name("container"), row.name("batch"), row.name("species"));
    let [lot, treatment, from, lid, owner] = ["lot", "treatment", "from", "box", "owner"].map(|column| row.optional_name(column));
    let [seeds, seeds_low, seeds_high] = ["seeds", "seeds_low", "seeds_high"].map(|column| row.read(column, cells::count));
    let (sown, spot, depth_mm) = (row.time("sown"), row.name("spot"), row.number("depth_mm"));
    let (event, ended) = (row.word("event", Event::from_word, "radicle, emergence"), row.optional_time("ended"));
    Some(Entry::Container(Container {
        lot: lot?,
        treatment: treatment?,
        seeds: seeds?,
        seeds_low: seeds_low?,
        seeds_high: seeds_high?,
        event: event?.unwrap_or_default(),
        depth_mm: depth_mm?,
        from: from?,
        lid: lid?,
        owner: owner?,
        ended: ended?,
        ..Container::new(name?, batch?, species?, spot?, sown?)
    }))
}

pub(super) fn check(row: &mut Row<'_>) -> Option<Entry> {
    let (container, time) = (row.name("container"), row.time("time"));
    let total = row.read("sprouted_total", cells::count);
    let new = row.read("sprouted", cells::count);
    if total == Some(None) && new == Some(None) {
        row.fault("the number of sprouts is empty: write 0 for none new");
    }
    let [removed, lost, potted_on, died] = ["removed", "lost", "potted_on", "died"].map(|column| row.read(column, cells::count));
    let (sprouted, counted) = match total? {
        Some(total) => (total, Counted::InTotal),
        None => (new??, Counted::SinceLast),
    };
    let check = Check {
        container: container?,
        time: time?,
        sprouted,
        // Columns that a grower left out or empty say that there was nothing of the kind.
        removed: removed?.unwrap_or_default(),
        lost: lost?.unwrap_or_default(),
        potted_on: potted_on?.unwrap_or_default(),
        died: died?.unwrap_or_default(),
        condition: row.text("condition"),
        note: row.text("note"),
    };
    Some(Entry::Check(check, counted))
}

pub(super) fn lot(row: &mut Row<'_>) -> Option<Entry> {
    let (name, species) = (row.name("lot"), row.name("species"));
    let [packet_days_low, packet_days_high, packet_c, packet_percent, chill_days] =
        ["packet_days_low", "packet_days_high", "packet_c", "packet_percent", "chill_days"].map(|column| row.number(column));
    Some(Entry::Lot(Lot {
        source: row.text("source"),
        collected: row.text("collected"),
        packet_days_low: packet_days_low?,
        packet_days_high: packet_days_high?,
        packet_c: packet_c?,
        packet_percent: packet_percent?,
        chill_days: chill_days?,
        light: row.text("light"),
        note: row.text("note"),
        ..Lot::new(name?, species?)
    }))
}

pub(super) fn placement(row: &mut Row<'_>) -> Option<Entry> {
    let (probe, spot, since) = (row.name("probe"), row.name("spot"), row.time("since"));
    let (offset, gain) = (row.number("offset_c"), row.number("gain"));
    let siting = row.word("siting", Siting::from_word, "in, beside, room");
    let (offset, gain) = (offset?, gain?);
    let calibration =
        (offset.is_some() || gain.is_some()).then(|| Calibration { offset_c: offset.unwrap_or(0.0), gain: gain.unwrap_or(1.0) });
    Some(Entry::Placement(Placement {
        probe: probe?,
        spot: spot?,
        since: since?,
        calibration,
        siting: siting?.unwrap_or_default(),
    }))
}

pub(super) fn doubt(row: &mut Row<'_>) -> Option<Entry> {
    let (probe, from, to) = (row.name("probe"), row.time("from"), row.optional_time("to"));
    Some(Entry::Doubt(Doubt { probe: probe?, from: from?, to: to?, why: row.text("why") }))
}

pub(super) fn limits(row: &mut Row<'_>) -> Option<Entry> {
    let probe = row.name("probe");
    let read = ProbeLimits::COLUMNS.map(|column| row.number(column));
    if read.contains(&None) {
        return None;
    }
    Some(Entry::Limits(ProbeLimits::of(probe?, read.map(Option::flatten))))
}

pub(super) fn away(row: &mut Row<'_>) -> Option<Entry> {
    let (from, until) = (row.time("from"), row.time("to"));
    Some(Entry::Away(Away { from: from?, until: until? }))
}

pub(super) fn spot(row: &mut Row<'_>) -> Option<Entry> {
    let name = row.name("spot");
    let kind = row.word("kind", SpotKind::from_word, "indoors, fridge, outdoors");
    let (since, changed) = (row.optional_time("since"), row.optional_time("changed"));
    let capacity = row.read("capacity", cells::count);
    let (given, too_hot_c) = (given(row), row.number("too_hot_c"));
    let setting = Setting {
        since: since?,
        kind: kind?.unwrap_or_default(),
        given: given?,
        capacity: capacity?,
        too_hot_c: too_hot_c?,
        changed: changed?,
        note: row.text("note"),
    };
    Some(Entry::Spot(name?, setting))
}

/// The temperature given for a spot; outer none: it is wrong.
fn given(row: &mut Row<'_>) -> Option<Option<GivenTemperature>> {
    let [set_c, sd_c, day_c, night_c] = ["set_c", "set_sd_c", "day_c", "night_c"].map(|column| row.number(column));
    let (set_c, sd_c, day_c, night_c) = (set_c?, sd_c?, day_c?, night_c?);
    let sure = sd_c.unwrap_or(0.0);
    match (set_c, day_c, night_c) {
        (Some(celsius), None, None) => Some(Some(GivenTemperature::Set(SetTemperature { celsius, sd_c: sure }))),
        (None, Some(day_c), Some(night_c)) => Some(Some(GivenTemperature::DayAndNight(DayAndNight { day_c, night_c, sd_c: sure }))),
        (None, None, None) => match sd_c {
            None => Some(None),
            Some(sd_c) => {
                let rule = format!("{} needs the temperature", units::SET_UNCERTAINTY.what);
                row.fault(format!("set_sd_c is {sd_c} but set_c is empty: {rule}"));
                None
            }
        },
        (Some(_), ..) => {
            row.fault("set_c is given, and day_c or night_c too: a spot has one temperature or two by day and night");
            None
        }
        (None, ..) => {
            row.fault("day_c and night_c are given together or not at all");
            None
        }
    }
}

pub(super) fn moved(row: &mut Row<'_>) -> Option<Entry> {
    let (container, time, spot) = (row.name("container"), row.time("time"), row.name("spot"));
    let planned = row.word("planned", |word| ["no", "yes"].iter().position(|known| *known == word), "yes, no");
    let moved = Move { container: container?, time: time?, spot: spot? };
    Some(if planned?.unwrap_or(0) == 1 { Entry::Plan(moved) } else { Entry::Move(moved) })
}
