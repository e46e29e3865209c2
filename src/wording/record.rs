//! What is on record, in a grower's words.

use std::fmt::{Display, Write as _};

use super::limits::limit_fields;
use crate::bench::rules::Entry;
use crate::bench::{Calibration, Check, Container, GivenTemperature, Lot, Name, Placement, Setting, Trial};
use crate::civil::{Time, Zone, local_time};

/// "5 of 20 have sprouted, 1 removed": how a box stands.
#[must_use]
pub fn stand_words(trial: &Trial) -> String {
    let sum = |count: fn(&Check) -> u32| trial.checks.iter().map(count).sum::<u32>();
    let sprouted = trial.sprouted();
    let has = if sprouted == 1 { "has" } else { "have" };
    let mut said = match trial.container.seeds {
        Some(seeds) => format!("{sprouted} of {seeds} {has} sprouted"),
        None => format!("{sprouted} {has} sprouted"),
    };
    let taken_out: u32 = trial.given.iter().filter_map(|given| given.seeds).sum();
    let others = [
        ("removed", sum(|look| look.removed)),
        ("lost", sum(|look| look.lost)),
        ("potted on", sum(|look| look.potted_on)),
        ("died", sum(|look| look.died)),
        ("sown elsewhere", taken_out),
    ];
    for (what, count) in others.into_iter().filter(|(_, count)| *count > 0) {
        let _ = write!(said, ", {count} {what}");
    }
    said
}

/// "20 seeds", "50 to 80 seeds", "uncounted seeds".
#[must_use]
pub fn seeds_words(container: &Container) -> String {
    match (container.seeds, container.seeds_low, container.seeds_high) {
        (Some(1), ..) => "1 seed".to_owned(),
        (Some(seeds), ..) => format!("{seeds} seeds"),
        (None, Some(low), Some(high)) => format!("{low} to {high} seeds"),
        (None, Some(low), None) => format!("at least {low} seeds"),
        (None, None, Some(high)) => format!("at most {high} seeds"),
        (None, None, None) => "uncounted seeds".to_owned(),
    }
}

/// "2 new, 1 removed, mould": what a look found.
#[must_use]
pub fn look_words(look: &Check) -> String {
    let new = if look.sprouted == 0 { "none new".to_owned() } else { format!("{} new", look.sprouted) };
    let counts = [("removed", look.removed), ("lost", look.lost), ("potted on", look.potted_on), ("died", look.died)];
    let counts = counts.into_iter().filter(|(_, count)| *count > 0).map(|(what, count)| format!("{count} {what}"));
    let words: Vec<String> = std::iter::once(new).chain(counts).chain(look.condition.clone()).collect();
    words.join(", ")
}

/// What an entry is, as one would point at it: "the look at A3 on 2026-03-09 08:00".
#[must_use]
pub fn entry_name(entry: &Entry, zone: Zone) -> String {
    let on = |time: Time| local_time(time, zone);
    match entry {
        Entry::Bench(setting) => format!("the setting {}", setting.key()),
        Entry::Away(away) => format!("the time away from {} to {}", on(away.from), on(away.until)),
        Entry::Lot(lot) => format!("what is said of lot '{}'", lot.name),
        Entry::Spot(spot, Setting { since: None, .. }) => format!("what is said of spot '{spot}'"),
        Entry::Spot(spot, Setting { since: Some(since), .. }) => format!("what is said of spot '{spot}' from {} on", on(*since)),
        Entry::Placement(placement) => format!("the placing of probe {} on {}", placement.probe, on(placement.since)),
        Entry::Doubt(doubt) => format!("the doubt of probe {} from {} on", doubt.probe, on(doubt.from)),
        Entry::Limits(limits) => format!("the limits of probe {}", limits.probe),
        Entry::Container(container) => format!("box {}", container.name),
        Entry::Check(look, _) => format!("the look at {} on {}", look.container, on(look.time)),
        Entry::Move(moved) => format!("the move of {} on {}", moved.container, on(moved.time)),
        Entry::Plan(moved) => format!("the planned move of {} on {}", moved.container, on(moved.time)),
    }
}

