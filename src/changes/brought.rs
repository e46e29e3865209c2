//! What an import brought, in words.

use std::fmt::Write as _;

use super::Imported;
use crate::bench::rules::Entry;

/// "2 boxes, 5 checks; 3 rows were on record already".
#[must_use]
pub fn brought_words(imported: &Imported) -> String {
    let new = &imported.admitted;
    let of = |kind: fn(&Entry) -> bool| new.entries.iter().filter(|entry| kind(entry)).count();
    let brought = [
        counted(of(|entry| matches!(entry, Entry::Container(_))), "box", "boxes"),
        counted(of(|entry| matches!(entry, Entry::Check(..))), "check", "checks"),
        counted(of(|entry| matches!(entry, Entry::Move(_))), "move", "moves"),
        counted(of(|entry| matches!(entry, Entry::Plan(_))), "planned move", "planned moves"),
        counted(of(|entry| matches!(entry, Entry::Lot(_))), "lot", "lots"),
        counted(new.spots.len(), "spot", "spots"),
        counted(of(|entry| matches!(entry, Entry::Placement(_))), "placing of a probe", "placings of probes"),
        counted(of(|entry| matches!(entry, Entry::Doubt(_))), "doubted stretch", "doubted stretches"),
        counted(of(|entry| matches!(entry, Entry::Limits(_))), "probe's limits", "probes' limits"),
        counted(imported.readings.stored, "reading", "readings"),
    ];
    let brought: Vec<String> = brought.into_iter().flatten().collect();
    let mut said = if brought.is_empty() { "nothing new".to_owned() } else { brought.join(", ") };
    if let Some(replaced) = counted(new.replaced.len() + imported.readings.replaced, "row was", "rows were") {
        let _ = write!(said, "; {replaced} replaced, the old values are kept");
    }
    if let Some(repeated) = counted(new.repeated + imported.readings.repeated, "row was", "rows were") {
        let _ = write!(said, "; {repeated} on record already");
    }
    said
}

fn counted(count: usize, one: &str, many: &str) -> Option<String> {
    match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        _ => Some(format!("{count} {many}")),
    }
}
