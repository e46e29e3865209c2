//! The computer that logs: how its clock stands, and when each of its starts was.
//!
//! Within one start of the computer there is a time that never jumps: microseconds since that start. A reading's time is the
//! instant of the start, once that is known, plus that.

use super::{Name, Stamp};
use crate::civil::Time;

/// No reading is older: the start of 2020, in microseconds since 1970. A clock that shows less was never set.
pub const EARLIEST_US: i64 = 1_577_836_800_000_000;

/// How far a computer's clock is to be believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Set by the network in this start of the computer.
    Synchronised {
        /// When it last was, in microseconds since 1970 as the clock itself shows it.
        last_us: i64,
    },
    /// The grower vouches for it.
    Vouched,
    /// Kept by a battery, or by the host of a virtual machine.
    Plausible,
    /// Not known to be right.
    Doubted(WhyDoubted),
}

/// Why a clock is not believed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum WhyDoubted {
    /// No battery keeps it, and it has not been set since the computer was started.
    NotSetYet,
    /// It shows a time before 2020.
    NeverSet,
    /// It shows a time before the newest reading on the bench.
    BeforeNewest,
}

impl WhyDoubted {
    /// The word for it in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::NotSetYet => "not-set-yet",
            Self::NeverSet => "never-set",
            Self::BeforeNewest => "before-newest",
        }
    }
}

/// Who said when a computer was started.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum AnchoredBy {
    /// A clock that was plausible.
    Plausible,
    /// A clock that the grower vouched for.
    Vouched,
    /// A clock set by the network.
    Synchronised,
    /// The grower, who said when its first reading was made.
    Grower,
}

/// When a start of the computer was.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Anchor {
    /// Microseconds since 1970.
    pub began_us: i64,
    /// Who said so.
    pub by: AnchoredBy,
}

impl Anchor {
    /// Microseconds since 1970 of what was `since_us` after the start.
    #[must_use]
    pub fn date(self, since_us: i64) -> i64 {
        self.began_us.saturating_add(since_us)
    }

    /// A reading's time and stamp as they are once the start is known: an undated one gets the time it was made.
    #[must_use]
    pub fn dated(self, time_us: i64, stamp: Stamp) -> (i64, Stamp) {
        match stamp {
            Stamp::Undated => (self.date(time_us), Stamp::Arrival),
            Stamp::Arrival | Stamp::Source => (time_us, stamp),
        }
    }
}

/// The computer's clock was set while readings were dated by it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ClockStep {
    /// When, in microseconds since the computer's start.
    pub since_us: i64,
    /// When, in microseconds since 1970, by the time that readings go by from then on.
    pub time_us: i64,
    /// By how much the clock was set forward; back where it is below 0.
    pub ahead_us: i64,
    /// Whether readings go by it from then on.
    pub followed: bool,
}

/// A start of a computer whose readings have no dates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UndatedStart {
    /// Its number on this bench.
    pub number: i64,
    /// What the system calls it.
    pub id: String,
    /// How many readings.
    pub readings: usize,
    /// Their probes, by name.
    pub probes: Vec<Name>,
    /// Microseconds from the start to the first reading.
    pub first_since_us: i64,
    /// Microseconds from the start to the last.
    pub last_since_us: i64,
    /// They were made after this, as far as is known.
    pub after: Option<Time>,
    /// They were made before this, as far as is known.
    pub before: Option<Time>,
}

/// How it stands with the clock of the computer that logs.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct ClockStatus {
    /// The clock now; none where the question is about another time.
    pub standing: Option<Standing>,
    /// Whether readings of the present start of the computer are dated; none where none was logged in it.
    pub dated: Option<bool>,
    /// What the system calls the present start.
    pub start: Option<String>,
    /// Readings without dates, in order of the starts.
    pub undated: Vec<UndatedStart>,
    /// When the clock was set lately.
    pub steps: Vec<ClockStep>,
}
