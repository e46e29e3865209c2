//! What comes while nobody is there, and where it would come later.

use chrono::Duration;

use super::{Known, Present, forecast_assuming};
use crate::bench::{Away, Name};
use crate::civil::Time;
use crate::forecast::{Assumed, AwayAnswer, AwayBox, BoxAnswer, BoxForecast, ColderSpot, ForecastAnswer, Suffering, Supposed};

/// A spot counts as colder from this difference on, °C.
const COLDER_C: f64 = 1.0;
/// From so many sprouts on, on average, a box is worth carrying.
const WORTH_IT: f64 = 0.5;
/// A colder spot is worth naming where no more than this share of the sprouts would come.
const FEWER: f64 = 2.0 / 3.0;
/// As many spots are named for a box.
const SPOTS_NAMED: usize = 2;
/// This near to their base seeds hardly go on, °C.
const NEAR_BASE_C: f64 = 2.0;
/// A spot this much colder than any where the species sprouted is untested, °C.
const UNTESTED_C: f64 = 1.0;
/// Nobody asks for more days ahead.
const MOST_DAYS: i64 = 366;

/// What comes in the present boxes while nobody is there.
#[must_use]
pub fn away(known: &Known, present: &Present<'_>, away: &Away) -> AwayAnswer {
    let days = ((away.until - known.now).num_hours() / 24 + 1).clamp(1, MOST_DAYS);
    let days = usize::try_from(days).unwrap_or(1);
    let as_it_is = forecast_assuming(known, present, days, &[]);
    let spots: Vec<(&Name, f64)> = present.outlooks.iter().map(|(spot, outlook)| (*spot, outlook.mean_c())).collect();
    let mean_at = |spot: &Name| spots.iter().find(|(name, _)| *name == spot).map(|(_, mean_c)| *mean_c);
    let warmest = as_it_is.boxes.iter().filter(|one| !one.ended).filter_map(|one| mean_at(&one.spot)).reduce(f64::max);
    // All boxes carried to each spot that is colder than any of theirs.
    let colder = spots.iter().filter(|(_, mean_c)| warmest.is_some_and(|warmest| *mean_c <= warmest - COLDER_C));
    let elsewhere: Vec<(&Name, f64, ForecastAnswer)> = colder
        .map(|(spot, mean_c)| {
            let like = |other: &(&Name, f64)| Assumed { spot: other.0.clone(), supposed: Supposed::Like((*spot).clone()) };
            let assumed: Vec<Assumed> = spots.iter().filter(|(other, _)| other != spot).map(like).collect();
            (*spot, *mean_c, forecast_assuming(known, present, days, &assumed))
        })
        .collect();
    let boxes = as_it_is.boxes.iter().enumerate().filter(|(_, one)| !one.ended).map(|(at, one)| {
        let expected = meanwhile(&one.forecast, away);
        let mut there: Vec<ColderSpot> = Vec::new();
        if let (Some(expected), Some(own_c)) = (expected.filter(|expected| *expected >= WORTH_IT), mean_at(&one.spot)) {
            let cooler = elsewhere.iter().filter(|(spot, mean_c, _)| **spot != one.spot && *mean_c <= own_c - COLDER_C);
            there = cooler
                .filter_map(|(spot, mean_c, answer)| colder_spot(present, one, answer.boxes.get(at)?, spot, *mean_c, away))
                .collect();
            there.retain(|spot| spot.expected <= FEWER * expected);
        }
        // What harms no seeds first; then where the fewest come.
        there.sort_by(|one, other| {
            (one.suffering.is_some(), one.expected)
                .partial_cmp(&(other.suffering.is_some(), other.expected))
                .unwrap_or(std::cmp::Ordering::Equal)
        });
        there.truncate(SPOTS_NAMED);
        AwayBox {
            trial: one.trial.clone(),
            spot: one.spot.clone(),
            expected,
            by_then: at_the_end(&one.forecast, away),
            colder: there,
        }
    });
    AwayAnswer { from: away.from, until: away.until, boxes: boxes.collect() }
}

fn colder_spot(
    present: &Present<'_>,
    here: &BoxAnswer,
    there: &BoxAnswer,
    spot: &Name,
    mean_c: f64,
    away: &Away,
) -> Option<ColderSpot> {
    let container = &here.trial.container;
    let fit = present.fits.get(&(&container.species, container.event));
    let base_c = fit.and_then(|fit| fit.estimates.base.estimate);
    let coldest_c = fit.and_then(|fit| fit.valid_c).map(|(low, _)| low);
    let suffering = if base_c.is_some_and(|base_c| mean_c < base_c + NEAR_BASE_C) {
        Some(Suffering::NearTheBase)
    } else {
        coldest_c.filter(|coldest_c| mean_c < coldest_c - UNTESTED_C).map(|_| Suffering::Untested)
    };
    let first = |one: &BoxAnswer| if here.trial.sprouted() == 0 { one.forecast.first.p50 } else { one.forecast.half.p50 };
    let days_later = first(here).zip(first(there)).map(|(here, there)| (there - here).num_minutes() as f64 / 1440.0);
    Some(ColderSpot { spot: spot.clone(), mean_c, expected: meanwhile(&there.forecast, away)?, days_later, suffering })
}

/// The number of days after the forecast's `now` that a time comes to, to the nearest; 0 where that is now.
fn days_until(forecast: &BoxForecast, time: Time) -> usize {
    forecast.by_date.iter().take_while(|(day, _)| *day <= time + Duration::hours(12)).count()
}

/// New sprouts from its beginning to its end, on average.
fn meanwhile(forecast: &BoxForecast, away: &Away) -> Option<f64> {
    let up_to = |time| match days_until(forecast, time) {
        0 => Some(0.0),
        days => forecast.expected.get(days - 1).copied(),
    };
    // An end within a day is the first day's.
    let end = up_to(away.until).filter(|end| *end > 0.0).or_else(|| forecast.expected.first().copied());
    Some((end? - up_to(away.from)?).max(0.0))
}

/// Sprouts in all at its end, 10 and 90 % points.
fn at_the_end(forecast: &BoxForecast, away: &Away) -> Option<(u32, u32)> {
    let day = days_until(forecast, away.until).max(1) - 1;
    forecast.by_date.get(day).and_then(|(_, counts)| *counts).map(|counts| (counts[1], counts[5]))
}
