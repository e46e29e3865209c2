//! Whether the open file is still the one that stands at its path, and opening it anew.

use std::io::ErrorKind;
use std::os::unix::fs::MetadataExt;
use std::path::Path;

use rusqlite::config::DbConfig;

use super::{Store, StoreError};

/// What tells a file from every other: its device and its number there.
pub(super) type FileNumber = (u64, u64);

/// The number of the file at `path`; none where there is none. Asking opens nothing.
pub(super) fn number_of(path: &Path) -> Result<Option<FileNumber>, StoreError> {
    match std::fs::metadata(path) {
        Ok(found) => Ok(Some((found.dev(), found.ino()))),
        Err(cause) if cause.kind() == ErrorKind::NotFound => Ok(None),
        Err(cause) => Err(StoreError::Files { path: path.to_path_buf(), doing: "looking for", cause }),
    }
}

impl Store {
    /// Makes sure that the open file still stands at its path. A file moved away goes on taking readings that nobody would
    /// find, and its log lies where another file would take it for its own
    /// (https://www.sqlite.org/howtocorrupt.html, 2.4).
    ///
    /// # Errors
    /// [`StoreError::Moved`], or [`StoreError::Files`] where the system does not tell.
    pub fn check_place(&self) -> Result<(), StoreError> {
        match number_of(&self.path)? {
            found if found == self.place => Ok(()),
            found => Err(StoreError::Moved { path: self.path.clone(), replaced: found.is_some() }),
        }
    }

    /// Closes the file without touching it and opens it anew, after an error that leaves in doubt what the disk holds; what is
    /// there is checked first.
    ///
    /// # Errors
    /// As [`Store::open`], and [`StoreError::Damaged`].
    pub fn reopen(self) -> Result<Self, StoreError> {
        let path = self.path.clone();
        // Closing would copy the log into the file and hide what goes wrong then.
        self.connection
            .set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true)
            .map_err(|source| self.failed(source, "closing"))?;
        drop(self);
        let store = Self::open(&path)?;
        let found: String = store
            .connection
            .query_row("PRAGMA quick_check(1)", [], |row| row.get(0))
            .map_err(|source| store.failed(source, "checking"))?;
        if found == "ok" { Ok(store) } else { Err(StoreError::Damaged { path, what: found }) }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::Zone;
    use crate::store::BenchKind;

    #[test]
    fn a_file_moved_deleted_or_replaced_is_noticed_and_its_log_never_adopted() {
        let folder = tempfile::tempdir().unwrap();
        let (path, away) = (folder.path().join("b.db"), folder.path().join("away.db"));
        let store = Store::create(&path, Zone::UTC, BenchKind::Own).unwrap();
        store.check_place().unwrap();
        std::fs::rename(&path, &away).unwrap();
        let moved = store.check_place().unwrap_err();
        assert_eq!(
            moved.to_string(),
            format!(
                "{0} was moved or deleted while it was open: nothing more is written to it\n  \
                 next: put the file that was there back, with {0}-wal and {0}-shm as they are, and begin again",
                path.display()
            )
        );
        assert!(moved.storage_failed());
        let beside = Store::create(&path, Zone::UTC, BenchKind::Own).unwrap_err();
        assert_eq!(
            beside.to_string(),
            format!(
                "{0}-wal belongs to a bench that does not stand at {0} any more: no new one was made beside it\n  \
                 next: put that bench back, or move {0}-wal away",
                path.display()
            )
        );
        drop(Store::create(&folder.path().join("other.db"), Zone::UTC, BenchKind::Own).unwrap());
        std::fs::rename(folder.path().join("other.db"), &path).unwrap();
        assert!(matches!(store.check_place(), Err(StoreError::Moved { replaced: true, .. })));
        std::fs::rename(&away, &path).unwrap();
        store.check_place().unwrap();
    }

    #[test]
    fn a_file_opened_anew_holds_what_it_held() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let probe = crate::bench::Name::new("p1").unwrap();
        let reading = crate::bench::Reading { time_us: 1, raw_c_e4: Some(215_000), proof: crate::bench::Proof::Plain };
        store.append_arrivals(&[(probe.clone(), reading, crate::bench::Stamp::Arrival)]).unwrap();
        let again = store.reopen().unwrap();
        assert_eq!(again.readings(&probe, 0, 2).unwrap(), [reading]);
    }
}
