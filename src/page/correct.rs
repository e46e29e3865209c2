//! Entries put right: the form shows what is on record, and what was there before is kept beside.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Path, State};

use super::app::App;
use super::boxes::find;
use super::form::{Field, Form, Part};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::probes::{siting_field, spot_field};
use super::reading::{Fields, Reading, refused, shown_time};
use super::{probes, sow};
use crate::bench::rules::{About, Counted, Entry, Fault, Key, Origin};
use crate::bench::{Bench, Check, Container, Name, Siting};
use crate::changes;
use crate::civil::{Time, time_from_micros};
use crate::wording::{calibrated_words, corrected_words, entry_name, entry_words};

/// What is always said above.
const KEPT: &str = "What was there before is kept beside it.";

/// What is on record under a key that is put right.
fn on_record(bench: &Bench, key: Option<Key>) -> Result<Entry, Refusal> {
    let entry = key.and_then(|key| bench.entry(&key));
    entry.ok_or_else(|| Refusal::not_here("this is not on record any more"))
}

fn time_of(micros: &str) -> Option<Time> {
    micros.parse().ok().and_then(time_from_micros)
}

fn key_of(name: &str, micros: &str, key: fn(Name, Time) -> Key) -> Option<Key> {
    Some(key(Name::on_record(name).ok()?, time_of(micros)?))
}

fn form(
    app: &App,
    visitor: Visitor,
    entry: &Entry,
    action: &'static str,
    hidden: [&str; 2],
    parts: Vec<Part>,
    bench: &Bench,
) -> Form {
    let title = format!("Put right: {}", entry_name(entry, bench.zone));
    Form {
        frame: Frame::new(title.clone(), Place::Elsewhere, visitor, app.told()),
        title,
        told: vec![KEPT.to_owned()],
        links: Vec::new(),
        action,
        hidden: vec![("of", hidden[0].to_owned()), ("id", hidden[1].to_owned())],
        parts,
        button: "Record it so".to_owned(),
        back: Some(("yes", "Take it off the record".to_owned())),
    }
}

/// Puts an entry right, or takes it back, as the form says.
fn settled(
    app: &App,
    fields: &Fields,
    key: Option<Key>,
    beside: impl Fn(About) -> Option<&'static str>,
    read: impl FnOnce(&mut Reading<'_>, &Entry) -> Entry,
) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let was = on_record(&bench, key).map_err(|refusal| refusal.in_json(true))?;
    if fields.contains_key("take_back") {
        app.file.change(|store| changes::take_back(store, now, |_| Ok(vec![was.key()])))?;
        app.is_changed();
        return Ok(Done { said: format!("Taken back: {}.", entry_words(&was, bench.zone)), ..Done::default() });
    }
    let mut reading = Reading::new(fields, &bench, now);
    let is = read(&mut reading, &was);
    let note = reading.finish()?;
    let corrected = app.file.change(|store| {
        // It may have been changed since the form was filled in, or be gone.
        let gone = || vec![Fault::new(&Origin::Typed, "this is not on record any more: nothing was recorded")];
        changes::correct(store, now, |bench| Ok((bench.entry(&was.key()).ok_or_else(gone)?, is.clone())))
    });
    let corrected = corrected.map_err(|error| refused(error, beside))?;
    app.is_changed();
    let said = corrected_words(&corrected.was, &corrected.is, &corrected.made.after);
    Ok(Done::made(&corrected.made, &(said + &note)))
}

fn to_box(done: Done, name: &str) -> Done {
    done.and_go(format!("/box/{}", encoded(name)))
}

