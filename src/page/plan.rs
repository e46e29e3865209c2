//! The next sowing, and the next trial.

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
use super::prose::{Block, blocks};
use crate::answers::{PlanFault, PlanQuestion, plan, room_at, trial};
use crate::bench::{Bench, Name, SpotKind};
use crate::civil::{Time, local_date};
use crate::exchange::plan_calendar;
use crate::experiment::plan::{Factor, MOST_SEEDS, PlanAnswer, PlanWish, TrialWish};
use crate::units::Bounds;
use crate::wording::{plan_text, trial_text};

const CONFIDENCE: Bounds = Bounds { what: "how sure to be", low: 50.0, high: 99.0, unit: "%" };
const DIFFERENCE: Bounds = Bounds { what: "the difference to be seen", low: 1.0, high: 95.0, unit: "points" };
/// Further ahead than this nothing is planned.
const FURTHEST_DAYS: i64 = 731;
/// Days that sprouts may grow on.
const MOST_GROW_ON: u32 = 730;
/// Boxes in one trial.
const MOST_BOXES: usize = 2_000;
/// Groups in one trial.
const MOST_GROUPS: usize = 20;
/// The number that a trial's order is shuffled by where none is named: the same question, the same order.
const SHUFFLE: u32 = 1;

#[derive(Template)]
#[template(path = "plan.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    /// Where the form leads.
    path: &'static str,
    act: &'static str,
    fields: Vec<Field>,
    /// What is wrong with all of it.
    fault: String,
    told: Vec<Block>,
    /// Where the calendar is; empty: no day to write.
    calendar: String,
    /// The other page of the two.
    other: (&'static str, &'static str),
}

type Pairs = Query<Vec<(String, String)>>;

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(pairs): Pairs) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let (mut asked, bench) = (Asked::of(pairs), app.file.ask(|store| store.bench())?);
        let mut told = (Vec::new(), String::new(), String::new());
        if !asked.is_empty() {
            match answer(app, &mut asked, &bench)? {
                Some(Ok(answer)) => {
                    told.0 = blocks(&plan_text(&answer, bench.zone, bench.units.unwrap_or_default()));
                    if answer.has_dates() {
                        told.1 = format!("/plan.ics?{}", asked.query());
                    }
                }
                Some(Err(fault)) => told.2 = beside(&mut asked, &fault),
                None => {}
            }
        }
        shown(&Page {
            frame: Frame::new("Plan the next sowing", Place::Elsewhere, visitor, known),
            path: "/plan",
            act: "Plan",
            fields: fields(&asked, &bench, app.now()),
            fault: told.2,
            told: told.0,
            calendar: told.1,
            other: ("/plan/trial", "Lay a trial out"),
        })
    })
    .await
}

pub(super) async fn calendar(State(app): State<Arc<App>>, Query(pairs): Pairs) -> Result<Response, Refusal> {
    app.aside(move |app| {
        let (mut asked, bench) = (Asked::of(pairs), app.file.ask(|store| store.bench())?);
        let refused = |what: &str| Refusal::new(StatusCode::UNPROCESSABLE_ENTITY, what);
        let Some(answer) = answer(app, &mut asked, &bench)? else { return Err(refused("this cannot be planned as it was asked")) };
        let answer = answer.map_err(|fault| refused(&first_line(&fault)))?;
        let named = asked.name("spot");
        let text = plan_calendar(&answer, named.as_ref()).ok_or_else(|| refused("there is no day to write into a calendar"))?;
        let headers =
            [(CONTENT_TYPE, "text/calendar; charset=utf-8"), (CONTENT_DISPOSITION, "attachment; filename=\"sowing-plan.ics\"")];
        Ok((headers, text).into_response())
    })
    .await
}

/// Puts a fault beside its field, or gives it back.
fn beside(asked: &mut Asked, fault: &PlanFault) -> String {
    let field = match fault {
        PlanFault::UnknownSpecies { .. } => "species",
        PlanFault::UnknownLot { .. } | PlanFault::OtherSpecies { .. } => "lot",
        PlanFault::UnknownSpot { .. } | PlanFault::Fridge(_) => "spot",
        _ => return first_line(fault),
    };
    asked.fault(field, first_line(fault));
    String::new()
}

