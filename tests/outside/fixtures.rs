//! Maximum likelihood on published and worked counts, at the library.
//!
//! The one dish: counts printed in Onofri, Mesgaran & Ritz 2022, Weed Science ("A unified framework for the analysis of
//! germination, emergence, and other time-to-event data in weed science"), introduction. The index example and the three
//! temperatures: counts made up to be worked through. All printed values were found with numpy and scipy and are recomputed by
//! `tests/reference/fixtures.py`.

use super::counts::{looked_at, name};
use seedclock::bench::Event;
use seedclock::germination::{
    ContainerEffect, Coordinate, Distribution, Evidence, Fit, FitWarning, Informant, Model, Peak, Prior, Question, RateShape,
    RemovedRule, Space, curvature, fit, highest, profile_interval,
};
use seedclock::stats::logit;

use Distribution::{LogLogistic, LogNormal};
use RemovedRule::{Censored, Dead, Rotted};

/// A printed row of maximum likelihood: empty where nothing was printed.
pub(super) struct Row {
    pub(super) file: &'static str,
    pub(super) distribution: Distribution,
    pub(super) removed: RemovedRule,
    pub(super) base: &'static str,
    pub(super) half: &'static str,
    pub(super) spread: &'static str,
    pub(super) germinable: &'static str,
    pub(super) log_likelihood: &'static str,
}

const fn row(file: &'static str, distribution: Distribution, removed: RemovedRule, printed: [&'static str; 5]) -> Row {
    let [base, half, spread, germinable, log_likelihood] = printed;
    Row { file, distribution, removed, base, half, spread, germinable, log_likelihood }
}

const ONE_DISH: &str = "one-dish-days.csv";
const INDEX: &str = "germination-index.csv";
const THREE: &str = "three-temperatures.csv";

pub(super) const ROWS: [Row; 10] = [
    row(ONE_DISH, LogNormal, Dead, ["", "5.89874", "0.47078", "0.93779", "-35.99670"]),
    row(ONE_DISH, LogLogistic, Dead, ["", "5.87637", "0.27597", "0.94436", "-35.83784"]),
    row(INDEX, LogLogistic, Dead, ["", "6.25693", "0.153936", "0.884702", "-52.014646"]),
    row(INDEX, LogNormal, Dead, ["", "6.27924", "0.267405", "0.881195", "-51.941205"]),
    row(THREE, LogNormal, Censored, ["8.4876", "98.323", "0.16146", "0.85638", "-143.42864"]),
    row(THREE, LogNormal, Dead, ["8.4357", "98.454", "0.16078", "0.82668", "-147.40276"]),
    row(THREE, LogLogistic, Censored, ["8.4881", "97.791", "0.09183", "0.85623", "-143.83691"]),
    row(THREE, LogLogistic, Dead, ["8.4376", "97.878", "0.09110", "0.82688", "-147.70744"]),
    row(THREE, LogNormal, Rotted, ["", "", "", "", "-142.73678"]),
    row(THREE, LogLogistic, Rotted, ["", "", "", "", "-143.06116"]),
];

impl Row {
    /// Days alone where the counts have no temperature.
    pub(super) fn shape(&self) -> RateShape {
        if self.file == THREE { RateShape::Threshold } else { RateShape::Days }
    }

    pub(super) fn said(&self) -> String {
        format!("{} {:?} {:?}", self.file, self.distribution, self.removed)
    }
}

/// Holds a number against a printed one: equal when rounded as it was.
pub(super) fn printed(what: &str, found: f64, text: &str) {
    let decimals = text.split_once('.').map_or(0, |(_, decimals)| decimals.len());
    let print: f64 = text.parse().unwrap();
    // A last digit that stands for a half either way, and a crumb for numbers that lie on the edge.
    let tolerance = 0.501 * 10f64.powi(-(decimals as i32));
    assert!((found - print).abs() <= tolerance, "{what}: {found:.*}, printed {text}", decimals + 3);
}

fn printed_if_any(what: &str, found: Option<f64>, text: &str) {
    if !text.is_empty() {
        printed(what, found.unwrap_or_else(|| panic!("{what}: none, printed {text}")), text);
    }
}

pub(super) fn question(distribution: Distribution, shape: RateShape, removed: RemovedRule) -> Question {
    Question { distribution, shape, prior: Prior::None, removed, containers: ContainerEffect::Off }
}

fn fitted(row: &Row) -> Fit {
    let evidence = looked_at(row.file);
    fit(&name("test"), Event::Radicle, &evidence, &[], |_| 0.0, question(row.distribution, row.shape(), row.removed), 1).unwrap()
}

