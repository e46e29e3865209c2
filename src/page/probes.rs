//! Probes: what each showed last, and where it stands.

use std::sync::Arc;

use axum::Json;
use axum::extract::{Extension, Query, State};
use serde::Deserialize;

use super::app::App;
use super::form::{Field, Form, Group, List, Part, Row};
use super::frame::{Frame, Place, encoded};
use super::guard::Visitor;
use super::handled::{Change, Done, Refusal, Shown, shown};
use super::reading::{Fields, Reading, refused};
use crate::bench::rules::About;
use crate::bench::{Bench, Name, Siting};
use crate::changes::{self, ChangeError, Placing, placed};
use crate::civil::{Time, time_from_micros};
use crate::wording::{ago, calibrated_words, degrees_words, moment, placed_words};

/// What is said of every probe.
struct Heard {
    probe: Name,
    /// "18.4 °C, 3 minutes ago".
    shows: String,
}

/// What each probe showed last, as it is calibrated now.
fn heard(app: &App, bench: &Bench, now: Time) -> Result<Vec<Heard>, Refusal> {
    let degrees = bench.units.unwrap_or_default();
    let heard = app.file.ask(|store| -> Result<Vec<Heard>, ChangeError> {
        let spans = store.probes()?;
        let last = |(probe, last_us): (Name, Option<i64>)| {
            let reading = last_us.map(|last_us| store.last_readings(&probe, last_us, 1)).transpose()?.unwrap_or_default().pop();
            let shows = match reading.and_then(|reading| Some((reading, time_from_micros(reading.time_us)?))) {
                None => "never heard".to_owned(),
                Some((reading, time)) => {
                    let celsius =
                        reading.raw_c().map(|raw_c| placed(bench, &probe, time).map_or(raw_c, |there| there.true_celsius(raw_c)));
                    let value = celsius.map_or_else(|| "no number".to_owned(), |celsius| degrees_words(celsius, degrees));
                    format!("{value}, {}", ago(now - time))
                }
            };
            Ok(Heard { probe, shows })
        };
        spans.into_iter().map(|span| last((span.probe, span.last_us))).collect()
    })?;
    Ok(heard)
}

fn stands_words(bench: &Bench, probe: &Name, now: Time) -> String {
    let Some(there) = placed(bench, probe, now) else { return "stands nowhere yet".to_owned() };
    let siting = siting_words(there.siting);
    format!("{siting} at {} since {}, {}", there.spot, moment(there.since, bench.zone), calibrated_words(there))
}

fn siting_words(siting: Siting) -> &'static str {
    match siting {
        Siting::InBox => "in a box",
        Siting::Beside => "beside the boxes",
        Siting::Room => "in the same room",
    }
}

pub(super) async fn list(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?;
        let row = |heard: Heard| {
            let stands = stands_words(&bench, &heard.probe, now);
            Row::new(format!("/place?probe={}", encoded(heard.probe.as_str())), &heard.probe, format!("{}; {stands}", heard.shows))
        };
        let rows: Vec<Row> = heard(app, &bench, now)?.into_iter().map(row).collect();
        let mut told = vec!["Touch a probe to say where it stands.".to_owned()];
        if rows.is_empty() {
            told = vec!["No probe was heard yet. On the computer, `seedclock setup` helps to connect one.".to_owned()];
        }
        let frame = Frame::new("Probes", Place::More, visitor, known);
        shown(&List { frame, title: "Probes".to_owned(), told, groups: vec![Group { rows, ..Group::default() }], last: None })
    })
    .await
}

/// Which probe is to be placed.
#[derive(Debug, Deserialize)]
pub(super) struct Asked {
    #[serde(default)]
    probe: Option<String>,
}

