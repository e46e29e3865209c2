use super::super::simulated::{DAY_US, Home};
use super::super::{Flag, flags};
use super::*;
use crate::bench::{Proof, TENTHS_OF_MILLI};

const BERLIN: Zone = Zone::Europe__Berlin;

fn found(points: &[(i64, f64)]) -> SunStruck {
    sun_struck(points, Thresholds::default().sun_c, BERLIN)
}

fn readings(points: &[(i64, f64)]) -> Vec<Reading> {
    let reading = |(time_us, celsius): &(i64, f64)| Reading {
        time_us: *time_us,
        raw_c_e4: Some((celsius * TENTHS_OF_MILLI).round() as i64),
        proof: Proof::Plain,
    };
    points.iter().map(reading).collect()
}

/// A month in which a probe beside its box is struck each clear morning.
fn struck(seed: u64, every: usize) -> (Home, Vec<(i64, f64)>) {
    let mut home = Home::new(seed, 30);
    let (sill, hour, hours) = (home.sill(4.0), 8.0 + seed as f64 % 5.0, 0.5 + seed as f64 % 4.0 * 0.6);
    let place = home.struck(&sill, hour, hours, 9.0 + seed as f64 % 4.0 * 2.0);
    let shown = home.shown(&place, every);
    (home, shown)
}

#[test]
fn strikes_of_the_sun_are_found_on_clear_days_and_at_no_other_time() {
    for every in [1, 5, 10] {
        let (mut met, mut clear) = (0, 0);
        for seed in 0..20 {
            let (home, shown) = struck(seed, every);
            let told = found(&shown).struck;
            let days: BTreeSet<i64> = told.iter().map(|strike| (strike.peak_us - shown[0].0).div_euclid(DAY_US)).collect();
            for strike in &told {
                let (day, hour) =
                    ((strike.peak_us - shown[0].0) / DAY_US, (strike.peak_us % DAY_US) as f64 / MICROS_PER_HOUR as f64);
                assert!(home.clear[day as usize] > 0.5, "seed {seed}, every {every} minutes: day {day} was dull");
                let begins = 8.0 + seed as f64 % 5.0;
                assert!((begins - 1.1..begins + 2.5).contains(&hour), "seed {seed}: at {hour} h, not {begins} h");
            }
            met += days.len();
            clear += home.clear.iter().filter(|clear| **clear > 0.5).count();
        }
        assert!(met * 4 >= clear * 3, "every {every} minutes: {met} of {clear} clear days");
    }
}

#[test]
fn no_ordinary_place_is_doubted_in_two_hundred_probe_months() {
    let mut months = 0;
    for seed in 0..40 {
        let mut home = Home::new(1000 + seed, 30);
        let air = home.air.clone();
        let places = [
            ("room", air),
            ("a sill that the sun warms", home.sill(12.0)),
            ("a sill that the sun warms much", home.sill(25.0)),
            ("a mat on a thermostat", home.thermostat()),
            ("a mat on a timer for two hours", home.timer(2.0)),
            ("a mat on a timer for eight hours", home.timer(8.0)),
        ];
        for (place, celsius) in places {
            for every in [1, 5, 10] {
                let told = found(&home.shown(&celsius, every));
                assert_eq!(told, SunStruck::default(), "{place}, every {every} minutes, seed {seed}");
            }
            months += 1;
        }
    }
    assert!(months >= 200);
}

/// Places where something truly shoots up now and then: single readings may be doubted, no more than one month in twenty has any.
#[test]
fn clouds_over_air_under_glass_and_doors_opened_are_hardly_ever_taken_for_the_sun() {
    for place in ["glass", "fridge"] {
        let mut doubted = 0;
        for seed in 0..60 {
            let mut home = Home::new(3000 + seed, 30);
            let celsius = if place == "glass" { home.under_glass() } else { home.fridge() };
            doubted += usize::from(found(&home.shown(&celsius, 5)) != SunStruck::default());
        }
        assert!(doubted * 20 <= 60, "{place}: {doubted} of 60 months");
    }
}

#[test]
fn a_box_that_the_sun_warms_for_an_hour_on_clear_days_cools_too_slowly_to_be_doubted() {
    for seed in 0..20 {
        let mut home = Home::new(2000 + seed, 30);
        let air = home.air.clone();
        let lit = home.struck(&air, 10.0, 1.0, 25.0);
        let boxed = super::super::simulated::followed(&lit, 30.0);
        let shown = home.shown(&boxed, 5);
        assert!(shown.iter().zip(&air).any(|(shown, air)| shown.1 > air + 5.0), "it is warmed");
        assert_eq!(found(&shown), SunStruck::default(), "seed {seed}");
    }
}

