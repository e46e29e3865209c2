//! Figures of one box.

use super::{Ahead, Axis, Curve, Outlook, Sprouted, Step};
use crate::bench::{Container, Degrees};
use crate::civil::{Time, Zone, local_date};
use crate::forecast::BoxAnswer;
use crate::units::MICROS_PER_DAY;
use crate::wording::day;

/// Days between two dates on an axis.
const TICKS_DAYS: i64 = 7;
/// Nearly all of what is expected in the end.
const NEARLY_ALL: f64 = 0.95;
/// Days shown after that.
const AFTER_DAYS: f64 = 7.0;

/// An axis of dates over so many days since `from`.
#[must_use]
pub fn dates_axis(from: Time, days: f64, zone: Zone) -> Axis {
    let ticks = (0..).map(|week| week * TICKS_DAYS).take_while(|day| *day as f64 <= days);
    let date = |days: i64| day(local_date(from + chrono::Duration::days(days), zone));
    Axis { caption: "date".to_owned(), ticks: ticks.map(|days| (days as f64, date(days))).collect() }
}

/// Days since `from`.
#[must_use]
pub fn days_since(from: Time, time: Time) -> f64 {
    (time - from).num_microseconds().unwrap_or(0) as f64 / MICROS_PER_DAY
}

/// What is ahead until a week after nearly all is expected that ever is: each quantile within a seed, or a twentieth, of its last.
fn until_all(mut ahead: Vec<Ahead>) -> Vec<Ahead> {
    let Some(last) = ahead.last().map(|last| last.quantiles) else { return ahead };
    let all = |one: &Ahead| one.quantiles.iter().zip(last).all(|(count, last)| *count >= (NEARLY_ALL * last).min(last - 1.0));
    if let Some(day) = ahead.iter().find(|one| all(one)).map(|one| one.day) {
        ahead.retain(|one| one.day <= day + AFTER_DAYS);
    }
    ahead
}

/// A box's sprouts so far against the warmth that it gathered, where its seeds were counted; `looks` holds the degree-days reached at each
/// look, in °C·d, with what was new, `degrees` says in which they are drawn.
#[must_use]
pub fn box_by_warmth(container: &Container, looks: &[(f64, u32)], degrees: Degrees) -> Option<Sprouted> {
    let seeds = container.seeds.filter(|seeds| *seeds > 0)?;
    if looks.iter().all(|(_, sprouted)| *sprouted == 0) {
        return None;
    }
    let per_celsius = 1.0 / degrees.difference_to_celsius(1.0);
    let (mut from, mut sum) = (0.0, 0);
    let step = |(reached, sprouted): &(f64, u32)| {
        sum += sprouted;
        let to = per_celsius * reached;
        let percent = 100.0 * f64::from(sum) / f64::from(seeds);
        Step { from: std::mem::replace(&mut from, to), to, percent, band: None }
    };
    let steps = looks.iter().map(step).collect();
    Some(Sprouted {
        title: format!("{}, {}: seeds up by warmth gathered, % of those sown", container.name, container.species),
        axis: Axis { caption: format!("warmth gathered, {}·d", degrees.sign()), ticks: Vec::new() },
        curves: vec![Curve { name: container.name.to_string(), steps }],
    })
}

/// A box's sprouts so far and to come, where its seeds were counted and anything can be told of it.
#[must_use]
pub fn box_outlook(one: &BoxAnswer, now: Time, zone: Zone) -> Option<Outlook> {
    let container = &one.trial.container;
    let seeds = container.seeds?;
    one.forecast.more_chance?;
    let days = |time: Time| days_since(container.sown, time);
    let mut sum = 0;
    let looks = one.trial.checks.iter().map(|check| {
        sum += check.sprouted;
        (days(check.time), f64::from(sum))
    });
    let seen: Vec<(f64, f64)> = std::iter::once((0.0, 0.0)).chain(looks).collect();
    let ahead: Vec<Ahead> = one
        .forecast
        .by_date
        .iter()
        .filter_map(|(time, quantiles)| Some(Ahead { day: days(*time), quantiles: (*quantiles)?.map(f64::from) }))
        .collect();
    let ahead = until_all(ahead);
    let last = ahead.last().map_or(0.0, |last| last.day);
    Some(Outlook {
        title: format!("{}, {}, {}: sprouts found, and how many to expect by when", container.name, container.species, one.spot),
        axis: dates_axis(container.sown, last, zone),
        seeds: Some(f64::from(seeds)),
        seen,
        ahead,
        now: Some((days(now), "today".to_owned())),
    })
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Name;

    fn rising(until: f64, by_day: f64) -> Vec<Ahead> {
        (0..60).map(|day| Ahead { day: f64::from(day), quantiles: [(by_day * f64::from(day)).min(until); 7] }).collect()
    }

    #[test]
    fn sprouts_stand_at_the_warmth_reached_in_the_growers_degrees() {
        let name = |text: &str| Name::new(text).unwrap();
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), Time::UNIX_EPOCH);
        assert_eq!(box_by_warmth(&container, &[(10.0, 1)], Degrees::Celsius), None, "not counted");
        let counted = Container { seeds: Some(20), ..container };
        assert_eq!(box_by_warmth(&counted, &[(10.0, 0)], Degrees::Celsius), None, "nothing up");
        let drawn = box_by_warmth(&counted, &[(50.0, 0), (80.0, 5), (100.0, 10)], Degrees::Fahrenheit).unwrap();
        let steps: Vec<(f64, f64, f64)> =
            drawn.curves[0].steps.iter().map(|step| (step.from.round(), step.to.round(), step.percent)).collect();
        assert_eq!(steps, [(0.0, 90.0, 0.0), (90.0, 144.0, 25.0), (144.0, 180.0, 75.0)]);
        assert_eq!(drawn.axis.caption, "warmth gathered, °F·d");
    }

    #[test]
    fn a_figure_ends_a_week_after_nearly_all_is_expected() {
        assert_eq!(until_all(rising(100.0, 10.0)).last().map(|last| last.day), Some(17.0), "95 of 100 on day 9.5");
        assert_eq!(until_all(rising(4.0, 1.0)).last().map(|last| last.day), Some(10.0), "all but one of 4 on day 3");
        assert_eq!(until_all(rising(1e3, 1.0)).len(), 60, "still rising: nothing is cut but what is after the last");
        assert!(until_all(Vec::new()).is_empty());
    }
}
