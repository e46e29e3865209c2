//! The sheet that hung beside the boxes, typed in: boxes down, days across, all at once.

use std::sync::Arc;

use askama::Template;
use axum::Json;
use axum::extract::{Extension, Query, State};
use chrono::{Duration, NaiveDate, NaiveTime, Timelike};
use serde::Deserialize;

use super::app::App;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Change, Done, FieldFault, Refusal, Shown, shown};
use super::looks::request_number;
use super::paper::{chosen_days, first_day};
use crate::bench::rules::Fault;
use crate::bench::{Bench, Check, Name, Trial};
use crate::changes::{Gridded, record_grid};
use crate::civil::{Time, local_date, reckon};
use crate::report::{DAYS, by_spot, looked_at};
use crate::wording::{day, look_words, moment};

/// Bytes that a grid may have: a thousand boxes with long names.
pub(super) const GRID_BYTES: usize = 512 << 10;
/// When the looks were, unless something else is said: common practice, a round in the morning.
const USUAL_TIME: &str = "08:00";

/// Which days are wanted.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Wanted {
    from: String,
    days: String,
}

struct Head {
    weekday: String,
    day: String,
}

/// A box on a day.
enum Cell {
    /// What is on record: in short, and in words.
    Recorded(String, String),
    /// To be filled in: its day, and which day of the grid it is.
    Open(NaiveDate, usize),
    /// It cannot have been looked at.
    Shut,
}

struct Row {
    at: usize,
    name: Name,
    species: Name,
    cells: Vec<Cell>,
}

#[derive(Template)]
#[template(path = "grid.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    from: NaiveDate,
    span: String,
    choices: Vec<(usize, bool)>,
    days: usize,
    earlier: NaiveDate,
    later: Option<NaiveDate>,
    from_fault: Option<String>,
    heads: Vec<Head>,
    spots: Vec<(Name, Vec<Row>)>,
    time: &'static str,
    zone: String,
    any_open: bool,
}

pub(super) async fn page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Query(wanted): Query<Wanted>,
) -> Shown {
    app.aside(move |app| told(app, visitor, &wanted)).await
}

fn told(app: &App, visitor: Visitor, wanted: &Wanted) -> Shown {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?.as_of(now);
    let today = local_date(now, bench.zone);
    let days = chosen_days(&wanted.days);
    let usual = today - Duration::days(days as i64 - 1);
    let (from, from_fault) = match first_day(&wanted.from) {
        Ok(from) => (from.unwrap_or(usual), None),
        Err(fault) => (usual, Some(fault)),
    };
    let dates: Vec<NaiveDate> = from.iter_days().take(days).collect();
    let mut at = 0;
    let row = |trial: &&Trial| {
        at += 1;
        Row {
            at: at - 1,
            name: trial.container.name.clone(),
            species: trial.container.species.clone(),
            cells: dates.iter().enumerate().map(|(place, date)| cell(&bench, trial, *date, place, today)).collect(),
        }
    };
    let mut row = row;
    let spots: Vec<(Name, Vec<Row>)> = by_spot(&bench, from, days, now)
        .into_iter()
        .map(|(spot, here)| (spot.clone(), here.iter().map(&mut row).collect()))
        .collect();
    let last = dates.last().copied().unwrap_or(from);
    let later = from + Duration::days(days as i64);
    shown(&Page {
        frame: Frame::new("Type a tally in", Place::Paper, visitor, app.told()),
        from,
        span: format!("{} to {}", from.format("%a %-d %b %Y"), last.format("%a %-d %b %Y")),
        choices: DAYS.map(|choice| (choice, choice == days)).to_vec(),
        days,
        earlier: from - Duration::days(days as i64),
        later: (later <= today).then_some(later),
        from_fault,
        heads: dates.iter().map(|date| Head { weekday: date.format("%a").to_string(), day: day(*date) }).collect(),
        any_open: spots.iter().flat_map(|(_, rows)| rows).flat_map(|row| &row.cells).any(|cell| matches!(cell, Cell::Open(..))),
        spots,
        time: USUAL_TIME,
        zone: bench.zone.to_string(),
    })
}

fn cell(bench: &Bench, trial: &Trial, date: NaiveDate, place: usize, today: NaiveDate) -> Cell {
    let looks: Vec<&Check> = trial.checks.iter().filter(|check| local_date(check.time, bench.zone) == date).collect();
    if !looks.is_empty() {
        let sprouted: u32 = looks.iter().map(|look| look.sprouted).sum();
        let words: Vec<String> =
            looks.iter().map(|look| format!("{}: {}", moment(look.time, bench.zone), look_words(look))).collect();
        return Cell::Recorded(sprouted.to_string(), words.join("; "));
    }
    if date > today || !looked_at(trial, date, bench.zone) {
        return Cell::Shut;
    }
    Cell::Open(date, place)
}

