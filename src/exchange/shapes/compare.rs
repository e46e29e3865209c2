//! `compare` as JSON.

use serde::Serialize;

use super::{Warning, text_of};
use crate::bench::Degrees;
use crate::civil::rfc3339;
use crate::experiment::{
    Clock, CompareAnswer, CurvePoint, GroupAnswer, PairAnswer, Ranked, Reckoned, Side, Standing, Unit, Verdict, Without, remarks,
};
use crate::wording::{factor_word, group_label, pair_words, remark_kind, remark_words};

#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    species: String,
    event: &'static str,
    by: &'static str,
    difference: f64,
    groups: Vec<Group>,
    pairs: Vec<Pair>,
    overall: Overall,
    odd: Vec<Odd>,
    warnings: Vec<Warning>,
}

#[derive(Debug, Serialize)]
struct Interval {
    estimate: Option<f64>,
    low: Option<f64>,
    high: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Group {
    group: String,
    containers: usize,
    seeds: Option<u32>,
    sprouted: u32,
    finished: bool,
    standing: &'static str,
    fraction: Interval,
    half_days: Interval,
    half_thermal: Interval,
    half_of_germinable_days: Interval,
    half_of_germinable_thermal: Interval,
    mean_c: Option<f64>,
    curve: Vec<Point>,
    curve_thermal: Vec<Point>,
    indices: Vec<InUse>,
}

#[derive(Debug, Serialize)]
struct InUse {
    name: &'static str,
    unit: &'static str,
    formula: &'static str,
    value: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Point {
    at: f64,
    share: f64,
    low: f64,
    high: f64,
}

#[derive(Debug, Serialize)]
struct Pair {
    a: String,
    b: String,
    fraction_difference: Interval,
    fraction_judged: Interval,
    fisher_p: Option<f64>,
    log_rank: Test,
    log_rank_thermal: Test,
    time_ratio_clock: Interval,
    time_ratio_thermal: Interval,
    time_ratio_judged: Interval,
    judged_in: &'static str,
    seeds_per_group_needed: Option<u32>,
    needed: Vec<Needed>,
    smallest_shown: Option<f64>,
    verdict: Verdicts,
    words: String,
}

#[derive(Debug, Default, Serialize)]
struct Test {
    z: Option<f64>,
    p: Option<f64>,
    exact_p: Option<f64>,
    unit: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct Needed {
    power: f64,
    seeds: u32,
    containers: u32,
    seeds_if_alike: u32,
}

#[derive(Debug, Serialize)]
struct Verdicts {
    fraction: Option<&'static str>,
    speed: Option<&'static str>,
}

#[derive(Debug, Serialize)]
struct Overall {
    fraction_p: Option<f64>,
    speed_p: Option<f64>,
    verdict: Verdicts,
}

#[derive(Debug, Serialize)]
struct Odd {
    group: String,
    side: &'static str,
    after: f64,
    until: f64,
    unit: &'static str,
    chance: f64,
    without: Vec<WithoutIt>,
}

#[derive(Debug, Serialize)]
struct WithoutIt {
    a: String,
    b: String,
    verdict: Verdicts,
}

impl From<&Reckoned> for Interval {
    fn from(value: &Reckoned) -> Self {
        Self { estimate: value.estimate, low: value.low, high: value.high }
    }
}

/// The comparison as JSON.
#[must_use]
pub fn compare_json(answer: &CompareAnswer, degrees: Degrees) -> String {
    let comparison = &answer.comparison;
    let overall = comparison.overall.as_ref();
    text_of(&Shape {
        as_of: rfc3339(answer.as_of),
        species: answer.species.to_string(),
        event: answer.event.word(),
        by: factor_word(comparison.asked.factor),
        difference: comparison.asked.difference,
        groups: comparison.groups.iter().enumerate().map(|(at, group)| of_group(answer, at, group)).collect(),
        pairs: comparison.pairs.iter().map(|pair| of_pair(answer, pair, degrees)).collect(),
        overall: Overall {
            fraction_p: overall.and_then(|overall| overall.fraction_p),
            speed_p: overall.and_then(|overall| overall.speed_p),
            verdict: Verdicts {
                fraction: overall.map(|overall| verdict_word(overall.fraction)),
                speed: overall.map(|overall| verdict_word(overall.speed)),
            },
        },
        odd: comparison.without.iter().map(|without| of_odd(answer, without)).collect(),
        warnings: remarks(answer)
            .iter()
            .map(|remark| Warning { kind: remark_kind(remark), message: remark_words(remark, answer, degrees) })
            .collect(),
    })
}

fn of_group(answer: &CompareAnswer, at: usize, group: &GroupAnswer) -> Group {
    let points = |points: &[CurvePoint]| {
        points.iter().map(|point| Point { at: point.at, share: point.share, low: point.low, high: point.high }).collect()
    };
    Group {
        group: group_label(answer, at).to_owned(),
        containers: group.containers.len(),
        seeds: group.seeds,
        sprouted: if group.seeds.is_some() { group.counted_sprouts } else { group.sprouted },
        finished: group.standing == Standing::Finished,
        standing: match group.standing {
            Standing::Finished => "finished",
            Standing::StillWatched => "still-watched",
            Standing::GivenUpEarly => "given-up-early",
            Standing::NotLooked => "not-looked-at",
        },
        fraction: (&group.fraction).into(),
        half_days: (&group.half_days).into(),
        half_thermal: (&group.half_warmth).into(),
        half_of_germinable_days: (&group.germinable_half_days).into(),
        half_of_germinable_thermal: (&group.germinable_half_warmth).into(),
        mean_c: group.mean_c,
        curve: points(&group.by_day),
        curve_thermal: points(&group.by_warmth),
        indices: group
            .indices
            .iter()
            .map(|index| InUse { name: index.name, unit: index.unit, formula: index.formula, value: index.value })
            .collect(),
    }
}

fn verdict_word(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Shown => "shown",
        Verdict::NotShown => "not-shown",
        Verdict::CannotTell(_) => "cannot-tell",
    }
}

fn unit_word(clock: Clock) -> &'static str {
    match clock {
        Clock::Days => "days",
        Clock::Warmth => "thermal",
    }
}

fn of_test(test: Option<&Ranked>) -> Test {
    test.map_or_else(Test::default, |test| Test {
        z: Some(test.z),
        p: Some(test.p),
        exact_p: test.exact_p,
        unit: Some(match test.unit {
            Unit::Seeds => "seeds",
            Unit::Boxes => "containers",
        }),
    })
}

fn verdicts(fraction: Verdict, speed: Verdict) -> Verdicts {
    Verdicts { fraction: Some(verdict_word(fraction)), speed: Some(verdict_word(speed)) }
}

fn of_pair(answer: &CompareAnswer, pair: &PairAnswer, degrees: Degrees) -> Pair {
    let plans = pair.needed.iter().flat_map(|needed| &needed.plans);
    Pair {
        a: group_label(answer, pair.a).to_owned(),
        b: group_label(answer, pair.b).to_owned(),
        fraction_difference: (&pair.fraction_difference).into(),
        fraction_judged: (&pair.fraction_judged).into(),
        fisher_p: pair.fisher_p,
        log_rank: of_test(pair.log_rank.as_ref()),
        log_rank_thermal: of_test(pair.log_rank_warmth.as_ref()),
        time_ratio_clock: (&pair.ratio_days).into(),
        time_ratio_thermal: (&pair.ratio_warmth).into(),
        time_ratio_judged: (&pair.ratio_judged).into(),
        judged_in: unit_word(pair.speed_on),
        seeds_per_group_needed: pair.needed.map(|needed| needed.plans[0].seeds),
        needed: plans
            .map(|plan| Needed {
                power: plan.power,
                seeds: plan.seeds,
                containers: plan.boxes,
                seeds_if_alike: plan.seeds_if_alike,
            })
            .collect(),
        smallest_shown: pair.smallest_shown,
        verdict: verdicts(pair.fraction, pair.speed),
        words: pair_words(answer, pair, degrees).replace('\u{a0}', " "),
    }
}

fn of_odd(answer: &CompareAnswer, without: &Without) -> Odd {
    let name = |at: usize| group_label(answer, at).to_owned();
    let odd = &without.odd;
    let each = |(pair, fraction, speed): &(usize, Verdict, Verdict)| {
        let pair = &answer.comparison.pairs[*pair];
        WithoutIt { a: name(pair.a), b: name(pair.b), verdict: verdicts(*fraction, *speed) }
    };
    Odd {
        group: name(without.group),
        side: match odd.side {
            Side::Early => "early",
            Side::Late => "late",
        },
        after: odd.after,
        until: odd.until,
        unit: unit_word(answer.comparison.groups[without.group].odd_on),
        chance: odd.chance,
        without: without.verdicts.iter().map(each).collect(),
    }
}
