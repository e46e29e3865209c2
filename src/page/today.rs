//! What a grower wants to know in the morning, in five seconds: whether anything needs doing, and where.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, State};

use super::app::App;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Shown, shown};
use super::shelf::{Board, Mark, boards};
use crate::answers::Picture;
use crate::bench::{Bench, Name};
use crate::changes::ChangeError;
use crate::wording::{box_words, diagnosis_lines, look_words, moment, todo_next, todo_words};

/// So many boxes are named in the day's sentence; more are counted.
const NAMED: usize = 6;

#[derive(Template)]
#[template(path = "today.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    /// The day in one sentence.
    headline: String,
    /// Boxes worth opening.
    open: Vec<Name>,
    waiting: Vec<Waits>,
    /// What needs doing, and how.
    todo: Vec<(String, String)>,
    boards: Vec<Board>,
    coming: Vec<String>,
    slow: Vec<String>,
    /// As of when dates and delays were worked out.
    as_of: String,
    /// Why they could not be.
    trouble: Option<String>,
}

/// A look that waits for a word.
struct Waits {
    id: i64,
    name: Name,
    said: String,
    why: String,
    /// How many seeds there would have to have been.
    seeds: u32,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| told(app, visitor)).await
}

fn told(app: &App, visitor: Visitor) -> Shown {
    let known = app.told();
    let (bench, status, waiting) = app
        .file
        .ask(|store| -> Result<_, ChangeError> { Ok((store.bench()?, app.here.status(store)?, store.waiting_looks()?)) })?;
    let now = app.now();
    let bench = bench.as_of(now);
    let zone = bench.zone;
    let worked = app.worked();
    let picture = worked.as_ref().map(|worked| &worked.picture);
    let boards = boards(&bench, picture, now);
    let open: Vec<Name> =
        boards.iter().flat_map(|board| &board.boxes).filter(|drawn| drawn.open).map(|drawn| drawn.name.clone()).collect();
    let todo: Vec<(String, String)> =
        status.todo.iter().map(|todo| (todo_words(todo, &status, zone), todo_next(todo, &status, zone))).collect();
    let waiting: Vec<Waits> = waiting
        .into_iter()
        .map(|waiting| {
            let look = &waiting.look;
            let there = bench.trials.get(&look.container).map_or(0, |trial| trial.sprouted() + trial.gone());
            Waits {
                id: waiting.id,
                said: format!("{}: {}", moment(look.time, zone), look_words(look)),
                name: look.container.clone(),
                why: waiting.why,
                seeds: there + look.sprouted + look.removed + look.lost,
            }
        })
        .collect();
    let boxes = boards.iter().map(|board| board.boxes.len()).sum();
    shown(&Page {
        frame: Frame::new("Today", Place::Today, visitor, known),
        headline: headline(boxes, &open, &slow(&boards), picture.is_some(), todo.len() + waiting.len()),
        open,
        waiting,
        todo,
        boards,
        coming: picture.map(|picture| coming(picture, &bench)).unwrap_or_default(),
        slow: picture.map(|picture| diagnosis_lines(&picture.diagnosis, bench.units.unwrap_or_default())).unwrap_or_default(),
        as_of: picture.map(|picture| moment(picture.as_of, zone)).unwrap_or_default(),
        trouble: app.trouble(),
    })
}

/// Boxes whose spot slows them, or in which something is to be looked for.
fn slow(boards: &[Board]) -> Vec<&Name> {
    let slow = boards
        .iter()
        .flat_map(|board| &board.boxes)
        .filter(|drawn| matches!(drawn.mark, Some(Mark::TooCold | Mark::TooHot | Mark::Inside)));
    slow.map(|drawn| &drawn.name).collect()
}

/// "34 boxes, 5 worth opening; 2 slower than they need be: B3, B4. 2 things need doing."
fn headline(boxes: usize, open: &[Name], slow: &[&Name], worked: bool, to_do: usize) -> String {
    if boxes == 0 {
        return "No box stands on this bench.".to_owned();
    }
    let several = |count: usize, one: &str, many: &str| if count == 1 { format!("1 {one}") } else { format!("{count} {many}") };
    let opened = match open.len() {
        _ if !worked => String::new(),
        0 => ", none worth opening yet".to_owned(),
        count => format!(", {count} worth opening"),
    };
    let needed = match to_do {
        0 => "Nothing else needs doing.".to_owned(),
        count => format!("{} below.", several(count, "thing needs doing", "things need doing")),
    };
    let slowed = match slow {
        [] => String::new(),
        slow if slow.len() > NAMED => format!("; {} slower than they need be", slow.len()),
        slow => {
            let names: Vec<&str> = slow.iter().map(|name| name.as_str()).collect();
            format!("; slower than need be: {}", names.join(", "))
        }
    };
    format!("{}{opened}{slowed}. {needed}", several(boxes, "box", "boxes"))
}

/// Each present box's dates.
fn coming(picture: &Picture, bench: &Bench) -> Vec<String> {
    let present = picture.forecast.boxes.iter().filter(|one| !one.ended);
    present.map(|one| box_words(one, picture.as_of, bench.zone)).collect()
}
