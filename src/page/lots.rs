//! Lots: what is known of seeds that were collected or bought together.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, State};
use serde::Deserialize;

use super::app::App;
use super::form::{Field, Form, Group, List, Part, Row};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::reading::{Fields, Reading, refused, shown_degrees, shown_number};
use crate::bench::rules::{About, Entry};
use crate::bench::{Bench, Lot, Name};
use crate::changes::{self, Wish};
use crate::wording::{changed_words, entry_says};

pub(super) async fn list(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let href = |lot: &Name| format!("/lot?name={}", encoded(lot.as_str()));
        let mut rows: Vec<Row> = bench
            .lots
            .values()
            .map(|lot| Row::new(href(&lot.name), &lot.name, entry_says(&Entry::Lot(lot.clone()), bench.zone)))
            .collect();
        let named: std::collections::BTreeSet<&Name> =
            bench.trials.values().filter_map(|trial| trial.container.lot.as_ref()).collect();
        let unsaid = named.into_iter().filter(|lot| !bench.lots.contains_key(*lot));
        rows.extend(unsaid.map(|lot| Row::new(href(lot), lot, "nothing is said of it yet")));
        let new = Group { title: String::new(), rows: vec![Row::new("/lot", "A new lot", "")] };
        let told = vec!["What a packet says is what forecasts begin from, until your own sprouts tell more.".to_owned()];
        let frame = Frame::new("Lots", Place::More, visitor, known);
        shown(&List { frame, title: "Lots".to_owned(), told, groups: vec![Group { rows, ..Group::default() }, new], last: None })
    })
    .await
}

/// Which lot or spot is meant; none: a new one.
#[derive(Debug, Deserialize)]
pub(super) struct Named {
    #[serde(default)]
    pub(super) name: Option<String>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(named): Query<Named>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let name = named.name.as_deref().and_then(|name| Name::on_record(name).ok());
        let lot = name.as_ref().and_then(|name| bench.lots.get(name));
        let title = name.as_ref().map_or_else(|| "A new lot".to_owned(), |name| format!("Lot: {name}"));
        let mut fields = Vec::new();
        let mut hidden = Vec::new();
        match &name {
            Some(name) => hidden.push(("known", name.to_string())),
            None => fields.push(Field::line("name", "Name of the lot", "").needed()),
        }
        fields.extend(fields_of(&bench, name.as_ref(), lot));
        shown(&Form {
            frame: Frame::new(title.clone(), Place::More, visitor, known),
            title,
            told: Vec::new(),
            links: vec![("/lots".to_owned(), "All lots".to_owned())],
            action: "/do/lot",
            hidden,
            parts: vec![Part::plain(fields)],
            button: "Record this lot".to_owned(),
            back: None,
        })
    })
    .await
}

fn fields_of(bench: &Bench, name: Option<&Name>, lot: Option<&Lot>) -> Vec<Field> {
    let degrees = bench.units.unwrap_or_default();
    let sown = name.and_then(|name| bench.trials.values().find(|trial| trial.container.lot.as_ref() == Some(name)));
    let species = lot.map(|lot| &lot.species).or_else(|| sown.map(|trial| &trial.container.species));
    let all: std::collections::BTreeSet<&Name> = bench.trials.values().map(|trial| &trial.container.species).collect();
    let words = |of: fn(&Lot) -> Option<&String>| lot.and_then(of).cloned().unwrap_or_default();
    let number = |of: fn(&Lot) -> Option<f64>| shown_number(lot.and_then(of));
    vec![
        Field::line("species", "Plant", species.map(ToString::to_string).unwrap_or_default()).offering(all).needed(),
        Field::line("source", "Where they come from", words(|lot| lot.source.as_ref())),
        Field::line("collected", "When they were collected, or packed", words(|lot| lot.collected.as_ref())),
        Field::decimal("packet_days_low", "The packet: up after so many days at least", number(|lot| lot.packet_days_low)),
        Field::decimal("packet_days_high", "The packet: up after so many days at most", number(|lot| lot.packet_days_high)),
        Field::degrees(
            "packet_c",
            "The packet: at this temperature",
            shown_degrees(lot.and_then(|lot| lot.packet_c), degrees),
            degrees,
        ),
        Field::decimal("packet_percent", "The packet: so many in a hundred come up", number(|lot| lot.packet_percent)),
        Field::decimal("chill_days", "Days of moist cold they are said to want", number(|lot| lot.chill_days)),
        Field::line("light", "What is said about light", words(|lot| lot.light.as_ref())),
        Field::area("note", "Note", words(|lot| lot.note.as_ref())),
    ]
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| recorded(app, &fields)).await)
}

fn recorded(app: &App, fields: &Fields) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let mut reading = Reading::new(fields, &bench, now);
    let known = Name::on_record(reading.said("known")).ok();
    let name = match &known {
        Some(known) => Some(known.clone()),
        None => reading.needed_name("name", "say what it is called"),
    };
    if known.is_none() && name.as_ref().is_some_and(|name| bench.lots.contains_key(name)) {
        reading.fault("name", "there is a lot of this name already: open it under Lots");
    }
    let was = name.as_ref().and_then(|name| bench.lots.get(name)).cloned();
    let species = reading.needed_name("species", "say which plant it is");
    let lot = name.clone().zip(species).map(read(&mut reading, was.as_ref()));
    let note = reading.finish()?;
    let (Some(name), Some(lot)) = (name, lot) else { return Err(Refusal::of_field("name", "say what it is called")) };
    let is = Entry::Lot(lot);
    let made = app.file.change(|store| changes::make(store, now, |_| Ok(vec![Wish::to_correct(vec![is.clone()])])));
    let made = made.map_err(|error| refused(error, beside))?;
    app.is_changed();
    let changed = was.map(|was| changed_words(&Entry::Lot(was), &is, bench.zone)).filter(|changed| !changed.is_empty());
    let what = changed.unwrap_or_else(|| entry_says(&is, bench.zone));
    Ok(Done::made(&made, &format!("lot {name}: {what}{note}")).and_go("/lots"))
}

/// What the form says of a lot but its name and its plant.
fn read(reading: &mut Reading<'_>, was: Option<&Lot>) -> impl FnOnce((Name, Name)) -> Lot + use<> {
    let [source, collected, light, note] = ["source", "collected", "light", "note"].map(|field| reading.words(field));
    let [packet_days_low, packet_days_high, packet_percent, chill_days] =
        ["packet_days_low", "packet_days_high", "packet_percent", "chill_days"].map(|field| reading.number(field));
    let packet_c = reading.celsius("packet_c", was.and_then(|was| was.packet_c));
    move |(name, species)| Lot {
        source,
        collected,
        packet_days_low,
        packet_days_high,
        packet_c,
        packet_percent,
        chill_days,
        light,
        note,
        ..Lot::new(name, species)
    }
}

fn beside(about: About) -> Option<&'static str> {
    match about {
        About::Name => Some("name"),
        About::Species | About::Lot => Some("species"),
        About::PacketDays => Some("packet_days_low"),
        About::PacketTemperature => Some("packet_c"),
        About::PacketPercent => Some("packet_percent"),
        About::ChillDays => Some("chill_days"),
        _ => None,
    }
}
