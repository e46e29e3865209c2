//! Readings stamped as they arrived, which are never refused for their time.

use std::collections::HashMap;

use rusqlite::TransactionBehavior;

use super::readings::{Inserter, Taken, probe_of_line};
use super::{Store, StoreError};
use crate::bench::{Name, Reading};

impl Store {
    /// Stores readings that were stamped on arrival, in one transaction: after `Ok` all of them survive a loss of power.
    /// Where a probe's time is taken already, as after the clock was set back, the reading goes to the next free microsecond:
    /// two arrivals are two readings, however alike. In order of arrival, this keeps stamps strictly increasing.
    ///
    /// # Errors
    /// [`StoreError`]; nothing of the batch is stored then, and it may be offered again.
    pub fn append_arrivals(&mut self, batch: &[(Name, Reading)]) -> Result<(), StoreError> {
        let mut store = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            {
                let mut inserter = Inserter::new(&transaction)?;
                let mut known: HashMap<&Name, i64> = HashMap::new();
                for (probe, reading) in batch {
                    let id = match known.get(probe) {
                        Some(id) => *id,
                        None => *known.entry(probe).or_insert(probe_of_line(&transaction, probe)?),
                    };
                    let mut reading = *reading;
                    while !matches!(inserter.insert(id, &reading)?, Taken::Stored) {
                        reading.time_us = reading.time_us.saturating_add(1);
                    }
                }
            }
            transaction.commit()
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use crate::civil::Zone;
    use crate::store::BenchKind;

    fn at(time_us: i64, raw: i64) -> (Name, Reading) {
        (Name::new("p1").unwrap(), Reading { time_us, raw_c_e4: Some(raw), proof: Proof::Plain })
    }

    #[test]
    fn a_clock_set_back_loses_no_reading_and_keeps_their_order() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        store.append_arrivals(&[at(100, 1), at(101, 2)]).unwrap();
        store.append_arrivals(&[at(100, 1), at(100, 3), at(50, 4), at(50, 4)]).unwrap();
        let kept: Vec<_> = store
            .readings(&Name::new("p1").unwrap(), i64::MIN, i64::MAX)
            .unwrap()
            .iter()
            .map(|r| (r.time_us, r.raw_c_e4))
            .collect();
        let raw = |times: &[(i64, i64)]| times.iter().map(|(time, raw)| (*time, Some(*raw))).collect::<Vec<_>>();
        assert_eq!(kept, raw(&[(50, 4), (51, 4), (100, 1), (101, 2), (102, 1), (103, 3)]));
    }
}
