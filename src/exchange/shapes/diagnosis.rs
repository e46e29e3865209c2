//! `diagnose` as JSON.

use serde::Serialize;

use super::{Range, UNKNOWN, Warning, text_of};
use crate::bench::{Degrees, Name};
use crate::civil::rfc3339;
use crate::diagnosis::{BoxDiagnosis, Chilled, Diagnosis, Finding, Kind, MoveDoubt, MoveGain, SOON_DAYS, Spell, Swaps};
use crate::wording::{advice_words, cautions_beside, doubt_of_move_words, evidence_words, lines_of, probe_words};

#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    containers: Vec<Container>,
    swaps: Together,
    probes: Vec<Probe>,
}

#[derive(Debug, Serialize)]
struct Container {
    container: String,
    batch: String,
    spot: String,
    best_spot: Option<String>,
    mean_c: Option<f64>,
    rate_per_day: Option<f64>,
    hours_below_base: Option<f64>,
    hours_above_optimum: Option<f64>,
    imputed_share: Option<f64>,
    delay_days: Range,
    slower_than_explained: Range,
    gain_if_moved: Vec<Gain>,
    lost_days: Lost,
    lost_days_range: LostRange,
    chilling: Chilling,
    findings: Vec<Said>,
}

#[derive(Debug, Serialize)]
struct Together {
    days: usize,
    more_sprouts: Option<f64>,
    moves: Vec<Carried>,
}

#[derive(Debug, Serialize)]
struct Carried {
    container: String,
    from: String,
    to: String,
}

#[derive(Debug, Serialize)]
struct Gain {
    spot: String,
    days: Range,
    sprouts: Range,
    doubts: Vec<Warning>,
}

/// Of `days`, `guessed` are guesses; of `unknown` days in the cold nothing is known.
#[derive(Debug, Default, Serialize)]
struct Chilling {
    wetted: Option<String>,
    since: Option<String>,
    left: Option<String>,
    days: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
    guessed: Option<f64>,
    unknown: Option<f64>,
    elapsed: Option<f64>,
    plan_days: Option<f64>,
    to_go: Option<f64>,
    done: Option<String>,
    said_before: Option<f64>,
    out_hours: Option<f64>,
    warm_hours: Option<f64>,
    frozen_hours: Option<f64>,
    coldest_c: Option<f64>,
    sprouted: Option<u32>,
}

#[derive(Debug, Default, Serialize)]
struct Lost {
    below_base: Option<f64>,
    above_optimum: Option<f64>,
    nights: Option<f64>,
    days: Option<f64>,
    rest: Option<f64>,
}

#[derive(Debug, Serialize)]
struct LostRange {
    below_base: Range,
    above_optimum: Range,
    nights: Range,
    days: Range,
    rest: Range,
}

#[derive(Debug, Serialize)]
struct Said {
    kind: &'static str,
    chance: Option<f64>,
    evidence: String,
    advice: Option<String>,
    caution: Option<String>,
}

#[derive(Debug, Serialize)]
struct Probe {
    probe: String,
    findings: Vec<Said>,
}

/// The diagnosis as JSON.
#[must_use]
pub fn diagnosis_json(diagnosis: &Diagnosis, degrees: Degrees) -> String {
    let doubtful =
        |finding| Said { kind: "doubtful-probe", chance: None, evidence: probe_words(finding), advice: None, caution: None };
    text_of(&Shape {
        as_of: rfc3339(diagnosis.as_of),
        containers: diagnosis.boxes.iter().map(|one| container(one, degrees)).collect(),
        swaps: together(diagnosis.swaps.as_ref()),
        probes: diagnosis
            .probes
            .iter()
            .map(|(probe, _, findings)| Probe { probe: probe.to_string(), findings: findings.iter().map(doubtful).collect() })
            .collect(),
    })
}

