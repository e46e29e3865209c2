//! Sums over each probe's days, by which a changed value is found: a flipped bit leaves a file that SQLite itself calls whole in
//! about a quarter of all cases.

use std::collections::HashSet;
use std::hash::Hasher;

use rusqlite::{Connection, OptionalExtension, TransactionBehavior, params};
use siphasher::sip::SipHasher13;

use super::{Store, StoreError};
use crate::civil::Time;

/// Microseconds of a day, whole days from 1970 in UTC.
pub(super) const DAY_US: i64 = 86_400_000_000;
/// What stands in a digest for a reading without a number, which no reading can be.
const NO_NUMBER: i64 = i64::MIN;

/// What a day's readings come to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct DaySum {
    /// How many.
    pub readings: i64,
    /// The sum of the raw values, in 1/10 000 °C.
    pub sum_c_e4: i64,
    /// SipHash-1-3 with key 0 over time, value and proof of each in order of time, 8 bytes each, little-endian.
    pub(super) digest: i64,
}

impl DaySum {
    /// The digest.
    pub(super) fn digest(&self) -> i64 {
        self.digest
    }
}

/// The day of an instant.
pub(super) fn day_of(time_us: i64) -> i64 {
    time_us.div_euclid(DAY_US)
}

/// The days that somebody's transaction adds readings to; each is opened once.
pub(super) struct Opener<'a> {
    connection: &'a Connection,
    last: Option<(i64, i64)>,
    opened: HashSet<(i64, i64)>,
}

impl<'a> Opener<'a> {
    pub(super) fn new(connection: &'a Connection) -> Self {
        Self { connection, last: None, opened: HashSet::new() }
    }

    pub(super) fn added(&mut self, probe_id: i64, time_us: i64) -> rusqlite::Result<()> {
        let day = (probe_id, day_of(time_us));
        if self.last == Some(day) {
            return Ok(());
        }
        self.last = Some(day);
        if !self.opened.insert(day) {
            return Ok(());
        }
        // Where the day is open already, nothing is written.
        self.connection
            .prepare_cached(
                "INSERT INTO day_sum (probe_id, day) VALUES (?1, ?2)
                 ON CONFLICT DO UPDATE SET readings = NULL, sum_c_e4 = NULL, digest = NULL WHERE digest IS NOT NULL",
            )?
            .execute([day.0, day.1])
            .map(drop)
    }
}

/// What the readings of a probe on a day come to now; none where there are none.
pub(super) fn sum_of(connection: &Connection, probe_id: i64, day: i64) -> rusqlite::Result<Option<DaySum>> {
    let mut statement = connection.prepare_cached(
        "SELECT time_us, raw_c_e4, proof FROM reading WHERE probe_id = ?1 AND time_us >= ?2 AND time_us < ?3 ORDER BY time_us",
    )?;
    let from_us = day.saturating_mul(DAY_US);
    let mut rows = statement.query([probe_id, from_us, from_us.saturating_add(DAY_US)])?;
    let mut sum = DaySum { readings: 0, sum_c_e4: 0, digest: 0 };
    let mut hasher = SipHasher13::new();
    while let Some(row) = rows.next()? {
        let raw: Option<i64> = row.get(1)?;
        sum.readings += 1;
        // A damaged file may hold anything.
        sum.sum_c_e4 = sum.sum_c_e4.wrapping_add(raw.unwrap_or(0));
        for part in [row.get(0)?, raw.unwrap_or(NO_NUMBER), row.get(2)?] {
            hasher.write(&i64::to_le_bytes(part));
        }
    }
    sum.digest = hasher.finish().cast_signed();
    Ok((sum.readings > 0).then_some(sum))
}