pub(super) async fn page(State(app): State<Arc<App>>, Extension(visitor): Extension<Visitor>, Query(asked): Query<Asked>) -> Shown {
    app.aside(move |app| {
        let (known, now) = (app.told(), app.now());
        let bench = app.file.ask(|store| store.bench())?;
        let chosen = asked.probe.as_deref().and_then(|probe| Name::on_record(probe).ok());
        let there = chosen.as_ref().and_then(|probe| placed(&bench, probe, now));
        let mut probes = vec![(String::new(), "choose a probe".to_owned())];
        probes.extend(
            heard(app, &bench, now)?
                .into_iter()
                .map(|heard| (heard.probe.to_string(), format!("{}: {}", heard.probe, heard.shows))),
        );
        let mut told: Vec<String> = Vec::new();
        if let Some(probe) = &chosen {
            told.push(format!("{probe}: {}.", stands_words(&bench, probe, now)));
            told.push(format!(
                "Its calibration goes with it. To calibrate it: on the computer, `seedclock probe calibrate {}`.",
                probe.as_typed()
            ));
        }
        let links = bench.placements.iter().rev().filter(|placement| Some(&placement.probe) == chosen.as_ref()).map(|placement| {
            let href = format!("/probe/{}/placing/{}", encoded(placement.probe.as_str()), placement.since.timestamp_micros());
            (href, format!("Put right: at {} since {}", placement.spot, moment(placement.since, bench.zone)))
        });
        let fields = vec![
            Field::choice("probe", "Probe", asked.probe.clone().unwrap_or_default(), probes),
            spot_field(&bench, String::new()),
            Field::time("since", "Since when", String::new(), bench.zone, "Empty: now."),
            siting_field(there.map(|there| there.siting).unwrap_or_default()),
        ];
        shown(&Form {
            frame: Frame::new("Place a probe", Place::More, visitor, known),
            title: "Place a probe".to_owned(),
            told,
            links: links.collect(),
            action: "/do/place",
            hidden: Vec::new(),
            parts: vec![Part::plain(fields)],
            button: "Record where it stands".to_owned(),
            back: None,
        })
    })
    .await
}

pub(super) fn spot_field(bench: &Bench, spot: String) -> Field {
    Field::line("spot", "Spot", spot).offering(bench.spots.keys()).with_hint("A spot that is not known yet is made.").needed()
}

pub(super) fn siting_field(siting: Siting) -> Field {
    let all = [Siting::InBox, Siting::Beside, Siting::Room];
    let options = all.map(|siting| (siting.word().to_owned(), siting_words(siting).to_owned()));
    Field::choice("siting", "Where it is", siting.word(), options.to_vec())
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(fields): Json<Fields>) -> Change {
    Change(app.aside(move |app| recorded(app, &fields)).await)
}

fn recorded(app: &App, fields: &Fields) -> Result<Done, Refusal> {
    let now = app.now();
    let bench = app.file.ask(|store| store.bench())?;
    let mut reading = Reading::new(fields, &bench, now);
    let probe = reading.needed_name("probe", "say which probe").filter(|probe| bench.probes.contains(probe));
    if probe.is_none() && !reading.said("probe").is_empty() {
        reading.fault("probe", "no probe of that name was heard");
    }
    let spot = reading.needed_name("spot", "say at which spot it stands");
    let since = reading.time_or_now("since");
    let siting = reading.choice("siting", Siting::from_word).unwrap_or_default();
    let note = reading.finish()?;
    let (Some(probe), Some(spot)) = (probe, spot) else { return Err(Refusal::of_field("probe", "say which probe")) };
    let placing = Placing { probe, spot, since, siting, calibration: None };
    let placed = app.file.change(|store| changes::place(store, &placing, now));
    let (made, placement) = placed.map_err(|error| refused(error, beside))?;
    app.is_changed();
    Ok(Done::made(&made, &(placed_words(&placement, &made.after) + &note)).and_go("/probes"))
}

/// Beside which field a fault of a placing is shown.
pub(super) fn beside(about: About) -> Option<&'static str> {
    match about {
        About::Name => Some("probe"),
        About::Time => Some("since"),
        About::Spot => Some("spot"),
        _ => None,
    }
}
