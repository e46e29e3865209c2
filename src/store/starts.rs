//! Starts of the computer that logs, and readings whose time is only known from there.

use rusqlite::{CachedStatement, Connection, OptionalExtension, Row, TransactionBehavior, params};

use super::kept::warmth_changed;
use super::readings::{Inserter, Taken, proof, proof_code};
use super::{Store, StoreError};
use crate::bench::{Anchor, AnchoredBy, ClockStep, Reading, UndatedStart};
use crate::civil::{Time, time_from_micros};

/// Why readings cannot be given the dates that were said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum NotDated {
    /// No start of this number has undated readings.
    Unknown,
    /// The last of them would lie in the future: then.
    InFuture(Time),
    /// The first would lie before the computer was started the time before: then.
    BeforeAnEarlierStart(Time),
    /// The last would lie after the computer was started again: then.
    AfterALaterStart(Time),
}

impl Store {
    /// When a start of the computer was, where that is on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn known_start(&self, start_id: &str) -> Result<Option<Anchor>, StoreError> {
        self.connection
            .query_row("SELECT began_us, began_by FROM computer_start WHERE boot_id = ?1", [start_id], anchor_of)
            .optional()
            .map(Option::flatten)
            .map_err(|source| self.failed(source, "reading"))
    }

    /// Whether readings of a start of the computer have dates; none where it is not on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn start_is_dated(&self, start_id: &str) -> Result<Option<bool>, StoreError> {
        self.connection
            .query_row("SELECT began_us IS NOT NULL FROM computer_start WHERE boot_id = ?1", [start_id], |row| row.get(0))
            .optional()
            .map_err(|source| self.failed(source, "reading"))
    }

    /// The time of the newest reading, in microseconds since 1970.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn newest_reading_us(&self) -> Result<Option<i64>, StoreError> {
        self.connection
            .query_row(&format!("SELECT {NEWEST}"), [], |row| row.get(0))
            .map_err(|source| self.failed(source, "reading"))
    }

    /// How many readings of a start of the computer have no dates.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn undated_readings(&self, start_id: &str) -> Result<u64, StoreError> {
        let sql = "SELECT count(*) FROM undated_reading WHERE start_id = (SELECT start_id FROM computer_start WHERE boot_id = ?1)";
        self.connection
            .query_row(sql, [start_id], |row| row.get::<_, i64>(0))
            .map(|count| u64::try_from(count).unwrap_or(0))
            .map_err(|source| self.failed(source, "reading"))
    }

    /// Every start of the computer that has undated readings, in their order.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn undated_starts(&self) -> Result<Vec<UndatedStart>, StoreError> {
        let mut starts: Vec<UndatedStart> = Vec::new();
        let sql = "SELECT s.start_id, s.boot_id, p.name, count(*), min(u.since_us), max(u.since_us),
                          max(ifnull(s.after_us, e.began_us), ifnull(e.began_us, s.after_us)),
                          (SELECT min(began_us) FROM computer_start l WHERE l.start_id > s.start_id)
                   FROM undated_reading u JOIN computer_start s USING (start_id) JOIN probe p USING (probe_id)
                   LEFT JOIN (SELECT a.start_id, max(b.began_us) AS began_us FROM computer_start a JOIN computer_start b
                              ON b.start_id < a.start_id GROUP BY a.start_id) e ON e.start_id = s.start_id
                   GROUP BY s.start_id, p.name ORDER BY s.start_id, p.name";
        self.each(sql, |row| {
            let (number, probe): (i64, String) = (self.get(row, 0)?, self.get(row, 2)?);
            let (probe, readings) = (self.name(&probe)?, usize::try_from(self.get::<i64>(row, 3)?).unwrap_or(0));
            let (first, last): (i64, i64) = (self.get(row, 4)?, self.get(row, 5)?);
            let time = |column| -> Result<Option<Time>, StoreError> {
                self.get::<Option<i64>>(row, column)?.map(|micros| self.time(micros)).transpose()
            };
            match starts.last_mut().filter(|start| start.number == number) {
                Some(start) => {
                    start.readings += readings;
                    start.probes.push(probe);
                    start.first_since_us = start.first_since_us.min(first);
                    start.last_since_us = start.last_since_us.max(last);
                }
                None => starts.push(UndatedStart {
                    number,
                    id: self.get(row, 1)?,
                    readings,
                    probes: vec![probe],
                    first_since_us: first,
                    last_since_us: last,
                    after: time(6)?,
                    before: time(7)?,
                }),
            }
            Ok(())
        })?;
        Ok(starts)
    }

    /// Gives the undated readings of a start of the computer their dates, the first of them having been made at `first`; says how
    /// many.
    ///
    /// # Errors
    /// [`StoreError`]; [`NotDated`] where that cannot have been, as of `now`. Nothing is changed then.
    pub fn date_by_hand(&mut self, number: i64, first: Time, now: Time) -> Result<Result<usize, NotDated>, StoreError> {
        let mut date = || -> rusqlite::Result<Result<usize, NotDated>> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let ask = |sql| transaction.query_row(sql, [number], |row| Ok((row.get(0)?, row.get(1)?)));
            let span = ask("SELECT min(since_us), max(since_us) FROM undated_reading WHERE start_id = ?1")?;
            let (Some(first_since_us), Some(last_since_us)): (Option<i64>, Option<i64>) = span else {
                return Ok(Err(NotDated::Unknown));
            };
            let began_us = first.timestamp_micros().saturating_sub(first_since_us);
            let (earlier, later): (Option<i64>, Option<i64>) =
                ask("SELECT (SELECT max(began_us) FROM computer_start WHERE start_id < ?1),
                        (SELECT min(began_us) FROM computer_start WHERE start_id > ?1)")?;
            let time = |micros| time_from_micros(micros).unwrap_or(now);
            let last_us = began_us.saturating_add(last_since_us);
            if last_us > now.timestamp_micros() {
                return Ok(Err(NotDated::InFuture(time(last_us))));
            }
            if let Some(earlier) = earlier.filter(|earlier| began_us < *earlier) {
                return Ok(Err(NotDated::BeforeAnEarlierStart(time(earlier))));
            }
            if let Some(later) = later.filter(|later| last_us > *later) {
                return Ok(Err(NotDated::AfterALaterStart(time(later))));
            }
            let anchor = Anchor { began_us, by: AnchoredBy::Grower };
            transaction.execute(
                "UPDATE computer_start SET began_us = ?2, began_by = ?3 WHERE start_id = ?1",
                params![number, began_us, code_of(anchor.by)],
            )?;
            let dated = self::date(&transaction, number, anchor)?;
            transaction.commit()?;
            Ok(Ok(dated))
        };
        date().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }

    /// When the clock was set from `from` until `until`, while readings were dated by it.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn clock_steps(&self, from: Time, until: Time) -> Result<Vec<ClockStep>, StoreError> {
        let read = || -> rusqlite::Result<Vec<ClockStep>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT since_us, time_us, ahead_us, followed FROM clock_event WHERE time_us > ?1 AND time_us <= ?2
                 ORDER BY start_id, since_us",
            )?;
            let rows = statement.query_map([from.timestamp_micros(), until.timestamp_micros()], |row| {
                Ok(ClockStep { since_us: row.get(0)?, time_us: row.get(1)?, ahead_us: row.get(2)?, followed: row.get(3)? })
            })?;
            rows.collect()
        };
        read().map_err(|source| self.failed(source, "reading"))
    }
}

