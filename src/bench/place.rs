//! Spots and the probes that stand at them.

use super::Name;
use crate::civil::Time;

/// What kind of place a spot is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum SpotKind {
    /// In the house or a heated shed.
    #[default]
    Indoors,
    /// A cold place for moist chilling.
    Fridge,
    /// Out of doors.
    Outdoors,
}

impl SpotKind {
    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Indoors => "indoors",
            Self::Fridge => "fridge",
            Self::Outdoors => "outdoors",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Indoors, Self::Fridge, Self::Outdoors].into_iter().find(|known| known.word() == word)
    }
}

/// A temperature given instead of measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SetTemperature {
    /// °C.
    pub celsius: f64,
    /// Its standard uncertainty in °C; 0 for a germination cabinet.
    pub sd_c: f64,
}

/// One temperature by day, 8 to 20 o'clock local time, and another by night, given instead of measured.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct DayAndNight {
    /// °C from 8 to 20 o'clock.
    pub day_c: f64,
    /// °C from 20 to 8 o'clock.
    pub night_c: f64,
    /// Their standard uncertainty in °C, shared by both.
    pub sd_c: f64,
}

/// Of the half of a swing, how far the pair stands from the middle that stands for it: 1/√2, with which the mean and the mean square
/// are those of a sine between the extremes.
const PAIR_OF_SWING: f64 = std::f64::consts::FRAC_1_SQRT_2;
/// A household thermometer is good to about this, °C (common practice, no source).
const THERMOMETER_SD_C: f64 = 1.0;
/// How far the mean of a day lies from the middle of its extremes, as a share of the swing between them; the second for a reading of
/// more than a day and a half, whose extremes are of its warmest and its coldest day (both assumed, no source).
const OFF_MIDDLE: [f64; 2] = [0.05, 0.15];
const ONE_SWING_HOURS: i64 = 36;

impl DayAndNight {
    /// The pair that stands for a swing between the extremes that a minimum–maximum thermometer showed for `span`.
    ///
    /// # Formula
    /// ```text
    /// m = (low + high) / 2,   a = (high − low) / 2,   day, night = m ± a/√2         sd² = 1² + (share · 2a)²
    /// ```
    /// Against a sine between the extremes the mean is the same, and so are the degree-days on the average over all bases within
    /// the swing: their sum over bases goes by the mean square. For one base they differ by 0.035 a (too many: base in the middle)
    /// to −0.048 a (too few: base where the pair's day lies) °C·d a day; worked out from the sine method's own integral.
    #[must_use]
    pub fn of_extremes(low_c: f64, high_c: f64, span: chrono::Duration) -> Self {
        let (middle, half) = (f64::midpoint(low_c, high_c), (high_c - low_c) / 2.0);
        let share = OFF_MIDDLE[usize::from(span.num_hours() > ONE_SWING_HOURS)];
        // To a tenth: a longer figure would say more than is known, and has to be read.
        let tenth = |celsius: f64| (celsius * 10.0).round() / 10.0;
        Self {
            day_c: tenth(middle + PAIR_OF_SWING * half),
            night_c: tenth(middle - PAIR_OF_SWING * half),
            sd_c: tenth(THERMOMETER_SD_C.hypot(share * 2.0 * half)),
        }
    }
}

/// What is said of a spot's temperature, to be used where no probe stands.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum GivenTemperature {
    /// The same at all hours.
    Set(SetTemperature),
    /// One by day and one by night.
    DayAndNight(DayAndNight),
}

impl GivenTemperature {
    /// Its standard uncertainty in °C.
    #[must_use]
    pub fn sd_c(self) -> f64 {
        match self {
            Self::Set(set) => set.sd_c,
            Self::DayAndNight(pair) => pair.sd_c,
        }
    }
}

/// What is said of a spot, from a time on until the next such saying.
#[derive(Debug, Clone, PartialEq)]
pub struct Setting {
    /// From when on; none: since ever.
    pub since: Option<Time>,
    /// What kind of place it is.
    pub kind: SpotKind,
    /// The temperature it is set to, or is remembered to have.
    pub given: Option<GivenTemperature>,
    /// As many containers find room there.
    pub capacity: Option<u32>,
    /// What the grower calls too hot there, in °C; none: what the seeds standing there bear.
    pub too_hot_c: Option<f64>,
    /// Something was changed there at this time, such as a mat laid: what was measured before says nothing of what is to come.
    pub changed: Option<Time>,
    /// The grower's note.
    pub note: Option<String>,
}

impl Setting {
    /// What holds for a spot of which nothing has been said.
    pub const NOTHING_SAID: Self =
        Self { since: None, kind: SpotKind::Indoors, given: None, capacity: None, too_hot_c: None, changed: None, note: None };

    /// The same temperature at all hours, where that is what is given.
    #[must_use]
    pub fn set(&self) -> Option<SetTemperature> {
        match self.given {
            Some(GivenTemperature::Set(set)) => Some(set),
            _ => None,
        }
    }
}

/// A place where containers stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Its name.
    pub name: Name,
    /// What is said of it over time, in order of `since`; empty where it has only been named.
    pub settings: Vec<Setting>,
}

impl Spot {
    /// A spot that has only been named.
    #[must_use]
    pub fn named(name: Name) -> Self {
        Self { name, settings: Vec::new() }
    }

