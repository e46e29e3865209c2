//! What a logger says while it runs, once for each change.

use std::fmt;

use crate::bench::{ClockStep, Name, Reading, WhyDoubted};
use crate::probes::{LineFault, LineFormat, PortState};
use crate::wording::{doubt_next, doubt_words, step_words};

/// The most of an unreadable line that is shown, in characters.
const LINE_SHOWN: usize = 60;

/// Something worth telling the grower.
#[derive(Debug)]
pub enum Notice {
    /// It stands otherwise with a port than before.
    Port {
        /// Its path.
        port: String,
        /// How it stands now.
        state: PortState,
    },
    /// A probe was heard for the first time since the start.
    FirstReading {
        /// The probe.
        probe: Name,
        /// The port it came through.
        port: String,
        /// What it read.
        reading: Reading,
        /// Where it stands; none: not said yet.
        spot: Option<Name>,
    },
    /// The first line of a port that could not be read.
    Unread {
        /// The port's path.
        port: String,
        /// The line as received.
        line: Vec<u8>,
        /// Why.
        fault: LineFault,
    },
    /// A port prints another format than before.
    FormatChanged {
        /// The port's path.
        port: String,
        /// The format before.
        from: LineFormat,
        /// The format now.
        to: LineFormat,
    },
    /// A board gave a time that cannot be.
    ClockDiffers {
        /// The port's path.
        port: String,
        /// By how much it is ahead of ours, in microseconds.
        ahead_us: i64,
    },
    /// The storage fails; readings are kept in memory.
    StorageFails {
        /// What failed.
        error: String,
    },
    /// Memory is full; readings are dropped from now on.
    MemoryFull {
        /// Readings kept.
        kept: usize,
    },
    /// The storage works again.
    StorageWorks {
        /// Readings that had waited in memory.
        kept: usize,
        /// Readings lost while it did not.
        dropped: u64,
    },
    /// The computer's clock is not known to be right: readings are kept without dates.
    ClockDoubted {
        /// Why it is not.
        why: WhyDoubted,
    },
    /// The clock is right now.
    ClockBelieved {
        /// Readings on the disk that got their dates by that.
        dated: usize,
    },
    /// The clock was set while readings were dated by it.
    ClockSet {
        /// By how much, and what came of it.
        step: ClockStep,
    },
    /// A port's thread broke down.
    PortCrashed {
        /// The port's path.
        port: String,
    },
}

impl Notice {
    /// "red at heat mat: 24.1 °C"
    #[must_use]
    pub fn measured(probe: &Name, spot: Option<&Name>, reading: &Reading) -> String {
        let place = spot.map(|spot| format!(" at {spot}")).unwrap_or_default();
        let celsius = reading.raw_c().map_or_else(|| "no number".to_owned(), |celsius| format!("{celsius:.1} °C"));
        format!("{probe}{place}: {celsius}")
    }
}

impl fmt::Display for Notice {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Port { port, state } => write!(f, "{port}: {state}"),
            Self::FirstReading { probe, port, reading, spot } => {
                write!(f, "{}", Self::measured(probe, spot.as_ref(), reading))?;
                write!(f, " ({port})")?;
                if spot.is_none() {
                    write!(
                        f,
                        "\n  it stands at no spot yet; its readings are kept\n  next: seedclock probe place \"{probe}\" SPOT"
                    )?;
                }
                Ok(())
            }
            Self::Unread { port, line, fault } => write!(
                f,
                "note: {port}: a line could not be read: {fault}:\n  \"{}\"\n  It is kept as received. Further ones are counted.",
                shown(line)
            ),
            Self::FormatChanged { port, from, to } => {
                write!(f, "note: {port} prints {to} now, and {from} before: has its board been changed?")
            }
            Self::ClockDiffers { port, ahead_us } => {
                let way = if *ahead_us < 0 { "behind" } else { "ahead of" };
                let seconds = ahead_us.unsigned_abs() / 1_000_000;
                write!(f, "note: {port}: its clock is {seconds} s {way} this machine's: the times of arrival are used instead")
            }
            Self::StorageFails { error } => {
                write!(f, "{error}\n  the readings are kept in memory, and storing them is tried again")
            }
            Self::MemoryFull { kept } => {
                write!(f, "{kept} readings wait in memory, and no more fit: new ones are lost from now on")
            }
            Self::StorageWorks { kept, dropped: 0 } => write!(f, "the storage works again: {kept} readings that waited are stored"),
            Self::StorageWorks { kept, dropped } => {
                write!(f, "the storage works again: {kept} readings that waited are stored, {dropped} are lost")
            }
            Self::ClockDoubted { why } => {
                let (why, next) = (doubt_words(*why), doubt_next(*why));
                write!(
                    f,
                    "note: the clock of this computer is not known to be right: {why}\n  readings are kept, and get their dates \
                     once it is\n  next: {next}"
                )
            }
            Self::ClockBelieved { dated: 0 } => f.write_str("the clock of this computer is right now: readings have their dates"),
            Self::ClockBelieved { dated } => {
                write!(f, "the clock of this computer is right now: {dated} readings that were kept without dates have theirs")
            }
            Self::ClockSet { step } => write!(f, "note: {}", step_words(*step)),
            Self::PortCrashed { port } => write!(f, "{port}: reading it broke down: this is a fault of seedclock"),
        }
    }
}