pub(super) async fn look_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Path((name, id)): Path<(String, String)>,
) -> Shown {
    app.aside(move |app| {
        let bench = app.file.ask(|store| store.bench())?;
        let entry = on_record(&bench, key_of(&name, &id, Key::Check))?;
        let Entry::Check(look, _) = &entry else { return Err(Refusal::not_here("this is no look")) };
        let count = |field, label, count: u32| Field::count(field, label, Some(count));
        let fields = vec![
            count("sprouted", "New sprouts since the look before", look.sprouted),
            count("potted_on", "Potted on", look.potted_on),
            count("removed", "Removed, mouldy or rotten", look.removed),
            count("lost", "Lost or taken", look.lost),
            count("died", "Sprouts that died", look.died),
            Field::line("condition", "How it looked", look.condition.clone().unwrap_or_default())
                .with_hint("fine, dry, wet, mould …"),
            Field::area("note", "Note", look.note.clone().unwrap_or_default()),
            Field::time("time", "When", shown_time(Some(look.time), bench.zone), bench.zone, "").needed(),
        ];
        shown(&form(app, visitor, &entry, "/do/look", [&name, &id], vec![Part::plain(fields)], &bench))
    })
    .await
}

pub(super) async fn look(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(
        app.aside(move |app| {
            let said = |field: &str| fields.get(field).map(String::as_str).unwrap_or_default();
            let beside = |about| match about {
                About::Time | About::Name => Some("time"),
                About::Counts | About::Seeds => Some("sprouted"),
                _ => None,
            };
            let done = settled(app, &fields, key_of(said("of"), said("id"), Key::Check), beside, |reading, was| match was {
                Entry::Check(look, _) => Entry::Check(read_look(reading, look), Counted::SinceLast),
                other => other.clone(),
            });
            done.map(|done| to_box(done, said("of")))
        })
        .await,
    )
}

fn read_look(reading: &mut Reading<'_>, was: &Check) -> Check {
    let mut count = |field| reading.count(field).unwrap_or(0);
    let [sprouted, removed, lost, potted_on, died] = ["sprouted", "removed", "lost", "potted_on", "died"].map(&mut count);
    Check {
        container: was.container.clone(),
        time: reading.needed_time("time", was.time),
        sprouted,
        removed,
        lost,
        potted_on,
        died,
        condition: reading.words("condition"),
        note: reading.words("note"),
    }
}

pub(super) async fn box_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Path(name): Path<String>,
) -> Shown {
    app.aside(move |app| {
        let bench = app.file.ask(|store| store.bench())?;
        let container = &find(&bench, &name)?.container;
        let ended = shown_time(container.ended, bench.zone);
        let ended = Field::time("ended", "When it was closed", ended, bench.zone, "Empty: it is open.");
        let when = sow::sown_field(container, &bench);
        let mut parts = sow::parts_of(&bench, Some(container), container.spot.as_str(), when, "");
        parts.push(Part::plain(vec![ended]));
        let entry = Entry::Container(container.clone());
        shown(&form(app, visitor, &entry, "/do/box", [&name, ""], parts, &bench))
    })
    .await
}

pub(super) async fn of_box(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(
        app.aside(move |app| {
            let name = fields.get("of").cloned().unwrap_or_default();
            let key = Name::on_record(&name).ok().map(Key::Container);
            let gone = fields.contains_key("take_back");
            let done = settled(
                app,
                &fields,
                key,
                |about| if about == About::Name { None } else { sow::beside(about) },
                |reading, was| match was {
                    Entry::Container(was) => Entry::Container(read_box(reading, was)),
                    other => other.clone(),
                },
            )?;
            Ok(if gone { done.and_go("/") } else { to_box(done, &name) })
        })
        .await,
    )
}

fn read_box(reading: &mut Reading<'_>, was: &Container) -> Container {
    let sown = reading.needed_time("sown", was.sown);
    let said = sow::said(reading, vec![was.name.clone()], sown);
    Container {
        name: was.name.clone(),
        owner: was.owner.clone(),
        batch: said.batch.unwrap_or_else(|| was.batch.clone()),
        // Where they are missing, that is a fault already.
        species: said.species.unwrap_or_else(|| was.species.clone()),
        spot: said.spot.unwrap_or_else(|| was.spot.clone()),
        lot: said.lot,
        treatment: said.treatment,
        seeds: said.seeds,
        seeds_low: said.seeds_low,
        seeds_high: said.seeds_high,
        event: said.event.unwrap_or(was.event),
        depth_mm: said.depth_mm,
        from: said.from,
        lid: said.lid,
        sown,
        ended: reading.time("ended", was.ended),
    }
}

