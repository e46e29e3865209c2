//! `away` as JSON.

use serde::Serialize;

use super::text_of;
use crate::bench::Away;
use crate::civil::{Time, rfc3339};
use crate::forecast::{AwayAnswer, AwayBox, ColderSpot};
use crate::wording::suffering_words;

/// `recorded`: whether the answer put a time on record.
#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    recorded: bool,
    times: Vec<Span>,
    containers: Vec<Container>,
}

#[derive(Debug, Serialize)]
struct Span {
    from: String,
    until: String,
}

#[derive(Debug, Serialize)]
struct Container {
    container: String,
    batch: String,
    species: String,
    spot: String,
    seeds: Option<u32>,
    sprouted: u32,
    expected: Option<f64>,
    by_then: Ends,
    colder: Vec<Colder>,
}

#[derive(Debug, Serialize)]
struct Ends {
    low: Option<u32>,
    high: Option<u32>,
}

#[derive(Debug, Serialize)]
struct Colder {
    spot: String,
    mean_c: f64,
    expected: f64,
    days_later: Option<f64>,
    caution: Option<String>,
}

/// Times away, as JSON; with what comes in each box in one of them, where that was asked.
#[must_use]
pub fn away_json(times: &[Away], answer: Option<&AwayAnswer>, recorded: bool, now: Time) -> String {
    text_of(&Shape {
        as_of: rfc3339(now),
        recorded,
        times: times.iter().map(|away| Span { from: rfc3339(away.from), until: rfc3339(away.until) }).collect(),
        containers: answer.map_or_else(Vec::new, |answer| answer.boxes.iter().map(container).collect()),
    })
}

fn container(one: &AwayBox) -> Container {
    let container = &one.trial.container;
    let colder = |spot: &ColderSpot| Colder {
        spot: spot.spot.to_string(),
        mean_c: spot.mean_c,
        expected: spot.expected,
        days_later: spot.days_later,
        caution: spot.suffering.map(|suffering| suffering_words(suffering, &container.species)),
    };
    Container {
        container: container.name.to_string(),
        batch: container.batch.to_string(),
        species: container.species.to_string(),
        spot: one.spot.to_string(),
        seeds: container.seeds,
        sprouted: one.trial.sprouted(),
        expected: one.expected,
        by_then: Ends { low: one.by_then.map(|ends| ends.0), high: one.by_then.map(|ends| ends.1) },
        colder: one.colder.iter().map(colder).collect(),
    }
}
