//! What is known of the sources that a logger reads.

use std::collections::{BTreeMap, BTreeSet};

use rusqlite::{OptionalExtension, TransactionBehavior, params};

use super::{Store, StoreError};
use crate::bench::Name;
use crate::diagnosis::SourceStatus;

/// As many probes are remembered of each source: more than a bus carries, and a bound, because garbage makes names too.
const MOST_PROBES: usize = 1000;

/// What is known of one source.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct KnownSource {
    /// Its name.
    pub name: String,
    /// How it stands.
    pub state: Option<SourceStatus>,
    /// The speed that was found, in bits a second.
    pub baud: Option<u32>,
    /// Which device it is.
    pub device: Option<String>,
    /// The probes it brought by their names in its lines, with the names under which they are kept.
    pub probes: BTreeMap<Name, Name>,
}

impl KnownSource {
    /// Remembers a probe, while there is room; says whether it was new.
    pub fn remember(&mut self, line_name: &Name, kept_as: &Name) -> bool {
        let room = self.probes.len() < MOST_PROBES;
        room && self.probes.insert(line_name.clone(), kept_as.clone()).is_none()
    }
}

impl Store {
    /// Every source that was ever read.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn known_sources(&self) -> Result<Vec<KnownSource>, StoreError> {
        let mut sources: BTreeMap<i64, KnownSource> = BTreeMap::new();
        self.each("SELECT source_id, name, baud, device, state, words, next, since_us FROM source", |row| {
            let name: String = self.get(row, 1)?;
            let status = |state: Option<String>| -> Result<Option<SourceStatus>, StoreError> {
                let (words, since): (Option<String>, Option<i64>) = (self.get(row, 5)?, self.get(row, 7)?);
                let Some(((state, words), since)) = state.zip(words).zip(since) else { return Ok(None) };
                let next = self.get(row, 6)?;
                Ok(Some(SourceStatus { source: name.clone(), state, words, next, since: self.time(since)? }))
            };
            let state = status(self.get(row, 4)?)?;
            let baud = self.get::<Option<i64>>(row, 2)?.and_then(|baud| u32::try_from(baud).ok());
            let device = self.get(row, 3)?;
            sources.insert(self.get(row, 0)?, KnownSource { name, state, baud, device, probes: BTreeMap::new() });
            Ok(())
        })?;
        self.each("SELECT source_id, line_name, kept_as FROM source_probe", |row| {
            let (line_name, kept_as) = (self.name(&self.get::<String>(row, 1)?)?, self.name(&self.get::<String>(row, 2)?)?);
            if let Some(source) = sources.get_mut(&self.get::<i64>(row, 0)?) {
                source.probes.insert(line_name, kept_as);
            }
            Ok(())
        })?;
        Ok(sources.into_values().collect())
    }

    /// How it stands with the sources that the logger reads which began last.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn sources_read_now(&self) -> Result<Vec<SourceStatus>, StoreError> {
        let mut names = BTreeSet::new();
        self.each("SELECT name FROM source WHERE read_now = 1", |row| {
            names.insert(self.get::<String>(row, 0)?);
            Ok(())
        })?;
        let known = self.known_sources()?.into_iter().filter(|source| names.contains(&source.name));
        Ok(known.filter_map(|source| source.state).collect())
    }

    /// Keeps what is known of sources; those of `read_now`, and no others, are read by the logger that runs.
    ///
    /// # Errors
    /// [`StoreError`]; nothing is kept then.
    pub fn keep_sources(&mut self, changed: &[&KnownSource], read_now: &[String]) -> Result<(), StoreError> {
        let mut store = || -> rusqlite::Result<()> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            for source in changed {
                let state = source.state.as_ref();
                transaction
                    .prepare_cached(
                        "INSERT INTO source (name, read_now, state, words, next, since_us, baud, device)
                         VALUES (?1, 0, ?2, ?3, ?4, ?5, ?6, ?7)
                         ON CONFLICT (name) DO UPDATE SET state = excluded.state,
                           words = excluded.words, next = excluded.next, since_us = excluded.since_us,
                           baud = ifnull(excluded.baud, baud), device = ifnull(excluded.device, device)",
                    )?
                    .execute(params![
                        source.name,
                        state.map(|state| &state.state),
                        state.map(|state| &state.words),
                        state.and_then(|state| state.next.as_ref()),
                        state.map(|state| state.since.timestamp_micros()),
                        source.baud,
                        source.device
                    ])?;
                for (line_name, kept_as) in &source.probes {
                    transaction
                        .prepare_cached(
                            "INSERT INTO source_probe (source_id, line_name, kept_as)
                             SELECT source_id, ?2, ?3 FROM source WHERE name = ?1
                             ON CONFLICT (source_id, line_name) DO UPDATE SET kept_as = excluded.kept_as",
                        )?
                        .execute(params![source.name, line_name.as_str(), kept_as.as_str()])?;
                }
            }
            transaction.execute("UPDATE source SET read_now = 0 WHERE read_now = 1", [])?;
            for name in read_now {
                transaction.prepare_cached("UPDATE source SET read_now = 1 WHERE name = ?1")?.execute([name])?;
            }
            transaction.commit()
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }

    /// Every probe's name, and the one its lines carry where that is another.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn probe_names(&self) -> Result<Vec<(Name, Option<Name>)>, StoreError> {
        let mut names = Vec::new();
        self.each("SELECT name, line_name FROM probe ORDER BY name", |row| {
            let line_name: Option<String> = self.get(row, 1)?;
            let line_name = line_name.map(|name| self.name(&name)).transpose()?;
            names.push((self.name(&self.get::<String>(row, 0)?)?, line_name));
            Ok(())
        })?;
        Ok(names)
    }

    /// Has lines that carry `line_name` belong to the probe whose lines carried `before`, unless they belong to one already; says
    /// whether there was such a probe.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn lines_go_on_as(&mut self, before: &Name, line_name: &Name) -> Result<bool, StoreError> {
        let mut store = || -> rusqlite::Result<bool> {
            let transaction = self.connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
            let taken: Option<i64> = transaction
                .query_row("SELECT 1 FROM probe WHERE ?1 IN (name, line_name)", [line_name.as_str()], |row| row.get(0))
                .optional()?;
            let changed = match taken {
                Some(_) => 0,
                None => transaction.execute(
                    "UPDATE probe SET line_name = ?2 WHERE line_name = ?1 OR (name = ?1 AND line_name IS NULL)",
                    params![before.as_str(), line_name.as_str()],
                )?,
            };
            transaction.commit()?;
            Ok(changed > 0)
        };
        store().map_err(|source| StoreError::from_sql(source, &self.path, "writing to"))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Proof, Reading, Stamp};
    use crate::civil::{Time, Zone};
    use crate::store::BenchKind;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    #[test]
    fn what_is_known_of_sources_comes_back_and_only_those_read_now_are_told() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let state = |source: &str| SourceStatus {
            source: source.to_owned(),
            state: "busy".to_owned(),
            words: "another program is using it".to_owned(),
            next: Some("close it".to_owned()),
            since: Time::UNIX_EPOCH,
        };
        let mut first = KnownSource { name: "a".to_owned(), state: Some(state("a")), baud: Some(9600), ..KnownSource::default() };
        assert!(first.remember(&name("p1"), &name("p1 at a")) && !first.remember(&name("p1"), &name("p1 at a")));
        let second = KnownSource { name: "b".to_owned(), state: Some(state("b")), ..KnownSource::default() };
        store.keep_sources(&[&first, &second], &["a".to_owned(), "b".to_owned()]).unwrap();
        assert_eq!(store.known_sources().unwrap(), [first.clone(), second.clone()]);
        let unknown_again = KnownSource { baud: None, ..first.clone() };
        store.keep_sources(&[&unknown_again], &["b".to_owned()]).unwrap();
        assert_eq!(store.known_sources().unwrap()[0].baud, Some(9600), "what was found out is not forgotten");
        assert_eq!(store.sources_read_now().unwrap(), [state("b")]);
    }

    #[test]
    fn a_probe_named_after_its_port_keeps_its_history_when_the_port_gets_a_name_that_stays() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let at = |time_us| Reading { time_us, raw_c_e4: Some(1), proof: Proof::Plain };
        let (old, new) = (name("ttyUSB0"), name("serial/by-path/usb-1"));
        assert!(!store.lines_go_on_as(&old, &new).unwrap(), "there is none yet");
        store.append_arrivals(&[(old.clone(), at(1), Stamp::Arrival)]).unwrap();
        assert!(store.lines_go_on_as(&old, &new).unwrap());
        assert!(!store.lines_go_on_as(&old, &new).unwrap(), "done once");
        store.append_arrivals(&[(new, at(2), Stamp::Arrival)]).unwrap();
        assert_eq!(store.readings(&old, 0, 10).unwrap().len(), 2);
        assert_eq!(store.probe_names().unwrap().len(), 1);
    }
}
