//! What can go wrong with a bench file, each with its path.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use super::{DamagedDay, DaySum, Verified};
use crate::wording::verified_text;
use rusqlite::ErrorCode;
use thiserror::Error;

/// As many damaged things are told.
const DAMAGE_TOLD: usize = 40;
/// EIO, the same number on every Unix, for which the standard library has no kind.
const INPUT_OUTPUT_ERROR: i32 = 5;

/// Why the bench file could not be used. Each message tells the whole of it, so that no error has a source of its own.
#[derive(Debug, Error)]
pub enum StoreError {
    /// There is no such file.
    #[error("there is no bench at {0}\n  next: `seedclock sow` or `seedclock import` begins one, or name another with --bench")]
    Missing(PathBuf),
    /// A file stands where a new one should be made.
    #[error("{0} exists already: it was left as it is")]
    Exists(PathBuf),
    /// Not a bench.
    #[error("{0} is not a seedclock bench: it was left as it is")]
    Foreign(PathBuf),
    /// Written by a later version.
    #[error(
        "{path} was written by a later seedclock (file version {found}; this one knows up to {known}): it was left as it is\n  \
         next: use the later seedclock"
    )]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: i64,
        /// The newest version known here.
        known: i64,
    },
    /// Written by an earlier version, and not to be written to.
    #[error(
        "{0} was written by an earlier seedclock and may not be written to, so it could not be brought up to date\n  \
         next: ask as somebody who may write to it"
    )]
    Outdated(PathBuf),
    /// Another process holds the file for longer than we wait.
    #[error("{0} is in use by another program that has not finished writing; nothing was changed\n  next: try again in a moment")]
    Busy(PathBuf),
    /// The database does not keep the write-ahead log that safe writing needs.
    #[error(
        "{path} cannot keep a write-ahead log (it answers '{mode}'): nothing is written without one\n  \
             next: keep the bench on a local disk"
    )]
    NoWriteAheadLog {
        /// The file.
        path: PathBuf,
        /// The journal mode it is in.
        mode: String,
    },
    /// The library built in is one that can lose commits.
    #[error("SQLite {0} is too old: versions before 3.51.3 can lose what was written")]
    OldLibrary(&'static str),
    /// The disk failed, is full, or the file is damaged.
    #[error("the storage failed while {doing} {path}: {cause}")]
    Failed {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The database's own account.
        cause: rusqlite::Error,
    },
    /// The open file does not stand at its path any more.
    #[error(
        "{path} was {} while it was open: nothing more is written to it\n  \
         next: put the file that was there back, with {path}-wal and {path}-shm as they are, and begin again",
        if *replaced { "replaced by another file" } else { "moved or deleted" },
        path = path.display()
    )]
    Moved {
        /// Where it was.
        path: PathBuf,
        /// Another file stands there now.
        replaced: bool,
    },
    /// What a bench leaves behind that was taken away while it was open, and would be taken for a new one's.
    #[error(
        "{path}-wal belongs to a bench that does not stand at {path} any more: no new one was made beside it\n  \
         next: put that bench back, or move {path}-wal away",
        path = .0.display()
    )]
    LogLeft(PathBuf),
    /// The file holds something that no seedclock writes.
    #[error("{path} is damaged: {what}")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        what: String,
    },
    /// There is no such file to look at.
    #[error("there is no file {0}")]
    NoSuchFile(PathBuf),
    /// A bench that is to be written to and may not be.
    #[error(
        "{0} may not be written to: nothing can be recorded\n  \
         next: see whether the disk was mounted read-only after an error, and whose the file is"
    )]
    ReadOnly(PathBuf),
    /// A bench that is to be written to, on a full disk.
    #[error("{0} cannot be written to: the disk is full\n  next: make room on it")]
    Full(PathBuf),
    /// A file that is not to be written over.
    #[error("{path} was left as it is: {what}\n  next: name another file")]
    Target {
        /// The file.
        path: PathBuf,
        /// What stands in the way.
        what: &'static str,
    },
    /// A file holds something else than was written to it.
    #[error("{path} is damaged:{}", damage_words(found))]
    Unsound {
        /// The file.
        path: PathBuf,
        /// What was found.
        found: Box<Verified>,
    },
    /// Anything else the database refused.
    #[error("{doing} {path} did not work: {cause}")]
    Refused {
        /// The file.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The database's own account.
        cause: rusqlite::Error,
    },
    /// A file or folder beside the database could not be made or written.
    #[error("{doing} {path} did not work: {cause}")]
    Files {
        /// The file or folder.
        path: PathBuf,
        /// What was being done.
        doing: &'static str,
        /// The system's own account.
        cause: std::io::Error,
    },
    /// A logger runs on this bench already.
    #[error("a logger already runs on {path}{}", holder.map(|pid| format!(" (process {pid})")).unwrap_or_default())]
    LoggerRuns {
        /// The bench file.
        path: PathBuf,
        /// The process that holds the lock, where it could be read.
        holder: Option<u32>,
    },
}

