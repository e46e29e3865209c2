//! Sprouts of all boxes together by week, and how many pots will be wanted.

use std::collections::BTreeMap;

use chrono::{Datelike, Duration, NaiveDate};

use super::potting::waiting;
use super::{BoxForecast, PottingOn};
use crate::bench::Trial;
use crate::civil::{Time, Zone, local_date};
use crate::stats::{Dice, Spread, spread_of};

/// The days of a forecast, each 24 hours long from now on, sorted into weeks by the date on which they end.
#[derive(Debug, Clone, PartialEq)]
pub struct Weeks {
    /// Mondays of the weeks, in the bench's zone.
    mondays: Vec<NaiveDate>,
    /// The week of each day.
    of_day: Vec<usize>,
}

/// One week over all boxes.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekTogether {
    /// Its Monday, in the bench's zone.
    pub monday: NaiveDate,
    /// New sprouts.
    pub sprouts: Spread,
    /// Sprouts to be potted on; none where nothing is on record of how sprouts are.
    pub potted_on: Option<Spread>,
}

/// One box's new sprouts and pots wanted: week by week over all draws.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawnWeeks {
    sprouts: Vec<Vec<u32>>,
    potted_on: Option<Vec<Vec<u32>>>,
}

impl Weeks {
    /// The weeks of so many days from now on.
    #[must_use]
    pub fn of(now: Time, days: usize, zone: Zone) -> Self {
        let mut weeks = Self { mondays: Vec::new(), of_day: Vec::with_capacity(days) };
        for day in 1..=days {
            let date = local_date(now + Duration::days(day as i64), zone);
            let monday = date - Duration::days(i64::from(date.weekday().num_days_from_monday()));
            if weeks.mondays.last() != Some(&monday) {
                weeks.mondays.push(monday);
            }
            weeks.of_day.push(weeks.mondays.len() - 1);
        }
        weeks
    }

    /// How many days they cover.
    #[must_use]
    pub fn days(&self) -> usize {
        self.of_day.len()
    }

    /// A box's sprouts sorted into them: `counts[day][draw]` are new sprouts up to the end of a day. None without a draw.
    pub(super) fn drawn(
        &self,
        counts: &[Vec<u32>],
        trial: &Trial,
        potting: Option<&PottingOn>,
        now: Time,
        seed: u64,
    ) -> Option<DrawnWeeks> {
        let draws = counts.first()?.len();
        let mut sprouts = vec![vec![0; draws]; self.mondays.len()];
        for draw in 0..draws {
            let mut before = 0;
            for (counts, week) in counts.iter().zip(&self.of_day) {
                sprouts[*week][draw] += counts[draw] - before;
                before = counts[draw];
            }
        }
        let potted_on = potting.map(|potting| {
            // Dice of their own: what is asked of pots moves no date.
            let mut dice = Dice::new(seed ^ 0x706f_7473);
            let mut wanted = vec![vec![0; draws]; self.mondays.len()];
            let waiting = waiting(trial, now);
            for draw in 0..draws {
                let mut pot = |from: f64, age: f64| {
                    let week = potting.draw(age, &mut dice).and_then(|lag| self.of_day.get((from + lag) as usize));
                    if let Some(week) = week {
                        wanted[*week][draw] += 1;
                    }
                };
                waiting.iter().for_each(|age| pot(0.0, *age));
                let mut before = 0;
                for (day, counts) in counts.iter().enumerate() {
                    // On average in the middle of the day.
                    (before..counts[draw]).for_each(|_| pot(day as f64 + 0.5, 0.0));
                    before = counts[draw];
                }
            }
            wanted
        });
        Some(DrawnWeeks { sprouts, potted_on })
    }
}

/// New sprouts and pots wanted of all boxes by week. Draw for draw the boxes share their weather, so their sums are joint draws.
#[must_use]
pub fn by_week<'a>(forecasts: impl Iterator<Item = &'a BoxForecast>, weeks: &Weeks) -> Vec<WeekTogether> {
    let mut sprouts: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    let mut pots: BTreeMap<usize, Vec<f64>> = BTreeMap::new();
    for drawn in forecasts.filter_map(|forecast| forecast.weekly.as_ref()) {
        add(&drawn.sprouts, &mut sprouts);
        drawn.potted_on.iter().for_each(|wanted| add(wanted, &mut pots));
    }
    let week = |(at, monday): (usize, &NaiveDate)| {
        let sprouts = sprouts.get(&at)?;
        Some(WeekTogether { monday: *monday, sprouts: spread_of(sprouts), potted_on: pots.get(&at).map(|pots| spread_of(pots)) })
    };
    weeks.mondays.iter().enumerate().filter_map(week).collect()
}

/// Adds a box's weeks draw by draw; a box of which all is known has one draw, that stands for any number.
fn add(weeks: &[Vec<u32>], sums: &mut BTreeMap<usize, Vec<f64>>) {
    for (at, counts) in weeks.iter().enumerate() {
        let sums = sums.entry(at).or_default();
        let draws = sums.len().max(counts.len());
        if sums.len() < draws {
            let constant = sums.first().copied().unwrap_or(0.0);
            sums.resize(draws, constant);
        }
        for (sum, count) in sums.iter_mut().zip(counts.iter().cycle()) {
            *sum += f64::from(*count);
        }
    }
}
