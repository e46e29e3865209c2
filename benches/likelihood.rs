//! One likelihood evaluation against the number of readings behind it: it is to cost the same with a thousand as with a million.
//! `cargo bench --bench likelihood`.
//!
//! The same 14 boxes with the same looks each time; only how often their probes read differs. `made` is the cost, once, of all that
//! grows: from readings to the warmth between looks; `ready` of laying that out for the likelihood.
//!
//! Last figures (two cores of an AMD EPYC in a virtual machine that builds used too; least of 9 rounds; `made` and `ready` once):
//!
//! | readings | distinct temperatures | made | ready | ln L, boxes alike | with slopes | boxes differing | with slopes |
//! |---|---|---|---|---|---|---|---|
//! | 1,000 | 1,540 | 0.4 ms | 0.40 ms | 4.4 µs | 6.0 µs | 76 µs | 92 µs |
//! | 10,000 | 10,318 | 1.6 ms | 1.07 ms | 4.6 µs | 6.3 µs | 77 µs | 84 µs |
//! | 100,000 | 43,736 | 11.8 ms | 2.14 ms | 4.6 µs | 6.3 µs | 97 µs | 105 µs |
//! | 1,000,000 | 45,360 | 99.1 ms | 2.11 ms | 4.6 µs | 6.3 µs | 89 µs | 104 µs |
//!
//! Arithmetic bounds it: exponentials and logarithms, one pair for each look that matters. Boxes that differ are integrated on two
//! cores that others used: the fifth by which that column varies is theirs, not the readings'.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a measurement run by hand")]

use std::hint::black_box;
use std::time::Instant;

use seedclock::bench::{Event, Name};
use seedclock::germination::{
    ContainerEffect, Coordinate, Density, Distribution, Evidence, Layout, Model, Passage, Prior, RateShape, RemovedRule, Segment,
    Space,
};
use seedclock::thermal::{Bridge, ProbeSeries, SpotRecord};

const DAY_US: i64 = 86_400_000_000;
const DAYS: i64 = 40;
const BOXES: usize = 14;
const SEEDS: u32 = 20;
const ROUNDS: usize = 9;
/// Evaluations in a round.
const TIMES: usize = 200;

fn main() {
    println!(
        "| readings | distinct temperatures | made | ready | ln L, boxes alike | with slopes | boxes differing | with slopes |"
    );
    println!("|---|---|---|---|---|---|---|---|");
    for readings in [1_000, 10_000, 100_000, 1_000_000] {
        let begun = Instant::now();
        let evidence: Vec<Evidence> = (0..BOXES).map(|at| trial(at, readings / BOXES)).collect();
        let made = begun.elapsed().as_secs_f64();
        let space = Space { shape: RateShape::Tent, distribution: Distribution::LogLogistic };
        let layout = Layout::new(space, ContainerEffect::On, &Prior::General, &evidence, |_| 0.5);
        let begun = Instant::now();
        let whole = Model::new(&evidence, layout, RemovedRule::Dead, Prior::General);
        let ready = begun.elapsed().as_secs_f64();
        let plain = Model::plain(&evidence, space, RemovedRule::Dead, Prior::General);
        let values: usize = evidence.iter().flat_map(Evidence::stretches).map(|stretch| stretch.known.columns()[0].len()).sum();
        let [alike, alike_slopes] = costs(&plain);
        let [differing, differing_slopes] = costs(&whole);
        println!(
            "| {readings} | {values} | {:.1} ms | {:.2} ms | {alike:.1} µs | {alike_slopes:.1} µs | {differing:.0} µs | {differing_slopes:.0} µs |",
            1e3 * made,
            1e3 * ready,
        );
    }
}

/// µs an evaluation without and with slopes, the least of several rounds: other work only ever adds.
fn costs(model: &Model) -> [f64; 2] {
    let value = |which: &Coordinate| match which {
        Coordinate::Base => 6.0,
        Coordinate::Optimum => 26.0,
        Coordinate::LnFall => 11f64.ln(),
        Coordinate::LnHalf => 100f64.ln(),
        Coordinate::LnSpread => 0.14f64.ln(),
        Coordinate::LogitGerminable => 1.4,
        Coordinate::LnSpeedSd => 0.06f64.ln(),
        Coordinate::LnFractionSd => 0.3f64.ln(),
        _ => 0.0,
    };
    let point: Vec<f64> = model.layout.coordinates().iter().map(value).collect();
    assert!(model.ln_likelihood(&point).is_finite());
    let least = |ask: &dyn Fn(&[f64])| {
        let round = |_| {
            let begun = Instant::now();
            (0..TIMES).for_each(|_| ask(black_box(&point)));
            1e6 * begun.elapsed().as_secs_f64() / TIMES as f64
        };
        (0..ROUNDS).map(round).fold(f64::INFINITY, f64::min)
    };
    let value = |point: &[f64]| {
        black_box(model.ln_likelihood(point));
    };
    let slopes = |point: &[f64]| {
        black_box(model.with_gradient(point));
    };
    [least(&value), least(&slopes)]
}

/// A box looked at daily, its probe read `readings` times at even steps over 40 days: a day's wave in sixteenths of a degree.
fn trial(at: usize, readings: usize) -> Evidence {
    let mean_c = 12.0 + at as f64;
    let celsius =
        |time_us: i64| (16.0 * (mean_c + 2.5 * (std::f64::consts::TAU * time_us as f64 / DAY_US as f64).sin())).round() / 16.0;
    let step_us = DAYS * DAY_US / readings as i64;
    let points = (0..readings as i64).map(|reading| (reading * step_us, celsius(reading * step_us))).collect();
    let series = ProbeSeries { points, from_us: 0, until_us: DAYS * DAY_US };
    // However seldom a probe reads here, its readings are joined.
    let record = SpotRecord::measured(&[series], Bridge { always_us: DAY_US, never_over_us: DAY_US });
    let spot = Name::new(&format!("spot {}", at % 5)).unwrap();
    let mut seen = 0;
    let segments = (1..=DAYS).map(|day| {
        let warmth = (mean_c - 6.0) * day as f64;
        let up = (f64::from(SEEDS) * 0.8 / (1.0 + (100.0 / warmth).powi(7))).round() as u32;
        let sprouted = up - seen;
        seen = up;
        let passages = vec![Passage::given(spot.clone(), record.stretch((day - 1) * DAY_US, day * DAY_US))];
        Segment { passages, sprouted, removed: 0, lost: 0 }
    });
    Evidence {
        container: Name::new(&format!("B{at}")).unwrap(),
        lot: Some(Name::new(["own", "swap"][at % 2]).unwrap()),
        treatment: None,
        event: Event::Radicle,
        seeds: Some(SEEDS),
        before: Vec::new(),
        segments: segments.collect(),
        left: Some(SEEDS - seen),
    }
}