/// Each a search at one end of the key, not a scan.
const NEWEST: &str = "(SELECT max((SELECT max(time_us) FROM reading r WHERE r.probe_id = p.probe_id)) FROM probe p)";

/// Puts a start of the computer on record, with when it was as far as is known; gives its number. Nothing is written where nothing
/// of it has changed.
pub(super) fn keep(connection: &Connection, start_id: &str, anchor: Option<Anchor>) -> rusqlite::Result<i64> {
    let known = connection
        .prepare_cached("SELECT began_us, began_by, start_id FROM computer_start WHERE boot_id = ?1")?
        .query_row([start_id], |row| Ok((anchor_of(row)?, row.get::<_, i64>(2)?)))
        .optional()?;
    match known {
        Some((kept, number)) if anchor.is_none() || anchor == kept => Ok(number),
        Some((_, number)) => connection
            .prepare_cached("UPDATE computer_start SET began_us = ?2, began_by = ?3 WHERE start_id = ?1")?
            .execute(params![number, anchor.map(|anchor| anchor.began_us), anchor.map(|anchor| code_of(anchor.by))])
            .map(|_| number),
        None => connection
            .prepare_cached(&format!(
                "INSERT INTO computer_start (boot_id, began_us, began_by, after_us) VALUES (?1, ?2, ?3, {NEWEST})
                 RETURNING start_id"
            ))?
            .query_row(params![start_id, anchor.map(|anchor| anchor.began_us), anchor.map(|anchor| code_of(anchor.by))], |row| {
                row.get(0)
            }),
    }
}

/// Keeps that the clock was set; once, however often it is offered.
pub(super) fn keep_steps(connection: &Connection, start: i64, steps: &[ClockStep]) -> rusqlite::Result<()> {
    let mut insert = connection.prepare_cached(
        "INSERT INTO clock_event (start_id, since_us, time_us, ahead_us, followed) VALUES (?1, ?2, ?3, ?4, ?5)
         ON CONFLICT DO NOTHING",
    )?;
    for step in steps {
        insert.execute(params![start, step.since_us, step.time_us, step.ahead_us, step.followed])?;
    }
    Ok(())
}