/// An entry with what it says: "the look at A3 on 2026-03-09 08:00 (5 new, 1 removed)".
#[must_use]
pub fn entry_words(entry: &Entry, zone: Zone) -> String {
    let name = match entry {
        Entry::Container(container) => format!("the sowing of {} on {}", container.name, local_time(container.sown, zone)),
        other => entry_name(other, zone),
    };
    let says = entry_says(entry, zone);
    if says.is_empty() { name } else { format!("{name} ({says})") }
}

/// What an entry says: "5 new, 1 removed".
#[must_use]
pub fn entry_says(entry: &Entry, zone: Zone) -> String {
    match entry {
        Entry::Check(look, _) => look_words(look),
        Entry::Container(container) => {
            format!("{} of {} at '{}'", seeds_words(container), container.species, container.spot)
        }
        Entry::Move(moved) | Entry::Plan(moved) => format!("to '{}'", moved.spot),
        Entry::Bench(setting) => setting.value(),
        Entry::Away(_) => String::new(),
        _ => fields(entry, zone)
            .into_iter()
            .filter(|(what, value)| !value.is_empty() && !matches!(*what, "since" | "from"))
            .map(|(what, value)| format!("{what} {value}"))
            .collect::<Vec<_>>()
            .join(", "),
    }
}

/// In what an entry differs from the one before: "seeds 22 (before: 20), spot mat (before: sill)". Empty where in nothing.
#[must_use]
pub fn changed_words(was: &Entry, is: &Entry, zone: Zone) -> String {
    let changed = changed(was, is, zone).into_iter();
    changed.map(|(what, was, is)| format!("{what} {is} (before: {was})")).collect::<Vec<_>>().join(", ")
}

/// What an entry says again, as it did before it was changed: "seeds 20, spot sill".
#[must_use]
pub fn again_words(changed_to: &Entry, again: &Entry, zone: Zone) -> String {
    let changed = changed(changed_to, again, zone).into_iter();
    changed.map(|(what, _, again)| format!("{what} {again}")).collect::<Vec<_>>().join(", ")
}

/// What differs, with the value before and the value after.
fn changed(was: &Entry, is: &Entry, zone: Zone) -> Vec<(&'static str, String, String)> {
    let said = |value: String| if value.is_empty() { "none".to_owned() } else { value };
    let pairs = fields(was, zone).into_iter().zip(fields(is, zone));
    pairs.filter(|(was, is)| was != is).map(|((what, was), (_, is))| (what, said(was), said(is))).collect()
}

/// Each thing that an entry says, in the words of its options; empty where it says nothing of it.
fn fields(entry: &Entry, zone: Zone) -> Vec<(&'static str, String)> {
    let time = |time: Time| local_time(time, zone);
    match entry {
        Entry::Bench(setting) => vec![(setting.key(), setting.value())],
        Entry::Away(away) => vec![("from", time(away.from)), ("to", time(away.until))],
        Entry::Lot(lot) => lot_fields(lot),
        Entry::Spot(_, setting) => setting_fields(setting, zone),
        Entry::Placement(placement) => vec![
            ("since", time(placement.since)),
            ("spot", placement.spot.to_string()),
            ("calibration", placement.calibration.map(calibration_words).unwrap_or_default()),
            ("siting", placement.siting.word().to_owned()),
        ],
        Entry::Doubt(doubt) => {
            vec![("from", time(doubt.from)), ("to", text(doubt.to.map(time))), ("why", text(doubt.why.as_ref()))]
        }
        Entry::Limits(limits) => limit_fields(limits),
        Entry::Container(container) => container_fields(container, zone),
        Entry::Check(look, _) => vec![
            ("time", time(look.time)),
            ("new", look.sprouted.to_string()),
            ("removed", look.removed.to_string()),
            ("lost", look.lost.to_string()),
            ("potted on", look.potted_on.to_string()),
            ("died", look.died.to_string()),
            ("condition", text(look.condition.as_ref())),
            ("note", text(look.note.as_ref())),
        ],
        Entry::Move(moved) | Entry::Plan(moved) => vec![("time", time(moved.time)), ("spot", moved.spot.to_string())],
    }
}