fn container(one: &BoxDiagnosis, degrees: Degrees) -> Container {
    let delay = one.delay.as_ref();
    let range = |of: fn(&crate::diagnosis::BoxDelay) -> &crate::stats::Spread| delay.map_or(UNKNOWN, |delay| of(delay).into());
    Container {
        container: one.trial.container.name.to_string(),
        batch: one.trial.container.batch.to_string(),
        spot: one.spot.to_string(),
        best_spot: delay.and_then(|delay| delay.best_spot.as_ref().map(ToString::to_string)),
        mean_c: delay.map(|delay| delay.mean_c),
        rate_per_day: delay.map(|delay| delay.rate_per_day),
        hours_below_base: delay.map(|delay| delay.hours_below_base),
        hours_above_optimum: delay.map(|delay| delay.hours_above_optimum),
        imputed_share: one.guessed,
        delay_days: range(|delay| &delay.delay_days),
        slower_than_explained: range(|delay| &delay.slower),
        gain_if_moved: delay.map_or_else(Vec::new, |delay| delay.moves.iter().map(|of| gain(one, of)).collect()),
        lost_days: delay.map_or_else(Lost::default, |delay| {
            let lost = &delay.lost;
            Lost {
                below_base: lost.below_base.p50,
                above_optimum: lost.above_optimum.p50,
                nights: lost.nights.p50,
                days: lost.days.p50,
                rest: lost.rest.p50,
            }
        }),
        lost_days_range: LostRange {
            below_base: range(|delay| &delay.lost.below_base),
            above_optimum: range(|delay| &delay.lost.above_optimum),
            nights: range(|delay| &delay.lost.nights),
            days: range(|delay| &delay.lost.days),
            rest: range(|delay| &delay.lost.rest),
        },
        chilling: one.chilled.as_ref().map(chilling).unwrap_or_default(),
        findings: one.findings.iter().map(|finding| said(finding, one, degrees)).collect(),
    }
}

fn together(swaps: Option<&Swaps>) -> Together {
    let carried = |(container, from, to): &(Name, Name, Name)| Carried {
        container: container.to_string(),
        from: from.to_string(),
        to: to.to_string(),
    };
    let moves = swaps.map_or_else(Vec::new, |swaps| swaps.moves.iter().map(carried).collect());
    Together { days: SOON_DAYS, more_sprouts: swaps.map(|swaps| swaps.more), moves }
}

fn gain(one: &BoxDiagnosis, gain: &MoveGain) -> Gain {
    let doubts = one.liked.as_ref().map(|liked| liked.doubts(gain)).unwrap_or_default();
    let warning = |doubt: MoveDoubt| {
        let kind = match doubt {
            MoveDoubt::Full => "full",
            MoveDoubt::TooHot => "too-hot",
            MoveDoubt::Untested => "untested",
            MoveDoubt::OutsideKnown => "outside-known-warmth",
        };
        Warning { kind, message: doubt_of_move_words(doubt, gain) }
    };
    Gain {
        spot: gain.spot.to_string(),
        days: (&gain.days).into(),
        sprouts: (&gain.sprouts).into(),
        doubts: doubts.into_iter().map(warning).collect(),
    }
}

fn chilling(chilled: &Chilled) -> Chilling {
    // A sum of nothing is −0.
    let hours = |spells: &[Spell]| Some(spells.iter().map(|spell| spell.hours).sum::<f64>() + 0.0);
    let counted = &chilled.counted;
    Chilling {
        wetted: Some(rfc3339(chilled.wetted)),
        since: chilled.since.map(rfc3339),
        left: chilled.left.map(rfc3339),
        days: Some(counted.days),
        low: Some(counted.at_least),
        high: Some(counted.at_most),
        guessed: Some(counted.guessed),
        unknown: Some(counted.unknown),
        elapsed: Some(counted.elapsed),
        plan_days: chilled.plan.map(|plan| plan.days),
        to_go: chilled.to_go(),
        done: chilled.done.map(rfc3339),
        said_before: chilled.by_label,
        out_hours: hours(&chilled.out),
        warm_hours: hours(&chilled.warm),
        frozen_hours: hours(&chilled.frozen),
        coldest_c: chilled.frozen.iter().filter_map(|spell| spell.celsius).min_by(f64::total_cmp),
        sprouted: Some(chilled.sprouted_cold),
    }
}

fn said(finding: &Finding, one: &BoxDiagnosis, degrees: Degrees) -> Said {
    let kind = match finding.kind {
        Kind::OnCourse => "on-course",
        Kind::ColdSpot => "cold-spot",
        Kind::ColdNights => "cold-nights",
        Kind::HotSpot => "hot-spot",
        Kind::HotHours => "hot-hours",
        Kind::SlowBeyondTemperature => "slow-beyond-temperature",
        Kind::WarmthMayHarm => "warmth-may-harm",
        Kind::BoxDryOrMouldy => "box-dry-or-mouldy",
        Kind::ChillingShort => "chilling-short",
        Kind::ChillingOnCourse => "chilling-on-course",
        Kind::ChillingDone => "chilling-done",
        Kind::ChillingUnknown => "chilling-unknown",
        Kind::ChillingFrozen => "chilling-frozen",
        Kind::ChillingWarm => "chilling-warm",
        Kind::SproutsInCold => "sprouts-in-cold",
        Kind::TooEarlyToTell => "too-early-to-tell",
    };
    Said {
        kind,
        chance: finding.chance,
        evidence: evidence_words(finding, one, degrees),
        advice: finding.advice.as_ref().map(advice_words),
        caution: lines_of(&cautions_beside(finding, &one.trial.container)),
    }
}
