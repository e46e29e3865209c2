//! When a measurement was made, and what is known of a probe's first word.

use std::collections::BTreeSet;

use super::line::{Given, Measured};
use super::rom;
use crate::bench::{EARLIEST_US, Name, Proof, Reading, Stamp};
use crate::quality;

/// Names remembered in one opening. Far more probes than a bus can carry; a bound, because garbage makes names too.
const MOST_PROBES: usize = 1000;
/// A clock that differs from ours by more, in microseconds (5 min), is not believed.
const CLOCKS_APART_US: i64 = 300_000_000;

/// Turns what lines measured into readings, from one opening of a source to its closing.
#[derive(Debug, Default)]
pub(super) struct Dating {
    heard: BTreeSet<Name>,
    clock_told: bool,
}

/// A reading made of what a line measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Dated {
    pub(super) probe: Name,
    pub(super) reading: Reading,
    pub(super) stamp: Stamp,
    /// By how much the time given is ahead of ours, where it cannot be and that was not told yet.
    pub(super) clock_ahead_us: Option<i64>,
}

impl Dating {
    /// What was measured, as a reading of the probe it names, else of `own`. A sensor's burnt-in number becomes the kernel's name
    /// of it, so that one sensor is one probe wherever it is plugged in.
    pub(super) fn date(&mut self, one: Measured, own: &Name, arrived: (i64, Stamp)) -> Dated {
        let when = When::of(one.given, arrived);
        let clock_ahead_us = when.not_believed_us.filter(|_| !std::mem::replace(&mut self.clock_told, true));
        let named = one.probe.unwrap_or_else(|| own.clone());
        let probe = rom::kernel_name(named.as_str()).unwrap_or(named);
        let is_first = !self.heard.contains(&probe);
        if is_first && self.heard.len() < MOST_PROBES {
            self.heard.insert(probe.clone());
        }
        let powered_up = is_first && one.raw_c_e4 == Some(quality::POWER_ON_C_E4);
        let proof = if powered_up { Proof::PowerOn } else { one.proof };
        let reading = Reading { time_us: when.time_us, raw_c_e4: one.raw_c_e4, proof };
        Dated { probe, reading, stamp: when.stamp, clock_ahead_us }
    }

    /// Names remembered: for tests of the bound.
    #[cfg(test)]
    pub(super) fn is_bounded(&self) -> bool {
        self.heard.len() <= MOST_PROBES
    }
}

/// Whether a source's own time is near enough to ours to be believed.
pub(super) fn is_believed(given: Option<Given>, arrived: (i64, Stamp)) -> bool {
    let when = When::of(given, arrived);
    when.stamp == Stamp::Source && when.not_believed_us.is_none()
}

/// When a line's measurement was made, by the clock that is believed.
struct When {
    time_us: i64,
    stamp: Stamp,
    /// The time given, from arrival, where arrival was taken instead.
    not_believed_us: Option<i64>,
}

impl When {
    fn of(given: Option<Given>, arrived: (i64, Stamp)) -> Self {
        let (arrival_us, Stamp::Arrival | Stamp::Source) = arrived else { return Self::undated(given, arrived.0) };
        let (ahead_us, stamp) = match given {
            None => (0, Stamp::Arrival),
            Some(Given::FromNow { us }) => (us, Stamp::Arrival),
            Some(Given::Since1970 { us }) => (us.saturating_sub(arrival_us), Stamp::Source),
        };
        let time_us = arrival_us.saturating_add(ahead_us);
        let believed = match stamp {
            _ if ahead_us == 0 => true,
            Stamp::Source => (-CLOCKS_APART_US..=CLOCKS_APART_US).contains(&ahead_us),
            // A board without a clock counts back from now, as far as it likes; nothing was measured in the future.
            Stamp::Arrival | Stamp::Undated => ahead_us <= CLOCKS_APART_US && time_us >= EARLIEST_US,
        };
        if believed {
            Self { time_us, stamp, not_believed_us: None }
        } else {
            Self { time_us: arrival_us, stamp: Stamp::Arrival, not_believed_us: Some(ahead_us) }
        }
    }

    /// While our own clock is not believed, a board's time from now is as good as ever; one since 1970 can be held against nothing.
    fn undated(given: Option<Given>, since_us: i64) -> Self {
        let believed = |us: &i64| *us <= CLOCKS_APART_US;
        let time_us = match given {
            Some(Given::FromNow { us }) if believed(&us) => since_us.saturating_add(us),
            None | Some(Given::FromNow { .. } | Given::Since1970 { .. }) => since_us,
        };
        Self { time_us, stamp: Stamp::Undated, not_believed_us: None }
    }
}
