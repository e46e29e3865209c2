//! How it stands with what is watched, and how telling of it went.

use rusqlite::{TransactionBehavior, params};

use super::readings::proof;
use super::{Store, StoreError};
use crate::bench::{AlarmKind, Event as Sprouting, Name, Reading};
use crate::civil::Time;
use crate::diagnosis::alarms::{AlarmState, Delivery, Event};

/// In the place of a kind where a delivery was a test.
const TEST: &str = "test";

impl Store {
    /// How everything that is watched stood when the logger last looked.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alarms(&self) -> Result<Vec<AlarmState>, StoreError> {
        let mut states = Vec::new();
        let sql = "SELECT kind, subject, looked_us, over_us, under_us, worst_c, limit_c, since_us, ended_us, told_us, told_end_us, seen_us
                   FROM alarm ORDER BY kind, subject";
        self.each(sql, |row| {
            let word: String = self.get(row, 0)?;
            // Of a kind that this program does not know nothing can be said.
            let Some(kind) = AlarmKind::from_word(&word) else { return Ok(()) };
            states.push(AlarmState {
                kind,
                subject: self.name(&self.get::<String>(row, 1)?)?,
                looked: self.time(self.get(row, 2)?)?,
                over: self.optional_time(row, 3)?,
                under: self.optional_time(row, 4)?,
                worst_c: self.get(row, 5)?,
                limit_c: self.get(row, 6)?,
                since: self.optional_time(row, 7)?,
                ended: self.optional_time(row, 8)?,
                told: self.optional_time(row, 9)?,
                told_end: self.optional_time(row, 10)?,
                seen: self.optional_time(row, 11)?,
            });
            Ok(())
        })?;
        Ok(states)
    }

    /// The last delivery of each alarm by each way, and of tests.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn deliveries(&self) -> Result<Vec<Delivery>, StoreError> {
        let mut deliveries = Vec::new();
        let sql = "SELECT kind, subject, way, ended, tries, tried_us, next_us, failure, answer FROM alarm_delivery ORDER BY kind, subject, way";
        self.each(sql, |row| {
            let word: String = self.get(row, 0)?;
            let kind = AlarmKind::from_word(&word);
            if kind.is_none() && word != TEST {
                return Ok(());
            }
            deliveries.push(Delivery {
                kind,
                subject: self.name(&self.get::<String>(row, 1)?)?,
                way: self.get(row, 2)?,
                event: if self.get::<i64>(row, 3)? == 0 { Event::Begun } else { Event::Ended },
                tries: self.get(row, 4)?,
                tried: self.optional_time(row, 5)?,
                next: self.optional_time(row, 6)?,
                failure: self.get(row, 7)?,
                answer: self.get(row, 8)?,
            });
            Ok(())
        })?;
        Ok(deliveries)
    }

    /// Puts on record how everything that is watched stands, and deliveries, all of it or none. What the grower said was seen stays so.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_alarms(&mut self, states: &[AlarmState], deliveries: &[Delivery]) -> Result<(), StoreError> {
        let micros = |time: Option<Time>| time.map(|time| time.timestamp_micros());
        let path = self.path.clone();
        let mut keep = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let mut on_record: Vec<(String, String)> = {
                let mut ask = transaction.prepare_cached("SELECT kind, subject FROM alarm")?;
                let rows = ask.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?;
                rows.collect::<rusqlite::Result<_>>()?
            };
            for state in states {
                let (kind, subject) = (state.kind.word(), state.subject.as_str());
                on_record.retain(|known| (known.0.as_str(), known.1.as_str()) != (kind, subject));
                transaction
                    .prepare_cached(
                        "INSERT INTO alarm (kind, subject, looked_us, over_us, under_us, worst_c, limit_c, since_us, ended_us, told_us,
                                            told_end_us, seen_us)
                         VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10, ?11, ?12)
                         ON CONFLICT DO UPDATE SET looked_us = ?3, over_us = ?4, under_us = ?5, worst_c = ?6, limit_c = ?7,
                             seen_us = CASE WHEN since_us IS ?8 THEN ifnull(?12, seen_us) ELSE ?12 END,
                             since_us = ?8, ended_us = ?9, told_us = ?10, told_end_us = ?11",
                    )?
                    .execute(params![
                        kind,
                        subject,
                        state.looked.timestamp_micros(),
                        micros(state.over),
                        micros(state.under),
                        state.worst_c,
                        state.limit_c,
                        micros(state.since),
                        micros(state.ended),
                        micros(state.told),
                        micros(state.told_end),
                        micros(state.seen),
                    ])?;
            }
            for (kind, subject) in on_record {
                transaction.execute("DELETE FROM alarm WHERE kind = ?1 AND subject = ?2", [&kind, &subject])?;
                transaction.execute("DELETE FROM alarm_delivery WHERE kind = ?1 AND subject = ?2", [&kind, &subject])?;
            }
            for delivery in deliveries {
                transaction
                    .prepare_cached("INSERT OR REPLACE INTO alarm_delivery VALUES (?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9)")?
                    .execute(params![
                        delivery.kind.map_or(TEST, AlarmKind::word),
                        delivery.subject.as_str(),
                        delivery.way,
                        i64::from(delivery.event == Event::Ended),
                        delivery.tries,
                        micros(delivery.tried),
                        micros(delivery.next),
                        delivery.failure,
                        delivery.answer,
                    ])?;
            }
            transaction.commit()
        };
        keep().map_err(|source| StoreError::from_sql(source, &path, "writing to"))
    }

    /// Puts how a test went on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn keep_test(&mut self, test: &Delivery) -> Result<(), StoreError> {
        let states = self.alarms()?;
        self.keep_alarms(&states, std::slice::from_ref(test))
    }

    /// Notes that alarms were seen: those of one subject, or all that are present. Gives how many.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn alarms_are_seen(&mut self, subject: Option<&Name>, now: Time) -> Result<usize, StoreError> {
        self.connection
            .execute(
                "UPDATE alarm SET seen_us = ?1
                 WHERE since_us IS NOT NULL AND ended_us IS NULL AND seen_us IS NULL AND (?2 IS NULL OR subject = ?2)",
                params![now.timestamp_micros(), subject.map(Name::as_str)],
            )
            .map_err(|source| self.failed(source, "writing to"))
    }

    /// A probe's last readings from `from_us` on, at most `most`, in order of time.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_readings(&self, probe: &Name, from_us: i64, most: usize) -> Result<Vec<Reading>, StoreError> {
        let ask = || -> rusqlite::Result<Vec<Reading>> {
            let mut statement = self.connection.prepare_cached(
                "SELECT time_us, raw_c_e4, proof FROM reading
                 WHERE probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND time_us >= ?2 ORDER BY time_us DESC LIMIT ?3",
            )?;
            let most = i64::try_from(most).unwrap_or(i64::MAX);
            let rows = statement.query_map(params![probe.as_str(), from_us, most], |row| {
                Ok(Reading { time_us: row.get(0)?, raw_c_e4: row.get(1)?, proof: proof(row.get(2)?)? })
            })?;
            rows.collect()
        };
        let mut readings = ask().map_err(|source| self.failed(source, "reading"))?;
        readings.reverse();
        Ok(readings)
    }

    /// Every fit kept, the newest first: species, event, bytes.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn kept_fits(&self) -> Result<Vec<(Name, Sprouting, Vec<u8>)>, StoreError> {
        let mut fits = Vec::new();
        self.each("SELECT species, event, body FROM kept_fit ORDER BY fit_id DESC", |row| {
            let (species, event): (String, String) = (self.get(row, 0)?, self.get(row, 1)?);
            if let Some(event) = Sprouting::from_word(&event) {
                fits.push((self.name(&species)?, event, self.get(row, 2)?));
            }
            Ok(())
        })?;
        Ok(fits)
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::{Zone, time_from_micros};
    use crate::store::BenchKind;

    #[test]
    fn states_and_deliveries_come_back_as_they_were_and_what_was_seen_stays_seen() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let mut store = Store::create(&path, Zone::UTC, BenchKind::Own).unwrap();
        let at = |us| time_from_micros(us).unwrap();
        let state = AlarmState {
            over: Some(at(1)),
            worst_c: Some(33.2),
            limit_c: Some(32.5),
            since: Some(at(2)),
            told: Some(at(3)),
            ..AlarmState::new(AlarmKind::TooHot, Name::new("mat").unwrap(), at(4))
        };
        let mut delivery =
            Delivery::due(Some(AlarmKind::TooHot), Name::new("mat").unwrap(), "mail".to_owned(), Event::Begun, at(5));
        delivery.tried(Err("no answer".to_owned()), at(6));
        store.keep_alarms(std::slice::from_ref(&state), std::slice::from_ref(&delivery)).unwrap();
        drop(store);
        let mut store = Store::open(&path).unwrap();
        assert_eq!((store.alarms().unwrap(), store.deliveries().unwrap()), (vec![state.clone()], vec![delivery]));
        assert_eq!(store.alarms_are_seen(Some(&Name::new("shelf").unwrap()), at(7)).unwrap(), 0);
        assert_eq!(store.alarms_are_seen(None, at(7)).unwrap(), 1);
        store.keep_alarms(std::slice::from_ref(&state), &[]).unwrap();
        assert_eq!(store.alarms().unwrap()[0].seen, Some(at(7)), "whoever writes it anew may not know yet");
        let again = AlarmState { since: Some(at(9)), ..state };
        store.keep_alarms(&[again], &[]).unwrap();
        assert_eq!(store.alarms().unwrap()[0].seen, None, "another time is another alarm");
        store.keep_alarms(&[], &[]).unwrap();
        assert_eq!((store.alarms().unwrap().len(), store.deliveries().unwrap().len()), (0, 0));
    }
}
