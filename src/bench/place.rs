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

/// A place where containers stand.
#[derive(Debug, Clone, PartialEq)]
pub struct Spot {
    /// Its name.
    pub name: Name,
    /// What kind of place it is.
    pub kind: SpotKind,
    /// The temperature it is set to, for a spot without a probe.
    pub set: Option<SetTemperature>,
    /// The grower's note.
    pub note: Option<String>,
}

impl Spot {
    /// A spot that has only been named.
    #[must_use]
    pub fn named(name: Name) -> Self {
        Self { name, kind: SpotKind::Indoors, set: None, note: None }
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
