//! Chilling counted by hand, and what must hold of any record.

use proptest::prelude::*;

use super::*;
use crate::bench::Container;
use crate::thermal::{Guess, Step};

const HOUR_US: i64 = MICROS_PER_HOUR;

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn at(hours: i64) -> Time {
    Time::UNIX_EPOCH + Duration::hours(hours)
}

fn step(from: i64, until: i64, celsius: f64) -> Step {
    Step { from_us: from * HOUR_US, until_us: until * HOUR_US, celsius, share: 1.0, guess: None }
}

const UNCALIBRATED: ToldBy = ToldBy::Probes { uncalibrated: true };

fn stood<'a>(spot: &'a Name, kind: SpotKind, hours: (i64, i64), told: ToldBy, steps: Vec<Step>) -> Stood<'a> {
    Stood { spot, kind, from: at(hours.0), until: at(hours.1), steps, told, given_sd_c: 0.0 }
}

/// A bag of a lot that wants so many days, sown at hour 0.
fn bag(days: f64) -> (Trial, Lot) {
    let container = Container::new(name("F2"), name("winter"), name("gentian"), name("fridge"), at(0));
    let lot = Lot { chill_days: Some(days), ..Lot::new(name("hill"), name("gentian")) };
    (Trial::new(container), lot)
}

