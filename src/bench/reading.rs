//! One raw temperature of one probe at one instant, and stretches that the grower doubts.

use super::Name;
use crate::civil::Time;

/// Raw temperatures are kept in ten-thousandths of a degree, which holds a probe's sixteenths (0.0625 °C) exactly.
pub const TENTHS_OF_MILLI: f64 = 10_000.0;

/// What the line that brought a reading proved by itself.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Proof {
    /// Nothing beyond its number.
    #[default]
    Plain,
    /// The sensor's power-on value, first thing after the port was opened: no conversion had been done.
    PowerOn,
    /// A code that drivers print for a probe that does not answer.
    Disconnected,
    /// No number where one should stand.
    NotANumber,
}

impl Proof {
    /// The word for it in files; none for a plain reading.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Plain => "",
            Self::PowerOn => "power-on",
            Self::Disconnected => "disconnected",
            Self::NotANumber => "not-a-number",
        }
    }

    /// What a word means.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Plain, Self::PowerOn, Self::Disconnected, Self::NotANumber].into_iter().find(|known| known.word() == word)
    }
}

/// Whose clock a reading's time is of.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Stamp {
    /// Ours, when its line arrived: never twice the same of one probe.
    Arrival,
    /// That of whatever measured it: the same time and value again are the same reading.
    Source,
    /// None's yet: microseconds since the computer was started, whose clock is not known to be right.
    Undated,
}

/// A raw reading, as received.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reading {
    /// Microseconds since 1970, UTC; of an undated one, since the computer's start ([`Stamp::Undated`]).
    pub time_us: i64,
    /// Raw temperature in 1/10 000 °C; none where the line held no number.
    pub raw_c_e4: Option<i64>,
    /// What its line proved.
    pub proof: Proof,
}

impl Reading {
    /// The raw temperature in °C.
    #[must_use]
    pub fn raw_c(&self) -> Option<f64> {
        self.raw_c_e4.map(|raw| raw as f64 / TENTHS_OF_MILLI)
    }
}

/// Readings of a probe that the grower does not trust: they are kept, and not used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubt {
    /// The probe.
    pub probe: Name,
    /// From when.
    pub from: Time,
    /// Until when; none: it goes on.
    pub to: Option<Time>,
    /// Why, in the grower's words.
    pub why: Option<String>,
}

impl Doubt {
    /// Whether it is about an instant.
    #[must_use]
    pub fn covers(&self, time: Time) -> bool {
        self.from <= time && self.to.is_none_or(|to| time <= to)
    }
}