/// A line as text that no control character can disturb a terminal with, cut where it is long.
fn shown(line: &[u8]) -> String {
    let text = String::from_utf8_lossy(line);
    let mut shown: String = text.chars().take(LINE_SHOWN).flat_map(char::escape_debug).collect();
    if text.chars().nth(LINE_SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;

    #[test]
    fn notices_are_said_in_a_growers_words() {
        let port = || "/dev/ttyUSB0".to_owned();
        let probe = || Name::new("west sill").unwrap();
        let reading = Reading { time_us: 0, raw_c_e4: Some(215_625), proof: Proof::Plain };
        let said = |notice: Notice| notice.to_string();
        assert_eq!(
            said(Notice::Port { port: port(), state: PortState::Absent }),
            "/dev/ttyUSB0: nothing is plugged in there; waiting for it"
        );
        assert_eq!(
            said(Notice::FirstReading { probe: probe(), port: port(), reading, spot: Name::new("heat mat").ok() }),
            "west sill at heat mat: 21.6 °C (/dev/ttyUSB0)"
        );
        assert_eq!(
            said(Notice::FirstReading { probe: probe(), port: port(), reading: Reading { raw_c_e4: None, ..reading }, spot: None }),
            "west sill: no number (/dev/ttyUSB0)\n  it stands at no spot yet; its readings are kept\n  \
             next: seedclock probe place \"west sill\" SPOT"
        );
        assert_eq!(
            said(Notice::Unread { port: port(), line: b"T=2x.50\x1b[2J".to_vec(), fault: LineFault::Control }),
            "note: /dev/ttyUSB0: a line could not be read: it holds a control character:\n  \"T=2x.50\\u{1b}[2J\"\n  \
             It is kept as received. Further ones are counted."
        );
        assert_eq!(
            said(Notice::FormatChanged { port: port(), from: LineFormat::Plain, to: LineFormat::Senml }),
            "note: /dev/ttyUSB0 prints SenML now, and '21.5' or 'probe,21.5' before: has its board been changed?"
        );
        assert_eq!(
            said(Notice::ClockDiffers { port: port(), ahead_us: -3_600_000_000 }),
            "note: /dev/ttyUSB0: its clock is 3600 s behind this machine's: the times of arrival are used instead"
        );
        assert_eq!(
            said(Notice::ClockDoubted { why: WhyDoubted::NotSetYet }),
            "note: the clock of this computer is not known to be right: it has no battery that kept it, and the network has not set \
             it since it was started\n  readings are kept, and get their dates once it is\n  next: connect it to the network, or set \
             its clock and begin again with `seedclock log --clock trusted`"
        );
        assert_eq!(
            said(Notice::ClockBelieved { dated: 147 }),
            "the clock of this computer is right now: 147 readings that were kept without dates have theirs"
        );
        assert!(shown(&[b'x'; 200]).ends_with("x…"));
    }
}