fn lot_fields(lot: &Lot) -> Vec<(&'static str, String)> {
    let days = match (lot.packet_days_low, lot.packet_days_high) {
        (Some(low), Some(high)) if low == high => format!("{low}"),
        (None, None) => String::new(),
        (low, high) => format!("{}-{}", text(low), text(high)),
    };
    vec![
        ("species", lot.species.to_string()),
        ("source", text(lot.source.as_ref())),
        ("collected", text(lot.collected.as_ref())),
        ("packet days", days),
        ("packet temperature", text(lot.packet_c.map(celsius))),
        ("packet share", text(lot.packet_percent.map(|percent| format!("{percent} %")))),
        ("chilling days", text(lot.chill_days)),
        ("light", text(lot.light.as_ref())),
        ("note", text(lot.note.as_ref())),
    ]
}

fn setting_fields(setting: &Setting, zone: Zone) -> Vec<(&'static str, String)> {
    vec![
        ("since", text(setting.since.map(|time| local_time(time, zone)))),
        ("kind", setting.kind.word().to_owned()),
        ("temperature", text(setting.given.map(given_words))),
        ("room for", text(setting.capacity)),
        ("too hot above", text(setting.too_hot_c.map(celsius))),
        ("changed", text(setting.changed.map(|time| local_time(time, zone)))),
        ("note", text(setting.note.as_ref())),
    ]
}

fn container_fields(container: &Container, zone: Zone) -> Vec<(&'static str, String)> {
    let name = |name: &Option<Name>| text(name.as_ref());
    vec![
        ("species", container.species.to_string()),
        ("seeds", text(container.seeds)),
        ("at least", text(container.seeds_low)),
        ("at most", text(container.seeds_high)),
        ("spot", container.spot.to_string()),
        ("batch", container.batch.to_string()),
        ("lot", name(&container.lot)),
        ("treatment", name(&container.treatment)),
        ("event", container.event.word().to_owned()),
        ("sown", local_time(container.sown, zone)),
        ("depth", text(container.depth_mm.map(|depth| format!("{depth} mm")))),
        ("out of", name(&container.from)),
        ("lid", name(&container.lid)),
        ("closed", text(container.ended.map(|time| local_time(time, zone)))),
    ]
}

/// "18 ± 1 °C", "20 by day and 16 by night, ± 1 °C".
#[must_use]
pub fn given_words(given: GivenTemperature) -> String {
    match given {
        GivenTemperature::Set(set) => format!("{} ± {} °C", short(set.celsius), short(set.sd_c)),
        GivenTemperature::DayAndNight(pair) => {
            format!("{} by day and {} by night, ± {} °C", short(pair.day_c), short(pair.night_c), short(pair.sd_c))
        }
    }
}

/// "true = 1 × shown -0.5 °C".
#[must_use]
pub fn calibration_words(calibration: Calibration) -> String {
    format!("true = {} × shown {:+} °C", short(calibration.gain), short(calibration.offset_c))
}

/// "true = …", or that it is not calibrated.
#[must_use]
pub fn calibrated_words(placement: &Placement) -> String {
    placement.calibration.map_or_else(|| "not calibrated".to_owned(), calibration_words)
}

fn celsius(value: f64) -> String {
    format!("{} °C", short(value))
}

/// Without the long fractions of a °F or of two points: a thousandth is below what any probe resolves.
pub(super) fn short(value: f64) -> f64 {
    (value * 1000.0).round() / 1000.0
}

fn text<T: Display>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}
