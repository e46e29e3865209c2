//! What is printed: labels for lids and boxes, and the sheet to tick on beside them.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::http::HeaderMap;
use chrono::NaiveDate;
use serde::Deserialize;

use super::address::{is_only_here, printed_address};
use super::app::App;
use super::frame::{Frame, Place};
use super::guard::{Ends, Visitor};
use super::handled::{Refusal, Shown, shown};
use crate::bench::Trial;
use crate::charts::Paper;
use crate::civil::local_date;
use crate::report::{DAYS, Tally, by_spot, labels, labels_part, page_address, tally_part};

/// How something is to be printed.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(super) struct Wanted {
    url: String,
    paper: String,
    spot: String,
    batch: String,
    from: String,
    days: String,
}

impl Wanted {
    fn paper(&self) -> Paper {
        Paper::from_word(&self.paper).unwrap_or_default()
    }

    /// The address, and what is wrong with it.
    fn address(&self, app: &App, headers: &HeaderMap, ends: Ends) -> (String, Option<String>) {
        if self.url.trim().is_empty() {
            return (printed_address(app, headers, ends), None);
        }
        match page_address(&self.url) {
            Ok(address) => (address, None),
            Err(fault) => (self.url.clone(), Some(fault)),
        }
    }
}

#[derive(Template)]
#[template(path = "labels.html", config = "src/page/askama.toml")]
struct Labels {
    frame: Frame,
    address: String,
    fault: Option<String>,
    only_here: bool,
    letter: bool,
    spots: Vec<(String, bool)>,
    batches: Vec<(String, bool)>,
    count: usize,
    /// Names that are too long for a code.
    without: Vec<String>,
    part: String,
}

pub(super) async fn labels_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Extension(ends): Extension<Ends>,
    headers: HeaderMap,
    Query(wanted): Query<Wanted>,
) -> Shown {
    app.aside(move |app| {
        let now = app.now();
        let bench = app.file.ask(|store| store.bench())?.as_of(now);
        let (address, fault) = wanted.address(app, &headers, ends);
        let present: Vec<&Trial> =
            bench.trials.values().filter(|trial| trial.container.owner.is_none() && trial.ended_at(now).is_none()).collect();
        let meant = |trial: &&Trial| {
            (wanted.spot.is_empty() || trial.spot_at(now).as_str() == wanted.spot)
                && (wanted.batch.is_empty() || trial.container.batch.as_str() == wanted.batch)
        };
        let boxes: Vec<&Trial> = present.iter().copied().filter(meant).collect();
        let made = if fault.is_none() { labels(&boxes, &address, bench.zone) } else { Vec::new() };
        let choices = |name: fn(&Trial, crate::civil::Time) -> &crate::bench::Name, chosen: &str| {
            let names: std::collections::BTreeSet<&str> = present.iter().map(|trial| name(trial, now).as_str()).collect();
            names.into_iter().map(|name| (name.to_owned(), name == chosen)).collect()
        };
        shown(&Labels {
            frame: Frame::new("Labels", Place::Paper, visitor, app.told()),
            only_here: is_only_here(&address),
            address,
            fault,
            letter: wanted.paper() == Paper::Letter,
            spots: choices(|trial, now| trial.spot_at(now), &wanted.spot),
            batches: choices(|trial, _| &trial.container.batch, &wanted.batch),
            count: made.len(),
            without: made.iter().filter(|label| !label.has_code()).map(|label| label.name.clone()).collect(),
            part: labels_part(&made, wanted.paper()).map_err(|error| Refusal::broken(error.to_string()))?,
        })
    })
    .await
}

#[derive(Template)]
#[template(path = "sheet.html", config = "src/page/askama.toml")]
struct Sheet {
    frame: Frame,
    address: String,
    fault: Option<String>,
    only_here: bool,
    letter: bool,
    from: String,
    from_fault: Option<String>,
    days: Vec<(usize, bool)>,
    boxes: usize,
    part: String,
}

/// A first day as it was typed; none where nothing was.
pub(super) fn first_day(text: &str) -> Result<Option<NaiveDate>, String> {
    if text.trim().is_empty() {
        return Ok(None);
    }
    let day =
        NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").ok().filter(|day| (1970..=2200).contains(&chrono::Datelike::year(day)));
    day.map(Some).ok_or_else(|| format!("'{}' is no day: write it as 2026-03-14", text.chars().take(40).collect::<String>()))
}

/// How many days, as it was chosen; the usual number where it was not.
pub(super) fn chosen_days(text: &str) -> usize {
    text.parse().ok().filter(|days| DAYS.contains(days)).unwrap_or(DAYS[0])
}

pub(super) async fn sheet_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Extension(ends): Extension<Ends>,
    headers: HeaderMap,
    Query(wanted): Query<Wanted>,
) -> Shown {
    app.aside(move |app| {
        let now = app.now();
        let bench = app.file.ask(|store| store.bench())?.as_of(now);
        let (address, fault) = wanted.address(app, &headers, ends);
        let today = local_date(now, bench.zone);
        let (from, from_fault) = match first_day(&wanted.from) {
            Ok(from) => (from.unwrap_or(today), None),
            Err(fault) => (today, Some(fault)),
        };
        let days = chosen_days(&wanted.days);
        let spots = by_spot(&bench, from, days, now);
        let boxes = spots.iter().map(|(_, here)| here.len()).sum();
        let tally = Tally { from, days, paper: wanted.paper(), address: address.clone() };
        let part = match (&fault, &from_fault) {
            (None, None) => tally_part(&bench, &spots, &tally).map_err(|error| Refusal::broken(error.to_string()))?,
            _ => String::new(),
        };
        shown(&Sheet {
            frame: Frame::new("Tally sheet", Place::Paper, visitor, app.told()),
            only_here: is_only_here(&address),
            address,
            fault,
            letter: wanted.paper() == Paper::Letter,
            from: if from_fault.is_some() { wanted.from } else { from.to_string() },
            from_fault,
            days: DAYS.map(|choice| (choice, choice == days)).to_vec(),
            boxes,
            part,
        })
    })
    .await
}
