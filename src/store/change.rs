//! A change of the bench: what was read and what is written are of one transaction.

use rusqlite::{Connection, params};

use super::readings::{Inserter, Taken, probe_id};
use super::{Appended, Store, StoreError};
use crate::bench::rules::Admitted;
use crate::bench::{Bench, Name, Reading};

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

    /// Writes what was admitted.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn record(&mut self, admitted: &Admitted) -> Result<(), StoreError> {
        write(&self.store.connection, admitted).map_err(|source| self.store.failed(source, "writing to"))
    }

    /// Stores readings of one probe; `conflict` is told of each that has another value on record, with that one.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn add_readings<'r>(
        &mut self,
        probe: &Name,
        readings: impl IntoIterator<Item = &'r Reading>,
        mut conflict: impl FnMut(usize, Reading),
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
                    Taken::Other(there) => {
                        appended.conflicting += 1;
                        conflict(at, there);
                    }
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

fn write(connection: &Connection, admitted: &Admitted) -> rusqlite::Result<()> {
    for spot in &admitted.spots {
        connection
            .prepare_cached(
                "INSERT INTO spot (name, kind, set_c, set_sd_c, note) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT (name) DO UPDATE
                 SET kind = excluded.kind, set_c = excluded.set_c, set_sd_c = excluded.set_sd_c, note = excluded.note",
            )?
            .execute(params![
                spot.name.as_str(),
                spot.kind.word(),
                spot.set.map(|set| set.celsius),
                spot.set.map(|set| set.sd_c),
                spot.note,
            ])?;
    }
    for placement in &admitted.placements {
        let probe = probe_id(connection, &placement.probe)?;
        connection
            .prepare_cached(
                "INSERT INTO placement (probe_id, since_us, spot_id, offset_c, gain, siting)
                 VALUES (?1, ?2, (SELECT spot_id FROM spot WHERE name = ?3), ?4, ?5, ?6)",
            )?
            .execute(params![
                probe,
                placement.since.timestamp_micros(),
                placement.spot.as_str(),
                placement.calibration.map(|calibration| calibration.offset_c),
                placement.calibration.map(|calibration| calibration.gain),
                placement.siting.word(),
            ])?;
    }
    for container in &admitted.containers {
        connection
            .prepare_cached(
                "INSERT INTO container (name, batch, species, lot, treatment, seeds, event, sown_us, spot_id, ended_us)
                 VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, (SELECT spot_id FROM spot WHERE name = ?9), ?10)",
            )?
            .execute(params![
                container.name.as_str(),
                container.batch.as_str(),
                container.species.as_str(),
                container.lot.as_ref().map(Name::as_str),
                container.treatment.as_ref().map(Name::as_str),
                container.seeds,
                container.event.word(),
                container.sown.timestamp_micros(),
                container.spot.as_str(),
                container.ended.map(|time| time.timestamp_micros()),
            ])?;
    }
    for check in &admitted.checks {
        connection
            .prepare_cached(
                "INSERT INTO container_check
                     (container_id, time_us, sprouted, removed, lost, potted_on, died, condition, note)
                 VALUES ((SELECT container_id FROM container WHERE name = ?1), ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)",
            )?
            .execute(params![
                check.container.as_str(),
                check.time.timestamp_micros(),
                check.sprouted,
                check.removed,
                check.lost,
                check.potted_on,
                check.died,
                check.condition,
                check.note,
            ])?;
    }
    for moved in &admitted.moves {
        connection
            .prepare_cached(
                "INSERT INTO container_move (container_id, time_us, spot_id)
                 VALUES ((SELECT container_id FROM container WHERE name = ?1), ?2, (SELECT spot_id FROM spot WHERE name = ?3))",
            )?
            .execute(params![moved.container.as_str(), moved.time.timestamp_micros(), moved.spot.as_str()])?;
    }
    Ok(())
}
