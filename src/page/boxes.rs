//! One box: how it stands, what is to come, what slows it, and all that was seen in it.

use std::sync::Arc;

use askama::Template;
use axum::extract::{Extension, Path, Query, State};
use axum::http::header::CONTENT_TYPE;
use axum::response::{IntoResponse, Redirect, Response};
use serde::Deserialize;

use super::app::App;
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Refusal, Shown, shown};
use super::photos::{Shot, shots};
use super::shelf::{diagnosis_of, forecast_of};
use super::ways::Ways;
use crate::answers::{Picture, doubtful_readings};
use crate::bench::{Bench, Degrees, Name, Trial};
use crate::charts::{
    Look, Size, Sprouted, Temperature, Warmth, box_by_warmth, box_outlook, dates_axis, days_since, outlook_svg, sprouted_svg,
    thinned, warmth_svg,
};
use crate::diagnosis::{BoxDiagnosis, MoveGain};
use crate::forecast::SLOT_US;
use crate::thermal::Rate;
use crate::wording::{
    advice_words, box_words, doubt_of_move_words, evidence_words, gain_words, in_place, look_words, moment, seeds_words,
    stand_words,
};

/// A figure of nothing.
const NOTHING: &str = r#"<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 1 1"></svg>"#;
/// Columns of a figure of temperatures.
const COLUMNS: usize = 500;

#[derive(Template)]
#[template(path = "box.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
    name: Name,
    species: Name,
    /// What is fixed: seeds, lot, treatment, sowing.
    about: Vec<String>,
    spot: Name,
    stand: String,
    sprouted: u32,
    ended: bool,
    dates: Option<String>,
    sprouts: bool,
    warmth: bool,
    by_warmth: bool,
    findings: Vec<String>,
    moves: Vec<String>,
    looks: Vec<Seen>,
    photos: Vec<Shot>,
    as_of: String,
    ways: Ways,
}

/// A look of the past.
struct Seen {
    when: String,
    said: String,
    note: String,
    time_us: i64,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Path(name): Path<String>) -> Shown {
    app.aside(move |app| told(app, visitor, &name)).await
}

fn told(app: &App, visitor: Visitor, name: &str) -> Shown {
    let (now, known) = (app.now(), app.told());
    let on_record = app.file.ask(|store| store.bench())?;
    let ways = Ways::of(find(&on_record, name)?, visitor, on_record.zone, now);
    let bench = on_record.as_of(now);
    let trial = find(&bench, name)?;
    let container = &trial.container;
    let zone = bench.zone;
    let degrees = bench.units.unwrap_or_default();
    let worked = app.worked();
    let picture = worked.as_ref().map(|worked| &worked.picture);
    let found = picture.and_then(|picture| diagnosis_of(picture, &container.name));
    let expected = picture.and_then(|picture| forecast_of(picture, &container.name));
    let mut about = vec![seeds_words(container)];
    about.extend(container.lot.as_ref().map(|lot| format!("lot {lot}")));
    about.extend(container.treatment.as_ref().map(ToString::to_string));
    about.push(format!("sown {}", moment(container.sown, zone)));
    about.push(format!("batch {}", container.batch));
    let looks = trial.checks.iter().rev().map(|look| Seen {
        when: moment(look.time, zone),
        said: look_words(look),
        note: look.note.clone().unwrap_or_default(),
        time_us: look.time.timestamp_micros(),
    });
    shown(&Page {
        frame: Frame::new(format!("{}, {}", container.name, container.species), Place::Elsewhere, visitor, known),
        name: container.name.clone(),
        species: container.species.clone(),
        about,
        spot: trial.spot_at(now).clone(),
        stand: stand_words(trial),
        sprouted: trial.sprouted(),
        ended: trial.ended_at(now).is_some(),
        dates: expected.zip(picture).map(|(one, picture)| box_words(one, picture.as_of, zone)),
        sprouts: expected.zip(picture).is_some_and(|(one, picture)| box_outlook(one, picture.as_of, zone).is_some()),
        warmth: picture.is_some_and(|picture| warmth_figure(picture, trial, degrees, &[]).is_some()),
        by_warmth: picture.is_some_and(|picture| by_warmth_figure(picture, trial).is_some()),
        findings: found.map(|found| findings(found, degrees)).unwrap_or_default(),
        moves: found.map(moves).unwrap_or_default(),
        looks: looks.collect(),
        photos: shots(app, &container.name, zone)?,
        as_of: picture.map(|picture| moment(picture.as_of, zone)).unwrap_or_default(),
        ways,
    })
}

