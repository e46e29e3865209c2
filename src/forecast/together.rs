//! Sprouts of all boxes together by week: how many pots will be wanted.

use std::collections::BTreeMap;

use chrono::{Datelike, NaiveDate};

use super::BoxForecast;
use crate::civil::{Zone, local_date};
use crate::stats::{Spread, spread_of};

/// One week's sprouts.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekTogether {
    /// Its Monday, in the bench's zone.
    pub monday: NaiveDate,
    /// New sprouts over all boxes.
    pub sprouts: Spread,
}

/// New sprouts of all boxes by week. Draw for draw the boxes share their weather, so their sums are joint draws.
#[must_use]
pub fn by_week<'a>(forecasts: impl Iterator<Item = &'a BoxForecast>, zone: Zone) -> Vec<WeekTogether> {
    let mut weeks: BTreeMap<NaiveDate, Vec<f64>> = BTreeMap::new();
    for forecast in forecasts {
        let mondays: Vec<NaiveDate> = forecast
            .by_date
            .iter()
            .map(|(time, _)| {
                let date = local_date(*time, zone);
                date - chrono::Duration::days(i64::from(date.weekday().num_days_from_monday()))
            })
            .collect();
        for (draw, counts) in forecast.by_draw.iter().enumerate() {
            let mut before = 0;
            for (monday, count) in mondays.iter().zip(counts) {
                let sums = weeks.entry(*monday).or_default();
                if sums.len() <= draw {
                    sums.resize(forecast.by_draw.len(), 0.0);
                }
                sums[draw] += f64::from(count - before);
                before = *count;
            }
        }
    }
    weeks.into_iter().map(|(monday, sums)| WeekTogether { monday, sprouts: spread_of(&sums) }).collect()
}
