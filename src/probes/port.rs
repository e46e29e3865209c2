//! A serial port, opened again whenever it comes back.

use std::io::ErrorKind;
use std::ops::ControlFlow;
use std::os::unix::fs::FileTypeExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rustix::fs::{FlockOperation, Mode, OFlags, flock};
use rustix::termios::{ControlModes, OptionalActions, tcgetattr, tcsetattr};
use serialport::{ClearBuffer, SerialPort};

use super::hunt::{Hunt, Verdict};
use super::outlet::{FIRST_RETRY, LAST_RETRY, Outlet};
use super::source::{Listener, own_probe};
use super::{LineReader, News, Opening, Roots, SourceState, about, holder};
use crate::bench::{Name, NameFault};

/// A read that brings nothing ends after this, so that a request to stop is seen.
const READ_TIMEOUT: Duration = Duration::from_millis(250);
/// What has reached the computer before the request to stop is still read, up to this many bytes.
const READ_AFTER_STOP: usize = 256 * 1024;
/// … in so many reads: a board that prints on and on must not hold up the end.
const READS_AFTER_STOP: u32 = 64;
/// Silence after the request to stop that means there is no more.
const LAST_READ_TIMEOUT: Duration = Duration::from_millis(50);
/// Who has a busy port is looked up again after so many tries: it means looking through every process.
const LOOK_AGAIN_AFTER: u32 = 16;

/// At which speed a port is read.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Speed {
    /// At this one, in bits a second.
    Given(u32),
    /// At the one that is found, beginning with the one remembered.
    Find {
        /// The one at which lines were read the last time.
        remembered: Option<u32>,
    },
}

/// A serial port to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Port {
    /// Its path.
    pub path: PathBuf,
    /// Its speed.
    pub speed: Speed,
}

impl Port {
    /// The name of the probe whose lines name none: the path without `/dev/`, or its end where that is too long.
    ///
    /// # Errors
    /// The path is no name: empty, or with a control character.
    pub fn own_probe(&self) -> Result<Name, NameFault> {
        own_probe(&self.path)
    }
}

pub(super) fn listener(port: Port) -> Result<impl Listener, NameFault> {
    let own = port.own_probe()?;
    let (hunt, given) = match port.speed {
        Speed::Given(baud) => (Hunt::new(Some(baud)), true),
        Speed::Find { remembered } => (Hunt::new(remembered), false),
    };
    let known = match port.speed {
        Speed::Given(baud) => Some(baud),
        Speed::Find { remembered } => remembered,
    };
    Ok(PortListener { path: port.path, own, hunt, given, known, retry: FIRST_RETRY, busy_tries: 0 })
}

struct PortListener {
    path: PathBuf,
    own: Name,
    hunt: Hunt,
    /// Whether the speed was given, so that none is looked for.
    given: bool,
    /// The speed last told, which need not be told again.
    known: Option<u32>,
    retry: Duration,
    busy_tries: u32,
}

impl Listener for PortListener {
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()> {
        let mut reader = LineReader::new();
        loop {
            match open(&self.path, self.hunt.rate()) {
                Ok(mut device) => {
                    outlet.say(SourceState::Listening)?;
                    if let Some(device) = about(&self.path, &Roots::default()) {
                        outlet.tell(News::Device(device.identity()))?;
                    }
                    self.hunt.is_opened();
                    let (state, heard_something) = self.read_until_it_fails(outlet, device.as_mut(), &mut reader)?;
                    drop(device);
                    outlet.say(state)?;
                    if heard_something {
                        self.retry = FIRST_RETRY;
                    }
                }
                Err(state) => {
                    let state = self.with_holder(outlet, state);
                    outlet.say(state)?;
                }
            }
            outlet.wait(self.retry)?;
            self.retry = (self.retry * 2).min(LAST_RETRY);
        }
    }
}

impl PortListener {
    /// Who has it, where it is busy.
    fn with_holder(&mut self, outlet: &Outlet, state: SourceState) -> SourceState {
        let SourceState::Busy(_) = state else {
            self.busy_tries = 0;
            return state;
        };
        self.busy_tries += 1;
        match outlet.said() {
            Some(said @ SourceState::Busy(_)) if !self.busy_tries.is_multiple_of(LOOK_AGAIN_AFTER) => said.clone(),
            _ => SourceState::Busy(holder::of(&self.path)),
        }
    }