/// The box of a name.
pub(super) fn find<'a>(bench: &'a Bench, name: &str) -> Result<&'a Trial, Refusal> {
    let named = Name::new(name).ok().and_then(|name| bench.trials.get(&name));
    named.ok_or_else(|| Refusal::not_here(format!("there is no box '{name}' on this bench")))
}

fn findings(found: &BoxDiagnosis, degrees: Degrees) -> Vec<String> {
    let said = found.findings.iter().map(|finding| {
        let advice = finding.advice.as_ref().map(advice_words).unwrap_or_default();
        let caution = finding.caution.map(in_place).unwrap_or_default();
        [evidence_words(finding, found, degrees), advice, caution.to_owned()].join(" ").trim().to_owned()
    });
    said.collect()
}

/// What if it was moved: each spot, with what is doubtful about it.
fn moves(found: &BoxDiagnosis) -> Vec<String> {
    let Some(delay) = &found.delay else { return Vec::new() };
    let elsewhere = || delay.moves.iter().filter(|gain| gain.spot != found.spot);
    let said = |gain: &MoveGain| {
        let doubts = found.liked.as_ref().map(|liked| liked.doubts(gain)).unwrap_or_default();
        let doubts: Vec<String> = doubts.into_iter().map(|doubt| doubt_of_move_words(doubt, gain)).collect();
        let doubts = if doubts.is_empty() { String::new() } else { format!(" – {}", doubts.join("; ")) };
        format!("To {}: {}{doubts}.", gain.spot, gain_words(gain))
    };
    let mut all: Vec<String> = elsewhere().filter(|gain| gains(gain)).map(said).collect();
    let others: Vec<&str> = elsewhere().filter(|gain| !gains(gain)).map(|gain| gain.spot.as_str()).collect();
    if !others.is_empty() {
        let none =
            if all.is_empty() { "No other spot gains a day".to_owned() } else { format!("No day gained at {}", others.join(", ")) };
        all.push(none + ".");
    }
    all
}

/// Whether it may bring sprouts a day sooner, or more of them.
fn gains(gain: &MoveGain) -> bool {
    gain.days.p90.is_none_or(|days| days.round() >= 1.0) || gain.sprouts.p50.is_some_and(|more| more.round() >= 1.0)
}

/// How a figure is wanted.
#[derive(Debug, Deserialize)]
pub(super) struct Wanted {
    #[serde(default)]
    dark: Option<String>,
    #[serde(default)]
    narrow: Option<String>,
}

impl Wanted {
    pub(super) fn look(&self) -> Look {
        if self.dark.is_some() { Look::Dark } else { Look::Light }
    }

    pub(super) fn size(&self) -> Size {
        if self.narrow.is_some() { Size::Narrow } else { Size::Wide }
    }
}

pub(super) fn svg(text: String) -> Response {
    ([(CONTENT_TYPE, "image/svg+xml")], text).into_response()
}

/// Draws a figure out of what was last worked out.
async fn drawn(
    app: Arc<App>,
    name: String,
    draw: impl FnOnce(&App, &Picture, &Trial) -> Option<String> + Send + 'static,
) -> Result<Response, Refusal> {
    app.aside(move |app| {
        // A page may be older than what was worked out last: then there may be nothing to draw any more.
        let Some(worked) = app.worked() else { return Ok(svg(NOTHING.to_owned())) };
        let trial = find(&worked.picture.known.bench, &name)?;
        Ok(svg(draw(app, &worked.picture, trial).unwrap_or_else(|| NOTHING.to_owned())))
    })
    .await
}

