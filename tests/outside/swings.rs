//! Days whose mean misleads: the rate averaged over a day is not the rate at the day's average.
//!
//! Base 10, optimum 30, ceiling 40 °C, temperature a sine over the day. The figures follow from the rate's definition (rising
//! linearly from base to optimum, falling linearly to the ceiling: Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot.
//! 33:288–296) by numerical integration with scipy; `tests/reference/fixtures.py` recomputes them.

use super::fixtures::printed;
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
