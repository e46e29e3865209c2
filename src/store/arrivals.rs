//! Readings stamped as they arrived, which are never refused for their time.

use std::collections::HashMap;

use rusqlite::{Connection, TransactionBehavior};

use super::kept::warmth_changed;
use super::readings::{Inserter, Taken, probe_of_line};
use super::starts::{self, UndatedInserter};
use super::{Store, StoreError};
use crate::bench::{Anchor, ClockStep, Name, Reading, Stamp};

/// What a logger stores at a time.
#[derive(Debug, Clone, Copy)]
pub struct Logged<'a> {
    /// What the system calls the present start of the computer.
    pub start_id: &'a str,
    /// When that was, where it is known.
    pub anchor: Option<Anchor>,
    /// The clock was set.
    pub steps: &'a [ClockStep],
    /// Readings in order of arrival; undated ones get their dates on the way if `anchor` is known.
    pub readings: &'a [(Name, Reading, Stamp)],
    /// They were offered before, over another opening of the file, and may be on record already: what is alike is the same.
    pub again: bool,
}

/// What became of it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Kept {
    /// Readings that were on record already.
    pub repeated: usize,
    /// Undated readings of earlier that got their dates.
    pub dated: usize,
}

impl Store {
    /// Stores readings from ports, in one transaction: after `Ok` all of them survive a loss of power. Where a probe's time is
    /// taken already, as after the clock was set back, a reading stamped on arrival goes to the next free microsecond: two
    /// arrivals are two readings, however alike. In order of arrival, this keeps stamps strictly increasing. A reading with the
    /// time of its source that is on record already, alike, is the same one; it is not stored again. With another value it goes
    /// to the next free microsecond too. An undated one has no place here ([`Store::append_logged`]): it is left out.
    ///
    /// Says how many were on record already.
    ///
    /// # Errors
    /// [`StoreError`]; nothing of the batch is stored then, and it may be offered again.
    pub fn append_arrivals(&mut self, batch: &[(Name, Reading, Stamp)]) -> Result<usize, StoreError> {
        let mut store = || -> rusqlite::Result<usize> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let repeated = append(&transaction, batch, None, false)?;
            transaction.commit()?;
            Ok(repeated)
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }

    /// The same with what is known of the computer's clock: readings whose time is not known yet are stored by the time since the
    /// computer's start, apart from the others; once that start is known, all of it come over, in order, in this same transaction.
    ///
    /// # Errors
    /// As [`Store::append_arrivals`].
    pub fn append_logged(&mut self, logged: &Logged<'_>) -> Result<Kept, StoreError> {
        let mut store = || -> rusqlite::Result<Kept> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let start = starts::keep(&transaction, logged.start_id, logged.anchor)?;
            starts::keep_steps(&transaction, start, logged.steps)?;
            let dated = match logged.anchor {
                Some(anchor) => starts::date(&transaction, start, anchor)?,
                None => 0,
            };
            let repeated = append(&transaction, logged.readings, Some((start, logged.anchor)), logged.again)?;
            transaction.commit()?;
            Ok(Kept { repeated, dated })
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }
}