#[test]
fn where_every_day_is_clear_the_sun_is_asked_about_and_nothing_is_doubted() {
    let mut home = Home::new(7, 20);
    home.clear = (0..20).map(|day| 0.6 + 0.4 * f64::from(day % 3) / 2.0).collect();
    let air = home.air.clone();
    let place = home.struck(&air, 10.0, 1.0, 14.0);
    let told = found(&home.shown(&place, 5));
    assert!(told.struck.is_empty(), "{told:?}");
    assert!(told.asked.len() >= 15, "{told:?}");
}

#[test]
fn a_bare_probe_on_a_mat_that_is_also_on_at_night_or_every_day_alike_is_not_doubted() {
    let mut home = Home::new(8, 20);
    home.clear = vec![1.0; 20];
    let on = |minute: usize, hours: &[usize]| if hours.contains(&(minute / 60 % 24)) { 10.0 } else { 0.0 };
    for hours in [&[10][..], &[10, 23]] {
        let place: Vec<f64> = home.air.iter().enumerate().map(|(minute, air)| air + on(minute, hours)).collect();
        assert_eq!(found(&home.shown(&place, 5)), SunStruck::default(), "{hours:?}");
    }
    // Left out on some days, but on by night too.
    let place: Vec<f64> =
        home.air.iter().enumerate().map(|(at, air)| air + if at / 1440 % 3 == 0 { 0.0 } else { on(at, &[10, 23]) }).collect();
    assert_eq!(found(&home.shown(&place, 5)), SunStruck::default());
}

#[test]
fn struck_readings_are_suspect_the_same_every_time_and_none_is_failed() {
    let (_, shown) = struck(3, 5);
    let readings = readings(&shown);
    let plain = flags(&readings, &Thresholds::default());
    let flagged = || {
        let mut flags = plain.clone();
        (flag_sun_struck(&readings, &mut flags, &Thresholds::default(), BERLIN, |_| false), flags)
    };
    let (told, with_sun) = flagged();
    assert_eq!((&told, &with_sun), (&flagged().0, &flagged().1));
    assert!(!told.struck.is_empty());
    for ((reading, before), after) in readings.iter().zip(&plain).zip(&with_sun) {
        let within = told.struck.iter().any(|strike| strike.covers(reading.time_us));
        assert_eq!(*after, if within { before.rolled_up_with(Flag::Suspect) } else { *before });
    }
}

#[test]
fn where_it_cannot_be_told_nothing_is_doubted() {
    let (_, shown) = struck(3, 5);
    let readings = readings(&shown);
    let mut flagged = flags(&readings, &Thresholds::default());
    let plain = flagged.clone();
    let told = flag_sun_struck(&readings, &mut flagged, &Thresholds::default(), BERLIN, |_| true);
    assert_eq!((told, flagged), (SunStruck::default(), plain));
}

#[test]
fn readings_from_six_days_before_to_six_days_after_tell_the_same_as_all_of_them() {
    for seed in 0..6 {
        let (_, shown) = struck(seed, 5);
        let whole = found(&shown).struck;
        for day in 0..24 {
            let (from_us, until_us) = (shown[0].0 + day * DAY_US + 3 * MICROS_PER_HOUR, shown[0].0 + (day + 3) * DAY_US);
            let part: Vec<(i64, f64)> = shown
                .iter()
                .filter(|point| (from_us - SUN_REACH_US..=until_us + SUN_REACH_US).contains(&point.0))
                .copied()
                .collect();
            let within = |strikes: &[SunStrike]| -> Vec<SunStrike> {
                strikes.iter().filter(|strike| strike.until_us >= from_us && strike.from_us <= until_us).copied().collect()
            };
            assert_eq!(within(&found(&part).struck), within(&whole), "seed {seed}, day {day}");
        }
    }
}

#[test]
fn nothing_is_made_of_few_readings_or_of_none() {
    for points in [vec![], vec![(0, 20.0)], vec![(0, 20.0), (1, 40.0), (2, 20.0)]] {
        assert_eq!(found(&points), SunStruck::default());
    }
    let (_, shown) = struck(3, 30);
    assert_eq!(found(&shown), SunStruck::default(), "half an hour apart nothing tells how fast it fell");
}
