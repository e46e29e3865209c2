//! What a logger says while it runs, once for each change.

use std::fmt;
use std::path::PathBuf;

use super::Tally;
use crate::bench::{ClockStep, Name, Reading, WhyDoubted};
use crate::diagnosis::alarms::Event;
use crate::probes::{LineFault, LineFormat, SourceState};
use crate::wording::{doubt_next, doubt_words, step_words};

/// The most of an unreadable line that is shown, in characters.
const LINE_SHOWN: usize = 60;

/// Something worth telling the grower.
#[derive(Debug)]
pub enum Notice {
    /// The writer is alive: nothing to tell a grower.
    Alive {
        /// What it has done so far.
        tally: Tally,
        /// Readings that wait to be stored.
        waiting: usize,
        /// Whether the storage fails.
        storage_fails: bool,
    },
    /// It stands otherwise with a source than before.
    State {
        /// Its name.
        source: String,
        /// How it stands now.
        state: SourceState,
    },
    /// The speed at which a board prints was found.
    SpeedFound {
        /// The source.
        source: String,
        /// In bits a second.
        baud: u32,
    },
    /// Another device is plugged in under the same name.
    DeviceChanged {
        /// The source.
        source: String,
        /// The device before.
        from: String,
        /// The one now.
        to: String,
    },
    /// A source brings a probe that it never brought before.
    NewAtSource {
        /// The source.
        source: String,
        /// The probe.
        probe: Name,
        /// Those it had brought.
        others: Vec<Name>,
    },
    /// Two sources bring a probe of one name at the same time.
    TwoOfOneName {
        /// The name.
        probe: Name,
        /// The one that had it first, and the other.
        sources: [String; 2],
        /// Under which name the other's is kept.
        kept_as: Name,
    },
    /// A message that a broker had kept was passed over.
    Retained {
        /// The source.
        source: String,
        /// Its topic.
        topic: String,
    },
    /// A probe is gone from its bus.
    ProbeGone {
        /// The bus.
        source: String,
        /// The probe.
        probe: Name,
    },
    /// It is there again.
    ProbeBack {
        /// The bus.
        source: String,
        /// The probe.
        probe: Name,
    },
    /// A probe was heard for the first time since the start.
    FirstReading {
        /// The probe.
        probe: Name,
        /// The source it came from.
        source: String,
        /// What it read.
        reading: Reading,
        /// Where it stands; none: not said yet.
        spot: Option<Name>,
    },
    /// The first line of a source that could not be read.
    Unread {
        /// The source.
        source: String,
        /// The line as received.
        line: Vec<u8>,
        /// Why.
        fault: LineFault,
    },
    /// A source prints another format than before.
    FormatChanged {
        /// The source.
        source: String,
        /// The format before.
        from: LineFormat,
        /// The format now.
        to: LineFormat,
    },
    /// A board gave a time that cannot be.
    ClockDiffers {
        /// The source.
        source: String,
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
    /// The log beside the file grows, since a reader holds back its copying.
    LogGrows {
        /// Its size.
        bytes: u64,
    },
    /// Another computer logged here before.
    ComputerChanged {
        /// What it is called.
        from: String,
    },
    /// The nightly backup was made and checked.
    BackupMade {
        /// Where.
        file: PathBuf,
    },
    /// It was not.
    BackupFailed {
        /// Why.
        why: String,
    },
    /// Something that the grower wants to be told of.
    Alarm {
        /// In one line, with what to do.
        words: String,
        /// Whether it has begun or is over.
        event: Event,
    },
    /// A source's thread broke down.
    SourceCrashed {
        /// The source.
        source: String,
    },
}

impl Notice {
    /// Whether something is wrong that somebody may have to see to.
    #[must_use]
    pub fn is_trouble(&self) -> bool {
        match self {
            Self::State { state, .. } => !state.is_well(),
            Self::Alarm { event, .. } => *event == Event::Begun,
            Self::Alive { .. }
            | Self::SpeedFound { .. }
            | Self::ProbeBack { .. }
            | Self::FirstReading { .. }
            | Self::StorageWorks { .. }
            | Self::ClockBelieved { .. }
            | Self::BackupMade { .. } => false,
            _ => true,
        }
    }

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
            Self::Alive { tally, waiting, storage_fails } => {
                let fails = if *storage_fails { ", which cannot be stored now" } else { "" };
                write!(f, "{} probes heard, {} readings stored, {waiting} waiting{fails}", tally.probes, tally.stored)
            }
            Self::State { source, state } => {
                write!(f, "{source}: {state}")?;
                state.next().map_or(Ok(()), |next| write!(f, "\n  next: {next}"))
            }
            Self::SpeedFound { source, baud } => write!(f, "{source}: its board prints at {baud} bits a second"),
            Self::DeviceChanged { source, from, to } => write!(
                f,
                "note: {source}: another device is plugged in there ({to}) than before ({from}): was the board replaced?\n  \
                 Probes that name themselves keep their histories; `seedclock probe place` says where a new one stands"
            ),
            Self::NewAtSource { source, probe, others } => {
                let others: Vec<&str> = others.iter().map(Name::as_str).collect();
                write!(
                    f,
                    "note: {source}: a new probe, {probe}, beside {}\n  next: if it replaces one, `seedclock probe place {} SPOT`; \
                     the old one's readings stay",
                    others.join(", "),
                    probe.as_typed()
                )
            }
            Self::TwoOfOneName { probe, sources: [first, other], kept_as } => write!(
                f,
                "note: two probes answer to the name '{probe}', at {first} and at {other}: the readings of both are kept, those from \
                 {other} as '{kept_as}'\n  next: probes sold as clones may carry one number: label them, then \
                 `seedclock probe name {} NAME`",
                kept_as.as_typed()
            ),
            Self::Retained { source, topic } => write!(
                f,
                "note: {source}: what the broker had kept of '{topic}' was passed over: nobody can tell when it was measured"
            ),
            Self::ProbeGone { source, probe } => write!(f, "{source}: {probe} does not answer any more: see to its plug and cable"),
            Self::ProbeBack { source, probe } => write!(f, "{source}: {probe} answers again"),
            Self::FirstReading { probe, source, reading, spot } => {
                write!(f, "{}", Self::measured(probe, spot.as_ref(), reading))?;
                write!(f, " ({source})")?;
                if spot.is_none() {
                    write!(
                        f,
                        "\n  it stands at no spot yet; its readings are kept\n  next: seedclock probe place \"{probe}\" SPOT"
                    )?;
                }
                Ok(())
            }
            Self::Unread { source, line, fault } => write!(
                f,
                "note: {source}: a line could not be read: {fault}:\n  \"{}\"\n  It is kept as received. Further ones are counted.",
                shown(line)
            ),
            Self::FormatChanged { source, from, to } => {
                write!(f, "note: {source} prints {to} now, and {from} before: has its board been changed?")
            }
            Self::ClockDiffers { source, ahead_us } => {
                let way = if *ahead_us < 0 { "behind" } else { "ahead of" };
                let seconds = ahead_us.unsigned_abs() / 1_000_000;
                write!(f, "note: {source}: its clock is {seconds} s {way} this machine's: the times of arrival are used instead")
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
            Self::LogGrows { bytes } => {
                let megabytes = bytes / 1_000_000;
                write!(
                    f,
                    "note: the log beside the bench has grown to {megabytes} MB, since another program has been reading the bench \
                     for long; nothing is lost\n  next: close that program"
                )
            }
            Self::ComputerChanged { from } => {
                write!(f, "note: this bench was logged by the computer '{from}' before\n  next: start no logger there any more")
            }
            Self::BackupMade { file } => write!(f, "backed up and checked: {}", file.display()),
            Self::BackupFailed { why } => {
                write!(f, "the nightly backup was not made: {why}\n  earlier ones stay; it is tried again the next night")
            }
            Self::Alarm { words, .. } => f.write_str(words),
            Self::SourceCrashed { source } => write!(f, "{source}: reading it broke down: this is a fault of seedclock"),
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
            said(Notice::State { source: port(), state: SourceState::Absent }),
            "/dev/ttyUSB0: nothing is plugged in there; waiting for it"
        );
        assert_eq!(
            said(Notice::FirstReading { probe: probe(), source: port(), reading, spot: Name::new("heat mat").ok() }),
            "west sill at heat mat: 21.6 °C (/dev/ttyUSB0)"
        );
        assert_eq!(
            said(Notice::FirstReading {
                probe: probe(),
                source: port(),
                reading: Reading { raw_c_e4: None, ..reading },
                spot: None
            }),
            "west sill: no number (/dev/ttyUSB0)\n  it stands at no spot yet; its readings are kept\n  \
             next: seedclock probe place \"west sill\" SPOT"
        );
        assert_eq!(
            said(Notice::Unread { source: port(), line: b"T=2x.50\x1b[2J".to_vec(), fault: LineFault::Control }),
            "note: /dev/ttyUSB0: a line could not be read: it holds a control character:\n  \"T=2x.50\\u{1b}[2J\"\n  \
             It is kept as received. Further ones are counted."
        );
        assert_eq!(
            said(Notice::FormatChanged { source: port(), from: LineFormat::Plain, to: LineFormat::Senml }),
            "note: /dev/ttyUSB0 prints SenML now, and '21.5' or 'probe,21.5' before: has its board been changed?"
        );
        assert_eq!(
            said(Notice::ClockDiffers { source: port(), ahead_us: -3_600_000_000 }),
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