/// Appends readings, undated ones to those of the start with this number; says how many were on record already.
fn append(
    connection: &Connection,
    batch: &[(Name, Reading, Stamp)],
    start: Option<(i64, Option<Anchor>)>,
    again: bool,
) -> rusqlite::Result<usize> {
    let mut repeated = 0;
    let mut earliest_us = i64::MAX;
    let mut inserter = Inserter::new(connection)?;
    let mut undated = start.map(|(start, _)| UndatedInserter::new(connection, start)).transpose()?;
    let anchor = start.and_then(|(_, anchor)| anchor);
    let mut known: HashMap<&Name, i64> = HashMap::new();
    for (probe, reading, stamp) in batch {
        let id = match known.get(probe) {
            Some(id) => *id,
            None => *known.entry(probe).or_insert(probe_of_line(connection, probe)?),
        };
        let (time_us, stamp) = anchor.map_or((reading.time_us, *stamp), |anchor| anchor.dated(reading.time_us, *stamp));
        let mut reading = Reading { time_us, ..*reading };
        loop {
            let taken = match (stamp, &mut undated) {
                (Stamp::Undated, Some(undated)) => undated.insert(id, &reading)?,
                (Stamp::Undated, None) => break,
                _ => inserter.insert(id, &reading)?,
            };
            match taken {
                Taken::Stored => {
                    if stamp != Stamp::Undated {
                        earliest_us = earliest_us.min(reading.time_us);
                    }
                    break;
                }
                Taken::Alike if again || stamp == Stamp::Source => {
                    repeated += 1;
                    break;
                }
                Taken::Alike | Taken::Other(_) => reading.time_us = reading.time_us.saturating_add(1),
            }
        }
    }
    if earliest_us < i64::MAX {
        warmth_changed(connection, earliest_us)?;
    }
    Ok(repeated)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use crate::civil::Zone;
    use crate::store::BenchKind;

    fn at(time_us: i64, raw: i64) -> (Name, Reading, Stamp) {
        (Name::new("p1").unwrap(), Reading { time_us, raw_c_e4: Some(raw), proof: Proof::Plain }, Stamp::Arrival)
    }

    fn by_source(time_us: i64, raw: i64) -> (Name, Reading, Stamp) {
        let (name, reading, _) = at(time_us, raw);
        (name, reading, Stamp::Source)
    }

    fn kept(store: &Store) -> Vec<(i64, Option<i64>)> {
        let readings = store.readings(&Name::new("p1").unwrap(), i64::MIN, i64::MAX).unwrap();
        readings.iter().map(|reading| (reading.time_us, reading.raw_c_e4)).collect()
    }

    fn raw(times: &[(i64, i64)]) -> Vec<(i64, Option<i64>)> {
        times.iter().map(|(time, raw)| (*time, Some(*raw))).collect()
    }

    #[test]
    fn a_clock_set_back_loses_no_reading_and_keeps_their_order() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        store.append_arrivals(&[at(100, 1), at(101, 2)]).unwrap();
        store.append_arrivals(&[at(100, 1), at(100, 3), at(50, 4), at(50, 4)]).unwrap();
        assert_eq!(kept(&store), raw(&[(50, 4), (51, 4), (100, 1), (101, 2), (102, 1), (103, 3)]));
    }

    #[test]
    fn a_sources_own_time_and_value_are_stored_once_and_another_value_beside_it() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        assert_eq!(store.append_arrivals(&[by_source(100, 1), by_source(200, 2), by_source(100, 1)]).unwrap(), 1);
        assert_eq!(store.append_arrivals(&[by_source(200, 2), by_source(100, 3), by_source(100, 3)]).unwrap(), 2);
        assert_eq!(kept(&store), raw(&[(100, 1), (101, 3), (200, 2)]));
    }

    /// Seconds and values.
    type Rows = Vec<(i64, i64)>;

    /// Readings with their source's own times that come twice, late, in any order and in any batches: as a message queue that
    /// promises "at least once" brings them.
    fn brought() -> impl proptest::strategy::Strategy<Value = (Rows, Rows, usize)> {
        use proptest::prelude::*;
        prop::collection::vec((0_i64..40, 0_i64..3), 1..60).prop_flat_map(|rows| {
            let twice: Vec<_> = rows.iter().chain(rows.iter().step_by(2)).copied().collect();
            (Just(rows), Just(twice).prop_shuffle(), 1_usize..20)
        })
    }

    proptest::proptest! {
        #![proptest_config(proptest::prelude::ProptestConfig { cases: 24, rng_seed: proptest::test_runner::RngSeed::Fixed(40), failure_persistence: None, ..Default::default() })]
        /// Where all values of one time agree, any order leaves the very same readings, and so the very same answers; where they
        /// differ, each value stays, within as many microseconds of its time as there are other values.
        #[test]
        fn fault_40_repeated_and_disordered_readings_are_the_same_set_in_any_order((rows, shuffled, at_once) in brought()) {
            let stored = |rows: &[(i64, i64)], at_once: usize| {
                let folder = tempfile::tempdir().unwrap();
                let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
                for batch in rows.chunks(at_once) {
                    let batch: Vec<_> = batch.iter().map(|(second, raw)| by_source(second * 1_000_000, *raw)).collect();
                    store.append_arrivals(&batch).unwrap();
                }
                kept(&store)
            };
            let agreeing = |rows: &[(i64, i64)]| rows.iter().map(|(second, _)| (*second, second % 7)).collect::<Vec<_>>();
            proptest::prop_assert_eq!(stored(&agreeing(&rows), 1000), stored(&agreeing(&shuffled), at_once));
            let set = |rows: Vec<(i64, Option<i64>)>| {
                rows.iter().map(|(us, raw)| {
                    assert!(us % 1_000_000 < 3, "{us} is further off than there are other values");
                    (us / 1_000_000, raw.unwrap())
                }).collect::<Vec<_>>()
            };
            let sorted = |mut rows: Vec<(i64, i64)>| { rows.sort_unstable(); rows };
            let expected: std::collections::BTreeSet<_> = rows.iter().copied().collect();
            let expected: Vec<_> = expected.into_iter().collect();
            proptest::prop_assert_eq!(sorted(set(stored(&rows, 1000))), expected.clone());
            proptest::prop_assert_eq!(sorted(set(stored(&shuffled, at_once))), expected);
        }
    }
}