/// What is damaged, a line each.
#[must_use]
pub fn damage_words(found: &Verified) -> String {
    let damaged = |day: &DamagedDay| {
        let count = |sum: Option<DaySum>| sum.map(|sum| sum.readings);
        verified_text(&day.probe, day.day, count(day.written), count(day.found))
    };
    let days = found.damaged.iter().map(damaged);
    let tables = found.tables.iter().map(|table| format!("the table '{table}' holds something else than was written"));
    let faults = found.faults.iter().map(|fault| format!("SQLite: {fault}"));
    let all: Vec<String> = days.chain(tables).chain(faults).collect();
    let mut words: String = all.iter().take(DAMAGE_TOLD).map(|line| format!("\n  {line}")).collect();
    if all.len() > DAMAGE_TOLD {
        words += &format!("\n  and {} more", all.len() - DAMAGE_TOLD);
    }
    words
}

impl StoreError {
    /// Whether the storage itself failed: an error of the device, a full disk, a damaged file.
    #[must_use]
    pub fn storage_failed(&self) -> bool {
        match self {
            Self::Failed { .. } | Self::Full(_) | Self::Damaged { .. } | Self::Unsound { .. } | Self::Moved { .. } => true,
            Self::Files { cause, .. } => {
                cause.raw_os_error() == Some(INPUT_OUTPUT_ERROR)
                    || matches!(cause.kind(), ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::ReadOnlyFilesystem)
            }
            _ => false,
        }
    }

    /// Whether the disk failed to make safe what was written. The system may have dropped it, and says so only once: asked
    /// again, it may answer "done" of what is gone. So nothing may be tried again on the same opening of the file.
    #[must_use]
    pub fn sync_failed(&self) -> bool {
        use rusqlite::ffi::{SQLITE_IOERR_DIR_FSYNC, SQLITE_IOERR_FSYNC};
        let Self::Failed { cause, .. } = self else { return false };
        let code = cause.sqlite_error().map(|error| error.extended_code);
        code.is_some_and(|code| [SQLITE_IOERR_FSYNC, SQLITE_IOERR_DIR_FSYNC].contains(&code))
    }

    /// Sorts an error of the database by what it means for the user.
    pub(super) fn from_sql(cause: rusqlite::Error, path: &Path, doing: &'static str) -> Self {
        let path = path.to_path_buf();
        match cause.sqlite_error_code() {
            Some(ErrorCode::DatabaseBusy | ErrorCode::DatabaseLocked) => Self::Busy(path),
            Some(ErrorCode::SystemIoFailure | ErrorCode::DiskFull | ErrorCode::DatabaseCorrupt | ErrorCode::NotADatabase) => {
                Self::Failed { path, doing, cause }
            }
            _ => Self::Refused { path, doing, cause },
        }
    }
}
