//! The printed rows of maximum likelihood once more, through the built program: a bench folder in, numbers out.

use std::collections::BTreeMap;

use seedclock::germination::{Distribution, RateShape, RemovedRule};

use super::dishes;
use super::fixtures::{ROWS, printed};
use crate::asking::{Asked, number};

#[test]
fn the_program_prints_every_maximum_likelihood_row_to_its_digits() {
    let mut benches: BTreeMap<&str, Asked> = BTreeMap::new();
    for row in ROWS {
        let asked = benches.entry(row.file).or_insert_with(|| Asked::about(&dishes::folder(&dishes::of(row.file))));
        let distribution = match row.distribution {
            Distribution::LogLogistic => "log-logistic",
            Distribution::LogNormal => "log-normal",
            Distribution::Weibull => "weibull",
        };
        let removed = match row.removed {
            RemovedRule::Dead => "dead",
            RemovedRule::Censored => "censored",
            RemovedRule::Rotted => "rotted",
        };
        let clock: &[&str] = if row.shape() == RateShape::Days { &["--clock", "days"] } else { &["--rate", "threshold"] };
        let options = ["fit", "--container-effect", "off", "--prior", "none", "--distribution", distribution, "--removed", removed];
        let answer = asked.json(&[&options, clock].concat());
        assert_eq!(answer["fits"].as_array().unwrap().len(), 1);
        let fit = &answer["fits"][0];
        let said = row.said();
        assert_eq!((&fit["species"], &fit["distribution"], &fit["prior"]), (&"test".into(), &distribution.into(), &"none".into()));
        printed(&format!("{said}, ln L"), number(fit, "/log_likelihood").unwrap(), row.log_likelihood);
        for (pointer, text) in [
            ("/parameters/base_c/estimate", row.base),
            ("/parameters/half_requirement/estimate", row.half),
            ("/parameters/spread_ln/estimate", row.spread),
            ("/germinable/0/estimate", row.germinable),
        ] {
            if !text.is_empty() {
                printed(&format!("{said}, {pointer}"), number(fit, pointer).unwrap(), text);
            }
        }
        if row.shape() == RateShape::Days {
            assert_eq!((number(fit, "/parameters/base_c/estimate"), &fit["clock"]), (None, &"days".into()), "{said}");
        }
    }
}

/// The container at 20 °C of the three alone.
#[test]
fn one_temperature_gives_no_base_and_the_program_says_why() {
    let mut dishes = dishes::of("three-temperatures.csv");
    dishes.retain(|dish| dish.name == "20C");
    let asked = Asked::about(&dishes::folder(&dishes));
    let answer = asked.json(&["fit", "--rate", "threshold", "--prior", "none"]);
    let fit = &answer["fits"][0];
    for parameter in ["base_c", "half_requirement"] {
        for member in ["estimate", "low", "informed_by"] {
            assert!(fit["parameters"][parameter][member].is_null(), "{parameter} {member}: {}", fit["parameters"][parameter]);
        }
    }
    // They sprouted at 20 °C, so they start below that: all that is told.
    assert!((number(fit, "/parameters/base_c/high").unwrap() - 20.0).abs() < 0.01, "{}", fit["parameters"]["base_c"]);
    let kinds: Vec<&str> = fit["warnings"].as_array().unwrap().iter().map(|warning| warning["kind"].as_str().unwrap()).collect();
    assert!(kinds.contains(&"one-temperature") && kinds.contains(&"base-unbounded"), "{kinds:?}");
    // A grower gets the general assumption's base, marked as such, and not a number that the seeds never told.
    let answer = asked.json(&["fit", "--rate", "threshold"]);
    assert_eq!(answer["fits"][0]["parameters"]["base_c"]["informed_by"], "prior", "{answer:#}");
}
