//! Boxes closed and opened again, and commands taken back.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, State};

use super::app::App;
use super::frame::encoded;
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal};
use super::reading::{Fields, Reading, refused};
use crate::bench::{Bench, Name};
use crate::changes::{self, NotEnded, Undoable, Wish, closing, reopening};
use crate::civil::Time;
use crate::wording::{closed_words, reopened_words};

pub(super) async fn close(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(
        app.aside(move |app| {
            let bench = app.file.ask(|store| store.bench())?;
            let mut reading = Reading::new(&fields, &bench, app.now());
            let at = reading.time_or_now("at");
            reading.finish()?;
            ended(app, &fields, |bench, names| closing(bench, names, at), |names, after, _| closed_words(names, at, after))
        })
        .await,
    )
}

pub(super) async fn reopen(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(
        app.aside(move |app| {
            let now = app.now();
            ended(app, &fields, |bench, names| reopening(bench, names, now), reopened_words)
        })
        .await,
    )
}

fn ended(
    app: &App,
    fields: &Fields,
    wish: impl FnOnce(&Bench, &[Name]) -> Result<Wish, NotEnded>,
    words: impl FnOnce(&[Name], &Bench, Time) -> String,
) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let mut reading = Reading::new(fields, &bench, now);
    let name = reading.needed_name("of", "say which box");
    reading.finish()?;
    let names: Vec<Name> = name.into_iter().collect();
    let made = app
        .file
        .change(|store| changes::make(store, now, |bench| Ok(vec![wish(bench, &names).map_err(|why| vec![why.fault(bench)])?])));
    let made = made.map_err(|error| refused(error, |_| None))?;
    app.is_changed();
    let go = names.first().map(|name| format!("/box/{}", encoded(name.as_str()))).unwrap_or_default();
    Ok(Done::made(&made, &words(&names, &made.after, now)).and_go(go))
}

pub(super) async fn undo(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Json(fields): Json<Fields>,
) -> Change {
    Change(
        app.aside(move |app| {
            let now = app.now();
            let number = fields.get("command").and_then(|number| number.parse().ok());
            let number = number.ok_or_else(|| Refusal::of_field("command", "this is nothing that can be taken back"))?;
            let which = if visitor.may_all() { Undoable::Any } else { Undoable::OfLooks };
            let undone = app.file.change(|store| changes::undo_command(store, number, which, now));
            let undone = undone.map_err(|error| refused(error, |_| None))?;
            app.is_changed();
            Ok(Done::made(&undone.made, &undone.words(undone.made.after.zone, now)))
        })
        .await,
    )
}
