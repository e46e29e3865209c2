use super::super::simulated::{BEGUN_US, DAY_US, Home, followed};
use super::*;

const BERLIN: Zone = Zone::Europe__Berlin;

/// A probe in a box of a time constant (minutes) until a day, from then on in the air.
fn until(air: &[f64], day: usize, tau: f64) -> Vec<f64> {
    let boxed = followed(air, tau);
    air.iter().zip(boxed).enumerate().map(|(minute, (air, boxed))| if minute < day * 1440 { boxed } else { *air }).collect()
}

#[test]
fn a_probe_that_fell_out_is_told_with_the_day() {
    for seed in 0..20 {
        let mut home = Home::new(seed, 24);
        let air = home.air.clone();
        let (own, room) = (home.shown(&until(&air, 15, 45.0), 5), home.shown(&air, 5));
        let told = fallen_out(&own, &room, false, BERLIN).unwrap_or_else(|| panic!("seed {seed}"));
        let day = (told.since_us - BEGUN_US) as f64 / DAY_US as f64;
        assert!((13.5..16.5).contains(&day), "seed {seed}: day {day}");
        assert!(told.times >= UNREST_GREW, "{told:?}");
    }
}

#[test]
fn a_probe_that_stays_in_is_not_doubted_in_two_hundred_probe_months() {
    let mut months = 0;
    for seed in 0..40 {
        let mut home = Home::new(500 + seed, 30);
        let air = home.air.clone();
        let room = home.shown(&air, 5);
        let places = [
            ("shelf", followed(&air, 40.0)),
            ("sill", home.sill(10.0)),
            ("mat on a thermostat", home.thermostat()),
            ("mat on a timer", home.timer(8.0)),
            ("bare all along", air.clone()),
        ];
        for (place, celsius) in places {
            for one_spot in [false, true] {
                let told = fallen_out(&home.shown(&celsius, 5), &room, one_spot, BERLIN);
                assert_eq!(told, None, "{place}, seed {seed}, at one spot: {one_spot}");
            }
            months += 1;
        }
    }
    assert!(months >= 200);
}

#[test]
fn one_that_was_put_back_or_fell_out_yesterday_is_not_doubted() {
    let mut home = Home::new(3, 24);
    let air = home.air.clone();
    let (boxed, room) = (followed(&air, 45.0), home.shown(&air, 5));
    let back: Vec<f64> = (0..air.len()).map(|at| if (12..16).contains(&(at / 1440)) { air[at] } else { boxed[at] }).collect();
    assert_eq!(fallen_out(&home.shown(&back, 5), &room, true, BERLIN), None);
    assert_eq!(fallen_out(&home.shown(&until(&air, 22, 45.0), 5), &room, true, BERLIN), None);
    assert_eq!(fallen_out(&home.shown(&until(&air, 4, 45.0), 5), &room, true, BERLIN), None, "too few days in the box to know");
    assert_eq!(fallen_out(&[], &room, true, BERLIN), None);
    assert_eq!(fallen_out(&room, &[], true, BERLIN), None);
}

#[test]
fn a_large_box_that_swings_little_gives_its_probe_away_by_the_days_swing() {
    let mut home = Home::new(5, 24);
    // A quiet room without heating that comes and goes, warm by day.
    home.air = (0..24 * 1440).map(|at| 18.0 - 3.0 * (at as f64 / 1440.0 * std::f64::consts::TAU).cos()).collect();
    let air = home.air.clone();
    let (own, room) = (home.shown(&until(&air, 14, 360.0), 10), home.shown(&air, 10));
    assert_eq!(fallen_out(&own, &room, false, BERLIN), None, "another spot's swing says nothing");
    let told = fallen_out(&own, &room, true, BERLIN).unwrap();
    assert!((13.0..16.0).contains(&((told.since_us - BEGUN_US) as f64 / DAY_US as f64)), "{told:?}");
}
