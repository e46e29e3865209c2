//! Forecasts kept as they were made, and held against what came.

use super::{Known, Present};
use crate::bench::Trial;
use crate::civil::{Time, local_date};
use crate::forecast::{ForecastAnswer, KeptForecast, Ledger, Story, compare};

/// Why a forecast is kept.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Keeping {
    /// It is the first of its container's local day, if it is.
    FirstOfDay,
    /// That was asked for.
    OnDemand,
}

/// What of a forecast can be kept: that of each box that is told and whose seeds were counted.
#[must_use]
pub fn to_keep(known: &Known, present: &Present<'_>, answer: &ForecastAnswer, made: Time, why: Keeping) -> Vec<KeptForecast> {
    let kept = answer.boxes.iter().filter(|one| !one.ended).filter_map(|one| {
        let container = &one.trial.container;
        let counts = one.forecast.by_date.iter().map(|(_, counts)| *counts).collect::<Option<Vec<_>>>()?;
        let fit_key = present.fit_keys.get(&(&container.species, container.event));
        Some(KeptForecast {
            container: container.name.clone(),
            as_of: answer.as_of,
            made,
            first_of: (why == Keeping::FirstOfDay).then(|| local_date(answer.as_of, known.bench.zone)),
            program: env!("CARGO_PKG_VERSION").to_owned(),
            fit_key: fit_key.map(|key| key.iter().map(|byte| format!("{byte:02x}")).collect()),
            options: format!("--days {}", answer.days),
            seeds: Some(container.seeds?),
            sprouted: one.trial.sprouted(),
            counts,
        })
    });
    kept.collect()
}

/// How kept forecasts did, by all that is known.
#[must_use]
pub fn ledger(known: &Known, kept: &[KeptForecast]) -> Ledger {
    let (scored, comparisons) = compare(kept, &stories(known));
    Ledger::of(kept.len(), scored, &comparisons)
}

/// What became of each container, as far as it is known.
pub(super) fn stories(known: &Known) -> Vec<Story> {
    known.bench.trials.values().map(|trial| story(known, trial)).collect()
}

fn story(known: &Known, trial: &Trial) -> Story {
    let container = &trial.container;
    let seen = trial.checks.iter().scan(0, |seen, check| {
        *seen += check.sprouted;
        Some((check.time, *seen))
    });
    Story {
        container: container.name.clone(),
        kind: format!("{} {}", container.event.word(), container.species),
        batch: container.batch.clone(),
        sown: container.sown,
        counted_from: known.counts_from(trial),
        seeds: container.seeds,
        looks: seen.collect(),
    }
}
