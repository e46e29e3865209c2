//! `plan trial` as JSON.

use serde::Serialize;

use super::{Warning, text_of};
use crate::bench::Name;
use crate::experiment::plan::{TrialNote, TrialPlan};
use crate::wording::trial_note_words;

#[derive(Debug, Serialize)]
struct Shape {
    species: String,
    factor: &'static str,
    with: Option<String>,
    shuffle: u64,
    boxes: Vec<BoxShape>,
    difference: f64,
    seeds_per_group: Option<u32>,
    chance: Option<f64>,
    could_show: Option<f64>,
    seeds_per_group_needed: Option<u32>,
    share: Option<f64>,
    share_from: Option<&'static str>,
    alike: Option<f64>,
    alike_from: Option<&'static str>,
    design_effect: Option<f64>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct BoxShape {
    container: String,
    spot: String,
    position: u32,
    round: u32,
    group: String,
    seeds: u32,
}

/// The trial as JSON.
#[must_use]
pub fn trial_json(plan: &TrialPlan) -> String {
    let (wish, worth) = (&plan.wish, plan.worth.as_ref());
    let from = |known: bool| if known { "own" } else { "assumed" };
    text_of(&Shape {
        species: wish.species.to_string(),
        factor: wish.factor.word(),
        with: wish.with.as_ref().map(Name::to_string),
        shuffle: wish.shuffle,
        boxes: plan
            .places
            .iter()
            .map(|place| BoxShape {
                container: place.container.to_string(),
                spot: wish.spots[place.spot].0.to_string(),
                position: place.position,
                round: place.round,
                group: wish.groups[place.group].to_string(),
                seeds: wish.seeds,
            })
            .collect(),
        difference: wish.difference,
        seeds_per_group: worth.map(|worth| worth.seeds),
        chance: worth.map(|worth| worth.chance),
        could_show: worth.and_then(|worth| worth.could_show),
        seeds_per_group_needed: worth.map(|worth| worth.seeds_wanted),
        share: worth.map(|worth| worth.share),
        share_from: worth.map(|worth| from(worth.share_known)),
        alike: worth.map(|worth| worth.alike),
        alike_from: worth.map(|worth| from(worth.alike_known)),
        design_effect: worth.map(|worth| worth.design_effect),
        warnings: plan.notes.iter().map(|note| Warning { kind: kind(note), message: trial_note_words(note, plan) }).collect(),
    })
}

fn kind(note: &TrialNote) -> &'static str {
    match note {
        TrialNote::OneBoxEach => "one-box-each",
        TrialNote::FewBoxes { .. } => "few-boxes",
        TrialNote::NeverTogether { .. } => "never-together",
        TrialNote::Nowhere { .. } => "nowhere",
        TrialNote::TooFewSeeds => "too-few-seeds",
        TrialNote::OneWarmth => "one-warmth",
        TrialNote::NoRoom { .. } => "no-room",
    }
}