/// A grid as the page's script sends it.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    /// A number of its own.
    request: String,
    /// The first day.
    from: String,
    /// The time of day of the looks, in the bench's zone.
    time: String,
    rows: Vec<SentRow>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SentRow {
    /// Which row of the page it is.
    row: usize,
    #[serde(rename = "box")]
    container: String,
    /// What was typed, day by day.
    counts: Vec<String>,
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(sent): Json<Sent>) -> Change {
    Change(app.aside(move |app| recorded(app, &sent)).await)
}

fn recorded(app: &App, sent: &Sent) -> Result<Done, Refusal> {
    request_number(&sent.request)?;
    let now = app.now();
    let zone = app.file.ask(|store| store.bench())?.zone;
    let from =
        first_day(&sent.from).ok().flatten().ok_or_else(|| Refusal::of_field("from", format!("'{}' is no day", sent.from)))?;
    let time = NaiveTime::parse_from_str(sent.time.trim(), "%H:%M")
        .map_err(|_| Refusal::of_field("time", format!("'{}' is no time of day: write it as 08:00", sent.time.trim())))?;
    let mut faults = Vec::new();
    // Each look with its field.
    let (mut looks, mut fields) = (Vec::new(), Vec::new());
    for row in &sent.rows {
        for (place, typed) in row.counts.iter().enumerate().filter(|(_, typed)| !typed.trim().is_empty()) {
            let field = format!("r{}d{place}", row.row);
            match read(row, typed, from, place, time, zone, now) {
                Ok(look) => {
                    looks.push(look);
                    fields.push(field);
                }
                Err(what) => faults.push(FieldFault { field: Some(field.into()), what, next: None }),
            }
        }
    }
    if looks.is_empty() && faults.is_empty() {
        return Err(Refusal::of_field("time", "nothing was typed in: a blank means that nobody looked"));
    }
    if !faults.is_empty() {
        return Err(Refusal::of_fields(faults));
    }
    match app.file.change(|store| record_grid(store, &sent.request, &looks, now))? {
        Gridded::Repeated => Ok(Done { said: "Recorded before; nothing twice.".to_owned(), ..Done::default() }),
        Gridded::Recorded(_) => {
            app.is_changed();
            Ok(done(&looks))
        }
        Gridded::Refused(refused) => {
            let beside = |(at, fault): (usize, Fault)| FieldFault {
                field: fields.get(at).cloned().map(Into::into),
                what: fault.what,
                next: fault.next,
            };
            Err(Refusal::of_fields(refused.into_iter().map(beside).collect()))
        }
    }
}

/// A look as it was typed; what is wrong with it.
fn read(
    row: &SentRow,
    typed: &str,
    from: NaiveDate,
    place: usize,
    time: NaiveTime,
    zone: crate::civil::Zone,
    now: Time,
) -> Result<Check, String> {
    let typed = typed.trim();
    let sprouted = typed
        .parse()
        .map_err(|_| format!("'{}' is no count: a number, 0, or blank", typed.chars().take(40).collect::<String>()))?;
    let container = Name::new(&row.container).map_err(|fault| fault.to_string())?;
    let most = DAYS.into_iter().max().unwrap_or_default();
    let date =
        (place < most).then(|| from + Duration::days(place as i64)).ok_or_else(|| format!("a grid has {most} days at most"))?;
    let today = local_date(now, zone);
    if date > today {
        return Err(format!("{} has not come yet", day(date)));
    }
    let at =
        reckon(date.and_time(time), zone, &format!("{date} {}", time.format("%H:%M"))).map_err(|fault| fault.to_string())?.time;
    // Today's round is no later than now, whenever rounds are.
    let at = if date == today { at.min(now.with_nanosecond(0).unwrap_or(now)) } else { at };
    Ok(Check { sprouted, ..Check::none_new(container, at) })
}

fn done(looks: &[Check]) -> Done {
    let boxes: std::collections::BTreeSet<&Name> = looks.iter().map(|look| &look.container).collect();
    let sprouts: u32 = looks.iter().map(|look| look.sprouted).fold(0, u32::saturating_add);
    let several = |count: usize, one: &str, many: &str| format!("{count} {}", if count == 1 { one } else { many });
    let said = format!(
        "Recorded: {} at {}, {} new.",
        several(looks.len(), "look", "looks"),
        several(boxes.len(), "box", "boxes"),
        several(sprouts as usize, "sprout", "sprouts")
    );
    let back = |look: &Check| (look.container.to_string(), look.time.timestamp_micros().to_string());
    Done { said, go: None, looks: looks.iter().map(back).collect(), command: None }
}

#[cfg(test)]
mod tests;
