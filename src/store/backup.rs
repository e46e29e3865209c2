//! One file that holds all of a bench, made while others write.

use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, OpenFlags, params};

use super::lock::beside;
use super::place::number_of;
use super::verify::{Verified, is_sealed, of, summed_tables, table_sum};
use super::{Store, StoreError, day_sum, schema};

/// How the file of a backup made by hand ends.
pub const BY_HAND: &str = ".backup.db";
/// How the file of one that the logger made ends; only those does it ever take away.
pub const NIGHTLY: &str = ".nightly.db";

/// A request to stop a backup that is being made.
pub struct Interrupt(rusqlite::InterruptHandle);

impl Interrupt {
    /// Ends what the database is doing for the backup.
    pub fn ring(&self) {
        self.0.interrupt();
    }
}

impl Store {
    /// What ends a backup that this opening makes.
    #[must_use]
    pub fn interrupt(&self) -> Interrupt {
        Interrupt(self.connection.get_interrupt_handle())
    }

    /// Writes all of the bench, as it is at one instant, into a file at `target`. It is made under another name and checked before it
    /// takes its own, so that a backup that stands there is replaced by a good one or not at all.
    ///
    /// # Errors
    /// [`StoreError::Target`] where something else than a backup of this bench stands at `target`; [`StoreError::Unsound`] where what
    /// was copied is damaged; else as for any file.
    pub fn backup(&self, target: &Path) -> Result<(), StoreError> {
        self.may_replace(target)?;
        let folder = schema::folder_of(target);
        std::fs::create_dir_all(folder).map_err(|cause| files(folder, "making the folder", cause))?;
        schema::clear_drafts(target);
        let draft = schema::draft_of(target)?;
        let made = self.write_draft(&draft).and_then(|()| {
            std::fs::rename(&draft, target).map_err(|cause| files(target, "writing", cause))?;
            File::open(folder).and_then(|folder| folder.sync_all()).map_err(|cause| files(folder, "syncing", cause))
        });
        if made.is_err() {
            schema::remove_file_and_log(&draft);
        }
        made
    }

    fn write_draft(&self, draft: &Path) -> Result<(), StoreError> {
        schema::vacuum_into(&self.connection, &self.path, draft)?;
        seal(draft)?;
        let found = verify_draft(draft)?;
        if !found.is_whole() {
            return Err(StoreError::Unsound { path: self.path.clone(), found: Box::new(found) });
        }
        // Only now that SQLite has closed it is it opened otherwise.
        File::open(draft).and_then(|file| file.sync_all()).map_err(|cause| files(draft, "syncing", cause))
    }

    /// Only an earlier backup of this very bench is ever replaced.
    fn may_replace(&self, target: &Path) -> Result<(), StoreError> {
        let refused = |what| Err(StoreError::Target { path: target.to_path_buf(), what });
        let Some(there) = number_of(target)? else { return Ok(()) };
        if Some(there) == self.place {
            return refused("that is the bench itself");
        }
        match schema::open_as_it_is(target) {
            Ok(other) if !is_sealed(&other) => refused("a bench that is no backup stands there"),
            Ok(other) if bench_number(&other) != bench_number(&self.connection) => {
                refused("a backup of another bench stands there")
            }
            Ok(_) => Ok(()),
            // A backup that was damaged since is no loss.
            Err(StoreError::Failed { .. }) if target.to_string_lossy().ends_with(BY_HAND) || is_nightly(target) => Ok(()),
            Err(_) => refused("another file stands there"),
        }
    }

    /// Takes away the oldest backups that a logger made of this bench in `folder`, but for `keep` of them; `stem` is what their names
    /// begin with. Those of other benches, and what cannot be opened, stay.
    ///
    /// # Errors
    /// [`StoreError::Files`] where the folder cannot be read or a file not be removed.
    pub fn prune(&self, folder: &Path, stem: &str, keep: usize) -> Result<(), StoreError> {
        let read = std::fs::read_dir(folder).map_err(|cause| files(folder, "looking through", cause))?;
        let own = |path: &PathBuf| {
            let name = path.file_name().and_then(|name| name.to_str()).unwrap_or_default();
            let date = name.strip_prefix(stem).and_then(|rest| rest.strip_prefix('-')).and_then(|rest| rest.strip_suffix(NIGHTLY));
            date.is_some_and(|date| date.parse::<chrono::NaiveDate>().is_ok())
                && schema::open_as_it_is(path)
                    .is_ok_and(|other| is_sealed(&other) && bench_number(&other) == bench_number(&self.connection))
        };
        let mut nightly: Vec<PathBuf> = read.filter_map(|entry| Some(entry.ok()?.path())).filter(own).collect();
        // The date is written so that its order is that of the names.
        nightly.sort();
        let beyond = nightly.len().saturating_sub(keep);
        for old in &nightly[..beyond] {
            std::fs::remove_file(old).map_err(|cause| files(old, "removing", cause))?;
        }
        Ok(())
    }
}

fn is_nightly(path: &Path) -> bool {
    path.to_string_lossy().ends_with(NIGHTLY)
}

/// The number that a bench and its backups share; none in a file of an earlier version.
fn bench_number(connection: &Connection) -> Option<String> {
    connection.query_row("SELECT value FROM care_note WHERE key = 'bench'", [], |row| row.get(0)).ok()
}

/// Sums up what a copy holds. It is nobody's yet, so that nothing need be safe while it is written.
fn seal(draft: &Path) -> Result<(), StoreError> {
    let sealed = || -> rusqlite::Result<()> {
        let mut connection = open_draft(draft)?;
        connection.execute_batch("PRAGMA journal_mode = OFF; PRAGMA synchronous = OFF;")?;
        let transaction = connection.transaction()?;
        day_sum::close(&transaction, i64::MAX, i64::MAX)?;
        transaction.execute("DELETE FROM table_sum", [])?;
        for table in summed_tables(&transaction)? {
            let (rows, digest) = table_sum(&transaction, &table)?;
            transaction.execute("INSERT INTO table_sum VALUES (?1, ?2, ?3)", params![table, rows, digest])?;
        }
        transaction.commit()?;
        connection.close().map_err(|(_, error)| error)
    };
    sealed().map_err(|cause| StoreError::from_sql(cause, draft, "writing to"))
}

fn verify_draft(draft: &Path) -> Result<Verified, StoreError> {
    let connection = open_draft(draft).map_err(|cause| StoreError::from_sql(cause, draft, "checking"))?;
    let found = of(&connection);
    connection.close().map_err(|(_, cause)| StoreError::from_sql(cause, draft, "closing"))?;
    Ok(found)
}

fn open_draft(draft: &Path) -> rusqlite::Result<Connection> {
    Connection::open_with_flags(draft, OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX)
}

/// Where a backup goes that nobody names a place for: a folder beside the bench.
#[must_use]
pub fn usual_folder(bench: &Path) -> PathBuf {
    schema::folder_of(bench).join("backups")
}

/// The size of the log beside a bench, in bytes. Asking opens nothing.
#[must_use]
pub fn log_bytes(bench: &Path) -> u64 {
    std::fs::metadata(beside(bench, "-wal")).map_or(0, |found| found.len())
}

fn files(path: &Path, doing: &'static str, cause: std::io::Error) -> StoreError {
    StoreError::Files { path: path.to_path_buf(), doing, cause }
}
