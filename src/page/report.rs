//! A report to show to others.

use std::collections::BTreeSet;
use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, Query, State};
use axum::http::StatusCode;
use axum::http::header::{CONTENT_DISPOSITION, CONTENT_TYPE};
use axum::response::{IntoResponse as _, Response};

use super::app::App;
use super::asked::{Asked, Field, Kind};
use super::asking::asking;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Refusal, Shown, shown};
use crate::bench::{Bench, Container, Name};
use crate::report::{Private, Reported, report_of};

#[derive(Template)]
#[template(path = "report_asked.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    fields: Vec<Field>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let fields = fields(&Asked::default(), &bench);
        shown(&Page { frame: Frame::new("A report to show", Place::Elsewhere, visitor, known), fields })
    })
    .await
}

fn fields(asked: &Asked, bench: &Bench) -> Vec<Field> {
    let own = || bench.trials.values().map(|trial| &trial.container).filter(|container| container.owner.is_none());
    let names = |of: fn(&Container) -> &Name| own().map(of).collect::<BTreeSet<&Name>>();
    vec![
        asked.field("species", "Plant", Kind::names("all", names(|container| &container.species))),
        asked.field("batch", "Batch", Kind::names("what stands there, and what is compared", names(|container| &container.batch))),
        asked.field("places", "With where lots were collected or bought, and when", Kind::Tick),
        asked.field("notes", "With the notes and conditions written down at looks", Kind::Tick),
    ]
}

pub(super) async fn file(State(app): State<Arc<App>>, Query(pairs): Query<Vec<(String, String)>>) -> Result<Response, Refusal> {
    app.aside(move |app| {
        let mut asked = Asked::of(pairs);
        let private = Private { places: asked.ticked("places"), notes: asked.ticked("notes") };
        let wish = Reported { batch: asked.name("batch"), species: asked.name("species"), private };
        let refused = |what: &str| Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, what);
        if !asked.is_sound() {
            return Err(refused("the plant or the batch is no name"));
        }
        let html = asking(app, |known, shelf| report_of(known, &wish, shelf))?;
        let html =
            html.map_err(|error| Refusal::broken(error.to_string()))?.ok_or_else(|| refused("there is no box to report on"))?;
        let headers = [(CONTENT_TYPE, "text/html; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"report.html\"")];
        Ok((headers, html).into_response())
    })
    .await
}
