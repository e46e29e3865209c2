//! The bench read from its tables: everything but the readings.

use std::collections::BTreeMap;

use rusqlite::Row;

use super::{Store, StoreError};
use crate::bench::{
    AlarmSetting, Away, Bench, Calibration, Check, Container, DayAndNight, Degrees, Doubt, Event, GivenTemperature, Lot, Move,
    Name, Placement, ProbeLimits, SetTemperature, Setting, Siting, Spot, SpotKind, Trial,
};
use crate::civil::{Time, Zone, time_from_micros};

impl Store {
    /// Everything kept but the readings.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn bench(&self) -> Result<Bench, StoreError> {
        // One transaction, so that all tables are of one instant though others write.
        if self.connection.is_autocommit() { self.at_one_instant(|| self.read_bench()) } else { self.read_bench() }
    }

    pub(super) fn read_bench(&self) -> Result<Bench, StoreError> {
        let mut bench = Bench::empty(self.zone()?);
        let units = self.setting("units")?;
        bench.units = units.map(|word| Degrees::from_word(&word).ok_or_else(|| self.unknown_word(&word))).transpose()?;
        for key in AlarmSetting::KEYS {
            if let Some(value) = self.setting(key)? {
                let read = AlarmSetting::read(key, &value, Degrees::Celsius).and_then(Result::ok);
                bench.alarms.say(read.ok_or_else(|| self.unknown_word(&value))?);
            }
        }
        self.each("SELECT from_us, until_us FROM away ORDER BY from_us", |row| {
            bench.aways.push(Away { from: self.time(self.get(row, 0)?)?, until: self.time(self.get(row, 1)?)? });
            Ok(())
        })?;
        self.each("SELECT name FROM spot", |row| {
            let name = self.name(&self.get::<String>(row, 0)?)?;
            bench.spots.insert(name.clone(), Spot::named(name));
            Ok(())
        })?;
        self.each(
            "SELECT s.name, since_us, kind, set_c, set_sd_c, day_c, night_c, capacity, changed_us, note, too_hot_c
             FROM spot_setting JOIN spot s USING (spot_id) ORDER BY spot_id, since_us NULLS FIRST",
            |row| {
                let spot = self.name(&self.get::<String>(row, 0)?)?;
                let setting = self.spot_setting(row)?;
                if let Some(spot) = bench.spots.get_mut(&spot) {
                    spot.settings.push(setting);
                }
                Ok(())
            },
        )?;
        self.each("SELECT name FROM probe", |row| {
            bench.probes.insert(self.name(&self.get::<String>(row, 0)?)?);
            Ok(())
        })?;
        self.read_lots(&mut bench.lots)?;
        self.each(
            "SELECT p.name, s.name, since_us, offset_c, gain, siting
             FROM placement JOIN probe p USING (probe_id) JOIN spot s USING (spot_id)",
            |row| {
                bench.placements.push(self.placement(row)?);
                Ok(())
            },
        )?;
        bench.placements.sort_by(|a, b| (&a.probe, a.since).cmp(&(&b.probe, b.since)));
        self.each("SELECT p.name, from_us, to_us, why FROM doubt JOIN probe p USING (probe_id)", |row| {
            bench.doubts.push(Doubt {
                probe: self.name(&self.get::<String>(row, 0)?)?,
                from: self.time(self.get(row, 1)?)?,
                to: self.optional_time(row, 2)?,
                why: self.get(row, 3)?,
            });
            Ok(())
        })?;
        bench.doubts.sort_by(|a, b| (&a.probe, a.from).cmp(&(&b.probe, b.from)));
        self.read_limits(&mut bench.limits)?;
        self.each(
            "SELECT c.name, batch, species, lot, treatment, seeds, event, sown_us, s.name, ended_us, seeds_low, seeds_high,
                    depth_mm, source, lid, owner
             FROM container c JOIN spot s USING (spot_id)",
            |row| {
                let trial = Trial::new(self.container(row)?);
                bench.trials.insert(trial.container.name.clone(), trial);
                Ok(())
            },
        )?;
        self.read_looks(&mut bench.trials)?;
        self.read_moves("container_move", |moved| {
            if let Some(trial) = bench.trials.get_mut(&moved.container) {
                trial.moves.push(moved);
            }
        })?;
        self.read_moves("planned_move", |moved| {
            if let Some(trial) = bench.trials.get_mut(&moved.container) {
                trial.planned.push(moved);
            }
        })?;
        bench.link();
        Ok(bench)
    }

    fn read_limits(&self, limits: &mut BTreeMap<Name, ProbeLimits>) -> Result<(), StoreError> {
        let columns = ProbeLimits::COLUMNS.join(", ");
        self.each(&format!("SELECT p.name, {columns} FROM probe_limits JOIN probe p USING (probe_id)"), |row| {
            let probe = self.name(&self.get::<String>(row, 0)?)?;
            let mut values = ProbeLimits::COLUMNS.map(|_| None);
            for (at, value) in values.iter_mut().enumerate() {
                *value = self.get(row, at + 1)?;
            }
            limits.insert(probe.clone(), ProbeLimits::of(probe, values));
            Ok(())
        })
    }

    fn read_lots(&self, lots: &mut BTreeMap<Name, Lot>) -> Result<(), StoreError> {
        self.each(
            "SELECT name, species, source, collected, packet_days_low, packet_days_high, packet_c, packet_percent, chill_days,
                    light, note
             FROM lot",
            |row| {
                let lot = Lot {
                    name: self.name(&self.get::<String>(row, 0)?)?,
                    species: self.name(&self.get::<String>(row, 1)?)?,
                    source: self.get(row, 2)?,
                    collected: self.get(row, 3)?,
                    packet_days_low: self.get(row, 4)?,
                    packet_days_high: self.get(row, 5)?,
                    packet_c: self.get(row, 6)?,
                    packet_percent: self.get(row, 7)?,
                    chill_days: self.get(row, 8)?,
                    light: self.get(row, 9)?,
                    note: self.get(row, 10)?,
                };
                lots.insert(lot.name.clone(), lot);
                Ok(())
            },
        )
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
        )
    }

    fn read_moves(&self, table: &str, mut take: impl FnMut(Move)) -> Result<(), StoreError> {
        let sql = format!(
            "SELECT c.name, time_us, s.name
             FROM {table} m JOIN container c USING (container_id) JOIN spot s ON s.spot_id = m.spot_id
             ORDER BY container_id, time_us"
        );
        self.each(&sql, |row| {
            take(Move {
                container: self.name(&self.get::<String>(row, 0)?)?,
                time: self.time(self.get(row, 1)?)?,
                spot: self.name(&self.get::<String>(row, 2)?)?,
            });
            Ok(())
        })
    }

    fn zone(&self) -> Result<Zone, StoreError> {
        let zone = self.setting("zone")?.unwrap_or_default();
        zone.parse().map_err(|_| self.damaged(format!("its zone '{zone}' is none that is known")))
    }

    fn spot_setting(&self, row: &Row<'_>) -> Result<Setting, StoreError> {
        let number = |column| self.get::<Option<f64>>(row, column);
        let (set_c, sd_c, day_c, night_c) = (number(3)?, number(4)?.unwrap_or(0.0), number(5)?, number(6)?);
        let set = set_c.map(|celsius| GivenTemperature::Set(SetTemperature { celsius, sd_c }));
        let pair = day_c.zip(night_c);
        let pair = pair.map(|(day_c, night_c)| GivenTemperature::DayAndNight(DayAndNight { day_c, night_c, sd_c }));
        Ok(Setting {
            since: self.optional_time(row, 1)?,
            kind: self.coded(row, 2, SpotKind::from_word)?,
            given: set.or(pair),
            capacity: self.get(row, 7)?,
            too_hot_c: self.get(row, 10)?,
            changed: self.optional_time(row, 8)?,
            note: self.get(row, 9)?,
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
            ended: self.optional_time(row, 9)?,
            seeds_low: self.get(row, 10)?,
            seeds_high: self.get(row, 11)?,
            depth_mm: self.get(row, 12)?,
            from: optional(13)?,
            lid: optional(14)?,
            owner: optional(15)?,
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

    pub(super) fn optional_time(&self, row: &Row<'_>, column: usize) -> Result<Option<Time>, StoreError> {
        self.get::<Option<i64>>(row, column)?.map(|micros| self.time(micros)).transpose()
    }

    pub(super) fn coded<T>(&self, row: &Row<'_>, column: usize, meaning: impl Fn(&str) -> Option<T>) -> Result<T, StoreError> {
        let code: String = self.get(row, column)?;
        meaning(&code).ok_or_else(|| self.unknown_word(&code))
    }

    fn unknown_word(&self, word: &str) -> StoreError {
        self.damaged(format!("'{word}' stands where a known word should"))
    }

    pub(super) fn name(&self, text: &str) -> Result<Name, StoreError> {
        Name::on_record(text).map_err(|fault| self.damaged(fault.to_string()))
    }

    pub(super) fn time(&self, micros: i64) -> Result<Time, StoreError> {
        time_from_micros(micros).ok_or_else(|| self.damaged(format!("{micros} is not a time")))
    }

    pub(super) fn damaged(&self, what: String) -> StoreError {
        StoreError::Damaged { path: self.path.clone(), what }
    }
}
