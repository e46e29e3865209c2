//! What is known of the care for a bench file: its backups, and the computer that logs into it.

use std::path::Path;

use rusqlite::OptionalExtension;

use super::backup::log_bytes;
use super::{Store, StoreError};
use crate::civil::Time;
use crate::diagnosis::{Care, LastBackup, OtherComputer};

const BACKUP_US: &str = "backup_us";
const BACKUP_PATH: &str = "backup_path";
const FAILED_US: &str = "backup_failed_us";
const FAILURE: &str = "backup_failure";
const NIGHTLY: &str = "nightly_folder";
const COMPUTER: &str = "computer";
const COMPUTER_NAME: &str = "computer_name";
const PORTS: &str = "ports";
const MOVED_US: &str = "moved_us";
const MOVED_FROM: &str = "moved_from";
const MOVED_PORTS: &str = "moved_ports";

/// How a backup came out.
#[derive(Debug)]
pub enum BackupOutcome<'a> {
    /// It stands there.
    Made(&'a Path),
    /// It was not made.
    Failed(&'a str),
}

impl Store {
    /// Notes how a backup came out.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn note_backup(&mut self, outcome: &BackupOutcome<'_>, now: Time) -> Result<(), StoreError> {
        let now = now.timestamp_micros().to_string();
        match outcome {
            BackupOutcome::Made(path) => {
                let path = std::path::absolute(path).unwrap_or_else(|_| path.to_path_buf());
                self.note(&[
                    (BACKUP_US, Some(&now)),
                    (BACKUP_PATH, Some(&path.to_string_lossy())),
                    (FAILED_US, None),
                    (FAILURE, None),
                ])
            }
            BackupOutcome::Failed(why) => self.note(&[(FAILED_US, Some(&now)), (FAILURE, Some(why))]),
        }
    }

    /// Notes whether a logger makes backups by night, and where.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn note_nightly(&mut self, folder: Option<&Path>) -> Result<(), StoreError> {
        let folder = folder.map(|folder| folder.to_string_lossy().into_owned());
        if self.noted(NIGHTLY)? == folder { Ok(()) } else { self.note(&[(NIGHTLY, folder.as_deref())]) }
    }

    /// When the last backup was made.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_backup(&self) -> Result<Option<Time>, StoreError> {
        self.noted_time(BACKUP_US)
    }

    /// Notes which computer logs here, and by which ports. Says which one did before, if that was another.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn note_computer(&mut self, computer: &Computer, ports: &[String], now: Time) -> Result<Option<String>, StoreError> {
        let (number, joined) = (format!("{:016x}", computer.number), ports.join("\n"));
        let before = self.noted(COMPUTER)?.filter(|before| *before != number);
        let mut from = None;
        if before.is_some() {
            let name = self.noted(COMPUTER_NAME)?.unwrap_or_default();
            let old_ports = self.noted(PORTS)?;
            let now = now.timestamp_micros().to_string();
            self.note(&[(MOVED_US, Some(&now)), (MOVED_FROM, Some(&name)), (MOVED_PORTS, old_ports.as_deref())])?;
            from = Some(name);
        }
        let notes = [(COMPUTER, number.as_str()), (COMPUTER_NAME, &computer.name), (PORTS, &joined)];
        for (key, value) in notes {
            if self.noted(key)?.as_deref() != Some(value) {
                self.note(&[(key, Some(value))])?;
            }
        }
        Ok(from)
    }

    /// How the file is cared for, as this computer sees it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn care(&self, here: &Computer) -> Result<Care, StoreError> {
        let backup = self.noted_time(BACKUP_US)?.zip(self.noted(BACKUP_PATH)?).map(|(time, file)| LastBackup { time, file });
        let failed = self.noted_time(FAILED_US)?.zip(self.noted(FAILURE)?);
        let logs_elsewhere = self.noted(COMPUTER)?.is_some_and(|number| number != format!("{:016x}", here.number));
        let moved = match (self.noted_time(MOVED_US)?, self.noted(MOVED_FROM)?) {
            (Some(since), Some(from)) if !logs_elsewhere => {
                let ports = self.noted(MOVED_PORTS)?.unwrap_or_default();
                let missing = ports.lines().filter(|port| !Path::new(port).exists()).map(str::to_owned).collect();
                Some(OtherComputer { since, from, missing_ports: missing })
            }
            _ => None,
        };
        Ok(Care {
            backup,
            failed,
            nightly: self.noted(NIGHTLY)?,
            logged_by: self.noted(COMPUTER_NAME)?.filter(|_| logs_elsewhere),
            moved,
            log_bytes: log_bytes(&self.path),
            may_be_written: super::schema::may_write(&self.path),
        })
    }

    fn noted(&self, key: &str) -> Result<Option<String>, StoreError> {
        self.connection
            .query_row("SELECT value FROM care_note WHERE key = ?1", [key], |row| row.get(0))
            .optional()
            .map_err(|source| self.failed(source, "reading"))
    }

    fn noted_time(&self, key: &str) -> Result<Option<Time>, StoreError> {
        let micros = self.noted(key)?.and_then(|text| text.parse().ok());
        micros.map(|micros| self.time(micros)).transpose()
    }

    fn note(&mut self, notes: &[(&str, Option<&str>)]) -> Result<(), StoreError> {
        let noted = || -> rusqlite::Result<()> {
            let transaction = self.connection.unchecked_transaction()?;
            for (key, value) in notes {
                match value {
                    Some(value) => transaction.execute("INSERT OR REPLACE INTO care_note VALUES (?1, ?2)", [key, value])?,
                    None => transaction.execute("DELETE FROM care_note WHERE key = ?1", [key])?,
                };
            }
            transaction.commit()
        };
        noted().map_err(|source| self.failed(source, "writing to"))
    }
}

/// A computer: a number that stands for it, and what it is called.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Computer {
    /// A digest of the number that the system gave itself when it was set up (machine-id(5)), which itself is nobody's business; of
    /// the name where it has none.
    pub number: u64,
    /// Its host name.
    pub name: String,
}

impl Computer {
    /// This one.
    #[must_use]
    pub fn here() -> Self {
        use std::hash::Hasher as _;
        let name = rustix::system::uname().nodename().to_string_lossy().into_owned();
        let id = std::fs::read_to_string("/etc/machine-id").ok().filter(|id| !id.trim().is_empty());
        let mut hasher = siphasher::sip::SipHasher13::new();
        hasher.write(id.as_deref().unwrap_or(&name).trim().as_bytes());
        Self { number: hasher.finish(), name }
    }
}
