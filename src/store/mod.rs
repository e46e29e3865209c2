//! The bench file: SQLite, and the only place with SQL.
//!
//! Nothing but SQLite ever opens the file or its log: closing any other handle on them would drop SQLite's locks.

mod alarms;
mod arrivals;
mod backup;
mod care;
mod change;
mod day_sum;
mod devices;
mod discard;
mod error;
mod health;
mod kept;
mod lock;
mod page;
mod place;
mod readings;
mod restore;
mod restored;
mod rows;
mod schema;
mod sources;
#[cfg(test)]
mod staged;
mod starts;
mod superseded;
mod typed;
mod verify;
mod watch;
mod write;

pub use arrivals::{Kept, Logged};
pub use backup::{BY_HAND, Interrupt, NIGHTLY, log_bytes, usual_folder};
pub use care::{BackupOutcome, Computer};
pub use change::Change;
pub use day_sum::DaySum;
pub use devices::Device;
pub use error::{StoreError, damage_words};
pub use health::free_bytes;
pub use kept::{Interval, Keepsakes, KeptFit, StretchTable};
pub use lock::LoggerLock;
pub use page::{Photo, WaitingLook};
pub use readings::{Appended, Checkpointed, ProbeSpan, UnreadLine};
pub use restore::{Damage, Restored, restore};
pub use sources::KnownSource;
#[cfg(test)]
pub(crate) use staged::{Staged, StoreTrouble};
pub use starts::NotDated;
pub use superseded::{Superseded, Why};
pub use typed::{Part, Typed};
pub use verify::{DamagedDay, Verified, verify};

use std::path::{Path, PathBuf};

use rusqlite::{Connection, OptionalExtension};

use crate::civil::Zone;

/// Whose bench a file is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum BenchKind {
    /// A grower's own.
    Own,
    /// Made up for the demo, and replaced without asking.
    Demo,
}

impl BenchKind {
    fn code(self) -> &'static str {
        match self {
            Self::Own => "own",
            Self::Demo => "demo",
        }
    }
}

/// An open bench file.
#[derive(Debug)]
pub struct Store {
    connection: Connection,
    path: PathBuf,
    kind: BenchKind,
    place: Option<place::FileNumber>,
}

impl Store {
    /// Makes a new bench file and the folders above it.
    ///
    /// # Errors
    /// [`StoreError::Exists`] where a file stands there; it is left as it is.
    pub fn create(path: &Path, zone: Zone, kind: BenchKind) -> Result<Self, StoreError> {
        Self::around(schema::create(path, zone, kind)?, path)
    }

    /// Opens an existing bench to read and write.
    ///
    /// # Errors
    /// [`StoreError`]; a file that is foreign or newer is left as it is, to the byte.
    pub fn open(path: &Path) -> Result<Self, StoreError> {
        if path.exists() && !schema::may_write(path) {
            return Err(StoreError::ReadOnly(path.to_path_buf()));
        }
        let opened = schema::open(path).map_err(|error| match error {
            error if error.storage_failed() && schema::has_no_room(path) => StoreError::Full(path.to_path_buf()),
            error => error,
        });
        Self::around(opened?, path)
    }

    /// Opens an existing bench for commands that only ask.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_read_only(path: &Path) -> Result<Self, StoreError> {
        if schema::is_closed_to_us(path) {
            return Self::around(schema::open_closed(path)?, path);
        }
        // A connection that the system itself holds to reading leaves the log's files behind when it closes last.
        // One who may not write can still read beside somebody who does.
        let store = Self::around(schema::open(path)?, path)?;
        store.connection.execute_batch("PRAGMA query_only = ON").map_err(|source| store.failed(source, "opening"))?;
        Ok(store)
    }

    /// Opens a bench, or makes an own one in `zone` where there is none.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_or_create(path: &Path, zone: Zone) -> Result<Self, StoreError> {
        match Self::open(path) {
            Err(StoreError::Missing(_)) => match Self::create(path, zone, BenchKind::Own) {
                // Somebody else was quicker.
                Err(StoreError::Exists(_)) => Self::open(path),
                made => made,
            },
            opened => opened,
        }
    }

    /// Opens a bench to copy it: as usual, or, where it may not be written to, as it is.
    ///
    /// # Errors
    /// As [`Store::open`].
    pub fn open_to_copy(path: &Path) -> Result<Self, StoreError> {
        if schema::is_closed_to_us(path) { Self::open_read_only(path) } else { Self::open(path) }
    }

    /// Where it stands.
    #[must_use]
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Whose bench it is.
    #[must_use]
    pub fn kind(&self) -> BenchKind {
        self.kind
    }

    fn around(connection: Connection, path: &Path) -> Result<Self, StoreError> {
        let mut store = Self { connection, path: path.to_path_buf(), kind: BenchKind::Own, place: place::number_of(path)? };
        if store.setting("kind")?.as_deref() == Some(BenchKind::Demo.code()) {
            store.kind = BenchKind::Demo;
        }
        Ok(store)
    }

    /// What is remembered of the columns of a table with this header line.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn form(&self, header: &str) -> Result<Option<String>, StoreError> {
        self.connection
            .query_row("SELECT columns FROM table_form WHERE header = ?1", [header], |row| row.get(0))
            .optional()
            .map_err(|source| self.failed(source, "reading"))
    }

    fn setting(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.connection
            .query_row("SELECT value FROM setting WHERE key = ?1", [key], |row| row.get(0))
            .optional()
            .map_err(|source| self.failed(source, "reading"))
    }

    fn failed(&self, source: rusqlite::Error, doing: &'static str) -> StoreError {
        StoreError::from_sql(source, &self.path, doing)
    }
}
