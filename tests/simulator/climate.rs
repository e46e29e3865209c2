//! A made-up climate: the weather outdoors, and what it makes of four places in and beside a back room.
//!
//! Outdoors: a yearly wave, day anomalies as a first-order autoregression, sun that varies from day to day and widens the
//! daily swing. Indoors every place follows its own target with its own inertia, stepped every five minutes.

use std::f64::consts::TAU;

use chrono::{DateTime, Datelike, Duration, NaiveDate, TimeZone, Timelike, Utc};
use chrono_tz::Tz;

use super::random::Stream;

/// The step of the climate, in minutes.
pub(crate) const STEP_MINUTES: i64 = 5;
const STEP_HOURS: f64 = STEP_MINUTES as f64 / 60.0;

/// Yearly mean outdoors and half the yearly wave, °C: about those of the Irish east coast (common knowledge of the climate,
/// rounded; nothing depends on them).
const YEAR_MEAN_C: f64 = 9.8;
const YEAR_WAVE_C: f64 = 5.3;
/// Day anomalies: standard deviation and day-to-day correlation.
const ANOMALY_SD_C: f64 = 2.3;
const ANOMALY_PERSISTENCE: f64 = 0.75;
/// Small movements of the air at a place: standard deviation and persistence over one step.
const DRAUGHT_SD_C: f64 = 0.18;
const DRAUGHT_PERSISTENCE: f64 = 0.93;

/// A kind of place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// A heat mat with a thermostat.
    Mat,
    /// A shelf in the heated room.
    Shelf,
    /// The window sill of an unheated porch.
    Sill,
    /// On top of the cupboard with the boiler in it.
    BoilerTop,
}

/// How the house was run in one season.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Household {
    /// The mat's thermostat, °C.
    pub(crate) mat_set_c: f64,
    /// How far the boiler's cupboard stays above the room, °C.
    pub(crate) boiler_lift_c: f64,
}

/// The temperatures of one place from an instant on, one a step.
pub(crate) struct Warmth {
    start: DateTime<Utc>,
    celsius: Vec<f64>,
}

impl Warmth {
    /// The true temperature at an instant, °C: that of the step it falls into.
    pub(crate) fn at(&self, time: DateTime<Utc>) -> f64 {
        let step = (time - self.start).num_minutes().div_euclid(STEP_MINUTES);
        let step = usize::try_from(step).unwrap_or(0).min(self.celsius.len() - 1);
        self.celsius[step]
    }
}

/// The weather of some days on end.
pub(crate) struct Weather {
    zone: Tz,
    start: DateTime<Utc>,
    first_date: NaiveDate,
    anomalies: Vec<f64>,
    sun: Vec<f64>,
}

impl Weather {
    /// The weather from a local date on, for a number of days.
    pub(crate) fn new(zone: Tz, first_date: NaiveDate, days: usize, mut random: Stream) -> Self {
        let start = zone.from_local_datetime(&first_date.and_time(chrono::NaiveTime::MIN)).unwrap().with_timezone(&Utc);
        let shock = ANOMALY_SD_C * (1.0 - ANOMALY_PERSISTENCE * ANOMALY_PERSISTENCE).sqrt();
        let mut anomalies = vec![random.normal(ANOMALY_SD_C)];
        let mut sun = vec![random.uniform()];
        // One more day at either end, so that every instant lies between two middays.
        for day in 0..=days {
            anomalies.push(ANOMALY_PERSISTENCE * anomalies[day] + random.normal(shock));
            sun.push((0.5 * sun[day] + 0.5 * random.uniform() + random.normal(0.15)).clamp(0.0, 1.0));
        }
        Self { zone, start, first_date, anomalies, sun }
    }

    fn steps(&self) -> i64 {
        (self.anomalies.len() as i64 - 2) * 24 * 60 / STEP_MINUTES
    }

