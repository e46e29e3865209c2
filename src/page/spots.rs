//! Spots: what kind of place each is, how warm where no probe stands, and for how many boxes there is room.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, State};

use super::app::App;
use super::form::{Field, Form, Group, List, Part, Row};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::lots::Named;
use super::moving::room_words;
use super::reading::{Fields, Reading, refused, shown_degrees, shown_difference, shown_time};
use crate::bench::rules::{About, Entry};
use crate::bench::{Bench, DayAndNight, GivenTemperature, Name, SetTemperature, Setting, SpotKind};
use crate::changes::{self, USUAL_SD_C, Wish};
use crate::wording::{changed_words, entry_says, given_words};

pub(super) async fn list(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?;
        let row = |spot: &crate::bench::Spot| {
            let setting = spot.setting_at(now);
            let given = setting.given.map(|given| format!(", {}", given_words(given))).unwrap_or_default();
            let words = format!("{}{given}, {}", setting.kind.word(), room_words(&bench, &spot.name, now));
            Row::new(format!("/spot?name={}", encoded(spot.name.as_str())), &spot.name, words)
        };
        let rows = bench.spots.values().map(row).collect();
        let new = Group { title: String::new(), rows: vec![Row::new("/spot", "A new spot", "")] };
        let frame = Frame::new("Spots", Place::More, visitor, known);
        let groups = vec![Group { rows, ..Group::default() }, new];
        shown(&List { frame, title: "Spots".to_owned(), told: Vec::new(), groups, last: None })
    })
    .await
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(named): Query<Named>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?;
        let spot = match named.name.as_deref() {
            None => None,
            Some(name) => {
                let spot = Name::on_record(name).ok().and_then(|name| bench.spots.get(&name));
                Some(spot.ok_or_else(|| Refusal::not_here(format!("there is no spot '{name}' on this bench")))?)
            }
        };
        let setting = spot.map_or(Setting::NOTHING_SAID, |spot| spot.setting_at(now).clone());
        let title = spot.map_or_else(|| "A new spot".to_owned(), |spot| format!("Spot: {}", spot.name));
        let (mut hidden, mut fields) = (Vec::new(), Vec::new());
        match spot {
            Some(spot) => hidden.push(("known", spot.name.to_string())),
            None => fields.push(Field::line("name", "Name of the spot", "").needed()),
        }
        fields.extend(fields_of(&bench, &setting));
        shown(&Form {
            frame: Frame::new(title.clone(), Place::More, visitor, known),
            title,
            told: spot.map(|spot| format!("Now: {}.", room_words(&bench, &spot.name, now))).into_iter().collect(),
            links: vec![("/spots".to_owned(), "All spots".to_owned())],
            action: "/do/spot",
            hidden,
            parts: parts(fields),
            button: "Record this spot".to_owned(),
            back: None,
        })
    })
    .await
}

/// A new spot's name, what it is, its temperature, and the rest.
fn parts(mut fields: Vec<Field>) -> Vec<Part> {
    let rest = fields.split_off(fields.iter().position(|field| field.name == "too_hot").unwrap_or(fields.len()));
    let given = fields.split_off(fields.iter().position(|field| field.name == "set").unwrap_or(fields.len()));
    let given = Part { title: "Its temperature, where no probe stands".to_owned(), fields: given, ..Part::default() };
    vec![Part::plain(fields), given, Part::plain(rest)]
}

fn fields_of(bench: &Bench, setting: &Setting) -> Vec<Field> {
    let degrees = bench.units.unwrap_or_default();
    let kinds =
        [SpotKind::Indoors, SpotKind::Fridge, SpotKind::Outdoors].map(|kind| (kind.word().to_owned(), kind.word().to_owned()));
    let set = setting.set().map(|set| set.celsius);
    let pair = pair(setting.given);
    let sd_c = setting.given.map(GivenTemperature::sd_c);
    let usual = format!("Empty: {} {}.", shown_difference(Some(USUAL_SD_C), degrees), degrees.sign());
    let since = match setting.since {
        Some(since) => format!("Empty: it puts right what is said since {}.", crate::wording::moment(since, bench.zone)),
        None => "Empty: it holds as if it had always been said.".to_owned(),
    };
    vec![
        Field::choice("kind", "Kind of place", setting.kind.word(), kinds.to_vec()),
        Field::count("capacity", "Room for so many boxes", setting.capacity),
        Field::degrees("set", "Set to, at all hours", shown_degrees(set, degrees), degrees),
        Field::degrees("day", "Or by day, 8 to 20 o'clock", shown_degrees(pair.map(|pair| pair.day_c), degrees), degrees),
        Field::degrees("night", "and by night", shown_degrees(pair.map(|pair| pair.night_c), degrees), degrees),
        Field::degrees("sd", "Give or take", shown_difference(sd_c, degrees), degrees).with_hint(usual),
        Field::degrees("too_hot", "Alarm from this temperature on", shown_degrees(setting.too_hot_c, degrees), degrees)
            .with_hint("Empty: what the seeds standing there bear."),
        Field::time(
            "changed",
            "Something was changed there",
            shown_time(setting.changed, bench.zone),
            bench.zone,
            "Such as a mat laid.",
        ),
        Field::area("note", "Note", setting.note.clone().unwrap_or_default()),
        Field::time("since", "All this holds from then on", String::new(), bench.zone, &since),
    ]
}

