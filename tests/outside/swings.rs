//! Days whose mean misleads: the rate averaged over a day is not the rate at the day's average.
//!
//! Base 10, optimum 30, ceiling 40 °C, temperature a sine over the day. The figures follow from the rate's definition (rising
//! linearly from base to optimum, falling linearly to the ceiling: Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot.
//! 33:288–296) by numerical integration with scipy; `tests/reference/fixtures.py` recomputes them.

use std::fmt::Write as _;

use chrono::{Duration, Timelike as _};

use super::counts::name;
use super::fixtures::printed;
use crate::asking::{Asked, Files};
use seedclock::answers::Known;
use seedclock::civil::Time;
use seedclock::store::Store;
use seedclock::thermal::{Profile, Rate};

const RATE: Rate = Rate::Tent { base: 10.0, optimum: 30.0, ceiling: 40.0 };

/// Mean °C, amplitude °C, rate over the day, rate of the mean, their ratio; all °C·d per day as printed.
const DAYS: [(f64, f64, &str, f64, &str); 8] = [
    (20.0, 0.0, "10.00", 10.0, "1.00"),
    (20.0, 10.0, "10.00", 10.0, "1.00"),
    (14.0, 6.0, "4.35", 4.0, "1.09"),
    (11.0, 4.0, "1.81", 1.0, "1.81"),
    (11.0, 6.0, "2.44", 1.0, "2.44"),
    (28.0, 4.0, "16.69", 18.0, "0.93"),
    (28.0, 8.0, "13.12", 18.0, "0.73"),
    (32.0, 6.0, "12.95", 16.0, "0.81"),
];

/// A day of sine swings, every quarter of a minute at its middle.
fn day(mean: f64, amplitude: f64) -> Profile {
    let steps = 4 * 24 * 60;
    let celsius = |step: usize| mean + amplitude * (std::f64::consts::TAU * (step as f64 + 0.5) / steps as f64).sin();
    Profile::new((0..steps).map(|step| (celsius(step), 1.0 / steps as f64)))
}

#[test]
fn swings_count_by_the_rate_at_each_moment_and_not_at_the_mean() {
    for (mean, amplitude, over_the_day, of_the_mean, ratio) in DAYS {
        let said = format!("{mean} ± {amplitude} °C");
        let day = day(mean, amplitude);
        let gained = day.gained(&RATE, 0.0);
        printed(&said, gained, over_the_day);
        assert!((day.mean().unwrap() - mean).abs() < 1e-6, "{said}: the day's mean is {:?}", day.mean());
        let at_mean = Profile::new([(mean, 1.0)]).gained(&RATE, 0.0);
        assert!((at_mean - of_the_mean).abs() < 1e-12 && (RATE.per_day(mean) - of_the_mean).abs() < 1e-12, "{said}");
        printed(&format!("{said}, ratio"), gained / at_mean, ratio);
    }
}

/// 18 h at 17 °C and 6 h at 29 °C: the mean is 20.0 °C, halfway between least and most is 23.0 °C.
#[test]
fn halfway_between_least_and_most_is_not_the_mean() {
    let day = Profile::new([(17.0, 0.75), (29.0, 0.25)]);
    printed("mean", day.mean().unwrap(), "20.0");
    let ends: Vec<f64> = day.pairs().map(|(celsius, _)| celsius).collect();
    printed("halfway", (ends[0] + ends[1]) / 2.0, "23.0");
    // Both lie where the rate is straight, so that the day counts as its mean and 3 °C·d less than halfway would.
    printed("gained", day.gained(&RATE, 0.0), "10.0");
}

/// The temperature of a cabinet by time, °C.
type Course = Box<dyn Fn(Time) -> f64>;

/// A bench whose cabinets follow these courses, each with a probe, in a zone; what was known of the temperatures as of its end.
fn logged(zone: &str, from: Time, days: i64, minutes: i64, courses: &[(String, Course)]) -> Known {
    let until = from + Duration::days(days);
    let (mut probes, mut readings) = ("probe,spot,since\n".to_owned(), "time,probe,celsius\n".to_owned());
    let mut spots = "spot\n".to_owned();
    for (spot, celsius) in courses {
        // Placed before the first reading, so that this stands for the whole time to its neighbour.
        writeln!(probes, "p {spot},{spot},{}", stamp(from - Duration::hours(1))).unwrap();
        writeln!(spots, "{spot}").unwrap();
        // Readings lie amid their times, so that each stands for its own.
        let mut time = from - Duration::minutes(30) + Duration::seconds(30 * minutes);
        while time < until + Duration::minutes(30) {
            writeln!(readings, "{},p {spot},{:.4}", stamp(time), celsius(time)).unwrap();
            time += Duration::minutes(minutes);
        }
    }
    let sown: String = courses.iter().map(|(spot, _)| format!("in {spot},b,test,,,20,{},{spot}\n", stamp(from))).collect();
    let files: Files = [
        ("bench.csv", format!("key,value\nzone,{zone}\n")),
        ("spots.csv", spots),
        ("probes.csv", probes),
        ("readings.csv", readings),
        ("containers.csv", format!("container,batch,species,lot,treatment,seeds,sown,spot\n{sown}")),
        ("checks.csv", "container,time,sprouted\n".to_owned()),
    ]
    .map(|(name, text)| (name.to_owned(), text))
    .into();
    let asked = Asked::about(&files);
    let store = Store::open_read_only(&asked.bench()).unwrap();
    Known::as_of(&store, until + Duration::hours(1)).unwrap()
}

