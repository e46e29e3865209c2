//! A stand-in for a board: one end of a pseudo-terminal, whose other end is opened like any port.

use std::fs::{File, OpenOptions};
use std::io::{self, Write};
use std::os::unix::ffi::OsStringExt;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rustix::pty::{OpenptFlags, grantpt, openpt, ptsname, unlockpt};
use rustix::termios::{OptionalActions, tcgetattr, tcsetattr};

use super::Stop;
use crate::civil::Time;
use crate::clock::Clock;

/// How often the clock is looked at while waiting for a line's time.
const LOOK_EVERY: Duration = Duration::from_millis(5);

/// The board's end of a pseudo-terminal. Dropping it is pulling the plug.
#[derive(Debug)]
pub struct Player {
    board: File,
    path: PathBuf,
}

impl Player {
    /// Makes a pseudo-terminal that passes bytes through as they are.
    ///
    /// # Errors
    /// What the system says where it gives none.
    pub fn new() -> io::Result<Self> {
        let board = openpt(OpenptFlags::RDWR | OpenptFlags::NOCTTY | OpenptFlags::CLOEXEC)?;
        grantpt(&board)?;
        unlockpt(&board)?;
        let path = PathBuf::from(std::ffi::OsString::from_vec(ptsname(&board, Vec::new())?.into_bytes()));
        // Until somebody sets it raw, a terminal echoes what the board prints back to the board.
        let reader = OpenOptions::new().read(true).write(true).open(&path)?;
        let mut settings = tcgetattr(&reader)?;
        settings.make_raw();
        tcsetattr(&reader, OptionalActions::Now, &settings)?;
        Ok(Self { board: File::from(board), path })
    }

    /// The port to read it at.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Prints bytes. Blocks while the reader is some 18 000 bytes behind.
    ///
    /// # Errors
    /// What the system says.
    pub fn print(&mut self, bytes: &[u8]) -> io::Result<()> {
        self.board.write_all(bytes)
    }

    /// Prints each line at its time by `clock`, in the order given, until all are out or `stop` is rung. An empty line goes
    /// first, as a reader drops what stands before the first line end.
    ///
    /// # Errors
    /// What the system says.
    pub fn play(&mut self, lines: &[(Time, String)], clock: &dyn Clock, stop: &Stop) -> io::Result<()> {
        self.print(b"\n")?;
        for (time, line) in lines {
            while clock.now() < *time {
                if stop.wait(LOOK_EVERY) {
                    return Ok(());
                }
            }
            self.print(format!("{line}\n").as_bytes())?;
        }
        Ok(())
    }
}
