//! Readings: asked for by probe and time, stored in batches.

use rusqlite::{CachedStatement, Connection, OptionalExtension, TransactionBehavior, params};

use super::{Store, StoreError};
use crate::bench::{Name, Proof, Reading};

/// As many unreadable lines are kept of each port, the newest.
const UNREAD_KEPT: i64 = 1_000;

/// A probe that placements or readings name.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ProbeSpan {
    /// The probe.
    pub probe: Name,
    /// Microseconds of its first reading.
    pub first_us: Option<i64>,
    /// Microseconds of its last reading.
    pub last_us: Option<i64>,
}

/// How readings that carry their own times were taken.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Appended {
    /// Readings stored.
    pub stored: usize,
    /// Readings that were on record already, alike.
    pub repeated: usize,
    /// Readings that took the place of another value for that probe and time.
    pub replaced: usize,
    /// Readings refused because another value is on record for that probe and time.
    pub conflicting: usize,
}

/// A line from a port that could not be read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct UnreadLine {
    /// The port it came from.
    pub port: String,
    /// When, in microseconds.
    pub time_us: i64,
    /// As received.
    pub line: Vec<u8>,
    /// Why it could not be read.
    pub why: String,
}

/// How far the write-ahead log has been copied into the file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Checkpointed {
    /// All of it.
    Whole,
    /// A reader or another writer held back the rest.
    Partly {
        /// Pages that wait.
        pages_left: i64,
    },
}

impl Store {
    /// A probe's readings from `from_us` (inclusive) until `until_us` (exclusive), ascending.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn readings(&self, probe: &Name, from_us: i64, until_us: i64) -> Result<Vec<Reading>, StoreError> {
        let ask = || -> rusqlite::Result<Vec<Reading>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT time_us, raw_c_e4, proof FROM reading
                 WHERE probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND time_us >= ?2 AND time_us < ?3
                 ORDER BY time_us",
            )?;
            let rows = statement.query_map(params![probe.as_str(), from_us, until_us], |row| {
                Ok(Reading { time_us: row.get(0)?, raw_c_e4: row.get(1)?, proof: proof(row.get(2)?)? })
            })?;
            rows.collect()
        };
        ask().map_err(|source| self.failed(source, "reading"))
    }

    /// Whether a probe gave any reading from `from_us` (inclusive) until `until_us` (exclusive).
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn has_reading(&self, probe: &Name, from_us: i64, until_us: i64) -> Result<bool, StoreError> {
        let ask = || -> rusqlite::Result<bool> {
            self.connection
                .prepare_cached(
                    "SELECT EXISTS (SELECT 1 FROM reading WHERE probe_id = (SELECT probe_id FROM probe WHERE name = ?1)
                     AND time_us >= ?2 AND time_us < ?3)",
                )?
                .query_row(params![probe.as_str(), from_us, until_us], |row| row.get(0))
        };
        ask().map_err(|source| self.failed(source, "reading"))
    }

    /// When a probe last gave a reading before `before_us` that is as `wanted`.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_reading_where(
        &self,
        probe: &Name,
        before_us: i64,
        wanted: impl Fn(&Reading) -> bool,
    ) -> Result<Option<i64>, StoreError> {
        let ask = || -> rusqlite::Result<Option<i64>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT time_us, raw_c_e4, proof FROM reading
                 WHERE probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND time_us < ?2 ORDER BY time_us DESC",
            )?;
            let mut rows = statement.query(params![probe.as_str(), before_us])?;
            while let Some(row) = rows.next()? {
                let reading = Reading { time_us: row.get(0)?, raw_c_e4: row.get(1)?, proof: proof(row.get(2)?)? };
                if wanted(&reading) {
                    return Ok(Some(reading.time_us));
                }
            }
            Ok(None)
        };
        ask().map_err(|source| self.failed(source, "reading"))
    }

    /// Every probe that a placement or a reading names.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn probes(&self) -> Result<Vec<ProbeSpan>, StoreError> {
        let mut spans = Vec::new();
        // Each a search at one end of the key, not a scan.
        let sql = "SELECT name, (SELECT min(time_us) FROM reading r WHERE r.probe_id = p.probe_id),
                          (SELECT max(time_us) FROM reading r WHERE r.probe_id = p.probe_id)
                   FROM probe p ORDER BY name";
        self.each(sql, |row| {
            let probe = self.name(&self.get::<String>(row, 0)?)?;
            spans.push(ProbeSpan { probe, first_us: self.get(row, 1)?, last_us: self.get(row, 2)? });
            Ok(())
        })?;
        Ok(spans)
    }

    /// The probe whose lines carry this name, where it has another one itself.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn probe_of_line(&self, line_name: &Name) -> Result<Option<Name>, StoreError> {
        let named: Option<String> = self
            .connection
            .query_row("SELECT name FROM probe WHERE line_name = ?1", [line_name.as_str()], |row| row.get(0))
            .optional()
            .map_err(|source| self.failed(source, "reading"))?;
        named.map(|name| self.name(&name)).transpose()
    }

    /// Whether any reading's line proved something by itself.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn has_proofs(&self) -> Result<bool, StoreError> {
        self.connection
            .query_row("SELECT EXISTS (SELECT 1 FROM reading WHERE proof <> 0)", [], |row| row.get(0))
            .map_err(|source| self.failed(source, "reading"))
    }

    /// Keeps lines that could not be read, as received; of each port only the newest 1000.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_unread_lines(&mut self, lines: &[UnreadLine]) -> Result<(), StoreError> {
        let mut store = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for line in lines {
                transaction
                    .prepare_cached("INSERT INTO unread_line (port, time_us, line, why) VALUES (?1, ?2, ?3, ?4)")?
                    .execute(params![line.port, line.time_us, line.line, line.why])?;
            }
            let ports: std::collections::BTreeSet<&str> = lines.iter().map(|line| line.port.as_str()).collect();
            for port in ports {
                transaction.execute(
                    "DELETE FROM unread_line WHERE port = ?1 AND line_id <=
                     (SELECT line_id FROM unread_line WHERE port = ?1 ORDER BY line_id DESC LIMIT 1 OFFSET ?2)",
                    params![port, UNREAD_KEPT],
                )?;
            }
            transaction.commit()
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }

    /// Copies what it can of the write-ahead log into the file without waiting for anybody.
    ///
    /// # Errors
    /// [`StoreError`]; what was committed stays safe in the log.
    pub fn checkpoint(&mut self) -> Result<Checkpointed, StoreError> {
        let ask = || -> rusqlite::Result<(i64, i64)> {
            let mut statement = self.connection.prepare_cached("PRAGMA wal_checkpoint(PASSIVE)")?;
            let mut rows = statement.query([])?;
            let mut pages = (-1, -1);
            // Stepped to its end: an error may come after the row.
            while let Some(row) = rows.next()? {
                pages = (row.get(1)?, row.get(2)?);
            }
            Ok(pages)
        };
        match ask().map_err(|source| self.failed(source, "checkpointing"))? {
            (-1, _) => Err(StoreError::NoWriteAheadLog { path: self.path.clone(), mode: "no log".to_owned() }),
            (in_log, copied) if copied < in_log => Ok(Checkpointed::Partly { pages_left: in_log - copied }),
            _ => Ok(Checkpointed::Whole),
        }
    }
}

