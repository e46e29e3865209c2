//! Maximum likelihood on published and worked counts.

use super::counts::{looked_at, name};
use seedclock::bench::Event;
use seedclock::germination::{Distribution, Prior, Question, RateShape, RemovedRule, fit};

#[test]
fn scratch() {
    for (file, shape) in [
        ("one-dish-days.csv", RateShape::Days),
        ("germination-index.csv", RateShape::Days),
        ("three-temperatures.csv", RateShape::Threshold),
    ] {
        let evidence = looked_at(file);
        for distribution in [Distribution::LogNormal, Distribution::LogLogistic] {
            for removed in [RemovedRule::Censored, RemovedRule::Dead, RemovedRule::Rotted] {
                let question = Question { distribution, shape, prior: Prior::None, removed };
                let fit = fit(&name("test"), Event::Radicle, &evidence, &[], question, 1).unwrap();
                println!(
                    "{file} {distribution:?} {removed:?} ll {:.5} {:?}\n   {:?}\n  {:?}",
                    fit.log_likelihood, fit.mode, fit.estimates, fit.warnings
                );
            }
        }
    }
}
