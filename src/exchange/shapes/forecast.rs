//! `forecast` as JSON.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::ledger::LedgerShape;
use super::{Range, UNKNOWN, Warning, text_of};
use crate::bench::Degrees;
use crate::civil::{Time, rfc3339};
use crate::forecast::{Assumed, BoxAnswer, BoxNote, EventForecast, ForecastAnswer, LEVELS, Ledger, Supposed};
use crate::wording::note_words;

#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    assumed: Vec<Assumption>,
    containers: Vec<Container>,
    together: Vec<Week>,
    ledger: LedgerShape,
}

#[derive(Debug, Serialize)]
struct Assumption {
    spot: String,
    celsius: Option<f64>,
    sd_c: Option<f64>,
    like: Option<String>,
}

impl From<&Assumed> for Assumption {
    fn from(assumed: &Assumed) -> Self {
        let (celsius, sd_c, like) = match &assumed.supposed {
            Supposed::Steady(set) => (Some(set.celsius), Some(set.sd_c), None),
            Supposed::Like(other) => (None, None, Some(other.to_string())),
        };
        Self { spot: assumed.spot.to_string(), celsius, sd_c, like }
    }
}

#[derive(Debug, Serialize)]
struct Container {
    container: String,
    batch: String,
    species: String,
    spot: String,
    seeds: Option<u32>,
    sprouted: u32,
    first: Event,
    half: Event,
    last: Event,
    by_date: Vec<ByDate>,
    more_to_come: MoreToCome,
    imputed_share: Option<f64>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Event {
    p10: Option<String>,
    p50: Option<String>,
    p90: Option<String>,
    chance: Option<f64>,
}

#[derive(Debug, Serialize)]
struct ByDate {
    time: String,
    quantiles: Map<String, Value>,
}

#[derive(Debug, Serialize)]
struct MoreToCome {
    expected: Option<f64>,
    chance_any: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Week {
    week: String,
    sprouts: Range,
    potted_on: Range,
}

impl From<&EventForecast> for Event {
    fn from(event: &EventForecast) -> Self {
        let text = |time: Option<Time>| time.map(rfc3339);
        Self { p10: text(event.p10), p50: text(event.p50), p90: text(event.p90), chance: event.chance }
    }
}

/// The forecast as JSON.
#[must_use]
pub fn forecast_json(answer: &ForecastAnswer, ledger: &Ledger, degrees: Degrees) -> String {
    text_of(&Shape {
        as_of: rfc3339(answer.as_of),
        assumed: answer.assumed.iter().map(Assumption::from).collect(),
        containers: answer.boxes.iter().map(|one| container(one, degrees)).collect(),
        together: answer
            .together
            .iter()
            .map(|week| Week {
                week: week.monday.to_string(),
                sprouts: (&week.sprouts).into(),
                potted_on: week.potted_on.as_ref().map_or(UNKNOWN, Range::from),
            })
            .collect(),
        ledger: ledger.into(),
    })
}

fn container(one: &BoxAnswer, degrees: Degrees) -> Container {
    let (container, forecast) = (&one.trial.container, &one.forecast);
    Container {
        container: container.name.to_string(),
        batch: container.batch.to_string(),
        species: container.species.to_string(),
        spot: one.spot.to_string(),
        seeds: container.seeds,
        sprouted: one.trial.sprouted(),
        first: (&forecast.first).into(),
        half: (&forecast.half).into(),
        last: (&forecast.last).into(),
        by_date: forecast
            .by_date
            .iter()
            .map(|(time, counts)| ByDate { time: rfc3339(*time), quantiles: quantiles(*counts) })
            .collect(),
        more_to_come: MoreToCome { expected: forecast.more_expected, chance_any: forecast.more_chance },
        imputed_share: forecast.imputed_share,
        warnings: forecast
            .notes
            .iter()
            .map(|note| Warning { kind: kind(note), message: note_words(note, &container.species, degrees) })
            .collect(),
    }
}

fn quantiles(counts: Option<[u32; 7]>) -> Map<String, Value> {
    LEVELS
        .iter()
        .enumerate()
        .map(|(at, level)| (level.to_string(), counts.map_or(Value::Null, |counts| json!(counts[at]))))
        .collect()
}

fn kind(note: &BoxNote) -> &'static str {
    match note {
        BoxNote::NoTemperatures => "no-temperatures",
        BoxNote::NoReadings => "no-readings",
        BoxNote::InTheCold => "in-the-cold",
        BoxNote::WantsChilling(_) => "wants-chilling",
        BoxNote::SeedsNotCounted => "seeds-not-counted",
        BoxNote::SeedsCountedRoughly => "seeds-counted-roughly",
        BoxNote::AllAssumed { .. } => "all-assumed",
        BoxNote::OutsideKnownWarmth { .. } => "outside-known-warmth",
        BoxNote::GuessedHours { .. } => "guessed-hours",
    }
}