pub(super) async fn move_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Path((name, id)): Path<(String, String)>,
) -> Shown {
    app.aside(move |app| carried_page(app, visitor, "/do/moved", Key::Move, [&name, &id])).await
}

pub(super) async fn plan_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Path((name, id)): Path<(String, String)>,
) -> Shown {
    app.aside(move |app| carried_page(app, visitor, "/do/planned", Key::Plan, [&name, &id])).await
}

fn carried_page(app: &App, visitor: Visitor, action: &'static str, key: fn(Name, Time) -> Key, of: [&str; 2]) -> Shown {
    let bench = app.file.ask(|store| store.bench())?;
    let entry = on_record(&bench, key_of(of[0], of[1], key))?;
    let (Entry::Move(moved) | Entry::Plan(moved)) = &entry else { return Err(Refusal::not_here("this is no move")) };
    let spots = bench.spots.keys().map(|spot| (spot.to_string(), spot.to_string())).collect();
    let fields = vec![
        Field::choice("spot", "To which spot", &moved.spot, spots),
        Field::time("time", "When", shown_time(Some(moved.time), bench.zone), bench.zone, "").needed(),
    ];
    shown(&form(app, visitor, &entry, action, of, vec![Part::plain(fields)], &bench))
}

pub(super) async fn moved(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| carried(app, &fields, Key::Move)).await)
}

pub(super) async fn planned(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| carried(app, &fields, Key::Plan)).await)
}

fn carried(app: &App, fields: &Fields, key: fn(Name, Time) -> Key) -> Result<Done, Refusal> {
    let said = |field: &str| fields.get(field).map(String::as_str).unwrap_or_default();
    let beside = |about| match about {
        About::Time | About::Name => Some("time"),
        About::Spot => Some("spot"),
        _ => None,
    };
    let done = settled(app, fields, key_of(said("of"), said("id"), key), beside, |reading, was| {
        let mut is = was.clone();
        if let Entry::Move(moved) | Entry::Plan(moved) = &mut is {
            moved.spot = reading.needed_name("spot", "say to which spot").unwrap_or_else(|| moved.spot.clone());
            moved.time = reading.needed_time("time", moved.time);
        }
        is
    });
    done.map(|done| to_box(done, said("of")))
}

pub(super) async fn placing_page(
    State(app): State<Arc<App>>,
    Extension(visitor): Extension<Visitor>,
    Path((name, id)): Path<(String, String)>,
) -> Shown {
    app.aside(move |app| {
        let bench = app.file.ask(|store| store.bench())?;
        let entry = on_record(&bench, key_of(&name, &id, Key::Placement))?;
        let Entry::Placement(placement) = &entry else { return Err(Refusal::not_here("this is no placing")) };
        let fields = vec![
            spot_field(&bench, placement.spot.to_string()),
            Field::time("since", "Since when", shown_time(Some(placement.since), bench.zone), bench.zone, "").needed(),
            siting_field(placement.siting),
        ];
        let mut form = form(app, visitor, &entry, "/do/placed", [&name, &id], vec![Part::plain(fields)], &bench);
        let typed = placement.probe.as_typed();
        form.told.push(format!(
            "Calibration: {}. To put that right: on the computer, `seedclock correct probe {typed} --offset …`.",
            calibrated_words(placement)
        ));
        shown(&form)
    })
    .await
}

pub(super) async fn placed(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(
        app.aside(move |app| {
            let said = |field: &str| fields.get(field).map(String::as_str).unwrap_or_default();
            let done = settled(app, &fields, key_of(said("of"), said("id"), Key::Placement), probes::beside, |reading, was| {
                let mut is = was.clone();
                if let Entry::Placement(placement) = &mut is {
                    placement.spot =
                        reading.needed_name("spot", "say at which spot it stands").unwrap_or_else(|| placement.spot.clone());
                    placement.since = reading.needed_time("since", placement.since);
                    placement.siting = reading.choice("siting", Siting::from_word).unwrap_or(placement.siting);
                }
                is
            });
            done.map(|done| done.and_go("/probes"))
        })
        .await,
    )
}
