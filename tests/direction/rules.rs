//! The rules themselves.

use std::collections::BTreeSet;

use super::collect::{Map, Reference};
use super::resolve::Target;

/// Each knows only those before it.
const CORE: [&str; 12] = [
    "units",
    "civil",
    "stats",
    "bench",
    "quality",
    "thermal",
    "germination",
    "forecast",
    "diagnosis",
    "experiment",
    "wording",
    "charts",
];
const RIM: [&str; 4] = ["clock", "store", "exchange", "probes"];
const WORK: [&str; 3] = ["changes", "answers", "logger"];
const FACES: [&str; 4] = ["report", "page", "service", "cli"];

/// Libraries that one room owns.
const OWNED: [(&str, &str); 14] = [
    ("rusqlite", "store"),
    ("serialport", "probes"),
    ("rumqttc", "probes"),
    ("crc", "probes"),
    ("lettre", "service"),
    ("argmin", "germination"),
    ("argmin_math", "germination"),
    ("statrs", "stats"),
    ("rayon", "stats"),
    ("clap", "cli"),
    ("toml", "cli"),
    ("skrifa", "charts"),
    ("resvg", "exchange"),
    ("image", "exchange"),
];
/// Parts of the standard library, and a library, that reach outside: not for the core.
const OUTSIDE: [[&str; 2]; 6] =
    [["std", "fs"], ["std", "io"], ["std", "net"], ["std", "env"], ["std", "process"], ["std", "thread"]];
const CLOCKS: [&str; 4] = ["Utc", "Local", "SystemTime", "Instant"];
const PRINTING: [&str; 5] = ["print", "println", "eprint", "eprintln", "dbg"];

/// May a room know something of another room? `item` is the name right after the other room's.
fn may_know(room: &str, other: &str, item: Option<&str>) -> bool {
    let core = |name: &str| CORE.iter().position(|core| *core == name);
    let rim = |name: &str| RIM.contains(&name);
    if room == other || room == "cli" {
        return true;
    }
    match (room, core(room), core(other)) {
        ("main", ..) => other == "cli",
        (_, Some(mine), Some(its)) => its < mine,
        (_, Some(_), None) => false,
        (_, None, Some(_)) => true,
        (_, None, None) if rim(room) => other == "clock" && matches!(item, Some("Clock" | "Keeper" | "keeper")),
        (_, None, None) if WORK.contains(&room) => rim(other),
        ("report", ..) => ["exchange", "changes", "answers"].contains(&other),
        ("page", ..) => ["exchange", "changes", "answers", "report"].contains(&other),
        ("service", ..) => WORK.contains(&other) || ["page", "clock"].contains(&other),
        _ => false,
    }
}

pub(super) fn faults(map: &Map) -> Vec<String> {
    let mut faults: Vec<String> =
        map.not_rooms.iter().map(|(file, line)| format!("{file}:{line}: lib.rs holds only `pub mod name;`")).collect();
    let mut searching = BTreeSet::new();
    for reference in &map.references {
        let Some(room) = reference.module.first() else { continue };
        if ![&CORE[..], &RIM, &WORK, &FACES, &["main"]].iter().any(|rooms| rooms.contains(&room.as_str())) {
            faults.push(format!("{}: '{room}' is no room that the rules know", reference.file));
            continue;
        }
        let said = |what: String| format!("{}:{}: {what} (`{}`)", reference.file, reference.line, reference.path.join("::"));
        for target in map.targets(&reference.module, &reference.path, reference.leading) {
            let fault = match &target {
                Target::Here(path) => of_this_crate(map, reference, room, path),
                Target::Elsewhere(path) => {
                    if path[0].starts_with("argmin") && (reference.import || path.len() > 1) {
                        searching.insert(reference.file.clone());
                    }
                    of_another(reference, room, path)
                }
            };
            faults.extend(fault.map(said));
        }
    }
    if searching.len() > 1 {
        faults.push(format!("argmin belongs into one file, but is used in {}", Vec::from_iter(searching).join(", ")));
    }
    for (file, line, module, name) in &map.macros {
        if PRINTING.contains(&name.as_str()) && module.first().is_some_and(|room| CORE.contains(&room.as_str())) {
            faults.push(format!("{file}:{line}: the core prints nothing (`{name}!`)"));
        }
    }
    faults
}

fn of_this_crate(map: &Map, reference: &Reference, room: &str, path: &[String]) -> Option<String> {
    let Some(other) = path.first() else {
        // `use crate as it` and `use super::*` at the top of a room would bring every room at once.
        return reference.import.then(|| format!("'{room}' takes in the whole crate"));
    };
    // Tests of a room at the rim may put the clock where they need it, those of the page see what came on record.
    let in_tests =
        (1..=reference.module.len()).filter_map(|depth| map.modules.get(&reference.module[..depth])).any(|module| module.for_tests);
    let setting_a_clock = in_tests && other == "clock" && !CORE.contains(&room);
    let seeing_the_record = in_tests && other == "store" && room == "page";
    let known = may_know(room, other, path.get(1).map(String::as_str)) || setting_a_clock || seeing_the_record;
    (!known).then(|| format!("'{room}' may not know '{}'", path.join("::")))
}

fn of_another(reference: &Reference, room: &str, path: &[String]) -> Option<String> {
    let begins = |prefix: &[&str]| path.len() >= prefix.len() && path.iter().zip(prefix).all(|(mine, its)| mine == its);
    let ends_in_now = path.len() >= 2 && path[path.len() - 1] == "now" && CLOCKS.contains(&path[path.len() - 2].as_str());
    // A single word that no import explains is a local name, not a library.
    let library = reference.import || path.len() > 1;
    if ends_in_now && room != "clock" {
        return Some(format!("only clock.rs asks what time it is, not '{room}'"));
    }
    if let Some((name, owner)) = OWNED.iter().find(|(name, owner)| library && path[0] == *name && room != *owner) {
        return Some(format!("'{name}' belongs to '{owner}', not to '{room}'"));
    }
    let outside = OUTSIDE.iter().any(|prefix| begins(prefix)) || (library && begins(&["tokio"]));
    (CORE.contains(&room) && outside).then(|| format!("the core reaches nothing outside, but '{room}' does"))
}
