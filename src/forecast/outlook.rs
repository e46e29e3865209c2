//! The temperatures to come at a spot: daily means by its season, and the shapes of recent days.

use super::season::{DrawnSeason, Season};
use super::{SLOT_US, SLOTS_PER_DAY, Weather};
use crate::stats::mean_of;
use crate::thermal::{Profile, Rate, SpotRecord};
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// Days from whose means the level and today's anomaly are taken.
pub const RECENT_DAYS: usize = 28;
/// Days whose shapes come again; without anything known in them there is no outlook.
const SHAPE_DAYS: usize = 14;
/// A day of which a smaller share is known is not taken.
const WHOLE: f64 = 0.9;
/// Earlier years that are looked at.
const YEARS: i64 = 3;
/// The days of an earlier year that a season is learnt from reach so far beyond the same date: as far as a batch is usually watched.
pub const DAYS_AHEAD: usize = 90;
/// An earlier year counts with at least so many known days, at least so many of them after the date.
const ENOUGH_DAYS: usize = 20;
const ENOUGH_AFTER: usize = 7;
/// How far the mean of a day may lie from that of a few of its hours, °C: half of a swing of 3 °C either way (swings of 2 to 10 °C are
/// seen on sills, from memory, no source).
const PART_OF_A_DAY_SD_C: f64 = 1.5;

/// The course of a day: how far each quarter of an hour from the hour of "now" is from the day's mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Shape {
    apart_c: Vec<f64>,
    profile: Profile,
    lowest: f64,
    highest: f64,
}

impl Shape {
    /// The shape of a day and its mean.
    fn of(day: &[f64]) -> (Self, f64) {
        let mean = mean_of(day);
        let apart_c: Vec<f64> = day.iter().map(|celsius| celsius - mean).collect();
        let share = 1.0 / day.len() as f64;
        let profile = Profile::new(apart_c.iter().map(|apart| (*apart, share)));
        let lowest = apart_c.iter().copied().fold(f64::INFINITY, f64::min);
        let highest = apart_c.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        (Self { apart_c, profile, lowest, highest }, mean)
    }

    /// °C apart from the day's mean, every quarter of an hour.
    #[must_use]
    pub fn apart_c(&self) -> &[f64] {
        &self.apart_c
    }

    /// Thermal time of a whole day with this mean.
    #[must_use]
    pub fn gained(&self, rate: &Rate, mean: f64) -> f64 {
        match *rate {
            Rate::Days => 1.0,
            // Most days lie wholly on the straight part.
            Rate::Threshold { base } | Rate::Tent { base, .. } if mean + self.highest <= base => 0.0,
            Rate::Threshold { base } if mean + self.lowest >= base => mean - base,
            Rate::Tent { base, optimum, .. } if mean + self.lowest >= base && mean + self.highest <= optimum => mean - base,
            Rate::Threshold { .. } | Rate::Tent { .. } => self.profile.gained(rate, mean),
        }
    }
}

/// What may come at a spot.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    shapes: Vec<Shape>,
    course: Course,
    /// Standard uncertainty of the level for want of a whole day, °C.
    part_sd_c: f64,
    years: usize,
}

#[derive(Debug, Clone, PartialEq)]
enum Course {
    /// The same mean day after day.
    Still(f64),
    Season(Season),
}