/// Sums up days that are over by `before_day`, `most` of them, within somebody's transaction; says how many.
pub(super) fn close(connection: &Connection, before_day: i64, most: i64) -> rusqlite::Result<usize> {
    let mut closed = 0;
    let mut open = connection.prepare_cached("SELECT probe_id, day FROM day_sum WHERE digest IS NULL AND day < ?1 LIMIT ?2")?;
    let days: Vec<(i64, i64)> =
        open.query_map([before_day, most], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<rusqlite::Result<_>>()?;
    for (probe_id, day) in days {
        match sum_of(connection, probe_id, day)? {
            Some(sum) => connection
                .prepare_cached("UPDATE day_sum SET readings = ?3, sum_c_e4 = ?4, digest = ?5 WHERE probe_id = ?1 AND day = ?2")?
                .execute(params![probe_id, day, sum.readings, sum.sum_c_e4, sum.digest])?,
            // Its readings were dated anew.
            None => connection.prepare_cached("DELETE FROM day_sum WHERE probe_id = ?1 AND day = ?2")?.execute([probe_id, day])?,
        };
        closed += 1;
    }
    Ok(closed)
}

impl Store {
    /// Sums up days that are over by `now`, at most `most` of them, in one transaction; says how many. A reading that comes late
    /// opens its day again.
    ///
    /// # Errors
    /// [`StoreError`]; nothing was changed then.
    pub fn close_days(&mut self, now: Time, most: u32) -> Result<usize, StoreError> {
        let today = day_of(now.timestamp_micros());
        let any = "SELECT 1 FROM day_sum WHERE digest IS NULL AND day < ?1 LIMIT 1";
        let mut close_some = || -> rusqlite::Result<usize> {
            // Nearly always there is nothing to do, and then nobody need be kept from writing.
            if self.connection.prepare_cached(any)?.query_row([today], |_| Ok(())).optional()?.is_none() {
                return Ok(0);
            }
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let closed = close(&transaction, today, i64::from(most))?;
            transaction.commit()?;
            Ok(closed)
        };
        close_some().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::rules::Conflict;
    use crate::bench::{Name, Proof, Reading, Stamp};
    use crate::civil::{Zone, time_from_micros};
    use crate::store::BenchKind;

    fn reading(time_us: i64, raw: i64) -> Reading {
        Reading { time_us, raw_c_e4: Some(raw), proof: Proof::Plain }
    }

    fn days(store: &Store) -> Vec<(i64, Option<i64>, Option<i64>)> {
        let mut statement = store.connection.prepare("SELECT day, readings, sum_c_e4 FROM day_sum ORDER BY day").unwrap();
        statement.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?))).unwrap().map(Result::unwrap).collect()
    }

    #[test]
    fn a_day_is_summed_up_once_it_is_over_and_anew_when_a_reading_comes_late_or_is_replaced() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let p1 = Name::new("p1").unwrap();
        let arrived = |time_us, raw| (p1.clone(), reading(time_us, raw), Stamp::Arrival);
        let at = |days: i64| time_from_micros(days * DAY_US + 1).unwrap();
        store.append_arrivals(&[arrived(-1, 7), arrived(DAY_US - 1, 10), arrived(DAY_US, 20), arrived(DAY_US + 5, 30)]).unwrap();
        assert_eq!(days(&store), [(-1, None, None), (0, None, None), (1, None, None)]);
        assert_eq!(store.close_days(at(1), 100).unwrap(), 2);
        assert_eq!(days(&store), [(-1, Some(1), Some(7)), (0, Some(1), Some(10)), (1, None, None)]);
        assert_eq!(store.close_days(at(2), 100).unwrap(), 1);
        assert_eq!(store.close_days(at(2), 100).unwrap(), 0);
        store.append_arrivals(&[arrived(5, 4)]).unwrap();
        assert_eq!(days(&store), [(-1, Some(1), Some(7)), (0, None, None), (1, Some(2), Some(50))]);
        let mut change = store.change().unwrap();
        change.add_readings(&p1, &[reading(DAY_US, 21)], at(3), |_, _| Conflict::Replaced).unwrap();
        change.commit().unwrap();
        // What a change brings is summed up with it, and with that what was open.
        assert_eq!(days(&store), [(-1, Some(1), Some(7)), (0, Some(2), Some(14)), (1, Some(2), Some(51))]);
        // Readings that get other times, as when a clock is set right: both days are opened, and one without readings goes.
        store.connection.execute("UPDATE reading SET time_us = time_us + ?1 WHERE time_us >= ?1", [DAY_US]).unwrap();
        assert_eq!(days(&store), [(-1, Some(1), Some(7)), (0, Some(2), Some(14)), (1, None, None), (2, None, None)]);
        store.connection.execute("DELETE FROM reading WHERE time_us < 0", []).unwrap();
        assert_eq!(store.close_days(at(3), 100).unwrap(), 3);
        assert_eq!(days(&store), [(0, Some(2), Some(14)), (2, Some(2), Some(51))]);
    }

    #[test]
    fn a_digest_is_the_same_on_every_machine_and_tells_every_part_of_a_reading() {
        let folder = tempfile::tempdir().unwrap();
        let digest = |reading: Reading| {
            let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Demo).unwrap();
            store.append_arrivals(&[(Name::new("p1").unwrap(), reading, Stamp::Arrival)]).unwrap();
            let sum = sum_of(&store.connection, 1, 0).unwrap().unwrap();
            store.discard_demo().unwrap();
            sum.digest
        };
        let plain = digest(reading(1, 215_000));
        let others = [
            digest(reading(2, 215_000)),
            digest(reading(1, 215_001)),
            digest(Reading { raw_c_e4: None, ..reading(1, 0) }),
            digest(Reading { proof: Proof::PowerOn, ..reading(1, 215_000) }),
        ];
        assert!(others.iter().all(|other| *other != plain), "{plain}: {others:?}");
        // Worked out by the reference implementation's rounds in Python; see the comment of `DaySum::digest`.
        assert_eq!(plain, REFERENCE);
    }

    /// SipHash-1-3 (Aumasson and Bernstein 2012, https://doi.org/10.1007/978-3-642-34931-7_28), key 0, over 1, 215000 and 0.
    const REFERENCE: i64 = 5_172_295_716_206_868_772;
}
