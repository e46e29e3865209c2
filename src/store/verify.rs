//! Whether a file holds what was written to it.

use std::hash::Hasher;
use std::path::Path;

use rusqlite::types::ValueRef;
use rusqlite::{Connection, OptionalExtension};
use siphasher::sip::SipHasher13;

use super::day_sum::{DAY_US, DaySum, sum_of};
use super::{Store, StoreError, schema};
use crate::civil::{Time, time_from_micros};

/// As many faults that SQLite finds are told.
const FAULTS_TOLD: u32 = 20;

/// What was found in a file.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Verified {
    /// What SQLite finds wrong with the file's build, in its own words; none: nothing.
    pub faults: Vec<String>,
    /// Days that hold something else than was written.
    pub damaged: Vec<DamagedDay>,
    /// Tables that hold something else than was written; only a backup tells.
    pub tables: Vec<String>,
    /// Days whose readings are those that were summed up.
    pub days: usize,
    /// Days that are not summed up yet.
    pub open_days: usize,
    /// Probes they are of.
    pub probes: usize,
    /// Readings looked at.
    pub readings: i64,
}

impl Verified {
    /// Whether everything that can be told is as it was written.
    #[must_use]
    pub fn is_whole(&self) -> bool {
        self.faults.is_empty() && self.damaged.is_empty() && self.tables.is_empty()
    }
}

/// A day of a probe that holds something else than was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct DamagedDay {
    /// The probe's name; its number where the name cannot be read.
    pub probe: String,
    /// The day's first instant.
    pub day: Time,
    /// What was written; none: no day that was written.
    pub written: Option<DaySum>,
    /// What is there; none: it cannot be read.
    pub found: Option<DaySum>,
}

/// Opens a file and compares it with the sums in it, without changing it. One of an earlier version has no sums.
///
/// # Errors
/// [`StoreError`], where the file is no bench or cannot be opened at all.
pub fn verify(path: &Path) -> Result<Verified, StoreError> {
    let connection = schema::open_as_it_is(path)?;
    Ok(of(&connection))
}

impl Store {
    /// The same of an open bench.
    #[must_use]
    pub fn verify(&self) -> Verified {
        of(&self.connection)
    }
}

/// Everything that is wrong is part of the answer; so nothing here fails.
pub(super) fn of(connection: &Connection) -> Verified {
    let mut found = Verified { faults: faults(connection), ..Verified::default() };
    match days(connection) {
        Ok(days) => {
            let mut probes = std::collections::BTreeSet::new();
            for (probe_id, day, written) in days {
                probes.insert(probe_id);
                let there = sum_of(connection, probe_id, day);
                found.readings += there.as_ref().ok().copied().flatten().map_or(0, |sum| sum.readings);
                match (written, there) {
                    (None, Ok(_)) => found.open_days += 1,
                    (Some(written), Ok(Some(there))) if written == there => found.days += 1,
                    (written, there) => {
                        let nothing = DaySum { readings: 0, sum_c_e4: 0, digest: 0 };
                        let there = there.ok().map(|sum| sum.unwrap_or(nothing));
                        found.damaged.push(damaged(connection, probe_id, day, written, there));
                    }
                }
            }
            found.probes = probes.len();
            for (probe_id, day) in stray(connection).unwrap_or_default() {
                let there = sum_of(connection, probe_id, day).ok().flatten();
                found.damaged.push(damaged(connection, probe_id, day, None, there));
            }
        }
        Err(error) => found.faults.push(format!("the sums of the days cannot be read: {error}")),
    }
    found.tables = changed_tables(connection);
    found
}

fn faults(connection: &Connection) -> Vec<String> {
    let ask = || -> rusqlite::Result<Vec<String>> {
        let mut statement = connection.prepare(&format!("PRAGMA integrity_check({FAULTS_TOLD})"))?;
        let mut rows = statement.query([])?;
        let mut told = Vec::new();
        while let Some(row) = rows.next()? {
            told.push(row.get::<_, String>(0)?);
        }
        Ok(told)
    };
    match ask() {
        Ok(told) if told == ["ok"] => Vec::new(),
        Ok(told) => told,
        Err(error) => vec![error.to_string()],
    }
}

type Day = (i64, i64, Option<DaySum>);