/// Without what to type into a terminal.
fn first_line(fault: &PlanFault) -> String {
    fault.to_string().lines().next().unwrap_or_default().to_owned()
}

/// The answer; none: something cannot be meant, which is noted.
fn answer(app: &App, asked: &mut Asked, bench: &Bench) -> Result<Option<Result<PlanAnswer, PlanFault>>, Refusal> {
    let Some(question) = question(asked, bench, app.now()) else { return Ok(None) };
    asking(app, |known, shelf| plan(known, &question, shelf)).map(Some)
}

fn question(asked: &mut Asked, bench: &Bench, now: Time) -> Option<PlanQuestion> {
    let (species, lot, spot) = (asked.name("species"), asked.name("lot"), asked.name("spot"));
    if asked.text("species").is_empty() && asked.text("lot").is_empty() {
        asked.fault("species", "name the plant, or a lot");
    }
    for (field, what) in [("plants", "say how many plants are wanted"), ("by", "name the day")] {
        if asked.text(field).is_empty() {
            asked.fault(field, what);
        }
    }
    let plants = asked.count("plants", 1, MOST_SEEDS);
    let by = asked.date("by");
    let ahead = by.map_or(0, |by| (by - local_date(now, bench.zone)).num_days());
    if ahead > FURTHEST_DAYS {
        asked.fault("by", format!("that is {ahead} days ahead: nothing is planned further than two years ahead"));
    }
    let confidence = asked.percent("confidence", &CONFIDENCE).unwrap_or(80.0) / 100.0;
    let grow_on_days = asked.count("grow-on", 0, MOST_GROW_ON).unwrap_or(0);
    if !asked.is_sound() {
        return None;
    }
    Some(PlanQuestion {
        species,
        lots: lot.into_iter().collect(),
        treatment: None,
        event: None,
        spots: spot.into_iter().collect(),
        wish: PlanWish { plants: plants?, by: by?, confidence, grow_on_days, boxes: 1, frost: None },
        survival: None,
        chill_days: None,
        assumed: Vec::new(),
    })
}

fn species(bench: &Bench) -> BTreeSet<&Name> {
    let sown = bench.trials.values().map(|trial| &trial.container.species);
    sown.chain(bench.lots.values().map(|lot| &lot.species)).collect()
}

/// Where seeds are sprouted.
fn spots(bench: &Bench, now: Time) -> impl Iterator<Item = &Name> {
    bench.spots.iter().filter(move |(_, spot)| spot.kind_at(now) != SpotKind::Fridge).map(|(name, _)| name)
}

fn fields(asked: &Asked, bench: &Bench, now: Time) -> Vec<Field> {
    vec![
        asked.field("species", "Plant", Kind::names("choose", species(bench))),
        asked.field("lot", "Lot", Kind::names("all lots of the plant", bench.lots.keys())),
        asked.field("plants", "Living plants wanted of each lot", Kind::Number),
        asked.field("by", "Day on which they are to be ready", Kind::Date).hint("year, month, day, as 2026-05-20"),
        asked.field("grow-on", "Days that a sprout grows on until it is ready", Kind::Number).or("0"),
        asked.field("spot", "Spot", Kind::names("all where something is known", spots(bench, now))),
        asked.field("confidence", "How sure to be of enough plants in time, %", Kind::Number).or("80"),
    ]
}

pub(super) async fn trial_page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(pairs): Pairs) -> Shown {
    app.aside(move |app| {
        let known = app.told();
        let (mut asked, bench) = (Asked::of(pairs), app.file.ask(|store| store.bench())?);
        let mut told = Vec::new();
        if !asked.is_empty()
            && let Some(wish) = trial_wish(&mut asked, &bench)
        {
            let plan = asking(app, |known, shelf| {
                let spots = wish.spots.iter().map(|(spot, _)| (spot.clone(), room_at(known, spot))).collect();
                trial(known, TrialWish { spots, ..wish }, "T", shelf)
            })?;
            told = blocks(&trial_text(&plan));
        }
        shown(&Page {
            frame: Frame::new("Lay a trial out", Place::Elsewhere, visitor, known),
            path: "/plan/trial",
            act: "Lay it out",
            fields: trial_fields(&asked, &bench, app.now()),
            fault: String::new(),
            told,
            calendar: String::new(),
            other: ("/plan", "Plan the next sowing"),
        })
    })
    .await
}

