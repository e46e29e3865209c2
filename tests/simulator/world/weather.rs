//! Weather and what it makes of a bench's spots: a smooth year, day anomalies that all spots share, day shapes of their own.

use std::f64::consts::{PI, TAU};

use chrono::{DateTime, Datelike, Duration, Timelike, Utc};

use crate::simulator::random::Stream;

/// The step of the record, in minutes.
pub(crate) const STEP_MINUTES: i64 = 30;
/// Steps a day.
pub(crate) const STEPS_PER_DAY: usize = 48;
/// Day anomalies outdoors: standard deviation and day-to-day correlation (common knowledge of temperate climates, rounded).
const ANOMALY_SD_C: f64 = 2.2;
const ANOMALY_PERSISTENCE: f64 = 0.75;
/// Day-to-day correlation of a spot's own ups and downs.
const OWN_PERSISTENCE: f64 = 0.6;
/// Small movements of the air: standard deviation and persistence over one step.
const DRAUGHT_SD_C: f64 = 0.15;
const DRAUGHT_PERSISTENCE: f64 = 0.7;

/// When of the year a bench is at work.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Climate {
    SpringWarming,
    Summer,
    AutumnCooling,
    MidWinter,
}

/// A kind of place.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Place {
    /// A heat mat with a thermostat.
    Mat,
    /// A shelf in the heated room.
    Shelf,
    /// A window sill with some sun.
    Sill,
    /// A window sill that bakes on sunny days.
    HotSill,
    /// An unheated porch.
    Porch,
    /// For chilling.
    Fridge,
}

/// A spot of a bench.
#[derive(Debug, Clone)]
pub(crate) struct Spot {
    pub(crate) name: String,
    pub(crate) place: Place,
    /// How many °C the sun adds at its height on a clear day.
    pub(crate) sun_c: f64,
    /// Half the daily swing, °C.
    pub(crate) swing_c: f64,
    /// Standard deviation of its own daily ups and downs, °C.
    pub(crate) own_sd_c: f64,
}

/// The house and the air around it, as they are every year.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Region {
    pub(crate) year_mean_c: f64,
    pub(crate) year_wave_c: f64,
    pub(crate) room_c: f64,
}

/// The weather of one season at all spots of a bench.
#[derive(Debug, Clone)]
pub(crate) struct Weather {
    /// A midnight.
    pub(crate) start: DateTime<Utc>,
    region: Region,
    /// How far this year lies from the usual one outdoors, °C.
    level_c: f64,
    /// How far the room is kept from the usual this year, °C.
    room_shift_c: f64,
    /// The mat's thermostat this year, °C.
    mat_set_c: f64,
    /// At each midnight.
    anomalies: Vec<f64>,
    /// By day, 0 dull to 1 clear.
    sun: Vec<f64>,
    /// At each midnight, by spot.
    own: Vec<Vec<f64>>,
}

/// The temperatures of one spot, one a step.
#[derive(Debug, Clone)]
pub(crate) struct Track {
    pub(crate) start: DateTime<Utc>,
    pub(crate) celsius: Vec<f64>,
}

impl Track {
    /// The place of the step that an instant falls into.
    pub(crate) fn step(&self, time: DateTime<Utc>) -> usize {
        let step = (time - self.start).num_minutes().div_euclid(STEP_MINUTES);
        usize::try_from(step).unwrap_or(0).min(self.celsius.len() - 1)
    }

    /// The true temperature at an instant, °C.
    pub(crate) fn at(&self, time: DateTime<Utc>) -> f64 {
        self.celsius[self.step(time)]
    }

    /// ∫ `rate` dt from one instant to another, by direct summation; `rate` is per day.
    pub(crate) fn gained(&self, from: DateTime<Utc>, until: DateTime<Utc>, rate: impl Fn(f64) -> f64) -> f64 {
        if until <= from {
            return 0.0;
        }
        let (first, last) = (self.step(from), self.step(until));
        let edge = |step: usize| self.start + Duration::minutes(step as i64 * STEP_MINUTES);
        let part = |step: usize| {
            let (begin, end) = (edge(step).max(from), if step == last { until } else { edge(step + 1) });
            rate(self.celsius[step]) * (end - begin).num_seconds() as f64 / 86_400.0
        };
        (first..=last).map(part).sum()
    }
}

impl Weather {
    /// The weather of a number of days from a midnight on.
    pub(crate) fn new(start: DateTime<Utc>, days: usize, region: Region, mat_c: f64, spots: &[Spot], random: &mut Stream) -> Self {
        let mut weather = Self {
            start,
            region,
            level_c: random.normal(0.7),
            room_shift_c: random.normal(0.5),
            mat_set_c: mat_c + random.normal(0.8),
            anomalies: vec![random.normal(ANOMALY_SD_C)],
            sun: vec![random.uniform()],
            own: spots.iter().map(|spot| vec![random.normal(spot.own_sd_c)]).collect(),
        };
        weather.go_on(days, spots, random);
        weather
    }