    /// Local hour of the day, outdoor °C and sun (0 dull to 1 clear) at an instant.
    fn at(&self, time: DateTime<Utc>) -> (f64, f64, f64) {
        let local = time.with_timezone(&self.zone);
        let hour = f64::from(local.num_seconds_from_midnight()) / 3600.0;
        let day = (local.date_naive() - self.first_date).num_days() as usize;
        let from_midday = day as f64 + 0.5 + hour / 24.0;
        let (before, part) = (from_midday.floor() as usize, from_midday.fract());
        let anomaly = (1.0 - part) * self.anomalies[before] + part * self.anomalies[(before + 1).min(self.anomalies.len() - 1)];
        let sun = self.sun[day.min(self.sun.len() - 1)];
        let season = YEAR_MEAN_C - YEAR_WAVE_C * (TAU * (f64::from(local.ordinal()) - 20.0) / 365.25).cos();
        let swing = (1.6 + 2.8 * sun) * (TAU * (hour - 14.5) / 24.0).cos();
        (hour, season + anomaly + swing, sun)
    }

    /// The record of a place.
    pub(crate) fn warmth(&self, place: Place, house: Household, mut random: Stream) -> Warmth {
        let mut room = 18.0;
        let mut inside = None;
        let mut draught = 0.0;
        let celsius = (0..self.steps())
            .map(|step| {
                let (hour, outdoors, sun) = self.at(self.start + Duration::minutes(step * STEP_MINUTES));
                room = follow(room, room_target(hour, outdoors, sun), 3.0);
                let (target, inertia_hours) = match place {
                    Place::Shelf => (room, 0.5),
                    Place::Mat => (mat_target(house, room, hour, step), 0.8),
                    Place::Sill => (sill_target(outdoors, hour, sun), 1.5),
                    Place::BoilerTop => (boiler_target(house, room, hour, outdoors), 1.2),
                };
                let now = follow(inside.unwrap_or(target), target, inertia_hours);
                inside = Some(now);
                draught = DRAUGHT_PERSISTENCE * draught + random.normal(DRAUGHT_SD_C * (1.0 - DRAUGHT_PERSISTENCE.powi(2)).sqrt());
                now + draught
            })
            .collect();
        Warmth { start: self.start, celsius }
    }
}

/// One step towards a target with an inertia.
fn follow(now: f64, target: f64, inertia_hours: f64) -> f64 {
    now + (target - now) * (STEP_HOURS / inertia_hours).min(1.0)
}

/// Sun through a window: none before 8 and after 18, most at 13 o'clock.
fn sunshine(hour: f64, sun: f64) -> f64 {
    sun * (TAU * (hour - 8.0) / 20.0).sin().max(0.0) * if (8.0..18.0).contains(&hour) { 1.0 } else { 0.0 }
}

fn heating_on(hour: f64) -> bool {
    (6.0..8.5).contains(&hour) || (16.5..22.5).contains(&hour)
}

fn room_target(hour: f64, outdoors: f64, sun: f64) -> f64 {
    let heated = if heating_on(hour) { 20.5 } else { 15.5 };
    heated + 0.2 * (outdoors - 8.0) + 1.5 * sunshine(hour, sun)
}

/// The thermostat switches on and off around its setting; it cannot lift the mix by more than 10 °C, and sunny afternoons in
/// a heated room overshoot a little.
fn mat_target(house: Household, room: f64, hour: f64, step: i64) -> f64 {
    let switching = 0.45 * (TAU * step as f64 * STEP_HOURS / 0.9).sin();
    let overshoot = 0.4 * (TAU * (hour - 15.0) / 24.0).cos();
    (house.mat_set_c + switching + overshoot).min(room + 10.0)
}

fn sill_target(outdoors: f64, hour: f64, sun: f64) -> f64 {
    4.2 + 0.95 * outdoors + 6.5 * sunshine(hour, sun)
}

/// The cupboard is warm round the clock and hot while the boiler fires, longer on cold days.
fn boiler_target(house: Household, room: f64, hour: f64, outdoors: f64) -> f64 {
    let firing = if heating_on(hour) { (4.5 + 0.3 * (8.0 - outdoors)).max(2.0) } else { 0.0 };
    room + house.boiler_lift_c + firing
}
