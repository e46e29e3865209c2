//! Figures of one box.

use super::{Ahead, Axis, Outlook};
use crate::civil::{Time, Zone, local_date};
use crate::forecast::BoxAnswer;
use crate::units::MICROS_PER_DAY;
use crate::wording::day;

/// Days between two dates on an axis.
const TICKS_DAYS: i64 = 7;

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