    /// The same up to the end of the day of `now`, and from there on as it might come.
    pub(crate) fn redrawn_from(&self, now: DateTime<Utc>, spots: &[Spot], random: &mut Stream) -> Self {
        let days = self.sun.len() - 1;
        let today = (now - self.start).num_days() as usize;
        let mut weather = self.clone();
        weather.anomalies.truncate(today + 2);
        weather.own.iter_mut().for_each(|own| own.truncate(today + 2));
        weather.sun.truncate(today + 1);
        weather.go_on(days, spots, random);
        weather
    }

    fn go_on(&mut self, days: usize, spots: &[Spot], random: &mut Stream) {
        let shock = |sd: f64, persistence: f64| sd * (1.0 - persistence * persistence).sqrt();
        let next = |series: &mut Vec<f64>, sd: f64, persistence: f64, random: &mut Stream| {
            let last = series.last().copied().unwrap_or(0.0);
            series.push(persistence * last + random.normal(shock(sd, persistence)));
        };
        while self.anomalies.len() < days + 2 {
            next(&mut self.anomalies, ANOMALY_SD_C, ANOMALY_PERSISTENCE, random);
        }
        for (own, spot) in self.own.iter_mut().zip(spots) {
            while own.len() < days + 2 {
                next(own, spot.own_sd_c, OWN_PERSISTENCE, random);
            }
        }
        while self.sun.len() < days + 1 {
            let last = self.sun.last().copied().unwrap_or(0.5);
            self.sun.push((0.5 * last + 0.5 * random.uniform() + random.normal(0.15)).clamp(0.0, 1.0));
        }
    }

    /// How clear the day of an instant is, 0 dull to 1.
    pub(crate) fn clear(&self, time: DateTime<Utc>) -> f64 {
        let day = usize::try_from((time - self.start).num_days()).unwrap_or(0);
        self.sun[day.min(self.sun.len() - 1)]
    }

    /// The temperature at a spot without small movements of the air, °C.
    fn smooth(&self, which: usize, spot: &Spot, time: DateTime<Utc>) -> f64 {
        let minutes = (time - self.start).num_minutes();
        let day = ((minutes / 1440).max(0) as usize).min(self.sun.len() - 1);
        let part = (minutes - day as i64 * 1440) as f64 / 1440.0;
        let between = |series: &[f64]| (1.0 - part) * series[day] + part * series[day + 1];
        let year_day = f64::from(time.ordinal()) + part;
        let season = self.region.year_mean_c + self.region.year_wave_c * (TAU * (year_day - 200.0) / 365.25).cos();
        let outdoors = season + self.level_c + between(&self.anomalies);
        let room = self.region.room_c + self.room_shift_c + 0.2 * (outdoors - 10.0);
        let own = between(&self.own[which]);
        let hour = f64::from(time.num_seconds_from_midnight()) / 3600.0;
        let warmer_by_day = (TAU * (hour - 15.0) / 24.0).cos();
        let sun = self.sun[day];
        let sunshine = if (8.0..18.0).contains(&hour) { sun * (PI * (hour - 8.0) / 10.0).sin() } else { 0.0 };
        let air = match spot.place {
            Place::Mat => self.mat_set_c + 0.1 * (room - 19.0),
            Place::Shelf => room,
            Place::Sill | Place::HotSill => 0.5 * room + 0.5 * outdoors,
            Place::Porch => 5.0 + 0.9 * outdoors,
            Place::Fridge => 4.0,
        };
        air + own + spot.swing_c * warmer_by_day + spot.sun_c * sunshine
    }

    /// The record of a spot over the whole season.
    pub(crate) fn track(&self, which: usize, spot: &Spot, random: &mut Stream) -> Track {
        let mut draught = 0.0;
        let shock = DRAUGHT_SD_C * (1.0 - DRAUGHT_PERSISTENCE * DRAUGHT_PERSISTENCE).sqrt();
        let steps = (self.sun.len() - 1) * STEPS_PER_DAY;
        let celsius = (0..steps).map(|step| {
            draught = DRAUGHT_PERSISTENCE * draught + random.normal(shock);
            self.smooth(which, spot, self.start + Duration::minutes(step as i64 * STEP_MINUTES)) + draught
        });
        Track { start: self.start, celsius: celsius.collect() }
    }

    /// A stretch of a spot's record from `from` on, without small movements of the air.
    pub(crate) fn ahead(&self, which: usize, spot: &Spot, from: DateTime<Utc>, days: usize) -> Track {
        let middle = |step: usize| from + Duration::minutes(step as i64 * STEP_MINUTES + STEP_MINUTES / 2);
        let celsius = (0..days * STEPS_PER_DAY).map(|step| self.smooth(which, spot, middle(step)));
        Track { start: from, celsius: celsius.collect() }
    }
}
