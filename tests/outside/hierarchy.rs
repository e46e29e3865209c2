//! Lots, treatments, boxes and doubtful probes told apart: likelihood, prior and posterior against a second model written in numpy and
//! long runs of an ensemble sampler over it (`tests/reference/hierarchy.py`, which says how the runs were made and how well they
//! know their own figures).

use std::collections::BTreeMap;

use serde_json::Value;

use super::reference::{Reference, expected};
use seedclock::bench::{Event, Name};
use seedclock::germination::{
    Added, ContainerEffect, Coordinate, Distribution, Evidence, Layout, Length, Level, Model, Passage, Prior, RateShape,
    RemovedRule, Segment, Space, draw, highest,
};
use seedclock::stats::{quantile_of, standard_deviation_of};
use seedclock::thermal::{Profile, Stretch};

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

struct Bench {
    evidence: Vec<Evidence>,
    offset_sd: BTreeMap<Name, f64>,
}

fn bench(file: &str) -> Bench {
    let path = format!("{}/tests/data/hierarchy-{file}.json", env!("CARGO_MANIFEST_DIR"));
    let kept: Value = serde_json::from_str(&std::fs::read_to_string(path).unwrap()).unwrap();
    let count = |value: &Value| u32::try_from(value.as_u64().unwrap()).unwrap();
    let evidence = kept["containers"].as_array().unwrap().iter().map(|container| {
        let text = |key: &str| name(container[key].as_str().unwrap());
        let segments: Vec<Segment> = container["segments"]
            .as_array()
            .unwrap()
            .iter()
            .map(|segment| {
                let pairs = segment["pairs"].as_array().unwrap().iter();
                let known = Profile::new(pairs.map(|pair| (pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap())));
                Segment {
                    passages: vec![Passage::given(text("spot"), Stretch { known, ..Stretch::default() })],
                    sprouted: count(&segment["sprouted"]),
                    removed: count(&segment["removed"]),
                    lost: count(&segment["lost"]),
                }
            })
            .collect();
        let seeds = count(&container["seeds"]);
        let gone: u32 = segments.iter().map(|segment| segment.sprouted + segment.removed + segment.lost).sum();
        Evidence {
            container: text("container"),
            lot: Some(text("lot")),
            treatment: Some(text("treatment")),
            event: Event::Radicle,
            seeds: Some(seeds),
            before: Vec::new(),
            segments,
            left: Some(seeds - gone),
        }
    });
    let spots = kept["spots"].as_object().unwrap();
    Bench {
        evidence: evidence.collect(),
        offset_sd: spots.iter().map(|(spot, of)| (name(spot), of["offset_sd"].as_f64().unwrap())).collect(),
    }
}

/// The model of a bench; whether the fraction may change with warmth is the reference's choice, not the number of spots'.
fn model(bench: &Bench, slope: bool) -> Model {
    let space = Space { shape: RateShape::Tent, distribution: Distribution::LogLogistic };
    let sd = |level: &Level| match level {
        Level::Given(spot) => bench.offset_sd[spot],
        Level::Read(_) => panic!("all is given here"),
    };
    let layout = Layout::new(space, ContainerEffect::On, &Prior::General, &bench.evidence, sd);
    let centre_c = layout.centre_c.filter(|_| slope);
    assert_eq!(centre_c.is_some(), slope, "three or more spots teach a change with warmth");
    let layout = Layout::of_parts(space, ContainerEffect::On, centre_c, layout.lots, layout.treatments, layout.offsets);
    Model::new(&bench.evidence, layout, RemovedRule::Dead, Prior::General)
}

/// What the reference calls a coordinate.
fn called(layout: &Layout, which: Coordinate) -> String {
    let what = |added| match added {
        Added::Fraction => "fraction_logit",
        Added::Requirement => "ln_half",
        Added::Base => "base",
    };
    let level = |levels: &[Option<Name>], at: usize| levels[at].as_ref().unwrap().to_string();
    match which {
        Coordinate::Base => "base".into(),
        Coordinate::Optimum => "optimum".into(),
        Coordinate::LnFall => "ln_fall".into(),
        Coordinate::LnHalf => "ln_half".into(),
        Coordinate::LnSpread => "ln_spread".into(),
        Coordinate::LogitGerminable => "fraction_logit".into(),
        Coordinate::LnSpeedSd => "ln_sd_speed".into(),
        Coordinate::LnFractionSd => "ln_sd_fraction".into(),
        Coordinate::FractionSlope => "fraction_slope".into(),
        Coordinate::Lot(at, added) => format!("lot/{}/{}", level(&layout.lots, at), what(added)),
        Coordinate::Treatment(at, added) => format!("treatment/{}/{}", level(&layout.treatments, at), what(added)),
        Coordinate::Offset(at) => match &layout.offsets[at].0 {
            Level::Given(spot) => format!("offset/{spot}"),
            Level::Read(_) => panic!("all is given here"),
        },
    }
}