#[test]
fn maximum_likelihood_reproduces_every_printed_row_to_its_digits() {
    for row in ROWS {
        let (fit, said) = (fitted(&row), row.said());
        let e = &fit.estimates;
        printed(&format!("{said}, ln L"), fit.log_likelihood, row.log_likelihood);
        printed_if_any(&format!("{said}, base"), e.base.estimate, row.base);
        printed_if_any(&format!("{said}, half requirement"), e.half.estimate, row.half);
        printed_if_any(&format!("{said}, spread"), e.spread.estimate, row.spread);
        printed_if_any(&format!("{said}, germinable"), e.germinable.estimate, row.germinable);
        assert_eq!(e.half.informed_by, Some(Informant::Trials), "{said}");
        assert!(e.half.low < e.half.estimate && e.half.estimate < e.half.high, "{said}: {:?}", e.half);
        assert!(!fit.warnings.contains(&FitWarning::Unconfirmed), "{said}: {:?}", fit.warnings);
    }
}

/// The slope is printed too for the log-logistic row of the one dish.
#[test]
fn the_one_dish_has_the_printed_slope() {
    printed("1/s", 1.0 / fitted(&ROWS[1]).estimates.spread.estimate.unwrap(), "3.62363");
}

fn model(evidence: &[Evidence], distribution: Distribution, removed: RemovedRule) -> Model {
    let space = Space { shape: RateShape::Threshold, distribution };
    Model::plain(evidence, space, removed, Prior::None)
}

/// A climb from one plausible place.
fn peak(model: &Model, base: f64, half: f64, held: &[usize]) -> Peak {
    highest(model, &[vec![base, half.ln(), 0.15f64.ln(), logit(0.8)]], held).unwrap()
}

/// One standard error of the base, one of the spread, their correlation, the 95 % profile interval of the base.
///
/// Two printed figures are one off in their last digit, and stand here as recomputed (scipy: 0.015249, −0.932496).
#[test]
fn standard_errors_correlation_and_profile_interval_are_as_printed() {
    let rows = [
        (LogNormal, Censored, ["0.534", "0.0153", "-0.932", "7.290", "9.444"]),
        (LogNormal, Dead, ["0.541", "0.0152", "-0.932", "", ""]),
        (LogLogistic, Censored, ["0.525", "0.0102", "-0.933", "7.315", "9.429"]),
        (LogLogistic, Dead, ["0.529", "0.0101", "-0.933", "", ""]),
    ];
    let evidence = looked_at(THREE);
    for (distribution, removed, [base_se, spread_se, correlation, low, high]) in rows {
        let said = format!("{distribution:?} {removed:?}");
        let model = model(&evidence, distribution, removed);
        let peak = peak(&model, 8.0, 100.0, &[]);
        let covariance = curvature(&model, &peak.point).unwrap().try_inverse().unwrap();
        let sd = |at: usize| covariance[(at, at)].sqrt();
        printed(&format!("{said}, standard error of the base"), sd(0), base_se);
        printed(&format!("{said}, standard error of the spread"), peak.point[2].exp() * sd(2), spread_se);
        printed(&format!("{said}, correlation"), covariance[(0, 1)] / (sd(0) * sd(1)), correlation);
        if !low.is_empty() {
            let place = model.layout.place_of(Coordinate::Base).unwrap();
            let (from, until) = profile_interval(&model, &peak.point, place, 0.5, 0.95);
            printed_if_any(&format!("{said}, low end"), from, low);
            printed_if_any(&format!("{said}, high end"), until, high);
        }
    }
}

fn twenty_degrees() -> Vec<Evidence> {
    looked_at(THREE).into_iter().filter(|evidence| evidence.container == name("20C")).collect()
}

#[test]
fn at_one_temperature_the_likelihood_is_flat_in_the_base() {
    let evidence = twenty_degrees();
    let model = model(&evidence, LogNormal, Censored);
    for (base, half) in [(0.0, "174.93"), (4.0, "139.95"), (8.0, "104.96"), (12.0, "69.97")] {
        let peak = peak(&model, base, (20.0 - base) * 9.0, &[0]);
        printed(&format!("ln L, base held at {base}"), peak.value, "-48.613714");
        printed(&format!("half requirement, base held at {base}"), peak.point[1].exp(), half);
        assert_eq!(peak.point[0].to_bits(), base.to_bits(), "the base was held");
    }
}

#[test]
fn one_temperature_gives_no_base_and_says_so() {
    let evidence = twenty_degrees();
    for distribution in [LogNormal, LogLogistic, Distribution::Weibull] {
        let fit =
            fit(&name("test"), Event::Radicle, &evidence, &[], |_| 0.0, question(distribution, RateShape::Threshold, Censored), 1);
        let fit = fit.unwrap();
        assert_eq!((fit.estimates.base.estimate, fit.estimates.half.estimate), (None, None), "{distribution:?}");
        assert_eq!((fit.estimates.base.low, fit.estimates.base.informed_by), (None, None), "{distribution:?}");
        assert!(fit.warnings.contains(&FitWarning::BaseUnbounded), "{:?}", fit.warnings);
        assert!(fit.warnings.contains(&FitWarning::OneTemperature { from_c: 20.0, to_c: 20.0 }), "{:?}", fit.warnings);
        // What one temperature does tell is told.
        assert!(fit.estimates.spread.estimate.is_some() && fit.estimates.germinable.estimate.is_some());
    }
}
