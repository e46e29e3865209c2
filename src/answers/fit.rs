//! What each species' seeds need.

use std::collections::BTreeMap;

use super::{Known, Shelf};
use crate::bench::{Bench, Event, Name, Trial};
use crate::civil::Time;
use crate::germination::{Evidence, Fit, Packet, Passage, Prior, Question, RateShape, fit, published};
use crate::stats::seed_of;
use crate::thermal::SpotRecord;

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
    pub(super) fn of(self, bench: &Bench, species: &Name, event: Event) -> Prior {
        match self {
            Self::Nothing => Prior::None,
            Self::General => Prior::General,
            Self::BestKnown => match (packet(bench, species), published(species, event)) {
                (Some(packet), published) => Prior::Packet(packet, published),
                (None, Some(published)) => Prior::Published(published),
                (None, None) => Prior::General,
            },
        }
    }
}

/// What the packet of a species' lot says; of several lots, that of the one sown last.
fn packet(bench: &Bench, species: &Name) -> Option<Packet> {
    let said = bench.lots.values().filter(|lot| lot.species == *species).filter_map(|lot| {
        let (low, high) = (lot.packet_days_low.or(lot.packet_days_high)?, lot.packet_days_high.or(lot.packet_days_low)?);
        let packet = Packet {
            days_low: low,
            days_high: high,
            at_c: lot.packet_c?,
            fraction: lot.packet_percent.map(|percent| percent / 100.0),
        };
        let sown =
            bench.trials.values().filter(|trial| trial.container.lot.as_ref() == Some(&lot.name)).map(|trial| trial.container.sown);
        (low > 0.0 && high >= low).then(|| (sown.max(), packet))
    });
    said.max_by_key(|(sown, _)| *sown).map(|(_, packet)| packet)
}

/// Fits every species and event that has a container with a look.
#[must_use]
pub fn fit_all(known: &Known, wish: &FitWish, shelf: &mut Shelf<'_>) -> Vec<Fit> {
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
        let question = Question { prior: wish.assumption.of(&known.bench, species, event), ..wish.question };
        Some(shelf.fit(known, species, event, &trials, question)?.0)
    });
    fits.collect()
}

/// Fits one species from its trials; those without known temperatures are left out and named.
pub(super) fn fit_species(known: &Known, species: &Name, event: Event, trials: &[&Trial], question: Question) -> Option<Fit> {
    let all = trials.iter().map(|trial| known.evidence(trial));
    let (usable, unknown): (Vec<Evidence>, Vec<Evidence>) =
        all.partition(|evidence| question.shape == RateShape::Days || evidence.unknown_days() == 0.0);
    let usable =
        if question.shape == RateShape::Days { trials.iter().map(|trial| on_days(known, trial)).collect() } else { usable };
    let left_out: Vec<Name> = unknown.into_iter().map(|evidence| evidence.container).collect();
    fit(species, event, &usable, &left_out, |level| known.level_sd_c(level), question, seed_of(species.as_str()))
}

/// A trial's looks with nothing but the time between them, counted from leaving the cold.
fn on_days(known: &Known, trial: &Trial) -> Evidence {
    let sown = trial.container.sown;
    // On days alone the rate is 1 at any temperature.
    let any = SpotRecord::set(0.0);
    let counted = known.counts_from(trial);
    let between = |from: Time, until: Time| {
        let stretch = |counted: Time| any.stretch(from.max(counted).timestamp_micros(), until.timestamp_micros());
        counted.map_or_else(Vec::new, |counted| vec![Passage::given(trial.container.spot.clone(), stretch(counted))])
    };
    let before = counted.map_or_else(Vec::new, |counted| between(counted, sown));
    let times = std::iter::once(sown).chain(trial.checks.iter().map(|check| check.time));
    let stretches = times.zip(&trial.checks).map(|(from, check)| between(from, check.time));
    Evidence::new(trial, before, stretches.collect())
}