    /// What is said of it for an instant; before the first saying that is nothing.
    #[must_use]
    pub fn setting_at(&self, time: Time) -> &Setting {
        let in_force = self.settings.iter().rev().find(|setting| setting.since.is_none_or(|since| since <= time));
        in_force.unwrap_or(&Setting::NOTHING_SAID)
    }

    /// The temperature last given for it by an instant: the one in force, or the one before nothing was given any more.
    #[must_use]
    pub fn last_given(&self, now: Time) -> Option<GivenTemperature> {
        self.settings
            .iter()
            .rev()
            .filter(|setting| setting.since.is_none_or(|since| since <= now))
            .find_map(|setting| setting.given)
    }

    /// What kind of place it is at an instant.
    #[must_use]
    pub fn kind_at(&self, time: Time) -> SpotKind {
        self.setting_at(time).kind
    }

    /// The last time up to `now` at which something was changed there.
    #[must_use]
    pub fn changed_by(&self, now: Time) -> Option<Time> {
        self.settings.iter().filter_map(|setting| setting.changed).filter(|changed| *changed <= now).max()
    }
}

/// Where a probe is relative to the seeds.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Siting {
    /// In the medium of a box there.
    InBox,
    /// Beside the boxes.
    #[default]
    Beside,
    /// In the same room.
    Room,
}

impl Siting {
    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::InBox => "in",
            Self::Beside => "beside",
            Self::Room => "room",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::InBox, Self::Beside, Self::Room].into_iter().find(|known| known.word() == word)
    }
}

/// A straight-line calibration: true °C = gain × raw + offset.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Calibration {
    /// °C added.
    pub offset_c: f64,
    /// Factor on the raw value.
    pub gain: f64,
}

/// A probe standing at a spot from a time on, until it is placed elsewhere.
#[derive(Debug, Clone, PartialEq)]
pub struct Placement {
    /// The probe.
    pub probe: Name,
    /// Where it stands.
    pub spot: Name,
    /// From when on.
    pub since: Time,
    /// Its calibration; none: never calibrated.
    pub calibration: Option<Calibration>,
    /// Where it is relative to the seeds.
    pub siting: Siting,
}

impl Placement {
    /// The true temperature for a raw one, in °C.
    #[must_use]
    pub fn true_celsius(&self, raw_c: f64) -> f64 {
        self.calibration.map_or(raw_c, |calibration| calibration.gain * raw_c + calibration.offset_c)
    }

    /// The standard uncertainty of "this probe's reading is the seeds' temperature", in °C: calibration (0.25 uncalibrated,
    /// 0.1 calibrated) and siting (0.15 in the box, 0.5 beside it, 1 in the same room), added in squares.
    #[must_use]
    pub fn sd_c(&self) -> f64 {
        let calibration: f64 = if self.calibration.is_some() { 0.1 } else { 0.25 };
        let siting: f64 = match self.siting {
            Siting::InBox => 0.15,
            Siting::Beside => 0.5,
            Siting::Room => 1.0,
        };
        calibration.hypot(siting)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Degree-days of one day above a base by the single-sine method, whose integral is closed (Baskerville and Emin 1969, Ecology
    /// 50:514, <https://doi.org/10.2307/1933912>; the formula is worked out here, and held against sums below).
    fn of_a_sine(low_c: f64, high_c: f64, base_c: f64) -> f64 {
        let (middle, half) = (f64::midpoint(low_c, high_c), (high_c - low_c) / 2.0);
        let above = ((base_c - middle) / half).clamp(-1.0, 1.0);
        let angle = above.asin();
        half / std::f64::consts::PI * (angle.cos() - above * (std::f64::consts::FRAC_PI_2 - angle)) + (low_c - base_c).max(0.0)
    }

    fn of_the_pair(pair: DayAndNight, base_c: f64) -> f64 {
        ((pair.day_c - base_c).max(0.0) + (pair.night_c - base_c).max(0.0)) / 2.0
    }

    #[test]
    fn the_pair_gives_the_degree_days_of_a_sine_within_a_twentieth_of_half_the_swing() {
        let (low, high) = (6.0, 26.0);
        let pair = DayAndNight::of_extremes(low, high, chrono::Duration::hours(24));
        assert_eq!((pair.day_c, pair.night_c, pair.sd_c), (23.1, 8.9, 1.4));
        let minutes = 1440;
        let bases: Vec<f64> = (0..=200).map(|tenth| low + f64::from(tenth) / 10.0).collect();
        let mut mean_error = 0.0;
        for base in &bases {
            let by_sums: f64 = (0..minutes)
                .map(|minute| {
                    let turn = std::f64::consts::TAU * (f64::from(minute) + 0.5) / f64::from(minutes);
                    (16.0 + 10.0 * turn.sin() - base).max(0.0) / f64::from(minutes)
                })
                .sum();
            let sine = of_a_sine(low, high, *base);
            assert!((sine - by_sums).abs() < 1e-3, "base {base}: {sine} and {by_sums}");
            let error = of_the_pair(pair, *base) - sine;
            assert!((-0.05..0.04).contains(&(error / 10.0)), "base {base}: off by {error}");
            mean_error += error / bases.len() as f64;
        }
        assert!(mean_error.abs() < 0.03, "{mean_error}");
        for base in [-4.0, 0.0, 5.9] {
            assert!((of_the_pair(pair, base) - (16.0 - base)).abs() < 1e-9, "a base below the swing");
        }
    }
}