fn trial_wish(asked: &mut Asked, bench: &Bench) -> Option<TrialWish> {
    for (field, what) in [
        ("species", "name the plant"),
        ("groups", "name two groups or more"),
        ("seeds", "say how many seeds go into a box"),
        ("spots", "name a spot or several"),
    ] {
        if asked.text(field).is_empty() {
            asked.fault(field, what);
        }
    }
    let (species, groups, spots) = (asked.name("species"), asked.names("groups"), asked.names("spots"));
    if asked.is_sound() && !(2..=MOST_GROUPS).contains(&groups.len()) {
        asked.fault("groups", format!("name 2 to {MOST_GROUPS} groups, with commas between them"));
    }
    for (field, names) in [("groups", &groups), ("spots", &spots)] {
        if let Some(twice) = names.iter().enumerate().find(|(at, name)| names[..*at].contains(name)).map(|(_, name)| name) {
            asked.fault(field, format!("'{twice}' is named twice"));
        }
    }
    if let Some(unknown) = spots.iter().find(|spot| !bench.spots.contains_key(*spot)) {
        asked.fault("spots", format!("there is no spot '{unknown}' on this bench"));
    }
    let factor = asked.word("by", &[("treatment", Factor::Treatment), ("lot", Factor::Lot)]).unwrap_or(Factor::Treatment);
    let with = asked.name("with");
    let (seeds, boxes) = (asked.count("seeds", 1, 10_000), asked.count("boxes", 1, 200).unwrap_or(1));
    if groups.len() * spots.len() * boxes as usize > MOST_BOXES {
        asked.fault("boxes", format!("that makes more than {MOST_BOXES} boxes"));
    }
    let difference = asked.percent("difference", &DIFFERENCE).unwrap_or(20.0) / 100.0;
    let shuffle = asked.count("shuffle", 0, 999_999).unwrap_or(SHUFFLE);
    if !asked.is_sound() {
        return None;
    }
    Some(TrialWish {
        species: species?,
        with,
        factor,
        groups,
        seeds: seeds?,
        boxes,
        only: Vec::new(),
        spots: spots.into_iter().map(|spot| (spot, None)).collect(),
        difference,
        shuffle: u64::from(shuffle),
    })
}

fn trial_fields(asked: &Asked, bench: &Bench, now: Time) -> Vec<Field> {
    let by = [("treatment", "treatments"), ("lot", "lots")].map(|(word, said)| (word.to_owned(), said.to_owned())).to_vec();
    let there: Vec<&str> = spots(bench, now).map(Name::as_str).collect();
    vec![
        asked.field("species", "Plant", Kind::names("choose", species(bench))),
        asked.field("by", "What is compared", Kind::Choice(by)).or("treatment"),
        asked.field("groups", "Groups", Kind::Text).hint("with commas between them, such as none, soaked; none: seeds as they are"),
        asked.field("with", "The lot of all, or the treatment of all", Kind::Text).hint("what is not compared; may be left empty"),
        asked.field("seeds", "Seeds in each box", Kind::Number),
        asked.field("boxes", "Boxes of each group at each spot", Kind::Number).or("2"),
        asked.field("spots", "Spots", Kind::Text).hint(format!("with commas between them; there are {}", there.join(", "))),
        asked.field("difference", "Difference that is to be seen, in points of 100 sprouts", Kind::Number).or("20"),
        asked
            .field("shuffle", "Number that the order is shuffled by", Kind::Number)
            .or("1")
            .hint("take any; the same one gives the same order"),
    ]
}
