//! Thermal time to come on a path from spot to spot, worked out once for all boxes that take it.

use super::{DaysAhead, Outlook, SLOT_US, SLOTS_PER_DAY, Weather};
use crate::thermal::Rate;
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;

/// A spot where boxes will stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Coming<'a> {
    /// Until when, microseconds since 1970; none: as far as anything is planned, for good.
    pub until_us: Option<i64>,
    /// What may come there.
    pub outlook: &'a Outlook,
    /// °C to add to its temperatures, one a draw.
    pub offsets: Vec<f64>,
    /// Factor on the thermal time gained there, one a draw: not 1 where the spot is outside the warmth that the species is known in.
    pub pace: Vec<f64>,
}

/// The courses to come on one path at one rate a draw, each worked out as far as it was asked for.
#[derive(Debug)]
pub struct Ahead<'a> {
    coming: &'a [Coming<'a>],
    weather: &'a [Weather],
    rates: Vec<Rate>,
    now_us: i64,
    /// Days after which everything counts as never.
    horizon: usize,
    courses: Vec<Option<Course<'a>>>,
}

/// One draw's course.
#[derive(Debug)]
struct Course<'a> {
    /// `sums[d]`: thermal time gained by the end of day `d` from now on; `sums[0]` is 0.
    sums: Vec<f64>,
    /// The spots' days, as far as they were walked.
    days: Vec<DaysAhead<'a>>,
}

impl<'a> Ahead<'a> {
    /// The path from `now_us` on, up to `horizon` days.
    #[must_use]
    pub fn new(coming: &'a [Coming<'a>], weather: &'a [Weather], rates: Vec<Rate>, now_us: i64, horizon: usize) -> Self {
        let draws = rates.len().min(weather.len());
        Self { coming, weather, rates, now_us, horizon, courses: (0..draws).map(|_| None).collect() }
    }

    /// Whether it holds for these rates and this path.
    #[must_use]
    pub fn is_of(&self, rates: impl Iterator<Item = Rate>, coming: &[Coming<'_>]) -> bool {
        let same = |one: &Coming<'_>, other: &Coming<'_>| {
            std::ptr::eq(one.outlook, other.outlook)
                && one.until_us == other.until_us
                && one.offsets == other.offsets
                && one.pace == other.pace
        };
        self.coming.len() == coming.len()
            && self.coming.iter().zip(coming).all(|(one, other)| same(one, other))
            && self.rates.iter().copied().eq(rates)
    }

    /// How many draws it has.
    #[must_use]
    pub fn draws(&self) -> usize {
        self.courses.len()
    }

    /// Thermal time gained by the end of each day from now on (the first value is that of now, 0): as many days as it takes to
    /// gain `thermal`, or all to the horizon.
    pub fn by_day(&mut self, draw: usize, thermal: f64) -> &[f64] {
        let (coming, weather, horizon) = (self.coming, self.weather, self.horizon);
        let course = self.courses[draw].get_or_insert_with(|| Course {
            sums: vec![0.0],
            days: coming.iter().map(|there| there.outlook.days(&weather[draw])).collect(),
        });
        while course.sums.len() <= horizon {
            let (day, sum) = (course.sums.len() - 1, course.sums.last().copied().unwrap_or(0.0));
            if sum >= thermal {
                break;
            }
            let start_us = self.now_us + day as i64 * DAY_US;
            let gained = gained_on(coming, &self.rates[draw], draw, start_us, &mut course.days, None);
            course.sums.push(sum + gained);
        }
        &course.sums
    }

    /// When `thermal` will have been gained, microseconds since 1970; none if not by the horizon.
    pub fn when(&mut self, draw: usize, thermal: f64) -> Option<i64> {
        let sums = self.by_day(draw, thermal);
        let end = sums.partition_point(|sum| *sum < thermal);
        let Some(day) = end.checked_sub(1) else { return Some(self.now_us) };
        let (before, after) = (sums[day], *sums.get(end)?);
        let start_us = self.now_us + day as i64 * DAY_US;
        // The days are walked again up to that one: it is the only one of which the hours matter.
        let mut days: Vec<DaysAhead<'_>> = self.coming.iter().map(|there| there.outlook.days(&self.weather[draw])).collect();
        days.iter_mut().for_each(|days| (0..day).for_each(|_| _ = days.next_day()));
        let mut slots = Vec::with_capacity(SLOTS_PER_DAY);
        let all = gained_on(self.coming, &self.rates[draw], draw, start_us, &mut days, Some(&mut slots));
        // Slot by slot and by profile a day comes to the same but for rounding.
        let wanted = (thermal - before) / (after - before) * all;
        let mut sum = 0.0;
        for (slot, gained) in slots.iter().enumerate() {
            if sum + gained >= wanted && *gained > 0.0 {
                return Some(start_us + ((slot as f64 + (wanted - sum) / gained) * SLOT_US as f64).round() as i64);
            }
            sum += gained;
        }
        Some(start_us + DAY_US)
    }
}