fn stamp(time: Time) -> String {
    time.format("%Y-%m-%dT%H:%M:%SZ").to_string()
}

fn at(text: &str) -> Time {
    text.parse().unwrap()
}

/// Thermal time at a spot between two times, as the program knows it, °C·d.
fn gained(known: &Known, spot: &str, from: Time, until: Time, rate: &Rate) -> f64 {
    let stretch = known.warmth[&name(spot)].record.stretch(from.timestamp_micros(), until.timestamp_micros());
    let days = (until - from).num_seconds() as f64 / 86_400.0;
    assert!(
        (stretch.known.duration() - days).abs() < 1e-9 && stretch.guessed.duration() == 0.0,
        "{spot}: {days} days are on record"
    );
    stretch.gained(rate, 0.0, 0.0)
}

/// The same table from readings every five minutes, taken in, stored, flagged, and made a record of; over whole days that begin at any hour.
#[test]
fn readings_of_such_days_give_the_same_rates() {
    let from = at("2026-02-03T06:00:00Z");
    let courses: Vec<(String, Course)> = DAYS
        .iter()
        .map(|(mean, amplitude, ..)| {
            let (mean, amplitude) = (*mean, *amplitude);
            let sine = move |time: Time| mean + amplitude * (std::f64::consts::TAU * time.timestamp() as f64 / 86_400.0).sin();
            (format!("{mean} and {amplitude}"), Box::new(sine) as Course)
        })
        .collect();
    let known = logged("Europe/Berlin", from, 3, 5, &courses);
    for ((spot, _), (_, _, over_the_day, of_the_mean, ratio)) in courses.iter().zip(DAYS) {
        for begin in [from, from + Duration::hours(7)] {
            let days = if begin == from { 3 } else { 2 };
            let a_day = gained(&known, spot, begin, begin + Duration::days(days), &RATE) / days as f64;
            printed(spot, a_day, over_the_day);
            printed(&format!("{spot}, ratio"), a_day / of_the_mean, ratio);
        }
    }
}

/// Seeds are tested at 20 °C for 16 hours and 30 °C for 8 of each day (the alternating temperatures of the ISTA and AOSA rules for testing
/// seeds; from memory). Thermal time a day is 16/24·r(20) + 8/24·r(30), whatever rates the species has, also over a change of the clocks:
/// where the cabinet's timer follows local time, one of its days lacks an hour at 20 °C or has one more.
#[test]
fn alternating_temperatures_add_up_hour_by_hour_over_changes_of_the_clocks() {
    let berlin: chrono_tz::Tz = "Europe/Berlin".parse().unwrap();
    let rates = [RATE, Rate::Threshold { base: 4.0 }, Rate::Tent { base: 22.0, optimum: 25.0, ceiling: 35.0 }];
    // From local midnight to local midnight; the cold hours are 16 to 8 o'clock.
    for (first, hours_of_days) in
        [("2026-03-28T23:00:00Z", [23, 24]), ("2026-10-24T22:00:00Z", [25, 24]), ("2026-06-01T22:00:00Z", [24, 24])]
    {
        let first = at(first);
        let of_day = |hour: u32| if (8..16).contains(&hour) { 30.0 } else { 20.0 };
        let steady = move |time: Time| of_day(time.hour());
        let local = move |time: Time| of_day(time.with_timezone(&berlin).hour());
        let courses: Vec<(String, Course)> =
            vec![("by its own clock".to_owned(), Box::new(steady)), ("by local time".to_owned(), Box::new(local))];
        let known = logged("Europe/Berlin", first - Duration::days(1), 4, 10, &courses);
        for rate in &rates {
            let (low, high) = (rate.per_day(20.0) / 24.0, rate.per_day(30.0) / 24.0);
            let mut midnight = first;
            for hours in hours_of_days {
                let own = gained(&known, "by its own clock", midnight, midnight + Duration::hours(24), rate);
                assert!((own - (16.0 * low + 8.0 * high)).abs() < 1e-9, "{first} {rate:?}: {own}");
                let next = midnight + Duration::hours(hours);
                let civil = gained(&known, "by local time", midnight, next, rate);
                assert!((civil - ((hours as f64 - 8.0) * low + 8.0 * high)).abs() < 1e-9, "{first} {rate:?}: {civil}");
                midnight = next;
            }
        }
    }
}
