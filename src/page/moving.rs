//! Boxes carried to another spot, many at once, or to be carried on a day to come.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, State};
use serde::Deserialize;

use super::app::App;
use super::form::{Field, Form, Part};
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::reading::{Fields, Reading, refused};
use super::shelf::standing_at;
use crate::bench::rules::About;
use crate::bench::{Bench, Name};
use crate::changes::{self, Moving, Wish};
use crate::civil::{Time, local_time};
use crate::wording::{carried_words, listed};

/// What is to be moved.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    #[serde(default, rename = "box")]
    container: Option<String>,
    #[serde(default)]
    to: Option<String>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(asked): Query<Asked>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?;
        let mut parts = Vec::new();
        for spot in bench.spots.keys() {
            let mut here: Vec<_> = standing_at(&bench, spot, now).map(|trial| &trial.container).collect();
            here.sort_by_key(|container| changes::in_order(&container.name));
            let tick = |name: &Name| asked.container.as_deref() == Some(name.as_str());
            let ticks =
                here.into_iter().map(|one| (one.name.clone(), one.species.to_string(), tick(&one.name))).collect::<Vec<_>>();
            if !ticks.is_empty() {
                parts.push(Part { title: spot.to_string(), ticks, ..Part::default() });
            }
        }
        let told = if parts.is_empty() { vec!["No box stands on this bench.".to_owned()] } else { Vec::new() };
        let mut spots = vec![(String::new(), "choose a spot".to_owned())];
        spots.extend(bench.spots.keys().map(|spot| (spot.to_string(), format!("{spot}: {}", room_words(&bench, spot, now)))));
        let how = vec![
            ("no".to_owned(), "carried there already".to_owned()),
            ("yes".to_owned(), "only planned: forecasts follow it".to_owned()),
        ];
        parts.push(Part::plain(vec![
            Field::choice("to", "To which spot", asked.to.unwrap_or_default(), spots),
            Field::line("new_spot", "Or to a new spot", "").with_hint("Only where it is not in the list yet."),
            Field::choice("planned", "It is", "no", how),
            Field::time("at", "When", String::new(), bench.zone, "Empty: now."),
        ]));
        let (frame, title) = (Frame::new("Move", Place::Move, visitor, known), "Move boxes".to_owned());
        let button = "Record this move".to_owned();
        shown(&Form { frame, title, told, links: Vec::new(), action: "/do/move", hidden: Vec::new(), parts, button, back: None })
    })
    .await
}

/// "4 boxes, room for 6".
pub(super) fn room_words(bench: &Bench, spot: &Name, now: Time) -> String {
    let count = standing_at(bench, spot, now).count();
    let boxes = if count == 1 { "1 box".to_owned() } else { format!("{count} boxes") };
    let room = bench.spots.get(spot).and_then(|spot| spot.setting_at(now).capacity);
    room.map_or_else(|| boxes.clone(), |room| format!("{boxes}, room for {room}"))
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| recorded(app, &fields)).await)
}

fn recorded(app: &App, fields: &Fields) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let mut reading = Reading::new(fields, &bench, now);
    let boxes = reading.ticked();
    let (there, new) = (reading.name("to"), reading.name("new_spot"));
    let planned = reading.choice("planned", |word| ["no", "yes"].into_iter().position(|known| known == word)) == Some(1);
    if planned && reading.said("at").is_empty() {
        reading.fault("at", "say for when it is planned");
    }
    let at = reading.time_or_now("at");
    if !planned && at > now {
        reading
            .fault("at", format!("{} is still to come: choose \"only planned\", or an earlier time", local_time(at, reading.zone)));
    }
    if boxes.is_empty() {
        reading.fault("all", "no box is ticked");
    }
    match (&there, &new) {
        (None, None) if reading.said("new_spot").is_empty() => reading.fault("to", "say to which spot"),
        (Some(_), Some(_)) => reading.fault("new_spot", "either a spot of the list or a new one"),
        (None, Some(new)) if bench.spots.contains_key(new) => reading.fault("new_spot", format!("'{new}' is in the list")),
        _ => {}
    }
    let note = reading.finish()?;
    let may_be_new = new.is_some();
    let Some(spot) = new.or(there) else { return Err(Refusal::of_field("to", "say to which spot")) };
    let moving = Moving { boxes, spot, may_be_new, at, planned };
    let made =
        app.file.change(|store| changes::make(store, now, |bench| Ok(vec![Wish::to_record(moving.entries(bench.zone, now)?)])));
    let made = made.map_err(|error| refused(error, beside))?;
    app.is_changed();
    let Moving { boxes, spot, .. } = &moving;
    let mut said = if planned {
        format!("{}: to be moved to '{spot}' on {}", listed(boxes), local_time(at, bench.zone))
    } else {
        carried_words(boxes, spot, at, &made.after, now)
    };
    let room = made.after.spots.get(spot).and_then(|spot| spot.setting_at(now).capacity);
    if !planned && room.is_some_and(|room| standing_at(&made.after, spot, now).count() > room as usize) {
        said += &format!("; more than it has room for: {}", room_words(&made.after, spot, now));
    }
    if may_be_new {
        said += &format!("; '{spot}' is a new spot");
    }
    Ok(Done::made(&made, &(said + &note)).and_go("/"))
}

fn beside(about: About) -> Option<&'static str> {
    match about {
        About::Time => Some("at"),
        About::Spot => Some("to"),
        _ => None,
    }
}
