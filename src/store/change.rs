//! A change of the bench: what was read and what is written are of one transaction.

use super::kept::{warmth_changed, warmth_changed_by};
use super::readings::{Inserter, Taken, probe_id};
use super::superseded::{self, Why};
use super::{Appended, Store, StoreError, Typed, day_sum, typed, write};
use crate::bench::rules::{Admitted, Conflict, Entry, Key};
use crate::bench::{Bench, Name, Reading};
use crate::civil::Time;

/// An open change. Dropped without [`Change::commit`] it leaves the bench as it was.
#[derive(Debug)]
pub struct Change<'a> {
    store: &'a mut Store,
    open: bool,
    typing: Typing,
    /// The earliest time from which it changes how warm it was anywhere.
    warmth_changed_us: Option<i64>,
    /// When readings were added: days that are over by then are summed up with the change.
    readings_added: Option<Time>,
}

/// Whether what is recorded is noted as typed, so that it can be taken back.
#[derive(Debug, Clone, Copy)]
enum Typing {
    No,
    /// By a command typed then, of which nothing is noted yet.
    Since(Time),
    /// By the command of this number.
    Begun(i64),
}

impl Store {
    /// Begins a change; no other process can write until it ends.
    ///
    /// # Errors
    /// [`StoreError::Busy`] where another process writes for longer than we wait.
    pub fn change(&mut self) -> Result<Change<'_>, StoreError> {
        self.connection.execute_batch("BEGIN IMMEDIATE").map_err(|source| self.failed(source, "writing to"))?;
        Ok(Change { store: self, open: true, typing: Typing::No, warmth_changed_us: None, readings_added: None })
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

    /// What is recorded from here on was typed `now`, as one command that can be taken back.
    pub fn is_typed(&mut self, now: Time) {
        self.typing = Typing::Since(now);
    }

