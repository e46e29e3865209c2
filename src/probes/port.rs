//! A serial port read by a thread of its own, opened again whenever it comes back.

use std::fmt;
use std::io::ErrorKind;
use std::ops::ControlFlow;
use std::os::unix::fs::FileTypeExt;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use serialport::SerialPort;
use tokio::sync::mpsc::Sender;

use super::{LineFault, LineFormat, LineReader, Opening, Stop, Told};
use crate::bench::{Name, Reading, Stamp};
use crate::clock::Keeper;

/// A read that brings nothing ends after this, so that a request to stop is seen.
const READ_TIMEOUT: Duration = Duration::from_millis(250);
/// The wait before a port is tried again, doubled each time …
const FIRST_RETRY: Duration = Duration::from_millis(250);
/// … up to this.
const LAST_RETRY: Duration = Duration::from_secs(5);
/// What has reached the computer before the request to stop is still read, up to this many bytes.
const READ_AFTER_STOP: usize = 256 * 1024;
/// Silence after the request to stop that means there is no more.
const LAST_READ_TIMEOUT: Duration = Duration::from_millis(50);
/// The longest name a port gives its own probe, in characters.
const LONGEST_OWN_NAME: usize = 80;
/// As much is kept of a line that could not be read, in bytes: thousands may wait, and a pack can be sixteen times as long.
const MOST_KEPT: usize = 4096;

/// A line at which tests make a port's thread break down.
#[cfg(test)]
pub(crate) const BREAK_DOWN: &[u8] = b"break down here";

/// A port to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// Its path, as the grower named it.
    pub path: PathBuf,
    /// Bits a second.
    pub baud: u32,
}

impl Port {
    /// The name of the probe whose lines name none: the path without `/dev/`, or its end where that is too long.
    ///
    /// # Errors
    /// The path is no name: empty, or with a control character.
    pub fn own_probe(&self) -> Result<Name, crate::bench::NameFault> {
        let path = self.path.to_string_lossy();
        let short = path.strip_prefix("/dev/").unwrap_or(&path);
        let beyond = short.chars().count().saturating_sub(LONGEST_OWN_NAME);
        Name::new(&short.chars().skip(beyond).collect::<String>())
    }
}

/// How it stands with a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PortState {
    /// Open.
    Listening,
    /// Nothing is plugged in under that name.
    Absent,
    /// Another program has it.
    Busy,
    /// This account may not open it.
    Forbidden,
    /// A file, a folder, or some other thing that is no port.
    NotAPort,
    /// It was open and went away.
    Unplugged,
    /// Reading it broke down by a fault of this program.
    BrokenDown,
    /// Anything else, in the system's words.
    Failing(String),
}

impl fmt::Display for PortState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Listening => f.write_str("listening"),
            Self::Absent => f.write_str("nothing is plugged in there; waiting for it"),
            Self::Busy => f.write_str("another program is using it; trying again until it is free"),
            Self::Forbidden => f.write_str(
                "this account may not open it; trying again\n  next: add it to the group that owns the port (often 'dialout')",
            ),
            Self::NotAPort => f.write_str("that is not a serial port; waiting for one to appear there"),
            Self::Unplugged => f.write_str("unplugged; waiting for it to come back"),
            Self::BrokenDown => f.write_str("reading it broke down, which is a fault of seedclock; beginning anew"),
            Self::Failing(words) => write!(f, "it cannot be used: {words}; trying again"),
        }
    }
}

/// Something a port has to tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// Which of the ports listened to, by its place among them.
    pub port: usize,
    /// What.
    pub news: News,
}

/// What a port has to tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum News {
    /// It stands otherwise with the port than before.
    State(PortState),
    /// A probe was read.
    Reading(Name, Reading, Stamp),
    /// A line could not be read.
    Unread {
        /// When, in microseconds since 1970, as well as that is known.
        time_us: i64,
        /// As received; of a long line the beginning.
        line: Vec<u8>,
        /// Why.
        fault: LineFault,
    },
    /// It prints another format than before.
    FormatChanged {
        /// The one before.
        from: LineFormat,
        /// The one now.
        to: LineFormat,
    },
    /// A line gave a time that cannot be.
    ClockDiffers {
        /// By how much it is ahead of ours, in microseconds.
        ahead_us: i64,
    },
}

