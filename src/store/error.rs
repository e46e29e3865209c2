//! What can go wrong with a bench file, each with its path.

use std::io::ErrorKind;
use std::path::{Path, PathBuf};

use rusqlite::ErrorCode;
use thiserror::Error;

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
    /// The file holds something that no seedclock writes.
    #[error("{path} is damaged: {what}")]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What was found.
        what: String,
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

impl StoreError {
    /// Whether the storage itself failed: an error of the device, a full disk, a damaged file.
    #[must_use]
    pub fn storage_failed(&self) -> bool {
        match self {
            Self::Failed { .. } | Self::Damaged { .. } => true,
            Self::Files { cause, .. } => {
                cause.raw_os_error() == Some(INPUT_OUTPUT_ERROR)
                    || matches!(cause.kind(), ErrorKind::StorageFull | ErrorKind::QuotaExceeded | ErrorKind::ReadOnlyFilesystem)
            }
            _ => false,
        }
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
