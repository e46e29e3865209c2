//! Made-up experiments whose truth is known: two groups of boxes sown alike, looked at each morning, and what the program concludes.

use chrono::{DateTime, Duration};
use seedclock::bench::Name;
use seedclock::experiment::{ASSUMED, Asked, Comparison, Factor, Reached, Seeds, Seen, Shuffles, Verdict, Watched, compare};

use crate::simulator::random::Stream;
use crate::simulator::world::seeds::{Differs, Family, Needs, logistic};

/// Days that a box is watched. Given up by then, as growers do.
const WATCHED_DAYS: u32 = 45;
/// A morning is missed this often.
const MISSED: f64 = 0.1;
/// How unsure the base is that warmth is counted from, °C: what a season of one's own sowings leaves open.
const BASE_SD_C: f64 = 1.0;
/// Equally likely bases told with each experiment.
const DRAWS: usize = 40;

/// What is true of all experiments of one kind.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Condition {
    pub(crate) name: &'static str,
    pub(crate) boxes: usize,
    pub(crate) seeds: u32,
    /// How boxes of one group differ.
    pub(crate) differs: Differs,
    /// Shares of the two groups that can sprout; none: the same share, drawn for each experiment.
    pub(crate) shares: Option<(f64, f64)>,
    /// Factor on the requirement of the first group.
    pub(crate) slower: f64,
    /// Temperatures of the two groups, °C.
    pub(crate) celsius: (f64, f64),
}

const ALIKE: Differs = Differs { ln_requirement: 0.0, logit_fraction: 0.0, base_c: 0.0 };
const REAL: Differs = Differs { ln_requirement: 0.06, logit_fraction: 0.3, base_c: 0.0 };
const MUCH: Differs = Differs { ln_requirement: 0.10, logit_fraction: 0.5, base_c: 0.0 };

const NOTHING: Condition = Condition {
    name: "nothing differs, boxes alike",
    boxes: 1,
    seeds: 20,
    differs: ALIKE,
    shares: None,
    slower: 1.0,
    celsius: (20.0, 20.0),
};

/// The conditions that the verdicts are measured under.
pub(crate) const CONDITIONS: [Condition; 12] = [
    NOTHING,
    Condition { name: "nothing differs, boxes as real ones (.3, .06)", differs: REAL, ..NOTHING },
    Condition { name: "nothing differs, boxes differ much (.5, .10)", differs: MUCH, ..NOTHING },
    Condition { name: "the same, four boxes a group (.3, .06)", differs: REAL, boxes: 4, ..NOTHING },
    Condition { name: "the same, four boxes a group (.5, .10)", differs: MUCH, boxes: 4, ..NOTHING },
    Condition { name: "nothing differs, 8 seeds a box (.3, .06)", differs: REAL, seeds: 8, ..NOTHING },
    Condition { name: "nothing differs, 100 seeds a box (.3, .06)", differs: REAL, seeds: 100, ..NOTHING },
    Condition { name: "nothing differs but warmth, 16 and 23 °C (.3, .06)", differs: REAL, celsius: (16.0, 23.0), ..NOTHING },
    Condition { name: "the same, two boxes a group at each", differs: REAL, boxes: 2, celsius: (16.0, 23.0), ..NOTHING },
    Condition { name: "20 and 80 in 100, one box a group (.3, .06)", differs: REAL, shares: Some((0.2, 0.8)), ..NOTHING },
    Condition {
        name: "20 and 80 in 100, four boxes a group (.3, .06)",
        differs: REAL,
        boxes: 4,
        shares: Some((0.2, 0.8)),
        ..NOTHING
    },
    Condition { name: "a third slower, four boxes a group (.3, .06)", differs: REAL, boxes: 4, slower: 1.33, ..NOTHING },
];

/// How often something came about, with its standard error.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Share {
    pub(crate) share: f64,
    pub(crate) error: f64,
}

/// How often a difference was shown under a condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Shown {
    pub(crate) fraction: Share,
    pub(crate) speed: Share,
    pub(crate) either: Share,
    /// A clock alone, warmth left out, would have said that they differ in speed.
    pub(crate) clock_alone: Share,
    /// Fisher's test, each seed by itself, at 1 in 20.
    pub(crate) fisher: Share,
    /// The log-rank test, each seed by itself, at 1 in 20.
    pub(crate) log_rank: Share,
}