    /// Reads until the port fails; says how it stands then, and whether it had brought anything.
    fn read_until_it_fails(
        &mut self,
        outlet: &mut Outlet,
        device: &mut dyn SerialPort,
        reader: &mut LineReader,
    ) -> ControlFlow<(), (SourceState, bool)> {
        let mut opening = Opening::new(self.own.clone(), reader);
        let mut bytes = [0u8; 4096];
        let (mut after_stop, mut reads_after_stop) = (0usize, 0u32);
        let mut heard_something = false;
        let state = loop {
            let stopping = outlet.is_stopped();
            if stopping && after_stop == 0 {
                // What a board had printed may still be on its way through the system. A port that refuses keeps its time-out.
                let _ = device.set_timeout(LAST_READ_TIMEOUT);
            }
            let verdict = match device.read(&mut bytes) {
                // A port at its end says so by an error; this is for those that do not.
                Ok(0) => break SourceState::Unplugged,
                Ok(count) => {
                    heard_something = true;
                    if stopping {
                        (after_stop, reads_after_stop) = (after_stop + count, reads_after_stop + 1);
                    }
                    let bytes = bytes.get(..count).unwrap_or_default();
                    opening.push(bytes, || outlet.stamp(), |told| outlet.tell(outlet.news_of(told)))?;
                    if after_stop > READ_AFTER_STOP || reads_after_stop > READS_AFTER_STOP {
                        opening.finish(|told| outlet.tell(outlet.news_of(told)))?;
                        return ControlFlow::Break(());
                    }
                    self.hunt.heard(bytes, opening.readable_in_a_row())
                }
                Err(_) if stopping => {
                    opening.finish(|told| outlet.tell(outlet.news_of(told)))?;
                    return ControlFlow::Break(());
                }
                Err(error) if matches!(error.kind(), ErrorKind::TimedOut | ErrorKind::Interrupted | ErrorKind::WouldBlock) => {
                    self.hunt.silent()
                }
                Err(_) => break SourceState::Unplugged,
            };
            if let Some(failed) = self.follow(verdict, outlet, device, &mut opening)? {
                break failed;
            }
        };
        opening.finish(|told| outlet.tell(outlet.news_of(told)))?;
        ControlFlow::Continue((state, heard_something))
    }

    /// Does what the hunt for the speed says, where none was given; the state, where the port refuses a speed.
    fn follow(
        &mut self,
        verdict: Verdict,
        outlet: &mut Outlet,
        device: &mut dyn SerialPort,
        opening: &mut Opening<'_>,
    ) -> ControlFlow<(), Option<SourceState>> {
        match verdict {
            _ if self.given => {}
            Verdict::Stay => {}
            Verdict::Found(baud) => {
                outlet.say(SourceState::Listening)?;
                if self.known.replace(baud) != Some(baud) {
                    outlet.tell(News::SpeedFound { baud })?;
                }
            }
            Verdict::Try(baud) => {
                outlet.say(SourceState::SeekingSpeed)?;
                if let Err(error) = device.set_baud_rate(baud) {
                    return ControlFlow::Continue(Some(SourceState::Failing(error.description)));
                }
                // What came at the speed before is of no use; a port that does not drop it gives some garbage more.
                let _ = device.clear(ClearBuffer::Input);
                opening.begin_anew();
            }
        }
        ControlFlow::Continue(None)
    }
}

fn open(path: &Path, baud: u32) -> Result<Box<dyn SerialPort>, SourceState> {
    // Asked before opening, as opening says "no such device" of a busy port too, and nothing helpful of a folder.
    let kind = std::fs::metadata(path).map_err(|error| state_of(path, error.kind(), &error.to_string()))?.file_type();
    if !kind.is_char_device() {
        return Err(SourceState::NotAPort);
    }
    let text = path.to_str().ok_or_else(|| SourceState::Failing("its path is not text".to_owned()))?;
    let _kept_up = keep_up_after_closing(path)?;
    serialport::new(text, baud).timeout(READ_TIMEOUT).open().map_err(|error| match error.kind {
        serialport::ErrorKind::Io(kind) => state_of(path, kind, &error.description),
        // The path was there a moment ago: what cannot be had is the port itself.
        serialport::ErrorKind::NoDevice if path.exists() => SourceState::Busy(None),
        serialport::ErrorKind::NoDevice => SourceState::Absent,
        serialport::ErrorKind::InvalidInput | serialport::ErrorKind::Unknown => SourceState::Failing(error.description),
    })
}

