//! A walk along a spot: only boxes with something are touched, then the rest is seen at one stroke.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, Path, State};

use super::app::App;
use super::frame::{Frame, Place};
use super::guard::Visitor;
use super::handled::{Refusal, Shown, shown};
use super::shelf::{Board, boards};
use crate::bench::Name;
use crate::changes::standing;

#[derive(Template)]
#[template(path = "rounds.html", config = "src/page/askama.toml")]
struct Spots {
    frame: Frame,
    /// Each spot with its boxes that were not looked at in this round, and all of them.
    spots: Vec<(Name, usize, usize)>,
}

#[derive(Template)]
#[template(path = "round.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    spot: Name,
    boxes: Vec<Counted>,
    /// The spot to walk along next.
    next: Option<Name>,
}

/// A box to be counted in.
struct Counted {
    name: Name,
    species: Name,
    stand: String,
    sprouted: u32,
    open: bool,
    /// It was looked at in this round.
    seen: bool,
}

pub(super) async fn spots(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let now = app.now();
        let spots = bench.spots.keys().map(|spot| {
            let (rest, seen) = standing(&bench, spot, now);
            (spot.clone(), rest.len(), rest.len() + seen.len())
        });
        shown(&Spots {
            frame: Frame::new("A round", Place::Round, visitor, known),
            spots: spots.filter(|(_, _, all)| *all > 0).collect(),
        })
    })
    .await
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Path(spot): Path<String>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let now = app.now();
        let worked = app.worked();
        let boards: Vec<Board> = boards(&bench.as_of(now), worked.as_ref().map(|worked| &worked.picture), now);
        let here = boards.iter().position(|board| board.spot.as_str() == spot);
        let Some(at) = here else { return Err(Refusal::not_here(format!("no box stands at '{spot}'"))) };
        let board = &boards[at];
        let (rest, _) = standing(&bench, &board.spot, now);
        let counted = |drawn: &super::shelf::Drawn| Counted {
            sprouted: bench.trials.get(&drawn.name).map_or(0, |trial| trial.sprouted()),
            seen: !rest.contains(&&drawn.name),
            name: drawn.name.clone(),
            species: drawn.species.clone(),
            stand: drawn.stand.clone(),
            open: drawn.open,
        };
        shown(&Page {
            frame: Frame::new(format!("A round: {spot}"), Place::Round, visitor, known),
            spot: board.spot.clone(),
            boxes: board.boxes.iter().map(counted).collect(),
            next: boards.get(at + 1).map(|board| board.spot.clone()),
        })
    })
    .await
}