impl Outlook {
    /// From a record: the season of the last 28 days and of the days around the same date in up to three earlier years, each with
    /// at least 20 whole days of which 7 lie after the date; the shapes of the last 14 days. Nothing from before `changed_us`,
    /// microseconds since 1970, and no earlier years where the spot was changed then. Where no whole day is known, one day made of
    /// the means by time of day, or of the mean of what is known, stands for all. None where nothing is known of the last 14 days.
    /// `mean_c` gives the mean of a day of earlier years, from and until when in microseconds since 1970, where it is known.
    #[must_use]
    pub fn new(
        record: &SpotRecord,
        mean_c: impl Fn(i64, i64) -> Option<f64>,
        now_us: i64,
        changed_us: Option<i64>,
    ) -> Option<Self> {
        let from_us = now_us - RECENT_DAYS as i64 * DAY_US;
        let mut slots = record.sampled(from_us, SLOT_US, RECENT_DAYS * SLOTS_PER_DAY, 0.0);
        let forgotten = changed_us.map_or(0, |at| ((at - from_us).max(0) as u64).div_ceil(SLOT_US as u64) as usize);
        slots.iter_mut().take(forgotten).for_each(|slot| *slot = None);
        let first_shape = (RECENT_DAYS - SHAPE_DAYS) * SLOTS_PER_DAY;
        if slots[first_shape..].iter().all(Option::is_none) {
            return None;
        }
        let (by_time, known_times) = by_time(&slots);
        let mut recent = Vec::new();
        let mut shapes = Vec::new();
        for (day, slots) in slots.chunks(SLOTS_PER_DAY).enumerate() {
            if slots.iter().flatten().count() as f64 >= WHOLE * SLOTS_PER_DAY as f64 {
                let whole: Vec<f64> = slots.iter().zip(&by_time).map(|(slot, usual)| slot.unwrap_or(*usual)).collect();
                let (shape, mean) = Shape::of(&whole);
                recent.push((day as i32 + 1 - RECENT_DAYS as i32, mean));
                if day >= RECENT_DAYS - SHAPE_DAYS {
                    shapes.push(shape);
                }
            }
        }
        let (usual, usual_mean) = Shape::of(&by_time);
        let part_sd_c = if recent.is_empty() { PART_OF_A_DAY_SD_C * (1.0 - known_times) } else { 0.0 };
        if recent.is_empty() {
            recent.push((0, usual_mean));
        }
        if shapes.is_empty() {
            shapes.push(usual);
        }
        let years = if changed_us.is_none() { earlier_years(mean_c, now_us) } else { Vec::new() };
        let season = Season::fit(&recent, &years)?;
        Some(Self { shapes, course: Course::Season(season), part_sd_c, years: years.len() })
    }

    /// A spot whose temperature is given: the same day for ever, by quarters of an hour from "now" on. None for no temperatures.
    #[must_use]
    pub fn given(day: &[f64]) -> Option<Self> {
        let (shape, mean) = (!day.is_empty()).then(|| Shape::of(day))?;
        Some(Self { shapes: vec![shape], course: Course::Still(mean), part_sd_c: 0.0, years: 0 })
    }

    /// One temperature at all hours.
    #[must_use]
    pub fn steady(celsius: f64) -> Self {
        let (shape, mean) = Shape::of(&[celsius; SLOTS_PER_DAY]);
        Self { shapes: vec![shape], course: Course::Still(mean), part_sd_c: 0.0, years: 0 }
    }

    /// The days of one future, one after the other.
    #[must_use]
    pub fn days<'a>(&'a self, weather: &'a Weather) -> DaysAhead<'a> {
        let season = match &self.course {
            Course::Still(celsius) => DrawnSeason::still(*celsius),
            Course::Season(season) => season.drawn(weather),
        };
        let error_c = self.part_sd_c * weather.part;
        DaysAhead { outlook: self, weather, season, anomaly: season.anomaly, error_c, day: 0 }
    }

    /// The mean temperature expected over the next two weeks, °C.
    #[must_use]
    pub fn mean_c(&self) -> f64 {
        match &self.course {
            Course::Still(celsius) => *celsius,
            Course::Season(season) => season.expected(7),
        }
    }

    /// The mean temperature expected on a day, counted from now, °C.
    #[must_use]
    pub fn mean_on(&self, day: usize) -> f64 {
        match &self.course {
            Course::Still(celsius) => *celsius,
            Course::Season(season) => season.expected(day as i32),
        }
    }

    /// How many earlier years its season rests on.
    #[must_use]
    pub fn years(&self) -> usize {
        self.years
    }
}

/// The days of one future at a spot.
#[derive(Debug, Clone)]
pub struct DaysAhead<'a> {
    outlook: &'a Outlook,
    weather: &'a Weather,
    season: DrawnSeason,
    anomaly: f64,
    error_c: f64,
    day: usize,
}

impl<'a> DaysAhead<'a> {
    /// The next 24 hours: their mean in °C, and their shape.
    pub fn next_day(&mut self) -> (f64, &'a Shape) {
        self.anomaly = self.season.next(self.anomaly, self.weather.innovation(self.day));
        let shape = self.weather.shape(self.day, self.outlook.shapes.len());
        self.day += 1;
        (self.season.mean(self.day as i32) + self.anomaly + self.error_c, &self.outlook.shapes[shape])
    }
}

