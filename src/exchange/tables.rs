//! The small tables of a bench folder: their columns, and how each becomes wishes.

use super::table::{Findings, Form, Row, Table};
use crate::bench::rules::{BenchSetting, Entry, Origin};
use crate::bench::{AlarmSetting, Degrees, ProbeLimits};
use crate::civil::Zone;

pub(super) const CONTAINERS: Form = Form {
    file: "containers.csv",
    required: &["container", "batch", "species", "lot", "treatment", "seeds", "sown", "spot"],
    optional: &["seeds_low", "seeds_high", "event", "depth_mm", "from", "box", "owner", "ended"],
    either: None,
};
pub(super) const CHECKS: Form = Form {
    file: "checks.csv",
    required: &["container", "time"],
    optional: &["sprouted", "sprouted_total", "removed", "lost", "potted_on", "died", "condition", "note"],
    either: Some(["sprouted", " (new since the last check)", "sprouted_total"]),
};
pub(super) const PROBES: Form =
    Form { file: "probes.csv", required: &["probe", "spot", "since"], optional: &["offset_c", "gain", "siting"], either: None };
pub(super) const SPOTS: Form = Form {
    file: "spots.csv",
    required: &["spot"],
    optional: &["kind", "since", "set_c", "set_sd_c", "day_c", "night_c", "capacity", "changed", "note", "too_hot_c"],
    either: None,
};
pub(super) const MOVES: Form =
    Form { file: "moves.csv", required: &["container", "time", "spot"], optional: &["planned"], either: None };
pub(super) const LOTS: Form = Form {
    file: "lots.csv",
    required: &["lot", "species"],
    optional: &[
        "source",
        "collected",
        "packet_days_low",
        "packet_days_high",
        "packet_c",
        "packet_percent",
        "chill_days",
        "light",
        "note",
    ],
    either: None,
};
pub(super) const DOUBTS: Form = Form { file: "doubts.csv", required: &["probe", "from", "to", "why"], optional: &[], either: None };
pub(super) const LIMITS: Form = Form { file: "limits.csv", required: &["probe"], optional: &ProbeLimits::COLUMNS, either: None };
pub(super) const AWAY: Form = Form { file: "away.csv", required: &["from", "to"], optional: &[], either: None };
pub(super) const BENCH: Form = Form { file: "bench.csv", required: &["key", "value"], optional: &[], either: None };

/// All tables but the readings.
pub(super) const SMALL: [&Form; 10] = [&CONTAINERS, &CHECKS, &PROBES, &SPOTS, &MOVES, &LOTS, &DOUBTS, &LIMITS, &AWAY, &BENCH];

/// What `bench.csv` says: the zone, by which the other tables are read, and the other settings as wishes.
#[derive(Default)]
pub(super) struct Settings {
    pub(super) zone: Option<(Origin, Zone)>,
    pub(super) entries: Vec<(Origin, Entry)>,
}

pub(super) fn settings(bytes: &[u8], findings: &mut Findings) -> Settings {
    let mut settings = Settings::default();
    let Some(mut table) = Table::open(BENCH.file, bytes, &BENCH, findings) else { return settings };
    let mut keys: Vec<String> = Vec::new();
    while let Some(mut row) = table.next(findings) {
        let key = row.cell("key").unwrap_or_default().to_owned();
        let origin = row.origin();
        if keys.contains(&key) {
            row.fault(format!("the key '{key}' stands there twice"));
            continue;
        }
        match key.as_str() {
            "zone" => {
                let named = row.read("value", |text| text.parse::<Zone>().map_err(|_| unknown_zone(text)));
                settings.zone = filled(&mut row, named).map(|zone| (origin, zone));
            }
            "units" => {
                let named = row.word("value", Degrees::from_word, "celsius, fahrenheit");
                let entry = filled(&mut row, named).map(|degrees| Entry::Bench(BenchSetting::Units(degrees)));
                settings.entries.extend(entry.map(|entry| (origin, entry)));
            }
            other if AlarmSetting::KEYS.contains(&other) => {
                let read = |text: &str| AlarmSetting::read(other, text, Degrees::Celsius).unwrap_or_else(|| Err(String::new()));
                let said = row.read("value", read);
                let entry = filled(&mut row, said).map(|setting| Entry::Bench(BenchSetting::Alarm(setting)));
                settings.entries.extend(entry.map(|entry| (origin, entry)));
            }
            _ => {
                let keys: Vec<&str> = BenchSetting::keys().collect();
                row.fault(format!("unknown key '{key}': the keys of bench.csv are {}", keys.join(", ")));
            }
        }
        keys.push(key);
    }
    settings
}

fn filled<T>(row: &mut Row<'_>, value: Option<Option<T>>) -> Option<T> {
    if matches!(value, Some(None)) {
        row.fault("value is empty");
    }
    value.flatten()
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
    while let Some(mut row) = table.next(findings) {
        if let Some(entry) = read(&mut row) {
            entries.push((row.origin(), entry));
        }
    }
    entries
}