/// Starts the thread that reads `port`, calling it `number` in what it sends to `to`. It stamps every line on arrival by
/// `keeper`, waits while `to` is full, and ends when `stop` is rung, with all that had arrived sent, or when nobody takes what
/// it sends.
///
/// # Errors
/// The system gives no thread, or the path cannot name a probe.
pub fn listen(
    number: usize,
    port: Port,
    keeper: Arc<Keeper>,
    to: Sender<Heard>,
    stop: Arc<Stop>,
) -> std::io::Result<JoinHandle<()>> {
    let own = port.own_probe().map_err(|fault| std::io::Error::new(ErrorKind::InvalidInput, fault))?;
    let mut listener = Listener { number, port, own, keeper, to, stop, said: None, retry: FIRST_RETRY };
    std::thread::Builder::new().name(format!("port {number}")).spawn(move || {
        // Ends by a break either way: stopped, or nobody listens any more.
        let _ = listener.run_whatever_happens();
    })
}

struct Listener {
    number: usize,
    port: Port,
    own: Name,
    keeper: Arc<Keeper>,
    to: Sender<Heard>,
    stop: Arc<Stop>,
    said: Option<PortState>,
    retry: Duration,
}

impl Listener {
    /// Begins anew, after a wait, where reading broke down by a fault of this program: a grower's night of readings is worth
    /// more than a clean end. Other ports never notice.
    fn run_whatever_happens(&mut self) -> ControlFlow<()> {
        let mut wait = FIRST_RETRY;
        loop {
            // Nothing half-changed outlives a break-down but `said` and `retry`, which are whole at all times.
            match catch_unwind(AssertUnwindSafe(|| self.run())) {
                Ok(ended) => return ended,
                Err(_) => self.say(PortState::BrokenDown)?,
            }
            if self.stop.wait(wait) {
                return ControlFlow::Break(());
            }
            wait = (wait * 2).min(LAST_RETRY);
        }
    }

    fn run(&mut self) -> ControlFlow<()> {
        let mut reader = LineReader::new();
        loop {
            match open(&self.port) {
                Ok(mut device) => {
                    self.say(PortState::Listening)?;
                    let (state, heard_something) = self.read_until_it_fails(device.as_mut(), &mut reader)?;
                    drop(device);
                    self.say(state)?;
                    if heard_something {
                        self.retry = FIRST_RETRY;
                    }
                }
                Err(state) => self.say(state)?,
            }
            if self.stop.wait(self.retry) {
                return ControlFlow::Break(());
            }
            self.retry = (self.retry * 2).min(LAST_RETRY);
        }
    }

    /// Reads until the port fails; says how it stands then, and whether it had brought anything.
    fn read_until_it_fails(&self, device: &mut dyn SerialPort, reader: &mut LineReader) -> ControlFlow<(), (PortState, bool)> {
        let mut opening = Opening::new(self.own.clone(), reader);
        let mut bytes = [0u8; 4096];
        let mut after_stop: usize = 0;
        let mut heard_something = false;
        loop {
            let stopping = self.stop.is_rung();
            if stopping && after_stop == 0 {
                // What a board had printed may still be on its way through the system. A port that refuses keeps its time-out.
                let _ = device.set_timeout(LAST_READ_TIMEOUT);
            }
            match device.read(&mut bytes) {
                // A port at its end says so by an error; this is for those that do not.
                Ok(0) => return ControlFlow::Continue((PortState::Unplugged, heard_something)),
                Ok(count) => {
                    heard_something = true;
                    after_stop += if stopping { count } else { 0 };
                    self.take(&mut opening, bytes.get(..count).unwrap_or_default())?;
                    if after_stop > READ_AFTER_STOP {
                        return ControlFlow::Break(());
                    }
                }
                Err(_) if stopping => return ControlFlow::Break(()),
                Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted | ErrorKind::WouldBlock) => {}
                Err(_) => return ControlFlow::Continue((PortState::Unplugged, heard_something)),
            }
        }
    }

    fn take(&self, opening: &mut Opening<'_>, bytes: &[u8]) -> ControlFlow<()> {
        opening.push(
            bytes,
            || self.keeper.stamp(),
            |told| {
                self.tell(match told {
                    Told::Reading(probe, reading, stamp) => News::Reading(probe, reading, stamp),
                    Told::Unread { line, fault } => {
                        let time_us = self.keeper.now().timestamp_micros();
                        #[cfg(test)]
                        assert!(line != BREAK_DOWN, "a test asked for this");
                        News::Unread { time_us, line: line.iter().take(MOST_KEPT).copied().collect(), fault }
                    }
                    Told::FormatChanged { from, to } => News::FormatChanged { from, to },
                    Told::ClockDiffers { ahead_us } => News::ClockDiffers { ahead_us },
                })
            },
        )
    }

    /// Tells a change of state once. Between "unplugged" and "absent" a grower sees no change.
    fn say(&mut self, state: PortState) -> ControlFlow<()> {
        let same = self.said.as_ref() == Some(&state) || (self.said == Some(PortState::Unplugged) && state == PortState::Absent);
        if same {
            return ControlFlow::Continue(());
        }
        self.said = Some(state.clone());
        self.tell(News::State(state))
    }

    /// Waits while the channel is full, so that a slow writer slows the reader instead of losing lines.
    fn tell(&self, news: News) -> ControlFlow<()> {
        match self.to.blocking_send(Heard { port: self.number, news }) {
            Ok(()) => ControlFlow::Continue(()),
            Err(_) => ControlFlow::Break(()),
        }
    }
}

