//! `plan` as JSON.

use chrono::NaiveDate;
use serde::Serialize;

use super::{Warning, text_of};
use crate::bench::{Degrees, Name};
use crate::civil::rfc3339;
use crate::experiment::plan::{
    Basis, ChillSource, DateSpread, LotPlan, Outcome, PlanAnswer, PlanNote, SowPlan, SpotPlan, SurvivalSource, steps,
};
use crate::wording::{basis_words, no_day_words, plan_note_words, plan_step_words};

#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    plants: u32,
    by: String,
    up_by: String,
    confidence: f64,
    grow_on_days: u32,
    boxes: u32,
    frost: Frost,
    lots: Vec<Lot>,
    together: Together,
    steps: Vec<StepShape>,
}

#[derive(Debug, Default, Serialize)]
struct Frost {
    half: Option<String>,
    risk: Option<f64>,
    day: Option<String>,
    risk_after_by: Option<f64>,
    spread_assumed: Option<bool>,
}

#[derive(Debug, Serialize)]
struct Lot {
    species: String,
    lot: Option<String>,
    treatment: Option<String>,
    event: &'static str,
    light: Option<String>,
    survival: Survival,
    chill: Chill,
    spot: Option<String>,
    spots: Vec<Spot>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Survival {
    estimate: f64,
    low: f64,
    high: f64,
    source: &'static str,
}

#[derive(Debug, Serialize)]
struct Chill {
    days: Option<u32>,
    source: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct Spot {
    spot: String,
    answer: &'static str,
    why: Option<String>,
    basis: Option<&'static str>,
    years: Option<usize>,
    basis_words: Option<String>,
    mean_c: Option<f64>,
    outside_known_warmth: bool,
    sow: Option<String>,
    seeds: Option<u32>,
    fewest_seeds: Option<u32>,
    chance: Option<f64>,
    too_unsure: Option<bool>,
    latest: Dates,
    first: Dates,
    half: Dates,
    enough: Dates,
    chill_in: Option<String>,
    pot_on: Option<String>,
    earliest: Option<String>,
}

#[derive(Debug, Default, Serialize)]
struct Dates {
    p10: Option<String>,
    p50: Option<String>,
    p90: Option<String>,
}

#[derive(Debug, Serialize)]
struct Together {
    out: Option<String>,
    lots: Vec<In>,
}

#[derive(Debug, Serialize)]
struct In {
    species: String,
    lot: Option<String>,
    chill_in: String,
}

#[derive(Debug, Serialize)]
struct StepShape {
    date: String,
    kind: &'static str,
    species: String,
    lot: Option<String>,
    spot: String,
    words: String,
}

impl From<&DateSpread> for Dates {
    fn from(spread: &DateSpread) -> Self {
        Self { p10: text(spread.p10), p50: text(spread.p50), p90: text(spread.p90) }
    }
}

fn text(date: Option<NaiveDate>) -> Option<String> {
    date.map(|date| date.to_string())
}

/// The plan as JSON. Days are dates of the bench's zone.
#[must_use]
pub fn plan_json(answer: &PlanAnswer, named: Option<&Name>, degrees: Degrees) -> String {
    let wish = &answer.wish;
    let frost = wish.frost.map_or_else(Frost::default, |frost| Frost {
        half: text(Some(frost.last.middle)),
        risk: Some(frost.risk),
        day: text(Some(frost.day)),
        risk_after_by: Some(frost.last.risk_after(wish.by)),
        spread_assumed: Some(frost.last.spread_assumed),
    });
    let together = answer.together.as_ref();
    let into = together.map_or(&[][..], |together| &together.lots).iter().filter_map(|(at, into)| {
        let lot = answer.lots.get(*at)?;
        Some(In { species: lot.species.to_string(), lot: lot.lot.as_ref().map(Name::to_string), chill_in: into.to_string() })
    });
    text_of(&Shape {
        as_of: rfc3339(answer.as_of),
        plants: wish.plants,
        by: wish.by.to_string(),
        up_by: answer.up_by.to_string(),
        confidence: wish.confidence,
        grow_on_days: wish.grow_on_days,
        boxes: wish.boxes,
        frost,
        lots: answer.lots.iter().map(|one| lot(one, answer, degrees)).collect(),
        together: Together { out: text(together.map(|together| together.out)), lots: into.collect() },
        steps: steps(answer, named)
            .iter()
            .map(|step| StepShape {
                date: step.date.to_string(),
                kind: step.kind.word(),
                species: step.lot.species.to_string(),
                lot: step.lot.lot.as_ref().map(Name::to_string),
                spot: step.spot.to_string(),
                words: plan_step_words(step, answer).0,
            })
            .collect(),
    })
}

fn lot(lot: &LotPlan, answer: &PlanAnswer, degrees: Degrees) -> Lot {
    let [low, estimate, high] = lot.survival.interval();
    let source = match lot.survival.source {
        SurvivalSource::Species => "species",
        SurvivalSource::Bench => "bench",
        SurvivalSource::Given => "given",
        SurvivalSource::Assumed => "assumed",
    };
    let chilled_by = lot.chill.map(|chill| match chill.source {
        ChillSource::Given => "given",
        ChillSource::Lot => "lot",
        ChillSource::Treatment => "treatment",
        ChillSource::Records => "records",
    });
    let warning = |note: &PlanNote| Warning { kind: kind(note), message: plan_note_words(note, &lot.species, degrees) };
    Lot {
        species: lot.species.to_string(),
        lot: lot.lot.as_ref().map(Name::to_string),
        treatment: lot.treatment.as_ref().map(Name::to_string),
        event: lot.event.word(),
        light: lot.light.clone(),
        survival: Survival { estimate, low, high, source },
        chill: Chill { days: lot.chill.map(|chill| chill.days), source: chilled_by },
        spot: lot.chosen().map(|spot| spot.spot.to_string()),
        spots: lot.spots.iter().map(|one| spot(one, lot, answer, degrees)).collect(),
        warnings: lot.notes.iter().map(warning).collect(),
    }
}

fn spot(spot: &SpotPlan, lot: &LotPlan, answer: &PlanAnswer, degrees: Degrees) -> Spot {
    let plan = spot.sowing();
    let dates = |of: fn(&SowPlan) -> &DateSpread| plan.map_or_else(Dates::default, |plan| of(plan).into());
    let (basis, years) = match spot.basis {
        None => (None, None),
        Some(Basis::Given) => (Some("given"), None),
        Some(Basis::Assumed) => (Some("assumed"), None),
        Some(Basis::Season { years }) => (Some("season"), Some(years)),
        Some(Basis::EarlierYears { years }) => (Some("earlier-years"), Some(years)),
        Some(Basis::RecentLevel) => (Some("recent-level"), None),
    };
    let (said, earliest) = match &spot.outcome {
        Outcome::Sow(_) => ("sow", None),
        Outcome::TooLate { earliest, .. } => ("too-late", *earliest),
        Outcome::TooCold => ("too-cold", None),
        Outcome::TooHot => ("too-hot", None),
        Outcome::TooManySeeds => ("too-many-seeds", None),
        Outcome::Unknown => ("no-temperatures", None),
    };
    let seeds = match &spot.outcome {
        Outcome::TooLate { seeds, earliest: Some(_) } => Some(*seeds),
        _ => plan.map(|plan| plan.seeds),
    };
    Spot {
        spot: spot.spot.to_string(),
        answer: said,
        why: no_day_words(spot, lot, answer, degrees),
        basis,
        years,
        basis_words: spot.basis.and_then(basis_words),
        mean_c: spot.mean_c,
        outside_known_warmth: spot.outside,
        sow: text(plan.map(|plan| plan.sow)),
        seeds,
        fewest_seeds: plan.map(|plan| plan.fewest_seeds),
        chance: plan.map(|plan| plan.chance),
        too_unsure: plan.map(SowPlan::is_wide),
        latest: dates(|plan| &plan.latest),
        first: dates(|plan| &plan.first),
        half: dates(|plan| &plan.half),
        enough: dates(|plan| &plan.enough),
        chill_in: text(plan.and_then(|plan| plan.chill_in)),
        pot_on: text(plan.and_then(|plan| plan.pot_on)),
        earliest: text(earliest),
    }
}

fn kind(note: &PlanNote) -> &'static str {
    match note {
        PlanNote::AllAssumed { .. } => "all-assumed",
        PlanNote::NewLot => "new-lot",
        PlanNote::TreatedAsBefore { .. } => "treated-as-before",
        PlanNote::SproutsInTheCold => "sprouts-in-the-cold",
        PlanNote::ChillUntried => "chill-untried",
    }
}