/// Thermal time of the day that begins at `start_us`; slot by slot where that is wanted, and where the box is carried that day.
fn gained_on(
    coming: &[Coming<'_>],
    rate: &Rate,
    draw: usize,
    start_us: i64,
    days: &mut [DaysAhead<'_>],
    slots: Option<&mut Vec<f64>>,
) -> f64 {
    let at = |time_us: i64| coming.iter().position(|there| there.until_us.is_none_or(|until| time_us < until));
    let (first, last) = (at(start_us), at(start_us + DAY_US - SLOT_US));
    let mut day = days.iter_mut().map(DaysAhead::next_day);
    let Some(first) = first else { return 0.0 };
    if slots.is_none() && Some(first) == last {
        // Every spot's weather goes on, wherever the box is.
        let mut of_day = None;
        for (spot, day) in day.enumerate() {
            of_day = if spot == first { Some(day) } else { of_day };
        }
        return of_day
            .map_or(0.0, |(mean, shape)| shape.gained(rate, mean + coming[first].offsets[draw]) * coming[first].pace[draw]);
    }
    let of_day: Vec<_> = day.by_ref().collect();
    let gains = (0..SLOTS_PER_DAY).map(|slot| {
        let spot = at(start_us + slot as i64 * SLOT_US).unwrap_or(first);
        let (mean, shape) = of_day[spot];
        let apart = shape.apart_c().get(slot).copied().unwrap_or(0.0);
        rate.per_day(mean + apart + coming[spot].offsets[draw]) * coming[spot].pace[draw] / SLOTS_PER_DAY as f64
    });
    match slots {
        Some(slots) => {
            slots.extend(gains);
            slots.iter().sum()
        }
        None => gains.sum(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Dice;

    const RATE: Rate = Rate::Threshold { base: 10.0 };
    const HOUR: i64 = MICROS_PER_HOUR;

    fn weathers() -> Vec<Weather> {
        let mut dice = Dice::new(1);
        (0..3).map(|_| Weather::draw(&mut dice)).collect()
    }

    fn at(outlook: &Outlook, until_us: Option<i64>) -> Coming<'_> {
        Coming { until_us, outlook, offsets: vec![0.0; 3], pace: vec![1.0; 3] }
    }

    #[test]
    fn amounts_fall_on_their_hours_and_nothing_is_reached_beyond_the_horizon() {
        let (outlook, weathers) = (Outlook::steady(20.0), weathers());
        let coming = [at(&outlook, None)];
        let mut ahead = Ahead::new(&coming, &weathers, vec![RATE; 3], 0, 30);
        assert_eq!(ahead.when(0, 0.0), Some(0));
        assert_eq!(ahead.when(1, 5.0), Some(12 * HOUR));
        assert_eq!(ahead.when(1, 117.5), Some((11 * 24 + 18) * HOUR), "11 d and 7.5 of the next day's 10 °C·d");
        assert_eq!(ahead.by_day(2, 31.0), [0.0, 10.0, 20.0, 30.0, 40.0], "no further than asked");
        assert_eq!((ahead.when(0, 300.0), ahead.when(0, 300.1)), (Some(30 * DAY_US), None));
    }

    #[test]
    fn a_planned_move_takes_effect_within_its_day() {
        let (cold, warm, weathers) = (Outlook::steady(5.0), Outlook::steady(22.0), weathers());
        let carried = 2 * DAY_US + 18 * HOUR;
        let coming = [at(&cold, Some(carried)), at(&warm, None)];
        let mut ahead = Ahead::new(&coming, &weathers, vec![RATE; 3], 0, 30);
        assert_eq!(ahead.by_day(0, 14.0), [0.0, 0.0, 0.0, 3.0, 15.0]);
        assert_eq!(ahead.when(0, 3.0), Some(3 * DAY_US));
        assert_eq!(ahead.when(0, 1.5), Some(carried + 3 * HOUR));
    }

    #[test]
    fn offsets_and_pace_hold_draw_by_draw() {
        let (outlook, weathers) = (Outlook::steady(20.0), weathers());
        let coming = [Coming { until_us: None, outlook: &outlook, offsets: vec![0.0, 2.0, 0.0], pace: vec![1.0, 1.0, 0.5] }];
        let mut ahead = Ahead::new(&coming, &weathers, vec![RATE; 3], 0, 30);
        assert_eq!([0, 1, 2].map(|draw| ahead.by_day(draw, 1.0)[1]), [10.0, 12.0, 5.0]);
        assert_eq!([0, 1, 2].map(|draw| ahead.when(draw, 10.0).unwrap() / HOUR), [24, 20, 48]);
        assert!(ahead.is_of([RATE; 3].into_iter(), &coming) && !ahead.is_of([RATE; 3].into_iter(), &[at(&outlook, None)]));
    }
}
