//! Boxes sown: several alike, again like another, or out of a chilling bag.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, State};
use serde::Deserialize;

use super::app::App;
use super::boxes::find;
use super::form::{Field, Form, Part};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::reading::{Fields, Reading, refused, shown_number, shown_time};
use crate::bench::rules::{About, Entry};
use crate::bench::{Bench, Container, Event, Name, Trial};
use crate::changes::{self, Sowing, Wish, next_name, usual_batch};
use crate::civil::Time;
use crate::wording::{seeds_words, sown_words};

/// So many past sowings are offered to be done again.
const OFFERED: usize = 4;

/// What a sowing is to begin from.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    like: Option<String>,
    #[serde(default)]
    from: Option<String>,
    #[serde(default)]
    spot: Option<String>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(asked): Query<Asked>) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let bench = app.file.ask(|store| store.bench())?;
        let like = asked.like.as_deref().map(|name| find(&bench, name)).transpose()?.map(|trial| &trial.container);
        let from = asked.from.as_deref().map(|name| find(&bench, name)).transpose()?.map(|trial| &trial.container);
        let pattern = like.or(from).cloned();
        let filled = pattern.map(|pattern| Container {
            from: from.map(|from| from.name.clone()),
            lid: None,
            // Of a bag it is not known how many are taken, nor where they go.
            seeds: pattern.seeds.filter(|_| like.is_some()),
            seeds_low: pattern.seeds_low.filter(|_| like.is_some()),
            seeds_high: pattern.seeds_high.filter(|_| like.is_some()),
            ..pattern
        });
        let spot = asked.spot.or_else(|| like.map(|like| like.spot.to_string())).unwrap_or_default();
        let named = next_name(&bench, like.map(|like| &like.name));
        let name =
            Field::line("names", "Name of the box, or of several alike", named.map(|name| name.to_string()).unwrap_or_default());
        let when = Field::time("sown", "When wetted, or taken out of the bag", String::new(), bench.zone, "Empty: now.");
        let month = usual_batch(app.now(), bench.zone).map(|batch| format!("Empty: the month, {batch}.")).unwrap_or_default();
        let mut parts = vec![Part::plain(vec![name.with_hint("A1..A6 are six boxes; A1, A4 are two.").needed()])];
        parts.extend(parts_of(&bench, filled.as_ref(), &spot, when, &month));
        let button = "Record this sowing".to_owned();
        let frame = Frame::new("Sow", Place::Sow, visitor, known);
        let told = like.map(|like| format!("Filled in as {} was: change what differs.", like.name)).into_iter().collect();
        let links =
            if like.is_some() { vec![("/sow".to_owned(), "Begin with an empty form".to_owned())] } else { again_links(&bench) };
        let title = "Sow".to_owned();
        shown(&Form { frame, title, told, links, action: "/do/sow", hidden: Vec::new(), parts, button, back: None })
    })
    .await
}

/// "Again like B3": the last sowings, each kind of seed at each place once.
fn again_links(bench: &Bench) -> Vec<(String, String)> {
    let mut own: Vec<&Container> = own(bench).map(|trial| &trial.container).collect();
    own.sort_by_key(|container| std::cmp::Reverse((container.sown, changes::in_order(&container.name))));
    let mut kinds: Vec<&Container> = Vec::new();
    let alike =
        |a: &Container, b: &Container| (&a.species, &a.lot, &a.treatment, &a.spot) == (&b.species, &b.lot, &b.treatment, &b.spot);
    for container in own {
        if kinds.len() < OFFERED && !kinds.iter().any(|other| alike(other, container)) {
            kinds.push(container);
        }
    }
    let words = |one: &&Container| {
        let lot = one.lot.as_ref().map(|lot| format!(", {lot}")).unwrap_or_default();
        let treatment = one.treatment.as_ref().map(|treatment| format!(", {treatment}")).unwrap_or_default();
        (
            format!("/sow?like={}", encoded(one.name.as_str())),
            format!("Again like {}: {} of {}{lot}{treatment}, at {}", one.name, seeds_words(one), one.species, one.spot),
        )
    };
    kinds.iter().map(words).collect()
}

fn own(bench: &Bench) -> impl Iterator<Item = &Trial> {
    bench.trials.values().filter(|trial| trial.container.owner.is_none())
}