/// The mean at each time of day (the mean of all where a time was never known), and the share of times that were known.
fn by_time(slots: &[Option<f64>]) -> (Vec<f64>, f64) {
    let known: Vec<f64> = slots.iter().flatten().copied().collect();
    let mean = mean_of(&known);
    let mut known_times = 0;
    let times = (0..SLOTS_PER_DAY).map(|time| {
        let values: Vec<f64> = slots.iter().skip(time).step_by(SLOTS_PER_DAY).flatten().copied().collect();
        known_times += usize::from(!values.is_empty());
        if values.is_empty() { mean } else { mean_of(&values) }
    });
    (times.collect(), known_times as f64 / SLOTS_PER_DAY as f64)
}

/// Days around the same date in earlier years: for each year the days by their distance from "now" a year on, each from and until when,
/// microseconds since 1970; those of the recent days, and so many ahead. They are days of UTC, so that what was worked out of one stays
/// good.
#[must_use]
pub fn earlier_days(now_us: i64, ahead: usize) -> Vec<Vec<(i32, i64, i64)>> {
    let first_day = 1 - RECENT_DAYS as i32;
    let year = |year: i64| {
        let then_us = now_us - year * 365 * DAY_US;
        let day = move |at: i32| {
            let from_us = (then_us + i64::from(at - 1) * DAY_US).div_euclid(DAY_US) * DAY_US;
            (at, from_us, from_us + DAY_US)
        };
        (first_day..=ahead as i32).map(day).collect()
    };
    (1..=YEARS).map(year).collect()
}