/// Has the system leave the port's lines as they are when it is closed: dropping them restarts many boards, at each restart of
/// this program. What is given back is to be held until the port is open in earnest, since closing the last one would drop them now.
///
/// Done over a descriptor of its own, before the library opens the port: it has no call for it, and keeps others out afterwards.
fn keep_up_after_closing(path: &Path) -> Result<Option<std::os::fd::OwnedFd>, SourceState> {
    let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK | OFlags::CLOEXEC;
    let device = match rustix::fs::open(path, flags, Mode::empty()) {
        Ok(device) => device,
        Err(rustix::io::Errno::BUSY) => return Err(SourceState::Busy(None)),
        // Opening in earnest says what is wrong.
        Err(_) => return Ok(None),
    };
    // A port that somebody else has is not touched.
    if flock(&device, FlockOperation::NonBlockingLockExclusive).is_err() {
        return Err(SourceState::Busy(None));
    }
    if let Ok(mut settings) = tcgetattr(&device)
        && settings.control_modes.contains(ControlModes::HUPCL)
    {
        settings.control_modes.remove(ControlModes::HUPCL);
        // A device that refuses restarts its board, as it would have without us.
        let _ = tcsetattr(&device, OptionalActions::Now, &settings);
    }
    let _ = flock(&device, FlockOperation::Unlock);
    Ok(Some(device))
}

fn state_of(path: &Path, kind: ErrorKind, words: &str) -> SourceState {
    match kind {
        ErrorKind::NotFound => SourceState::Absent,
        ErrorKind::PermissionDenied => SourceState::Forbidden(holder::group_of(path)),
        _ => SourceState::Failing(words.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn port(path: &str) -> Port {
        Port { path: PathBuf::from(path), speed: Speed::Given(9600) }
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
        let state = |path: &Path| open(path, 9600).err();
        assert_eq!(state(&folder.path().join("none")), Some(SourceState::Absent));
        assert_eq!(state(folder.path()), Some(SourceState::NotAPort));
        let file = folder.path().join("file");
        std::fs::write(&file, "21.5\n").unwrap();
        assert_eq!(state(&file), Some(SourceState::NotAPort));
    }

    #[test]
    fn closing_a_port_leaves_its_lines_as_they_are_so_that_its_board_does_not_restart() {
        let player = super::super::Player::new().unwrap();
        let modes = || {
            let flags = OFlags::RDWR | OFlags::NOCTTY | OFlags::NONBLOCK;
            tcgetattr(rustix::fs::open(player.path(), flags, Mode::empty()).unwrap()).unwrap().control_modes
        };
        // As a serial port is set up to begin with; a pseudo-terminal is not.
        let device = rustix::fs::open(player.path(), OFlags::RDWR | OFlags::NOCTTY, Mode::empty()).unwrap();
        let mut settings = tcgetattr(&device).unwrap();
        settings.control_modes.insert(ControlModes::HUPCL);
        tcsetattr(&device, OptionalActions::Now, &settings).unwrap();
        assert!(modes().contains(ControlModes::HUPCL));
        let open = open(player.path(), 9600).unwrap();
        assert!(!modes().contains(ControlModes::HUPCL));
        drop(open);
        assert!(!modes().contains(ControlModes::HUPCL));
    }

    #[test]
    fn a_port_that_somebody_has_is_busy_and_one_whose_board_is_gone_absent() {
        let player = super::super::Player::new().unwrap();
        let there = port(player.path().to_str().unwrap());
        let held = open(&there.path, 9600).unwrap();
        assert_eq!(open(&there.path, 9600).err(), Some(SourceState::Busy(None)));
        drop(held);
        assert!(open(&there.path, 9600).is_ok());
        drop(player);
        assert_eq!(open(&there.path, 9600).err(), Some(SourceState::Absent));
    }
}