/// Makes experiments of one condition up and counts what the program shows.
pub(crate) fn shown(condition: &Condition, experiments: u64, first_seed: u64) -> Shown {
    let answers: Vec<Comparison> = (0..experiments).map(|nth| asked(condition, first_seed + nth)).collect();
    let share = |came: &dyn Fn(&Comparison) -> bool| {
        let share = answers.iter().filter(|answer| came(answer)).count() as f64 / experiments as f64;
        Share { share, error: (share * (1.0 - share) / experiments as f64).sqrt() }
    };
    let clock = |answer: &Comparison| {
        let ratio = &answer.pairs[0].ratio_days;
        ratio.low.is_some_and(|low| low > 1.0) || ratio.high.is_some_and(|high| high < 1.0)
    };
    Shown {
        fraction: share(&|answer| answer.pairs[0].fraction == Verdict::Shown),
        speed: share(&|answer| answer.pairs[0].speed == Verdict::Shown),
        either: share(&|answer| [answer.pairs[0].fraction, answer.pairs[0].speed].contains(&Verdict::Shown)),
        clock_alone: share(&clock),
        fisher: share(&|answer| answer.pairs[0].fisher_p.is_some_and(|p| p <= 0.05)),
        log_rank: share(&|answer| answer.pairs[0].log_rank.as_ref().is_some_and(|test| test.p <= 0.05)),
    }
}

/// One experiment, and what is concluded from it.
pub(crate) fn asked(condition: &Condition, seed: u64) -> Comparison {
    let asked = Asked { factor: Factor::Treatment, boxes_differ: ASSUMED, difference: 0.2, shuffles: Shuffles::No };
    compare(&experiment(condition, seed), asked)
}

/// The boxes of one experiment.
pub(crate) fn experiment(condition: &Condition, seed: u64) -> Vec<Watched> {
    let mut random = Stream::new(seed, "experiment");
    let germinable = 0.8 + random.normal(0.8);
    let species = Needs {
        base_c: 6.0,
        optimum_c: 28.0,
        ceiling_c: 40.0,
        ln_half: 100.0_f64.ln() + random.normal(0.2),
        spread_sd: 0.22 * random.normal(0.3).exp(),
        family: if random.chance(0.5) { Family::LogNormal } else { Family::LogLogistic },
        logit_germinable: germinable,
    };
    let believed = species.base_c + random.normal(BASE_SD_C);
    let bases: Vec<f64> = std::iter::once(believed).chain((0..DRAWS).map(|_| believed + random.normal(BASE_SD_C))).collect();
    let shares = condition.shares.unwrap_or((logistic(germinable), logistic(germinable)));
    let groups = [("chilled", shares.0, condition.slower, condition.celsius.0), ("untreated", shares.1, 1.0, condition.celsius.1)];
    let mut boxes = Vec::new();
    for (treatment, share, slower, celsius) in groups {
        for number in 1..=condition.boxes {
            let differs = Differs {
                ln_requirement: slower.ln() + random.normal(condition.differs.ln_requirement),
                logit_fraction: random.normal(condition.differs.logit_fraction),
                base_c: 0.0,
            };
            let needs = Needs { logit_germinable: (share / (1.0 - share)).ln(), ..species }.with(differs);
            boxes.push(watched(&format!("{treatment} {number}"), treatment, condition.seeds, &needs, celsius, &bases, &mut random));
        }
    }
    boxes
}

fn watched(name: &str, treatment: &str, seeds: u32, needs: &Needs, celsius: f64, bases: &[f64], random: &mut Stream) -> Watched {
    let a_day = needs.rate(celsius);
    let days: Vec<f64> = (0..seeds).filter_map(|_| needs.seed(random)).map(|requirement| requirement / a_day).collect();
    let at = |day: f64| Reached {
        days: day,
        warmth: Some((celsius - bases[0]) * day),
        by_draw: bases[1..].iter().map(|base| (celsius - base).max(0.1) * day).collect(),
    };
    let mut looks: Vec<Seen> = Vec::new();
    let mut before = 0.0;
    for day in 1..=WATCHED_DAYS {
        if day < WATCHED_DAYS && random.chance(MISSED) {
            continue;
        }
        let day = f64::from(day);
        let sprouted = days.iter().filter(|sprouts| (before..day).contains(*sprouts)).count() as u32;
        looks.push(Seen { at: at(day), sprouted, ..Seen::default() });
        before = day;
    }
    let named = |text: &str| Name::new(text).unwrap();
    Watched {
        container: named(name),
        treatment: Some(named(treatment)),
        lot: None,
        spot: named("shelf"),
        batch: named("trial"),
        sown: DateTime::UNIX_EPOCH + Duration::days(20_000),
        seeds: Seeds::Counted(seeds),
        left_out: 0,
        begun: at(0.0),
        looks,
        ended: true,
        mean_c: Some(celsius),
    }
}
