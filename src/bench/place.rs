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
    /// Something was changed there at this time, such as a mat laid: what was measured before says nothing of what is to come.
    pub changed: Option<Time>,
    /// The grower's note.
    pub note: Option<String>,
}

impl Setting {
    /// What holds for a spot of which nothing has been said.
    pub const NOTHING_SAID: Self =
        Self { since: None, kind: SpotKind::Indoors, given: None, capacity: None, changed: None, note: None };

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