    /// The last command typed that is still on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_typed(&self) -> Result<Option<Typed>, StoreError> {
        self.store.last_typed()
    }

    /// The command of a number, where it is still on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn typed(&self, number: i64) -> Result<Option<Typed>, StoreError> {
        self.store.typed(number)
    }

    /// The number of the command being typed, once anything of it is noted.
    #[must_use]
    pub fn command(&self) -> Option<i64> {
        match self.typing {
            Typing::Begun(number) => Some(number),
            Typing::No | Typing::Since(_) => None,
        }
    }

    /// The probe whose lines carry this name, where it has another one itself.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn probe_of_line(&self, line_name: &Name) -> Result<Option<Name>, StoreError> {
        self.store.probe_of_line(line_name)
    }

    /// The last command typed that put an entry of this key on record, where it was typed.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn typed_as(&self, key: &Key) -> Result<Option<Typed>, StoreError> {
        self.store.typed_as(key)
    }

    /// Writes what was admitted. What it takes the place of is kept beside, as superseded `now` for `why`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn record(&mut self, admitted: &Admitted, why: Why, now: Time) -> Result<(), StoreError> {
        for spot in &admitted.spots {
            self.did(write::spot(&self.store.connection, spot))?;
            if let Some(typed) = self.typing()? {
                self.did(typed::named_spot(&self.store.connection, typed, spot))?;
            }
        }
        for entry in &admitted.replaced {
            self.replace(entry, why, now)?;
        }
        for entry in &admitted.entries {
            self.did(write::entry(&self.store.connection, entry))?;
            self.changes(warmth_changed_by(&entry.key()));
            self.note(&entry.key(), None)?;
        }
        Ok(())
    }

    /// Writes an entry in the place of the one with the same key, which is kept beside.
    fn replace(&mut self, entry: &Entry, why: Why, now: Time) -> Result<(), StoreError> {
        let key = entry.key();
        self.changes(warmth_changed_by(&key));
        let kept = self.did(superseded::keep(&self.store.connection, &key, why, now))?;
        match entry {
            // What is on record of a container hangs on its row.
            Entry::Container(container) => self.did(write::container_anew(&self.store.connection, container))?,
            other => {
                self.did(superseded::delete(&self.store.connection, &key))?;
                self.did(write::entry(&self.store.connection, other))?;
            }
        }
        self.note(&key, Some(kept))
    }

    /// Writes an entry in the place of the one with the key `was`, another one than its own: that is kept beside.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn replace_other(&mut self, was: &Key, entry: &Entry, why: Why, now: Time) -> Result<(), StoreError> {
        self.changes(warmth_changed_by(was));
        self.changes(warmth_changed_by(&entry.key()));
        let kept = self.did(superseded::keep(&self.store.connection, was, why, now))?;
        self.did(superseded::delete(&self.store.connection, was))?;
        self.did(write::entry(&self.store.connection, entry))?;
        self.did(typed::rekey(&self.store.connection, was, &entry.key()))?;
        self.note(&entry.key(), Some(kept))
    }

    /// Takes an entry off the record; it is kept beside, and no longer known as typed. A box's photographs go with it for good.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove(&mut self, key: &Key, why: Why, now: Time) -> Result<(), StoreError> {
        self.changes(warmth_changed_by(key));
        self.did(superseded::keep(&self.store.connection, key, why, now))?;
        self.did(superseded::delete(&self.store.connection, key))?;
        if let Key::Container(name) = key {
            self.remove_photos_of(name)?;
        }
        self.did(typed::forget_entry(&self.store.connection, key))
    }

    /// Takes away a spot that nothing names any more.
    ///
    /// # Errors
    /// [`StoreError`], also where something does name it.
    pub fn remove_spot(&mut self, spot: &Name) -> Result<(), StoreError> {
        self.did(self.store.connection.execute("DELETE FROM spot WHERE name = ?1", [spot.as_str()])).map(drop)
    }

    /// Forgets that a command was typed: it was taken back.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn forget(&mut self, typed: &Typed) -> Result<(), StoreError> {
        self.did(typed::forget(&self.store.connection, typed.id))
    }

    /// Gives a probe another name. The lines of its board, which go on carrying the name they had, stay its own.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn name_probe(&mut self, was: &Name, name: &Name) -> Result<(), StoreError> {
        let typed = self.typing()?;
        // Probes at one spot are reckoned in order of their names, which shows in the last digit.
        self.changes(Some(i64::MIN));
        self.did(self.store.connection.execute(
            "UPDATE probe SET name = ?2, line_name = nullif(ifnull(line_name, name), ?2) WHERE name = ?1",
            [was.as_str(), name.as_str()],
        ))?;
        self.did(typed::named_probe(&self.store.connection, typed, was, name))
    }

    fn changes(&mut self, from_us: Option<i64>) {
        self.warmth_changed_us = [self.warmth_changed_us, from_us].into_iter().flatten().min();
    }

    /// The number of the command being typed, where one is.
    fn typing(&mut self) -> Result<Option<i64>, StoreError> {
        if let Typing::Since(now) = self.typing {
            self.typing = Typing::Begun(self.did(typed::begin(&self.store.connection, now))?);
        }
        Ok(match self.typing {
            Typing::Begun(id) => Some(id),
            _ => None,
        })
    }

    fn note(&mut self, key: &Key, kept: Option<i64>) -> Result<(), StoreError> {
        match self.typing()? {
            Some(typed) => self.did(typed::entry(&self.store.connection, typed, key, kept)),
            None => Ok(()),
        }
    }

    /// Remembers what the columns of a table with this header line mean.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remember_form(&mut self, header: &str, columns: &str) -> Result<(), StoreError> {
        self.did(write::form(&self.store.connection, header, columns))
    }

    pub(super) fn sql(&self, sql: &str, values: &[&dyn rusqlite::ToSql]) -> Result<usize, StoreError> {
        self.did(self.store.connection.execute(sql, values))
    }

    pub(super) fn connection(&self) -> &rusqlite::Connection {
        &self.store.connection
    }

    pub(super) fn store(&self) -> &Store {
        self.store
    }

    pub(super) fn did<T>(&self, done: rusqlite::Result<T>) -> Result<T, StoreError> {
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
        let mut earliest_us = None;
        let store = || -> rusqlite::Result<Appended> {
            let connection = &self.store.connection;
            let id = probe_id(connection, probe)?;
            let mut inserter = Inserter::new(connection)?;
            let mut appended = Appended::default();
            for (at, reading) in readings.into_iter().enumerate() {
                match inserter.insert(id, reading)? {
                    Taken::Stored => {
                        appended.stored += 1;
                        earliest_us = Some(earliest_us.map_or(reading.time_us, |us: i64| us.min(reading.time_us)));
                    }
                    Taken::Alike => appended.repeated += 1,
                    Taken::Other(there) => match other(at, there) {
                        Conflict::Refused => appended.conflicting += 1,
                        Conflict::Replaced => {
                            superseded::keep_reading(connection, id, reading.time_us, now)?;
                            inserter.replace(id, reading)?;
                            appended.replaced += 1;
                            earliest_us = Some(earliest_us.map_or(reading.time_us, |us: i64| us.min(reading.time_us)));
                        }
                    },
                }
            }
            Ok(appended)
        };
        let appended = store().map_err(|source| StoreError::from_sql(source, &self.store.path, "writing to"))?;
        self.changes(earliest_us);
        self.readings_added = earliest_us.map(|_| now).or(self.readings_added);
        Ok(appended)
    }

    /// Makes it last: after `Ok` all of it survives a loss of power.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub fn commit(mut self) -> Result<(), StoreError> {
        if let Some(changed_us) = self.warmth_changed_us {
            self.did(warmth_changed(&self.store.connection, changed_us))?;
        }
        if let Some(now) = self.readings_added {
            self.did(day_sum::close(&self.store.connection, day_sum::day_of(now.timestamp_micros()), i64::MAX))?;
        }
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