/// What became of a reading offered.
pub(super) enum Taken {
    /// New, stored.
    Stored,
    /// The same value was there.
    Alike,
    /// Another one was there; it stays.
    Other(Reading),
}

/// Stores readings one by one within somebody's transaction.
pub(super) struct Inserter<'a> {
    insert: CachedStatement<'a>,
    ask: CachedStatement<'a>,
    connection: &'a Connection,
}

impl<'a> Inserter<'a> {
    pub(super) fn new(connection: &'a Connection) -> rusqlite::Result<Self> {
        Ok(Self {
            connection,
            insert: connection.prepare_cached(
                "INSERT INTO reading (probe_id, time_us, raw_c_e4, proof) VALUES (?1, ?2, ?3, ?4) ON CONFLICT DO NOTHING",
            )?,
            ask: connection.prepare_cached("SELECT time_us, raw_c_e4, proof FROM reading WHERE probe_id = ?1 AND time_us = ?2")?,
        })
    }

    pub(super) fn insert(&mut self, probe_id: i64, reading: &Reading) -> rusqlite::Result<Taken> {
        let values = params![probe_id, reading.time_us, reading.raw_c_e4, proof_code(reading.proof)];
        if self.insert.execute(values)? == 1 {
            return Ok(Taken::Stored);
        }
        let there = self.ask.query_row(params![probe_id, reading.time_us], |row| {
            Ok(Reading { time_us: row.get(0)?, raw_c_e4: row.get(1)?, proof: proof(row.get(2)?)? })
        })?;
        Ok(if there == *reading { Taken::Alike } else { Taken::Other(there) })
    }
}

impl Inserter<'_> {
    /// Gives the reading of its probe and time another value.
    pub(super) fn replace(&mut self, probe_id: i64, reading: &Reading) -> rusqlite::Result<()> {
        let mut update =
            self.connection.prepare_cached("UPDATE reading SET raw_c_e4 = ?3, proof = ?4 WHERE probe_id = ?1 AND time_us = ?2")?;
        update.execute(params![probe_id, reading.time_us, reading.raw_c_e4, proof_code(reading.proof)]).map(drop)
    }
}

/// The number of a probe, given one if it is new.
pub(super) fn probe_id(connection: &Connection, probe: &Name) -> rusqlite::Result<i64> {
    let known = connection
        .prepare_cached("SELECT probe_id FROM probe WHERE name = ?1")?
        .query_row([probe.as_str()], |row| row.get(0))
        .optional()?;
    match known {
        Some(id) => Ok(id),
        None => connection
            .prepare_cached("INSERT INTO probe (name) VALUES (?1) RETURNING probe_id")?
            .query_row([probe.as_str()], |row| row.get(0)),
    }
}

/// The number of the probe whose lines carry a name: one that was given another name since, else the one of that name.
pub(super) fn probe_of_line(connection: &Connection, line_name: &Name) -> rusqlite::Result<i64> {
    let renamed = connection
        .prepare_cached("SELECT probe_id FROM probe WHERE line_name = ?1")?
        .query_row([line_name.as_str()], |row| row.get(0))
        .optional()?;
    renamed.map_or_else(|| probe_id(connection, line_name), Ok)
}

pub(super) fn proof_code(proof: Proof) -> i64 {
    match proof {
        Proof::Plain => 0,
        Proof::PowerOn => 1,
        Proof::Disconnected => 2,
        Proof::NotANumber => 3,
    }
}

pub(super) fn proof(code: i64) -> rusqlite::Result<Proof> {
    match code {
        0 => Ok(Proof::Plain),
        1 => Ok(Proof::PowerOn),
        2 => Ok(Proof::Disconnected),
        3 => Ok(Proof::NotANumber),
        _ => Err(rusqlite::Error::IntegralValueOutOfRange(2, code)),
    }
}