/// Daily means around the same date (365 days apart) in each earlier year of which enough is known.
fn earlier_years(mean_c: impl Fn(i64, i64) -> Option<f64>, now_us: i64) -> Vec<Vec<(i32, f64)>> {
    let years = earlier_days(now_us, DAYS_AHEAD).into_iter().map(|days| {
        days.into_iter().filter_map(|(at, from_us, until_us)| Some((at, mean_c(from_us, until_us)?))).collect::<Vec<_>>()
    });
    years.filter(|days| days.len() >= ENOUGH_DAYS && days.iter().filter(|day| day.0 > 0).count() >= ENOUGH_AFTER).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{Dice, standard_deviation_of};
    use crate::thermal::Step;

    const HOUR: i64 = MICROS_PER_HOUR;

    /// A record by the hour from hour `from` on.
    fn record(from: i64, until: i64, celsius: impl Fn(i64) -> f64) -> SpotRecord {
        let step =
            |hour: i64| Step { from_us: hour * HOUR, until_us: (hour + 1) * HOUR, celsius: celsius(hour), share: 1.0, guess: None };
        SpotRecord::nothing().with((from..until).map(step).collect())
    }

    fn outlook_of(record: &SpotRecord, now_us: i64, changed_us: Option<i64>) -> Option<Outlook> {
        Outlook::new(record, |from_us, until_us| record.stretch(from_us, until_us).known.mean(), now_us, changed_us)
    }

    fn weathers(count: usize) -> Vec<Weather> {
        let mut dice = Dice::new(1);
        (0..count).map(|_| Weather::draw(&mut dice)).collect()
    }

    /// The mean of the future days numbered `day`.
    fn expected(outlook: &Outlook, day: usize) -> f64 {
        mean_of(&weathers(500).iter().map(|weather| outlook.days(weather).nth(day)).collect::<Vec<_>>())
    }

    impl DaysAhead<'_> {
        fn nth(&mut self, day: usize) -> f64 {
            (0..day).map(|_| self.next_day().0).last().unwrap()
        }
    }

    #[test]
    fn shapes_are_those_of_the_last_14_days_at_their_own_hours_and_in_runs() {
        // The swing tells the days apart: day d has d/100 °C more for every hour.
        let hours = record(0, 24 * 30, |hour| 20.0 + (hour / 24) as f64 / 100.0 * ((hour % 24) as f64 - 11.5));
        let outlook = outlook_of(&hours, 24 * 30 * HOUR, None).unwrap();
        let slope = |shape: &Shape| ((shape.apart_c()[92] - shape.apart_c()[0]) / 23.0 * 100.0).round() as i64;
        let mut seen: Vec<i64> = Vec::new();
        for weather in weathers(200) {
            let mut days = outlook.days(&weather);
            let of_days: Vec<i64> = (0..6).map(|_| slope(days.next_day().1)).collect();
            assert!(of_days[1] == of_days[0] + 1 || of_days[0] == 29, "days follow each other in runs: {of_days:?}");
            seen.extend(of_days);
        }
        seen.sort_unstable();
        seen.dedup();
        assert_eq!(seen, (16..30).collect::<Vec<i64>>(), "any of the last 14 days");
    }

    #[test]
    fn a_whole_day_by_profile_is_the_sum_of_its_quarters() {
        let day: Vec<f64> =
            (0..SLOTS_PER_DAY).map(|slot| 15.0 + 8.0 * (slot as f64 / 96.0 * std::f64::consts::TAU).sin()).collect();
        let (shape, mean) = Shape::of(&day);
        for rate in [
            Rate::Threshold { base: 5.0 },
            Rate::Threshold { base: 12.0 },
            Rate::Threshold { base: 30.0 },
            Rate::Tent { base: 5.0, optimum: 25.0, ceiling: 35.0 },
            Rate::Tent { base: 10.0, optimum: 18.0, ceiling: 22.0 },
            Rate::Days,
        ] {
            for raised in [-3.0, 0.0, 4.0] {
                let slots = day.iter().map(|celsius| rate.per_day(celsius + raised) / 96.0).sum::<f64>();
                let whole = shape.gained(&rate, mean + raised);
                assert!((whole - slots).abs() < 2e-4, "{rate:?} {raised}: {whole} against {slots}");
            }
        }
    }

    /// Whole days of one temperature: 10 °C, and 20 °C since it was changed three days ago.
    #[test]
    fn days_from_before_a_change_say_nothing_of_what_is_to_come() {
        let now = 24 * 30 * HOUR;
        let hours = record(0, 24 * 30, |hour| if hour < 24 * 27 { 10.0 } else { 20.0 });
        let (told, untold) = (outlook_of(&hours, now, Some(24 * 27 * HOUR)).unwrap(), outlook_of(&hours, now, None).unwrap());
        assert!((expected(&told, 10) - 20.0).abs() < 0.3, "{}", expected(&told, 10));
        assert!(expected(&untold, 10) < 18.0, "{}", expected(&untold, 10));
    }

    /// Last year it warmed by 0.1 °C a day from this date on, and was 2 °C colder.
    #[test]
    fn last_years_season_is_followed_from_this_years_level_unless_the_spot_was_changed() {
        let year = 24 * 365;
        let season = |hour: i64| 12.0 + 0.1 * (hour % year) as f64 / 24.0 + if hour < year { -2.0 } else { 0.0 };
        let hours = record(0, 24 * 395, season);
        let now = 24 * 395 * HOUR;
        let followed = outlook_of(&hours, now, None).unwrap();
        assert_eq!(followed.years(), 1);
        assert!((expected(&followed, 40) - 19.0).abs() < 0.3, "{}", expected(&followed, 40));
        let changed = outlook_of(&hours, now, Some(now - 20 * 24 * HOUR)).unwrap();
        assert_eq!(changed.years(), 0);
        let few = record(24 * 30, 24 * 36, season).with(record(year, 24 * 395, season).steps().to_vec());
        assert_eq!(outlook_of(&few, now, None).unwrap().years(), 0, "six days of last year are too few");
    }

    #[test]
    fn a_few_hours_make_one_unsure_day_and_nothing_makes_none() {
        let hours = record(0, 5, |_| 18.0);
        let outlook = outlook_of(&hours, 5 * HOUR, None).unwrap();
        assert!((outlook.mean_c() - 18.0).abs() < 1e-6);
        let first: Vec<f64> = weathers(500).iter().map(|weather| outlook.days(weather).nth(1)).collect();
        assert!((mean_of(&first) - 18.0).abs() < 0.3 && standard_deviation_of(&first) > 1.0, "{}", standard_deviation_of(&first));
        assert!(outlook_of(&hours, 24 * 40 * HOUR, None).is_none());
    }

    #[test]
    fn what_is_given_has_no_weather() {
        let pair: Vec<f64> = (0..SLOTS_PER_DAY).map(|slot| if slot < 48 { 22.0 } else { 10.0 }).collect();
        for (outlook, mean) in [(Outlook::given(&pair).unwrap(), 16.0), (Outlook::steady(21.0), 21.0)] {
            assert_eq!(outlook.mean_c(), mean);
            for weather in weathers(3) {
                assert_eq!(outlook.days(&weather).nth(40), mean);
            }
        }
        assert_eq!(Outlook::given(&[]), None);
    }
}