fn told(days: f64, stood: &[Stood<'_>], now: i64) -> Chilled {
    let (trial, lot) = bag(days);
    chilled(&trial, &[], Some(&lot), stood, at(now), Zone::UTC).unwrap()
}

#[test]
fn hours_between_1_and_7_degrees_count_and_no_others() {
    let fridge = name("fridge");
    let steps = vec![
        step(0, 24, 4.0),
        step(24, 48, 0.9),
        step(48, 60, 1.0),
        step(60, 72, 7.0),
        step(72, 96, 7.1),
        Step { guess: Some(Guess { below_c: 1.0, above_c: 1.0 }), ..step(96, 108, 3.0) },
        Step { guess: Some(Guess { below_c: 3.0, above_c: 3.0 }), ..step(108, 120, 3.0) },
    ];
    let chilled = told(10.0, &[stood(&fridge, SpotKind::Fridge, (0, 144), UNCALIBRATED, steps)], 144);
    let days = chilled.counted;
    assert!((days.days - 3.0).abs() < 1e-9, "{days:?}");
    assert!((days.guessed - 1.0).abs() < 1e-9 && (days.unknown - 1.0).abs() < 1e-9 && (days.elapsed - 6.0).abs() < 1e-9);
    // Sure: a day at 4 °C and half a day of near guesses. Possible: all but nothing is out of the probe's reach.
    assert!((days.at_least - 1.5).abs() < 1e-9 && (days.at_most - 5.0).abs() < 1e-9, "{days:?}");
}

#[test]
fn the_date_is_where_the_plan_was_reached_or_will_be_at_the_pace_of_the_last_week() {
    let fridge = name("fridge");
    let half =
        (0..20).map(|day| step(24 * day, 24 * day + 12, 4.0)).chain((0..20).map(|day| step(24 * day + 12, 24 * day + 24, 9.0)));
    let stay = stood(&fridge, SpotKind::Fridge, (0, 480), UNCALIBRATED, half.collect());
    let coming = told(15.0, std::slice::from_ref(&stay), 480);
    assert_eq!((coming.counted.days, coming.pace, coming.to_go()), (10.0, Some(0.5), Some(5.0)));
    assert_eq!(coming.done, Some(at(480 + 240)), "five days more at half a day a day");
    let done = told(3.25, std::slice::from_ref(&stay), 480);
    assert_eq!(done.done, Some(at(6 * 24 + 6)), "six half days and a quarter");
    let none = told(0.0, &[stay], 480);
    assert_eq!((none.done, none.to_go(), none.is_short()), (Some(at(0)), Some(0.0), false));
}

#[test]
fn frost_and_warmth_are_told_only_beyond_the_probes_error_and_from_an_hour_on() {
    let fridge = name("fridge");
    let run = |told: ToldBy, celsius: f64, minutes: i64| {
        let long = minutes * HOUR_US / 60;
        let cold = Step { until_us: 10 * HOUR_US + long, ..step(10, 11, celsius) };
        let after = Step { from_us: cold.until_us, ..step(11, 24, 4.0) };
        let stay = stood(&fridge, SpotKind::Fridge, (0, 24), told, vec![step(0, 10, 4.0), cold, after]);
        super::tests::told(10.0, &[stay], 24)
    };
    let calibrated = ToldBy::Probes { uncalibrated: false };
    assert_eq!(run(UNCALIBRATED, -0.5, 180).frozen, []);
    assert!((run(UNCALIBRATED, -0.5, 180).near_frost_hours - 3.0).abs() < 1e-9);
    assert_eq!(run(calibrated, -0.5, 180).frozen.len(), 1);
    assert_eq!(run(UNCALIBRATED, -0.6, 59).frozen, []);
    let frozen = run(UNCALIBRATED, -0.6, 60).frozen;
    assert_eq!((frozen[0].hours, frozen[0].celsius, frozen[0].from), (1.0, Some(-0.6), at(10)));
    assert_eq!(run(UNCALIBRATED, 7.5, 180).warm, []);
    assert_eq!(run(UNCALIBRATED, 7.6, 180).warm[0].hours, 3.0);
}

#[test]
fn probes_that_differ_count_by_their_shares_and_freeze_by_their_mean() {
    let fridge = name("fridge");
    let both = |celsius| Step { share: 0.5, ..step(0, 24, celsius) };
    let days = told(10.0, &[stood(&fridge, SpotKind::Fridge, (0, 24), UNCALIBRATED, vec![both(4.0), both(-2.0)])], 24);
    assert!((days.counted.days - 0.5).abs() < 1e-9);
    assert_eq!(days.frozen, [], "the mean is 1 °C");
}

#[test]
fn days_out_of_the_cold_are_told_and_a_bag_carried_in_and_out_is_still_counted() {
    let (fridge, sill) = (name("fridge"), name("sill"));
    let mut stays = Vec::new();
    for hour in (0..240).step_by(4) {
        let (spot, kind, celsius) = if hour % 8 == 0 { (&fridge, SpotKind::Fridge, 4.0) } else { (&sill, SpotKind::Indoors, 18.0) };
        stays.push(stood(spot, kind, (hour, hour + 4), UNCALIBRATED, vec![step(hour, hour + 4, celsius)]));
    }
    let chilled = told(60.0, &stays, 240);
    assert_eq!((chilled.counted.days, chilled.out.len(), chilled.left), (5.0, 29, Some(at(236))));
    assert!(chilled.out.iter().all(|spell| spell.hours == 4.0 && spell.celsius == Some(18.0)));
    assert_eq!(chilled.done, None);
    assert!(chilled.is_short());
}

#[test]
fn a_fridge_that_nothing_tells_of_counts_for_nothing_and_one_that_is_set_by_the_calendar() {
    let fridge = name("fridge");
    let untold = told(30.0, &[stood(&fridge, SpotKind::Fridge, (0, 480), ToldBy::Nobody, Vec::new())], 480);
    assert_eq!((untold.counted.days, untold.counted.unknown, untold.pace, untold.done), (0.0, 20.0, None, None));
    assert!(chilling_findings(&untold, &bag(30.0).0, at(480))[0].kind == crate::diagnosis::Kind::ChillingUnknown);
    let given = |celsius: f64, sd_c: f64| {
        let stay = stood(&fridge, SpotKind::Fridge, (0, 480), ToldBy::Given, vec![step(0, 480, celsius)]);
        told(30.0, &[Stood { given_sd_c: sd_c, ..stay }], 480)
    };
    assert_eq!((given(4.0, 0.0).counted.at_least, given(4.0, 0.0).done), (20.0, Some(at(720))));
    assert_eq!((given(4.0, 2.0).counted.days, given(4.0, 2.0).counted.at_least), (20.0, 0.0));
    let freezer = given(-18.0, 0.0);
    assert_eq!((freezer.counted.days, freezer.frozen[0].hours, freezer.done), (0.0, 480.0, None));
}

#[test]
fn a_record_that_begins_late_leaves_the_days_before_unknown() {
    let fridge = name("fridge");
    let chilled = told(20.0, &[stood(&fridge, SpotKind::Fridge, (0, 480), UNCALIBRATED, vec![step(120, 480, 3.0)])], 480);
    assert_eq!((chilled.counted.unknown, chilled.record_begins), (5.0, Some(at(120))));
    assert_eq!(chilled.to_go(), Some(5.0));
}

#[test]
fn dry_cold_is_no_chilling() {
    let fridge = name("fridge");
    let stay = || stood(&fridge, SpotKind::Fridge, (0, 480), UNCALIBRATED, vec![step(0, 480, 3.0)]);
    let (mut trial, lot) = bag(30.0);
    trial.container.treatment = Some(name("dry cold"));
    let dry = chilled(&trial, &[], Some(&lot), &[stay()], at(480), Zone::UTC).unwrap();
    assert_eq!((dry.counted.days, dry.dry_treatment), (0.0, true));
    // Found dry at a look: so many days are in doubt.
    let (mut trial, lot) = bag(30.0);
    let look = |hours, words: &str| Check { condition: Some(words.to_owned()), ..Check::none_new(name("F2"), at(hours)) };
    trial.checks = vec![look(120, "fine"), look(240, "bone dry"), look(360, "not dry")];
    let found = chilled(&trial, &[], Some(&lot), &[stay()], at(480), Zone::UTC).unwrap();
    assert_eq!((found.counted.days, found.counted.at_least, found.dry), (20.0, 15.0, vec![at(240)]));
}

#[test]
fn a_label_is_no_record_and_a_box_of_which_nothing_is_wanted_is_not_told() {
    let sill = name("sill");
    let stay = || stood(&sill, SpotKind::Indoors, (0, 480), UNCALIBRATED, vec![step(0, 480, 3.0)]);
    let (mut trial, lot) = bag(60.0);
    trial.container.treatment = Some(name("30 d cold moist"));
    let told = chilled(&trial, &[], Some(&lot), &[stay()], at(480), Zone::UTC).unwrap();
    assert_eq!((told.by_label, told.to_go(), told.is_short(), told.counted.days), (Some(30.0), Some(30.0), true, 0.0));
    assert_eq!(chilled(&trial, &[], None, &[stay()], at(480), Zone::UTC), None);
}

#[test]
fn sprouts_in_the_cold_are_called_for_until_they_are_taken_out() {
    let fridge = name("fridge");
    let stay = || stood(&fridge, SpotKind::Fridge, (0, 480), UNCALIBRATED, vec![step(0, 480, 3.0)]);
    let (mut trial, _) = bag(60.0);
    trial.checks = vec![Check { sprouted: 4, potted_on: 1, ..Check::none_new(name("F2"), at(300)) }];
    let told = |trial: &Trial| chilled(trial, &[], None, &[stay()], at(480), Zone::UTC).unwrap();
    assert_eq!((told(&trial).sprouted_cold, told(&trial).sprouts_there), (4, 3));
    let todo = chilling_todo(&told(&trial), &trial, at(480));
    assert_eq!(todo[0].what, ColdEvent::Sprouts { sprouts: 3 });
    trial.checks.push(Check { potted_on: 2, died: 1, ..Check::none_new(name("F2"), at(310)) });
    assert_eq!(told(&trial).sprouts_there, 0);
}

/// A record of an hour or so at a time, with holes and guesses.
fn record() -> impl Strategy<Value = Vec<Step>> {
    prop::collection::vec((1i64..200, -4.0..12.0f64, 0u8..5), 1..60).prop_map(|steps| {
        let mut from_us = 0;
        let mut made = Vec::new();
        for (minutes, celsius, sort) in steps {
            let until_us = from_us + minutes * HOUR_US / 60;
            let guess = (sort == 1).then_some(Guess { below_c: 1.0, above_c: 1.5 });
            if sort != 0 {
                made.push(Step { from_us, until_us, celsius, share: 1.0, guess });
            }
            from_us = until_us;
        }
        made
    })
}

fn close(a: f64, b: f64) -> bool {
    (a - b).abs() < 1e-9 * (1.0 + a.abs())
}

proptest! {
    #[test]
    fn no_more_is_counted_than_went_by_and_parts_add_up_in_any_order(
        steps in record(), cut in 1i64..100, swaps in prop::collection::vec((0usize..60, 0usize..60), 0..40)
    ) {
        let fridge = name("fridge");
        let stay = |hours: (i64, i64)| {
            let within = steps.iter().filter(|step| step.from_us < hours.1 * HOUR_US && step.until_us > hours.0 * HOUR_US);
            let clipped = within.map(|step| Step {
                from_us: step.from_us.max(hours.0 * HOUR_US),
                until_us: step.until_us.min(hours.1 * HOUR_US),
                ..*step
            });
            stood(&fridge, SpotKind::Fridge, hours, UNCALIBRATED, clipped.collect())
        };
        let whole = told(3.0, &[stay((0, 200))], 200);
        let days = whole.counted;
        prop_assert!(days.at_least <= days.days + 1e-9 && days.days <= days.at_most + 1e-9);
        prop_assert!(days.at_most + days.unknown <= days.elapsed + 1e-9 && close(days.elapsed, 200.0 / 24.0));
        prop_assert!(days.guessed <= days.days + 1e-9);
        // Cut in two.
        let both = told(3.0, &[stay((0, cut)), stay((cut, 200))], 200);
        for (a, b) in [
            (days.days, both.counted.days), (days.at_least, both.counted.at_least), (days.at_most, both.counted.at_most),
            (days.guessed, both.counted.guessed), (days.elapsed, both.counted.elapsed),
        ] {
            prop_assert!(close(a, b), "{a} against {b}");
        }
        prop_assert!((days.unknown - both.counted.unknown).abs() < 1e-4);
        let hours = |spells: &[Spell]| spells.iter().map(|spell| spell.hours).sum::<f64>();
        prop_assert!(close(hours(&whole.frozen), hours(&both.frozen)) && close(hours(&whole.warm), hours(&both.warm)));
        // In another order.
        let mut shuffled = stay((0, 200));
        let count = shuffled.steps.len();
        for (a, b) in swaps.into_iter().filter(|_| count > 0) {
            shuffled.steps.swap(a % count, b % count);
        }
        prop_assert_eq!(told(3.0, &[shuffled], 200), whole);
    }
}