pub(super) async fn sprouts(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Refusal> {
    drawn(app, name, move |_, picture, trial| {
        let one = forecast_of(picture, &trial.container.name)?;
        Some(outlook_svg(&box_outlook(one, picture.as_of, picture.known.bench.zone)?, wanted.look(), wanted.size()))
    })
    .await
}

pub(super) async fn warmth(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Refusal> {
    drawn(app, name, move |app, picture, trial| {
        let degrees = picture.known.bench.units.unwrap_or_default();
        // Without them where they cannot be read.
        let doubtful =
            app.file.ask(|store| doubtful_readings(store, &picture.known.bench, trial, picture.as_of)).unwrap_or_default();
        Some(warmth_svg(&warmth_figure(picture, trial, degrees, &doubtful)?, wanted.look(), wanted.size()))
    })
    .await
}

pub(super) async fn by_warmth(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Query(wanted): Query<Wanted>,
) -> Result<Response, Refusal> {
    drawn(app, name, move |_, picture, trial| Some(sprouted_svg(&by_warmth_figure(picture, trial)?, wanted.look(), wanted.size())))
        .await
}

/// Its sprouts against the warmth it gathered, where what its seeds need and how warm it was are known.
fn by_warmth_figure(picture: &Picture, trial: &Trial) -> Option<Sprouted> {
    let container = &trial.container;
    let rate = picture.needs.get(&(container.species.clone(), container.event))?.rate;
    // Where warmth is not counted, days stand in its place.
    rate.base()?;
    let degrees = picture.known.bench.units.unwrap_or_default();
    let evidence = picture.known.evidence(trial);
    let sprouted = evidence.segments.iter().map(|segment| segment.sprouted);
    let looks: Vec<(f64, u32)> = evidence.thermal_times(&rate).into_iter().zip(sprouted).collect();
    box_by_warmth(container, &looks, degrees)
}

/// The temperatures that a box had, wherever it stood, between where its seeds start and stop.
fn warmth_figure(picture: &Picture, trial: &Trial, degrees: Degrees, doubtful: &[(i64, f64)]) -> Option<Warmth> {
    let known = &picture.known;
    let container = &trial.container;
    let end = known.end_of(trial);
    let shown = |celsius: f64| match degrees {
        Degrees::Celsius => celsius,
        Degrees::Fahrenheit => celsius * 1.8 + 32.0,
    };
    let slot_days = SLOT_US as f64 / crate::units::MICROS_PER_DAY;
    let sampled = known.sampled(trial, container.sown, end, SLOT_US, 0.0);
    let mut readings: Vec<Temperature> = sampled
        .into_iter()
        .enumerate()
        .filter_map(|(slot, celsius)| Some(Temperature { day: slot as f64 * slot_days, degrees: shown(celsius?), doubtful: false }))
        .collect();
    if readings.is_empty() {
        return None;
    }
    let sown_us = container.sown.timestamp_micros();
    readings.extend(doubtful.iter().map(|(time_us, celsius)| Temperature {
        day: (time_us - sown_us) as f64 / crate::units::MICROS_PER_DAY,
        degrees: shown(*celsius),
        doubtful: true,
    }));
    readings.sort_by(|a, b| a.day.total_cmp(&b.day));
    let rate = picture.needs.get(&(container.species.clone(), container.event)).map(|needs| needs.rate);
    let ceiling = match rate {
        Some(Rate::Tent { ceiling, .. }) => Some(ceiling),
        _ => None,
    };
    Some(Warmth {
        title: format!("{}: how warm it stood, and where {} starts, is fastest and stops", container.name, container.species),
        axis: dates_axis(container.sown, days_since(container.sown, end), known.bench.zone),
        unit: degrees.sign().to_owned(),
        readings: thinned(&readings, COLUMNS),
        gap_days: 2.0 * slot_days,
        base: rate.and_then(|rate| rate.base()).map(shown),
        optimum: rate.and_then(|rate| rate.optimum()).map(shown),
        ceiling: ceiling.map(shown),
    })
}

/// What a label leads to: the box that has this name or this lid now.
pub(super) async fn lid(State(app): State<Arc<App>>, Path(name): Path<String>) -> Result<Redirect, Refusal> {
    app.aside(move |app| {
        let now = app.now();
        let bench = app.file.ask(|store| store.bench())?;
        let lid = |trial: &&Trial| trial.container.lid.as_ref().is_some_and(|lid| lid.as_str() == name);
        let holds = bench.trials.values().filter(lid).max_by_key(|trial| (trial.ended_at(now).is_none(), trial.container.sown));
        let trial = match holds {
            Some(trial) => trial,
            None => find(&bench, &name)?,
        };
        Ok(Redirect::to(&format!("/box/{}", encoded(trial.container.name.as_str()))))
    })
    .await
}
