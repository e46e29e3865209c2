//! One logger a bench.

use std::ffi::OsString;
use std::fs::{File, OpenOptions, TryLockError};
use std::io::{Read, Seek, Write};
use std::path::{Path, PathBuf};

use super::StoreError;
use crate::diagnosis::LoggerState;

/// The right to log into a bench, held until dropped. It is an operating-system lock on `<bench file>.lock`, so a killed
/// logger leaves none behind; the file's text, the holder's process number, is only for messages.
#[derive(Debug)]
pub struct LoggerLock {
    _file: File,
}

impl LoggerLock {
    /// Takes the lock.
    ///
    /// # Errors
    /// [`StoreError::LoggerRuns`] where another process holds it, [`StoreError::Files`] where the lock file cannot be made.
    pub fn take(bench: &Path) -> Result<Self, StoreError> {
        let path = beside(bench, ".lock");
        let failed = |cause| StoreError::Files { path: path.clone(), doing: "locking", cause };
        // Not truncated on opening: the text belongs to the holder until the lock is ours.
        let mut file = OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path).map_err(failed)?;
        match file.try_lock() {
            Ok(()) => {}
            Err(TryLockError::WouldBlock) => {
                let mut text = String::new();
                let holder = file.read_to_string(&mut text).ok().and_then(|_| text.trim().parse().ok());
                return Err(StoreError::LoggerRuns { path: bench.to_path_buf(), holder });
            }
            Err(TryLockError::Error(source)) => return Err(failed(source)),
        }
        file.set_len(0).map_err(failed)?;
        file.rewind().map_err(failed)?;
        writeln!(file, "{}", std::process::id()).map_err(failed)?;
        Ok(Self { _file: file })
    }

    /// Whether a logger holds the lock of a bench.
    ///
    /// # Errors
    /// [`StoreError::Files`] where the lock file cannot be looked at.
    pub fn state(bench: &Path) -> Result<LoggerState, StoreError> {
        let path = beside(bench, ".lock");
        let failed = |cause| StoreError::Files { path: path.clone(), doing: "looking at", cause };
        let mut file = match File::open(&path) {
            Ok(file) => file,
            Err(error) if error.kind() == std::io::ErrorKind::NotFound => return Ok(LoggerState::Stopped),
            Err(error) => return Err(failed(error)),
        };
        match file.try_lock_shared() {
            // Let go again with the file, in a moment.
            Ok(()) => Ok(LoggerState::Stopped),
            Err(TryLockError::WouldBlock) => {
                let mut text = String::new();
                Ok(LoggerState::Runs(file.read_to_string(&mut text).ok().and_then(|_| text.trim().parse().ok())))
            }
            Err(TryLockError::Error(source)) => Err(failed(source)),
        }
    }
}

/// The path of a file that stands beside the bench file and is named after it.
pub(super) fn beside(bench: &Path, suffix: &str) -> PathBuf {
    let mut name = OsString::from(bench.as_os_str());
    name.push(suffix);
    PathBuf::from(name)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_second_logger_is_refused_and_told_who_holds_the_bench() {
        let folder = tempfile::tempdir().unwrap();
        let bench = folder.path().join("b.db");
        let held = LoggerLock::take(&bench).unwrap();
        assert_eq!(LoggerLock::state(&bench).unwrap(), LoggerState::Runs(Some(std::process::id())));
        let refusal = LoggerLock::take(&bench).unwrap_err();
        assert_eq!(refusal.to_string(), format!("a logger already runs on {} (process {})", bench.display(), std::process::id()));
        drop(held);
        assert_eq!(LoggerLock::state(&bench).unwrap(), LoggerState::Stopped);
        assert!(LoggerLock::take(&bench).is_ok(), "the lock goes with its holder; the file that stays behind is no lock");
    }
}
