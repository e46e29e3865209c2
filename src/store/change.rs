//! A change of the bench: what was read and what is written are of one transaction.

use super::readings::{Inserter, Taken, probe_id};
use super::superseded::{self, Why};
use super::{Appended, Store, StoreError, write};
use crate::bench::rules::{Admitted, Conflict, Entry, Key};
use crate::bench::{Bench, Name, Reading};
use crate::civil::Time;

/// An open change. Dropped without [`Change::commit`] it leaves the bench as it was.
#[derive(Debug)]
pub struct Change<'a> {
    store: &'a mut Store,
    open: bool,
}

impl Store {
    /// Begins a change; no other process can write until it ends.
    ///
    /// # Errors
    /// [`StoreError::Busy`] where another process writes for longer than we wait.
    pub fn change(&mut self) -> Result<Change<'_>, StoreError> {
        self.connection.execute_batch("BEGIN IMMEDIATE").map_err(|source| self.failed(source, "writing to"))?;
        Ok(Change { store: self, open: true })
    }
}

impl Change<'_> {
    /// The bench as it is.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn bench(&self) -> Result<Bench, StoreError> {
        self.store.read_bench()
    }

    /// Writes what was admitted. What it takes the place of is kept beside, as superseded `now` for `why`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn record(&mut self, admitted: &Admitted, why: Why, now: Time) -> Result<(), StoreError> {
        for spot in &admitted.spots {
            self.did(write::spot(&self.store.connection, spot))?;
        }
        for entry in &admitted.replaced {
            self.replace(entry, why, now)?;
        }
        for entry in &admitted.entries {
            self.did(write::entry(&self.store.connection, entry))?;
        }
        Ok(())
    }

    /// Writes an entry in the place of the one with the same key, which is kept beside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn replace(&mut self, entry: &Entry, why: Why, now: Time) -> Result<(), StoreError> {
        let key = entry.key();
        self.did(superseded::keep(&self.store.connection, &key, why, now))?;
        match entry {
            // What is on record of a container hangs on its row.
            Entry::Container(container) => self.did(write::container_anew(&self.store.connection, container)),
            other => {
                self.did(superseded::delete(&self.store.connection, &key))?;
                self.did(write::entry(&self.store.connection, other))
            }
        }
    }

    /// Takes an entry off the record; it is kept beside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove(&mut self, key: &Key, why: Why, now: Time) -> Result<(), StoreError> {
        self.did(superseded::keep(&self.store.connection, key, why, now))?;
        self.did(superseded::delete(&self.store.connection, key))
    }

    /// Remembers what the columns of a table with this header line mean.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remember_form(&mut self, header: &str, columns: &str) -> Result<(), StoreError> {
        self.did(write::form(&self.store.connection, header, columns))
    }

    fn did(&self, done: rusqlite::Result<()>) -> Result<(), StoreError> {
        done.map_err(|source| self.store.failed(source, "writing to"))
    }

    /// Stores readings of one probe; `other` is told of each that has another value on record, with that one, and says whether it
    /// is to be replaced: the old value is then kept beside, as replaced `now`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_readings<'r>(
        &mut self,
        probe: &Name,
        readings: impl IntoIterator<Item = &'r Reading>,
        now: Time,
        mut other: impl FnMut(usize, Reading) -> Conflict,
    ) -> Result<Appended, StoreError> {
        let store = || -> rusqlite::Result<Appended> {
            let connection = &self.store.connection;
            let id = probe_id(connection, probe)?;
            let mut inserter = Inserter::new(connection)?;
            let mut appended = Appended::default();
            for (at, reading) in readings.into_iter().enumerate() {
                match inserter.insert(id, reading)? {
                    Taken::Stored => appended.stored += 1,
                    Taken::Alike => appended.repeated += 1,
                    Taken::Other(there) => match other(at, there) {
                        Conflict::Refused => appended.conflicting += 1,
                        Conflict::Replaced => {
                            superseded::keep_reading(connection, id, reading.time_us, now)?;
                            inserter.replace(id, reading)?;
                            appended.replaced += 1;
                        }
                    },
                }
            }
            Ok(appended)
        };
        store().map_err(|source| StoreError::from_sql(source, &self.store.path, "writing to"))
    }

    /// Makes it last: after `Ok` all of it survives a loss of power.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub fn commit(mut self) -> Result<(), StoreError> {
        let done = self.store.connection.execute_batch("COMMIT").map_err(|source| self.store.failed(source, "writing to"));
        self.open = done.is_err();
        done
    }
}

impl Drop for Change<'_> {
    fn drop(&mut self) {
        if self.open && !self.store.connection.is_autocommit() {
            // Should it fail, closing the file has the same effect.
            let _ = self.store.connection.execute_batch("ROLLBACK");
        }
    }
}
