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
        let nothing = vec![0; draws];
        let before = |day: usize| day.checked_sub(1).map_or(&nothing, |before| &counts[before]);
        let week_of = |week: usize| {
            let (first, end) = (self.of_day.partition_point(|of| *of < week), self.of_day.partition_point(|of| *of <= week));
            before(end).iter().zip(before(first)).map(|(until, from)| until - from).collect()
        };
        let sprouts: Vec<Vec<u32>> = (0..self.mondays.len()).map(week_of).collect();
        let potted_on = potting.map(|potting| {
            // Dice of their own: what is asked of pots moves no date.
            let mut dice = Dice::new(seed ^ 0x706f_7473);
            let mut wanted = vec![vec![0; draws]; self.mondays.len()];
            let mut pot = |draw: usize, from: f64, age: f64| {
                let week = potting.draw(age, &mut dice).and_then(|lag| self.of_day.get((from + lag) as usize));
                if let Some(week) = week {
                    wanted[*week][draw] += 1;
                }
            };
            let waiting = waiting(trial, now);
            (0..draws).for_each(|draw| waiting.iter().for_each(|age| pot(draw, 0.0, *age)));
            for (day, counts) in counts.iter().enumerate() {
                for (draw, (until, from)) in counts.iter().zip(before(day)).enumerate() {
                    // On average in the middle of the day.
                    (*from..*until).for_each(|_| pot(draw, day as f64 + 0.5, 0.0));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container, Name};

    fn at(text: &str) -> Time {
        chrono::DateTime::parse_from_rfc3339(text).unwrap().to_utc()
    }

    /// From Friday 20 March 2026: the first days end on Saturday and Sunday, the third on Monday 23 March.
    #[test]
    fn sprouts_fall_into_the_week_in_which_their_day_ends_and_pots_a_lag_later() {
        let now = at("2026-03-20T12:00:00Z");
        let weeks = Weeks::of(now, 11, Zone::UTC);
        assert_eq!(weeks.mondays.iter().map(ToString::to_string).collect::<Vec<_>>(), ["2026-03-16", "2026-03-23", "2026-03-30"]);
        let name = |text: &str| Name::new(text).unwrap();
        let look = |day: i64, sprouted, potted_on| Check {
            sprouted,
            potted_on,
            ..Check::none_new(name("A1"), now - Duration::days(60 - day))
        };
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), now - Duration::days(60));
        // Up on day 2 on average, potted on on day 7: five days later.
        let past = Trial { checks: vec![look(4, 6, 0), look(7, 0, 6)], ..Trial::new(container.clone()) };
        let potting = PottingOn::learnt([&past].into_iter(), [].into_iter()).unwrap();
        let present = Trial { checks: vec![look(58, 1, 0)], ..Trial::new(container) };
        // Two draws: 1 and 0 up by the second day, 3 and 2 by the fourth.
        let counts: Vec<Vec<u32>> =
            (1..=11).map(|day| vec![u32::from(day >= 2) + 2 * u32::from(day >= 4), 2 * u32::from(day >= 4)]).collect();
        let drawn = weeks.drawn(&counts, &present, Some(&potting), now, 1).unwrap();
        assert_eq!(drawn.sprouts, [[1, 0], [2, 2], [0, 0]]);
        // The one that is up has waited for two days; the others are potted on on days 6.5 and 8.5.
        assert_eq!(drawn.potted_on.unwrap(), [[0, 0], [4, 3], [0, 0]]);
    }

    #[test]
    fn boxes_add_up_draw_by_draw_and_a_box_that_is_done_adds_nothing() {
        let mut sums = BTreeMap::new();
        add(&[vec![0]], &mut sums);
        add(&[vec![1, 2, 3]], &mut sums);
        add(&[vec![10, 20, 30]], &mut sums);
        assert_eq!(sums[&0], [11.0, 22.0, 33.0]);
    }
}