/// The fields of what a box is, filled in like one. `month`: what an empty batch means; nothing where the batch is on record.
pub(super) fn parts_of(bench: &Bench, like: Option<&Container>, spot: &str, when: Field, month: &str) -> Vec<Part> {
    let name = |name: Option<&Name>| name.map(ToString::to_string).unwrap_or_default();
    let all = |of: fn(&Container) -> Option<&Name>| bench.trials.values().filter_map(move |trial| of(&trial.container));
    let sorted = |names: std::collections::BTreeSet<&Name>| names.into_iter().cloned().collect::<Vec<Name>>();
    let species = sorted(all(|one| Some(&one.species)).chain(bench.lots.values().map(|lot| &lot.species)).collect());
    let lots = sorted(all(|one| one.lot.as_ref()).chain(bench.lots.keys()).collect());
    let treatments = sorted(all(|one| one.treatment.as_ref()).collect());
    let batches = sorted(all(|one| Some(&one.batch)).collect());
    let lids = sorted(all(|one| one.lid.as_ref()).collect());
    let boxes: Vec<Name> =
        own(bench).filter(|trial| trial.container.ended.is_none()).map(|trial| trial.container.name.clone()).collect();
    let event = like.map(|one| one.event).unwrap_or_default();
    let events = vec![
        ("radicle".to_owned(), "the root tip shows (radicle)".to_owned()),
        ("emergence".to_owned(), "the seedling shows (emergence)".to_owned()),
    ];
    let batch = if month.is_empty() { name(like.map(|one| &one.batch)) } else { String::new() };
    let seeds = vec![
        Field::line("species", "Plant", name(like.map(|one| &one.species))).offering(&species).needed(),
        Field::count("seeds", "Seeds in each box", like.and_then(|one| one.seeds)).with_hint("Empty: not counted."),
        Field::line("spot", "Spot", spot).offering(bench.spots.keys()).with_hint("A spot that is not known yet is made.").needed(),
        Field::line("lot", "Lot", name(like.and_then(|one| one.lot.as_ref())))
            .offering(&lots)
            .with_hint("Seeds collected or bought together."),
        Field::line("treatment", "Treatment", name(like.and_then(|one| one.treatment.as_ref())))
            .offering(&treatments)
            .with_hint("What they went through before, such as 30 d cold moist."),
        when,
    ];
    let pinch = vec![
        Field::count("seeds_low", "At least so many seeds", like.and_then(|one| one.seeds_low)),
        Field::count("seeds_high", "At most so many seeds", like.and_then(|one| one.seeds_high)),
    ];
    let more = vec![
        Field::choice("event", "What counts as sprouted", event.word(), events),
        Field::decimal("depth", "Depth, mm", shown_number(like.and_then(|one| one.depth_mm))).with_hint("0: on the surface."),
        Field::line("from", "Out of another box", name(like.and_then(|one| one.from.as_ref())))
            .offering(&boxes)
            .with_hint("A chilling bag, say: it loses these seeds, and they keep its days."),
        Field::line("batch", "Batch", batch).offering(&batches).with_hint(month),
        Field::line("lid", "Name on the lid", name(like.and_then(|one| one.lid.as_ref())))
            .offering(&lids)
            .with_hint("Where a lid has a name of its own that goes from sowing to sowing."),
    ];
    vec![Part::plain(seeds), Part::folded("Sown by the pinch", pinch), Part::folded("Depth, batch, lid, out of another box", more)]
}

/// What those fields say.
pub(super) fn said(reading: &mut Reading<'_>, names: Vec<Name>, sown: Time) -> Sowing {
    Sowing {
        names,
        species: reading.needed_name("species", "say which plant it is"),
        seeds: reading.count("seeds"),
        seeds_low: reading.count("seeds_low"),
        seeds_high: reading.count("seeds_high"),
        spot: reading.needed_name("spot", "say where it stands"),
        from: reading.name("from"),
        like: None,
        batch: reading.name("batch"),
        lot: reading.name("lot"),
        treatment: reading.name("treatment"),
        event: reading.choice("event", Event::from_word),
        depth_mm: reading.number("depth"),
        lid: reading.name("lid"),
        sown,
    }
}

/// Beside which field a fault of a box is shown.
pub(super) fn beside(about: About) -> Option<&'static str> {
    match about {
        About::Name => Some("names"),
        About::Species => Some("species"),
        About::Lot => Some("lot"),
        About::Seeds | About::Counts => Some("seeds"),
        About::Depth => Some("depth"),
        About::From => Some("from"),
        About::Lid => Some("lid"),
        About::Spot => Some("spot"),
        About::Time => Some("sown"),
        About::End => Some("ended"),
        _ => None,
    }
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| recorded(app, &fields)).await)
}

fn recorded(app: &App, fields: &Fields) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let mut reading = Reading::new(fields, &bench, now);
    let names = reading.names("names");
    let sown = reading.time_or_now("sown");
    let sowing = said(&mut reading, names, sown);
    let note = reading.finish()?;
    let made = app.file.change(|store| {
        changes::make(store, now, |bench| {
            let boxes = sowing.containers(bench, bench.zone)?;
            Ok(vec![Wish::to_record(boxes.into_iter().map(Entry::Container).collect())])
        })
    });
    let made = made.map_err(|error| refused(error, beside))?;
    app.is_changed();
    let boxes = sowing.containers(&made.before, made.before.zone).unwrap_or_default();
    let go = match &sowing.names[..] {
        [one] => format!("/box/{}", encoded(one.as_str())),
        _ => "/".to_owned(),
    };
    Ok(Done::made(&made, &(sown_words(&boxes, &made.after) + &note)).and_go(go))
}

/// When a box was sown, as a field of a box on record.
pub(super) fn sown_field(container: &Container, bench: &Bench) -> Field {
    Field::time("sown", "When wetted, or taken out of the bag", shown_time(Some(container.sown), bench.zone), bench.zone, "")
        .needed()
}
