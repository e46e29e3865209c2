//! The bench read from its tables: everything but the readings.

use std::collections::BTreeMap;

use rusqlite::Row;

use super::{Store, StoreError};
use crate::bench::{
    Bench, Calibration, Check, Container, Event, Move, Name, Placement, SetTemperature, Siting, Spot, SpotKind, Trial,
};
use crate::civil::{Time, Zone, time_from_micros};

impl Store {
    /// Everything kept but the readings.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn bench(&self) -> Result<Bench, StoreError> {
        // One transaction, so that all tables are of one instant though others write.
        self.connection.execute_batch("BEGIN").map_err(|source| self.failed(source, "reading"))?;
        let bench = self.read_bench();
        self.connection.execute_batch("ROLLBACK").map_err(|source| self.failed(source, "reading"))?;
        bench
    }

    pub(super) fn read_bench(&self) -> Result<Bench, StoreError> {
        let mut bench = Bench::empty(self.zone()?);
        self.each("SELECT name, kind, set_c, set_sd_c, note FROM spot", |row| {
            let spot = self.spot(row)?;
            bench.spots.insert(spot.name.clone(), spot);
            Ok(())
        })?;
        self.each(
            "SELECT p.name, s.name, since_us, offset_c, gain, siting
             FROM placement JOIN probe p USING (probe_id) JOIN spot s USING (spot_id)",
            |row| {
                bench.placements.push(self.placement(row)?);
                Ok(())
            },
        )?;
        bench.placements.sort_by(|a, b| (&a.probe, a.since).cmp(&(&b.probe, b.since)));
        self.each(
            "SELECT c.name, batch, species, lot, treatment, seeds, event, sown_us, s.name, ended_us
             FROM container c JOIN spot s USING (spot_id)",
            |row| {
                let container = self.container(row)?;
                let trial = Trial { container, checks: Vec::new(), moves: Vec::new() };
                bench.trials.insert(trial.container.name.clone(), trial);
                Ok(())
            },
        )?;
        self.read_looks(&mut bench.trials)?;
        Ok(bench)
    }

    fn read_looks(&self, trials: &mut BTreeMap<Name, Trial>) -> Result<(), StoreError> {
        self.each(
            "SELECT c.name, time_us, sprouted, removed, lost, potted_on, died, condition, note
             FROM container_check JOIN container c USING (container_id) ORDER BY container_id, time_us",
            |row| {
                let check = self.check(row)?;
                if let Some(trial) = trials.get_mut(&check.container) {
                    trial.checks.push(check);
                }
                Ok(())
            },
        )?;
        self.each(
            "SELECT c.name, time_us, s.name
             FROM container_move m JOIN container c USING (container_id) JOIN spot s ON s.spot_id = m.spot_id
             ORDER BY container_id, time_us",
            |row| {
                let moved = Move {
                    container: self.name(&self.get::<String>(row, 0)?)?,
                    time: self.time(self.get(row, 1)?)?,
                    spot: self.name(&self.get::<String>(row, 2)?)?,
                };
                if let Some(trial) = trials.get_mut(&moved.container) {
                    trial.moves.push(moved);
                }
                Ok(())
            },
        )
    }

    fn zone(&self) -> Result<Zone, StoreError> {
        let zone = self.setting("zone")?;
        zone.parse().map_err(|_| self.damaged(format!("its zone '{zone}' is none that is known")))
    }

    fn spot(&self, row: &Row<'_>) -> Result<Spot, StoreError> {
        let set: (Option<f64>, Option<f64>) = (self.get(row, 2)?, self.get(row, 3)?);
        Ok(Spot {
            name: self.name(&self.get::<String>(row, 0)?)?,
            kind: self.coded(row, 1, SpotKind::from_word)?,
            set: set.0.zip(set.1).map(|(celsius, sd_c)| SetTemperature { celsius, sd_c }),
            note: self.get(row, 4)?,
        })
    }

    fn placement(&self, row: &Row<'_>) -> Result<Placement, StoreError> {
        let calibration: (Option<f64>, Option<f64>) = (self.get(row, 3)?, self.get(row, 4)?);
        Ok(Placement {
            probe: self.name(&self.get::<String>(row, 0)?)?,
            spot: self.name(&self.get::<String>(row, 1)?)?,
            since: self.time(self.get(row, 2)?)?,
            calibration: calibration.0.zip(calibration.1).map(|(offset_c, gain)| Calibration { offset_c, gain }),
            siting: self.coded(row, 5, Siting::from_word)?,
        })
    }

    fn container(&self, row: &Row<'_>) -> Result<Container, StoreError> {
        let optional = |column| -> Result<Option<Name>, StoreError> {
            self.get::<Option<String>>(row, column)?.map(|text| self.name(&text)).transpose()
        };
        Ok(Container {
            name: self.name(&self.get::<String>(row, 0)?)?,
            batch: self.name(&self.get::<String>(row, 1)?)?,
            species: self.name(&self.get::<String>(row, 2)?)?,
            lot: optional(3)?,
            treatment: optional(4)?,
            seeds: self.get(row, 5)?,
            event: self.coded(row, 6, Event::from_word)?,
            sown: self.time(self.get(row, 7)?)?,
            spot: self.name(&self.get::<String>(row, 8)?)?,
            ended: self.get::<Option<i64>>(row, 9)?.map(|micros| self.time(micros)).transpose()?,
        })
    }

    fn check(&self, row: &Row<'_>) -> Result<Check, StoreError> {
        Ok(Check {
            container: self.name(&self.get::<String>(row, 0)?)?,
            time: self.time(self.get(row, 1)?)?,
            sprouted: self.get(row, 2)?,
            removed: self.get(row, 3)?,
            lost: self.get(row, 4)?,
            potted_on: self.get(row, 5)?,
            died: self.get(row, 6)?,
            condition: self.get(row, 7)?,
            note: self.get(row, 8)?,
        })
    }

    pub(super) fn each(&self, sql: &str, mut take: impl FnMut(&Row<'_>) -> Result<(), StoreError>) -> Result<(), StoreError> {
        let failed = |source| self.failed(source, "reading");
        let mut statement = self.connection.prepare_cached(sql).map_err(failed)?;
        let mut rows = statement.query([]).map_err(failed)?;
        while let Some(row) = rows.next().map_err(failed)? {
            take(row)?;
        }
        Ok(())
    }

    pub(super) fn get<T: rusqlite::types::FromSql>(&self, row: &Row<'_>, column: usize) -> Result<T, StoreError> {
        row.get(column).map_err(|source| self.failed(source, "reading"))
    }

    fn coded<T>(&self, row: &Row<'_>, column: usize, meaning: impl Fn(&str) -> Option<T>) -> Result<T, StoreError> {
        let code: String = self.get(row, column)?;
        meaning(&code).ok_or_else(|| self.damaged(format!("'{code}' stands where a known word should")))
    }

    pub(super) fn name(&self, text: &str) -> Result<Name, StoreError> {
        Name::new(text).map_err(|fault| self.damaged(fault.to_string()))
    }

    fn time(&self, micros: i64) -> Result<Time, StoreError> {
        time_from_micros(micros).ok_or_else(|| self.damaged(format!("{micros} is not a time")))
    }

    fn damaged(&self, what: String) -> StoreError {
        StoreError::Damaged { path: self.path.clone(), what }
    }
}