fn posteriors() -> Vec<(String, Value)> {
    expected("hierarchy.json").as_object().unwrap().iter().map(|(name, kept)| (name.clone(), kept.clone())).collect()
}

/// ln likelihood with the boxes' own effects integrated out (25 × 25 adaptive nodes there), and ln prior, at kept points.
#[test]
fn likelihood_and_prior_are_the_second_models() {
    let mut compared = 0;
    for (posterior, kept) in posteriors() {
        let bench = bench(kept["bench"].as_str().unwrap());
        let model = model(&bench, kept["slope"].as_bool().unwrap());
        for point in kept["points"].as_array().unwrap() {
            let coordinates = model.layout.coordinates().iter();
            let at: Vec<f64> = coordinates.map(|which| point["at"][called(&model.layout, *which)].as_f64().unwrap()).collect();
            assert_eq!(at.len(), point["at"].as_object().unwrap().len(), "{posterior}: every parameter has its coordinate");
            let likelihood = Reference { tolerance: 2e-3, ..Reference::of(&point["ln_likelihood"]) };
            likelihood.holds(&format!("{posterior}, ln likelihood"), model.ln_likelihood(&at));
            Reference { tolerance: 1e-6, ..Reference::of(&point["ln_prior"]) }
                .holds(&format!("{posterior}, ln prior"), model.ln_prior(&at));
            compared += 1;
        }
    }
    assert!(compared >= 18, "{compared} points");
}

/// Chains of everyday length: two hundred independent draws or more in the worst coordinate place a 5 % point to within about 0.1
/// posterior standard deviations, and the furthest of two hundred comparisons to within two and a half times that.
#[test]
fn posteriors_are_the_ensemble_samplers() {
    compare(Length { warm_up: 100, kept: 2000, enough: 0, handed_on: usize::MAX }, 200.0, 0.25);
}

/// The same to within 0.1 standard deviations with 10,000 independent draws: `cargo test --release --test main -- --ignored
/// ten_thousand`. Last run: DEVELOPERS.md, "Checks".
#[test]
#[ignore = "some minutes"]
fn posteriors_are_the_ensemble_samplers_with_ten_thousand_draws() {
    compare(Length { warm_up: 200, kept: 120_000, enough: 0, handed_on: usize::MAX }, 10_000.0, 0.1);
}

#[expect(clippy::print_stdout, reason = "shown when asked for: the figures for DEVELOPERS.md")]
fn compare(length: Length, enough: f64, tolerance: f64) {
    let mut faults = Vec::new();
    let posteriors = posteriors();
    assert!(posteriors.len() >= 3);
    for (posterior, kept) in posteriors {
        let bench = bench(kept["bench"].as_str().unwrap());
        let model = model(&bench, kept["slope"].as_bool().unwrap());
        let start: Vec<f64> = model
            .layout
            .coordinates()
            .iter()
            .map(|which| Prior::General.normal(&model.layout.space, *which).or(model.layout.normal(*which)).unwrap().0)
            .collect();
        let mode = highest(&model, &[start], &[]).unwrap().point;
        let begun = std::time::Instant::now();
        let draws = draw(&model, &mode, length, 1).unwrap();
        assert!(draws.effective >= enough, "{posterior}: worth {:.0} independent draws", draws.effective);
        let mut furthest = 0f64;
        for (at, which) in model.layout.coordinates().iter().enumerate() {
            let called = called(&model.layout, *which);
            let reference = &kept["parameters"][&called];
            let number = |key: &str| reference[key].as_f64().unwrap_or_else(|| panic!("{posterior}: no {key} of {called}"));
            let mut values: Vec<f64> = draws.points.iter().map(|point| point[at]).collect();
            let sd = standard_deviation_of(&values);
            values.sort_by(f64::total_cmp);
            for (key, level) in [("p5", 0.05), ("p50", 0.5), ("p95", 0.95)] {
                let apart = (quantile_of(&values, level) - number(key)) / number("sd");
                furthest = furthest.max(apart.abs());
                if apart.abs() > tolerance {
                    faults.push(format!("{posterior} {called} {key}: {apart:.3} sd apart (sd {sd:.3} and {:.3})", number("sd")));
                }
            }
        }
        println!("{posterior}: {:.0} independent draws, furthest {furthest:.3} sd apart, {:.0?}", draws.effective, begun.elapsed());
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}