fn days(connection: &Connection) -> rusqlite::Result<Vec<Day>> {
    if !has_sums(connection) {
        return Ok(Vec::new());
    }
    let mut statement = connection.prepare("SELECT probe_id, day, readings, sum_c_e4, digest FROM day_sum")?;
    let day = |row: &rusqlite::Row<'_>| {
        let sum = match (row.get(2)?, row.get(3)?, row.get(4)?) {
            (Some(readings), Some(sum_c_e4), Some(digest)) => Some(DaySum { readings, sum_c_e4, digest }),
            _ => None,
        };
        Ok((row.get(0)?, row.get(1)?, sum))
    };
    statement.query_map([], day)?.collect()
}

/// Days with readings that nobody noted when readings were added.
fn stray(connection: &Connection) -> rusqlite::Result<Vec<(i64, i64)>> {
    if !has_sums(connection) {
        return Ok(Vec::new());
    }
    let mut statement = connection.prepare(&format!(
        "SELECT DISTINCT probe_id, time_us / {DAY_US} - (time_us % {DAY_US} < 0) FROM reading EXCEPT SELECT probe_id, day FROM day_sum"
    ))?;
    statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
}

/// Whether the file is of a version with sums.
pub(super) fn has_sums(connection: &Connection) -> bool {
    connection.prepare("SELECT 1 FROM day_sum, table_sum, care_note").is_ok()
}

fn damaged(connection: &Connection, probe_id: i64, day: i64, written: Option<DaySum>, found: Option<DaySum>) -> DamagedDay {
    let name = connection.query_row("SELECT name FROM probe WHERE probe_id = ?1", [probe_id], |row| row.get::<_, String>(0));
    DamagedDay {
        probe: name.unwrap_or_else(|_| format!("number {probe_id}")),
        day: time_from_micros(day.saturating_mul(DAY_US)).unwrap_or(Time::UNIX_EPOCH),
        written,
        found,
    }
}

/// The tables that a backup's sums are of: all but the readings, which have their own, and the sums themselves.
pub(super) fn summed_tables(connection: &Connection) -> rusqlite::Result<Vec<String>> {
    let mut statement = connection.prepare(
        "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite%' AND name NOT IN ('reading', 'table_sum')
         ORDER BY name",
    )?;
    statement.query_map([], |row| row.get(0))?.collect()
}

/// How many rows a table has, and a digest of them all, in whatever order its key gives.
pub(super) fn table_sum(connection: &Connection, table: &str) -> rusqlite::Result<(i64, i64)> {
    let mut statement = connection.prepare(&format!("SELECT * FROM \"{table}\""))?;
    let columns = statement.column_count();
    let mut rows = statement.query([])?;
    let (mut count, mut hasher) = (0, SipHasher13::new());
    while let Some(row) = rows.next()? {
        count += 1;
        for column in 0..columns {
            let (kind, bytes): (u8, &[u8]) = match row.get_ref(column)? {
                ValueRef::Null => (0, &[]),
                ValueRef::Integer(value) => (1, &value.to_le_bytes()),
                ValueRef::Real(value) => (2, &value.to_le_bytes()),
                ValueRef::Text(text) => (3, text),
                ValueRef::Blob(blob) => (4, blob),
            };
            hasher.write_u8(kind);
            hasher.write(&(bytes.len() as u64).to_le_bytes());
            hasher.write(bytes);
        }
    }
    Ok((count, hasher.finish().cast_signed()))
}

fn changed_tables(connection: &Connection) -> Vec<String> {
    let written = |table: &str| {
        connection
            .query_row("SELECT rows, digest FROM table_sum WHERE name = ?1", [table], |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()
    };
    if !is_sealed(connection) {
        return Vec::new();
    }
    let tables = summed_tables(connection).unwrap_or_default();
    let same =
        |table: &String| matches!((written(table), table_sum(connection, table)), (Ok(Some(sum)), Ok(there)) if sum == there);
    tables.into_iter().filter(|table| !same(table)).collect()
}

/// Whether it is a backup that was not opened as a bench since.
pub(super) fn is_sealed(connection: &Connection) -> bool {
    connection.query_row("SELECT EXISTS (SELECT 1 FROM table_sum)", [], |row| row.get(0)).unwrap_or(false)
}