/// Brings the undated readings of a start over to the others, in order; says how many.
pub(super) fn date(connection: &Connection, start: i64, anchor: Anchor) -> rusqlite::Result<usize> {
    let mut ask = connection.prepare_cached(
        "SELECT probe_id, since_us, raw_c_e4, proof FROM undated_reading WHERE start_id = ?1 ORDER BY probe_id, since_us",
    )?;
    let mut inserter = Inserter::new(connection)?;
    let mut rows = ask.query([start])?;
    let (mut dated, mut earliest_us) = (0, i64::MAX);
    while let Some(row) = rows.next()? {
        let mut reading = Reading { time_us: anchor.date(row.get(1)?), raw_c_e4: row.get(2)?, proof: proof(row.get(3)?)? };
        while !matches!(inserter.insert(row.get(0)?, &reading)?, Taken::Stored) {
            reading.time_us = reading.time_us.saturating_add(1);
        }
        earliest_us = earliest_us.min(reading.time_us);
        dated += 1;
    }
    drop(rows);
    if dated > 0 {
        connection.prepare_cached("DELETE FROM undated_reading WHERE start_id = ?1")?.execute([start])?;
        warmth_changed(connection, earliest_us)?;
    }
    Ok(dated)
}

/// Stores undated readings one by one within somebody's transaction.
pub(super) struct UndatedInserter<'a> {
    start: i64,
    insert: CachedStatement<'a>,
    ask: CachedStatement<'a>,
}

impl<'a> UndatedInserter<'a> {
    pub(super) fn new(connection: &'a Connection, start: i64) -> rusqlite::Result<Self> {
        Ok(Self {
            start,
            insert: connection.prepare_cached(
                "INSERT INTO undated_reading (start_id, probe_id, since_us, raw_c_e4, proof) VALUES (?1, ?2, ?3, ?4, ?5)
                 ON CONFLICT DO NOTHING",
            )?,
            ask: connection.prepare_cached(
                "SELECT since_us, raw_c_e4, proof FROM undated_reading WHERE start_id = ?1 AND probe_id = ?2 AND since_us = ?3",
            )?,
        })
    }

    pub(super) fn insert(&mut self, probe_id: i64, reading: &Reading) -> rusqlite::Result<Taken> {
        let values = params![self.start, probe_id, reading.time_us, reading.raw_c_e4, proof_code(reading.proof)];
        if self.insert.execute(values)? == 1 {
            return Ok(Taken::Stored);
        }
        let there = self.ask.query_row(params![self.start, probe_id, reading.time_us], |row| {
            Ok(Reading { time_us: row.get(0)?, raw_c_e4: row.get(1)?, proof: proof(row.get(2)?)? })
        })?;
        Ok(if there == *reading { Taken::Alike } else { Taken::Other(there) })
    }
}

fn anchor_of(row: &Row<'_>) -> rusqlite::Result<Option<Anchor>> {
    let (began_us, by): (Option<i64>, Option<i64>) = (row.get(0)?, row.get(1)?);
    let by = match by {
        None => None,
        Some(0) => Some(AnchoredBy::Plausible),
        Some(1) => Some(AnchoredBy::Vouched),
        Some(2) => Some(AnchoredBy::Synchronised),
        Some(3) => Some(AnchoredBy::Grower),
        Some(code) => return Err(rusqlite::Error::IntegralValueOutOfRange(1, code)),
    };
    Ok(began_us.zip(by).map(|(began_us, by)| Anchor { began_us, by }))
}

fn code_of(by: AnchoredBy) -> i64 {
    match by {
        AnchoredBy::Plausible => 0,
        AnchoredBy::Vouched => 1,
        AnchoredBy::Synchronised => 2,
        AnchoredBy::Grower => 3,
    }
}

#[cfg(test)]
impl Store {
    /// Every undated reading as (start, probe, microseconds since it, 1/10 000 °C), in this order.
    pub(crate) fn undated_rows(&self) -> Vec<(i64, String, i64, i64)> {
        let mut rows = Vec::new();
        let sql = "SELECT start_id, name, since_us, raw_c_e4 FROM undated_reading JOIN probe USING (probe_id)
                   ORDER BY start_id, probe_id, since_us";
        self.each(sql, |row| {
            rows.push((self.get(row, 0)?, self.get(row, 1)?, self.get(row, 2)?, self.get(row, 3)?));
            Ok(())
        })
        .unwrap();
        rows
    }
}
