//! The verdicts of `compare` on made-up experiments: a small version of `cargo run --release --example verdicts`.

use seedclock::experiment::{Clock, Verdict};

use crate::simulator::experiments::{CONDITIONS, Condition, asked, shown};

const EXPERIMENTS: u64 = 60;

fn condition(name: &str) -> &'static Condition {
    CONDITIONS.iter().find(|condition| condition.name.starts_with(name)).unwrap_or_else(|| panic!("no condition {name}"))
}

/// 60 experiments: with a true share of 6.5 in 100, ten or more come about 7 times in 1000 (binomial).
#[test]
fn where_nothing_differs_hardly_ever_is_a_difference_shown_though_boxes_do() {
    for name in ["nothing differs, boxes as real ones", "nothing differs, boxes differ much"] {
        let shown = shown(condition(name), EXPERIMENTS, 1);
        assert!(shown.either.share * EXPERIMENTS as f64 <= 9.0, "{name}: {shown:?}");
    }
}

/// The bounds lie three standard errors below what the thousand experiments of the example show.
#[test]
fn twenty_and_eighty_in_a_hundred_is_shown_mostly_by_one_box_each_and_always_by_four() {
    let one = shown(condition("20 and 80 in 100, one box"), EXPERIMENTS, 1);
    let four = shown(condition("20 and 80 in 100, four boxes"), EXPERIMENTS, 1);
    assert!(one.fraction.share > 0.6, "{one:?}");
    assert!(four.fraction.share > 0.95, "{four:?}");
}

#[test]
fn at_two_temperatures_warmth_is_quiet_where_days_cry() {
    let shown = shown(condition("nothing differs but warmth"), EXPERIMENTS, 1);
    assert!(shown.speed.share < 0.12 && shown.clock_alone.share > 0.7, "{shown:?}");
    let answer = asked(condition("nothing differs but warmth"), 1);
    assert_eq!(answer.pairs[0].speed_on, Clock::Warmth);
    assert_eq!(answer.pairs[0].along.celsius, Some((16.0, 23.0)));
}

#[test]
fn a_third_slower_is_shown_by_four_boxes_each_and_how_many_is_not_mixed_in() {
    let shown = shown(condition("a third slower"), EXPERIMENTS, 1);
    assert!(shown.speed.share > 0.7 && shown.fraction.share < 0.12, "{shown:?}");
}

#[test]
fn the_same_seed_makes_the_same_experiment_and_answer() {
    let condition = condition("20 and 80 in 100, one box");
    assert_eq!(asked(condition, 5), asked(condition, 5));
    assert!(matches!(asked(condition, 5).pairs[0].fraction, Verdict::Shown | Verdict::NotShown));
}