fn pair(given: Option<GivenTemperature>) -> Option<DayAndNight> {
    match given {
        Some(GivenTemperature::DayAndNight(pair)) => Some(pair),
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
    let known = Name::on_record(reading.said("known")).ok();
    let name = known.clone().or_else(|| reading.needed_name("name", "say what it is called"));
    if known.is_none() && name.as_ref().is_some_and(|name| bench.spots.contains_key(name)) {
        reading.fault("name", "there is a spot of this name already: open it under Spots");
    }
    let spot = name.as_ref().and_then(|name| bench.spots.get(name));
    let in_force = spot.map_or(Setting::NOTHING_SAID, |spot| spot.setting_at(now).clone());
    let setting = read(&mut reading, &in_force);
    let note = reading.finish()?;
    let Some(name) = name else { return Err(Refusal::of_field("name", "say what it is called")) };
    let (was, is) = (Entry::Spot(name.clone(), in_force), Entry::Spot(name.clone(), setting));
    let made = app.file.change(|store| changes::make(store, now, |_| Ok(vec![Wish::to_correct(vec![is.clone()])])));
    let made = made.map_err(|error| refused(error, |about| beside(about, fields)))?;
    app.is_changed();
    let changed = changed_words(&was, &is, bench.zone);
    let what = if known.is_none() || changed.is_empty() { entry_says(&is, bench.zone) } else { changed };
    let new = if known.is_none() { "; it is a new spot" } else { "" };
    Ok(Done::made(&made, &format!("spot {name}: {what}{new}{note}")).and_go("/spots"))
}

/// What the form says, in place of what is in force now.
fn read(reading: &mut Reading<'_>, in_force: &Setting) -> Setting {
    let before = pair(in_force.given);
    let set = reading.celsius("set", in_force.set().map(|set| set.celsius));
    let day = reading.celsius("day", before.map(|pair| pair.day_c));
    let night = reading.celsius("night", before.map(|pair| pair.night_c));
    let sd_c = reading.difference("sd", in_force.given.map(GivenTemperature::sd_c));
    for (said, missing) in [(reading.said("day"), "night"), (reading.said("night"), "day")] {
        if !said.is_empty() && reading.said(missing).is_empty() {
            reading.fault(missing, "one by day and one by night go together");
        }
    }
    if set.is_some() && (day.is_some() || night.is_some()) {
        reading.fault("set", "either one temperature at all hours, or one by day and one by night");
    }
    if sd_c.is_some() && [set, day, night].iter().all(Option::is_none) {
        reading.fault("sd", "no temperature is given that this could be about");
    }
    let sd_c = sd_c.unwrap_or(USUAL_SD_C);
    let pair = day.zip(night).map(|(day_c, night_c)| GivenTemperature::DayAndNight(DayAndNight { day_c, night_c, sd_c }));
    let given = set.map(|celsius| GivenTemperature::Set(SetTemperature { celsius, sd_c })).or(pair);
    Setting {
        since: reading.time("since", None).or(in_force.since),
        kind: reading.choice("kind", SpotKind::from_word).unwrap_or_default(),
        given,
        capacity: reading.count("capacity"),
        too_hot_c: reading.celsius("too_hot", in_force.too_hot_c),
        changed: reading.time("changed", in_force.changed),
        note: reading.words("note"),
    }
}

fn beside(about: About, fields: &Fields) -> Option<&'static str> {
    let by_day = fields.get("day").is_some_and(|day| !day.trim().is_empty());
    match about {
        About::Name => Some("name"),
        About::Time => Some("since"),
        About::Given => Some(if by_day { "day" } else { "set" }),
        About::Uncertainty => Some("sd"),
        About::TooHot => Some("too_hot"),
        About::Capacity => Some("capacity"),
        About::Changed => Some("changed"),
        _ => None,
    }
}
