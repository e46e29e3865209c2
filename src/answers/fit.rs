//! What each species' seeds need.

use std::collections::BTreeMap;

use super::Known;
use crate::bench::{Event, Name, Trial};
use crate::germination::{Evidence, Fit, Prior, Question, RateShape, fit, published};
use crate::stats::seed_of;

/// What may be assumed of a species beforehand.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Assumption {
    /// Nothing.
    Nothing,
    /// What holds of seeds in general.
    General,
    /// What is published of the species, else what holds in general.
    #[default]
    BestKnown,
}

/// What is asked.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct FitWish {
    /// One species only.
    pub species: Option<Name>,
    /// Sowings of one batch only.
    pub batch: Option<Name>,
    /// How it is to be fitted; its prior is found for each species by `assumption`.
    pub question: Question,
    /// What may be assumed.
    pub assumption: Assumption,
}

impl Assumption {
    /// What it comes to for one species.
    pub(super) fn of(self, species: &Name, event: Event) -> Prior {
        match self {
            Self::Nothing => Prior::None,
            Self::General => Prior::General,
            Self::BestKnown => published(species, event).map_or(Prior::General, Prior::Published),
        }
    }
}

/// Fits every species and event that has a container with a look.
#[must_use]
pub fn fit_all(known: &Known, wish: &FitWish) -> Vec<Fit> {
    let mut groups: BTreeMap<(&Name, Event), Vec<&Trial>> = BTreeMap::new();
    for trial in known.bench.trials.values().filter(|trial| !trial.checks.is_empty()) {
        let container = &trial.container;
        let asked = wish.species.as_ref().is_none_or(|species| *species == container.species)
            && wish.batch.as_ref().is_none_or(|batch| *batch == container.batch);
        if asked {
            groups.entry((&container.species, container.event)).or_default().push(trial);
        }
    }
    let fits = groups.into_iter().filter_map(|((species, event), trials)| {
        let question = Question { prior: wish.assumption.of(species, event), ..wish.question };
        fit_species(known, species, event, &trials, question)
    });
    fits.collect()
}

/// Fits one species from its trials; those without known temperatures are left out and named.
pub(super) fn fit_species(known: &Known, species: &Name, event: Event, trials: &[&Trial], question: Question) -> Option<Fit> {
    let all = trials.iter().map(|trial| known.evidence(trial));
    let (usable, unknown): (Vec<Evidence>, Vec<Evidence>) =
        all.partition(|evidence| question.shape == RateShape::Days || evidence.unknown_days() == 0.0);
    let usable = if question.shape == RateShape::Days { trials.iter().map(|trial| on_days(trial)).collect() } else { usable };
    let left_out: Vec<Name> = unknown.into_iter().map(|evidence| evidence.container).collect();
    fit(species, event, &usable, &left_out, question, seed_of(species.as_str()))
}

/// A trial's looks with nothing but the time between them.
fn on_days(trial: &Trial) -> Evidence {
    let times = std::iter::once(trial.container.sown).chain(trial.checks.iter().map(|check| check.time));
    let stretches = times.zip(&trial.checks).map(|(from, check)| {
        // On days alone the rate is 1 at any temperature.
        crate::thermal::SpotRecord::set(0.0).stretch(from.timestamp_micros(), check.time.timestamp_micros())
    });
    Evidence::new(trial, stretches.collect())
}
