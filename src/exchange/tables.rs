//! The small tables of a bench folder, turned into wishes.

use super::cells;
use super::table::{Findings, Form, Row, Table};
use crate::bench::rules::{Counted, Entry, Fault, Origin};
use crate::bench::{
    Calibration, Check, Container, Event, GivenTemperature, Move, Placement, SetTemperature, Setting, Siting, SpotKind,
};
use crate::civil::Zone;
use crate::units;

pub(super) const CONTAINERS: Form = Form {
    file: "containers.csv",
    required: &["container", "batch", "species", "lot", "treatment", "seeds", "sown", "spot"],
    optional: &["event", "ended"],
    later: &["seeds_low", "seeds_high", "depth_mm", "from", "box"],
};
pub(super) const CHECKS: Form = Form {
    file: "checks.csv",
    required: &["container", "time"],
    optional: &["sprouted", "sprouted_total", "removed", "lost", "potted_on", "died", "condition", "note"],
    later: &[],
};
pub(super) const PROBES: Form =
    Form { file: "probes.csv", required: &["probe", "spot", "since"], optional: &["offset_c", "gain", "siting"], later: &[] };
pub(super) const SPOTS: Form = Form {
    file: "spots.csv",
    required: &["spot"],
    optional: &["kind", "set_c", "set_sd_c", "note"],
    later: &["since", "day_c", "night_c", "capacity", "changed"],
};
pub(super) const MOVES: Form =
    Form { file: "moves.csv", required: &["container", "time", "spot"], optional: &[], later: &["planned"] };
pub(super) const BENCH: Form = Form { file: "bench.csv", required: &["key", "value"], optional: &[], later: &[] };

/// The zone that `bench.csv` names.
pub(super) fn zone(bytes: &[u8], findings: &mut Findings) -> Option<Zone> {
    let mut table = Table::open(BENCH.file, bytes, &BENCH, findings)?;
    let mut zone = None;
    while let Some(mut row) = table.next(findings) {
        match row.cell("key").unwrap_or_default() {
            "zone" => {
                let named = row.read("value", |text| text.parse::<Zone>().map_err(|_| unknown_zone(text)));
                if zone.is_some() {
                    row.fault("the zone is named twice");
                } else if named == Some(None) {
                    row.fault("value is empty");
                }
                zone = named.flatten();
            }
            "units" => row.fault("this version cannot use the key 'units' yet"),
            key => {
                let what = format!("unknown key '{key}': the keys of bench.csv are zone");
                row.fault(what);
            }
        }
    }
    zone
}

fn unknown_zone(text: &str) -> String {
    format!("'{text}' is no zone of the IANA time zone database: write for example Europe/Berlin")
}

/// Reads all rows of a table by `read`, which gives none for a row with a fault.
pub(super) fn entries(
    form: &Form,
    bytes: &[u8],
    findings: &mut Findings,
    read: impl Fn(&mut Row<'_>) -> Option<Entry>,
) -> Vec<(Origin, Entry)> {
    let mut entries = Vec::new();
    let Some(mut table) = Table::open(form.file, bytes, form, findings) else { return entries };
    if form.file == CHECKS.file && table.column("sprouted").is_some() == table.column("sprouted_total").is_some() {
        let what = "a column 'sprouted' (new since the last check) or 'sprouted_total' must be there, and not both";
        findings.faults.push(Fault::new(&table.origin_of_header(), what));
        return entries;
    }
    while let Some(mut row) = table.next(findings) {
        if let Some(entry) = read(&mut row) {
            entries.push((row.origin(), entry));
        }
    }
    entries
}

pub(super) fn container(row: &mut Row<'_>) -> Option<Entry> {
    // Every cell is read before the first wrong one ends it, so that all faults of the row are told.
    let (name, batch, species) = (row.name("container"), row.name("batch"), row.name("species"));
    let (lot, treatment) = (row.optional_name("lot"), row.optional_name("treatment"));
    let (seeds, sown, spot) = (row.read("seeds", cells::count), row.time("sown"), row.name("spot"));
    let (event, ended) = (row.word("event", Event::from_word, "radicle, emergence"), row.optional_time("ended"));
    Some(Entry::Container(Container {
        lot: lot?,
        treatment: treatment?,
        seeds: seeds?,
        event: event?.unwrap_or_default(),
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

pub(super) fn placement(row: &mut Row<'_>) -> Option<Entry> {
    let (probe, spot, since) = (row.name("probe"), row.name("spot"), row.time("since"));
    let (offset, gain) = (row.read("offset_c", cells::number), row.read("gain", cells::number));
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

pub(super) fn spot(row: &mut Row<'_>) -> Option<Entry> {
    let name = row.name("spot");
    let kind = row.word("kind", SpotKind::from_word, "indoors, fridge, outdoors");
    let (celsius, sd_c) = (row.read("set_c", cells::number), row.read("set_sd_c", cells::number));
    let set = match (celsius?, sd_c?) {
        (Some(celsius), sd_c) => Some(SetTemperature { celsius, sd_c: sd_c.unwrap_or(0.0) }),
        (None, None) => None,
        (None, Some(sd_c)) => {
            row.fault(format!("set_sd_c is {sd_c} but set_c is empty: {} needs the temperature", units::SET_UNCERTAINTY.what));
            return None;
        }
    };
    let given = set.map(GivenTemperature::Set);
    let setting = Setting { kind: kind?.unwrap_or_default(), given, note: row.text("note"), ..Setting::NOTHING_SAID };
    Some(Entry::Spot(name?, setting))
}

pub(super) fn moved(row: &mut Row<'_>) -> Option<Entry> {
    let (container, time, spot) = (row.name("container"), row.time("time"), row.name("spot"));
    Some(Entry::Move(Move { container: container?, time: time?, spot: spot? }))
}