fn open(port: &Port) -> Result<Box<dyn SerialPort>, PortState> {
    // Asked before opening, as opening says "no such device" of a busy port too, and nothing helpful of a folder.
    let kind = std::fs::metadata(&port.path).map_err(|error| state_of(error.kind(), &error.to_string()))?.file_type();
    if !kind.is_char_device() {
        return Err(PortState::NotAPort);
    }
    serialport::new(port_name(&port.path)?, port.baud).timeout(READ_TIMEOUT).open().map_err(|error| match error.kind {
        serialport::ErrorKind::Io(kind) => state_of(kind, &error.description),
        // The path was there a moment ago: what cannot be had is the port itself.
        serialport::ErrorKind::NoDevice if port.path.exists() => PortState::Busy,
        serialport::ErrorKind::NoDevice => PortState::Absent,
        serialport::ErrorKind::InvalidInput | serialport::ErrorKind::Unknown => PortState::Failing(error.description),
    })
}

fn port_name(path: &Path) -> Result<&str, PortState> {
    path.to_str().ok_or_else(|| PortState::Failing("its path is not text".to_owned()))
}

fn state_of(kind: ErrorKind, words: &str) -> PortState {
    match kind {
        ErrorKind::NotFound => PortState::Absent,
        ErrorKind::PermissionDenied => PortState::Forbidden,
        _ => PortState::Failing(words.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str) -> Port {
        Port { path: PathBuf::from(path), baud: 9600 }
    }

    #[test]
    fn a_ports_own_probe_is_named_after_it() {
        assert_eq!(port("/dev/ttyUSB0").own_probe().unwrap().as_str(), "ttyUSB0");
        assert_eq!(port("boards/left").own_probe().unwrap().as_str(), "boards/left");
        let long = port(&format!("/dev/serial/by-id/{}-end", "x".repeat(90))).own_probe().unwrap();
        assert!(long.as_str().ends_with("-end") && long.as_str().len() == 80);
        assert!(port("").own_probe().is_err());
    }

    #[test]
    fn what_is_no_port_is_told_from_what_is_not_there() {
        let folder = tempfile::tempdir().unwrap();
        let state = |path: &Path| open(&port(path.to_str().unwrap())).err();
        assert_eq!(state(&folder.path().join("none")), Some(PortState::Absent));
        assert_eq!(state(folder.path()), Some(PortState::NotAPort));
        let file = folder.path().join("file");
        std::fs::write(&file, "21.5\n").unwrap();
        assert_eq!(state(&file), Some(PortState::NotAPort));
    }

    #[test]
    fn a_port_that_somebody_has_is_busy_and_one_whose_board_is_gone_absent() {
        let player = super::super::Player::new().unwrap();
        let there = port(player.path().to_str().unwrap());
        let held = open(&there).unwrap();
        assert_eq!(open(&there).err(), Some(PortState::Busy));
        drop(held);
        assert!(open(&there).is_ok());
        drop(player);
        assert_eq!(open(&there).err(), Some(PortState::Absent));
    }
}
