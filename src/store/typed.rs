//! What was typed, command by command, so that the last can be taken back.

use rusqlite::{Connection, OptionalExtension, params};

use super::{Store, StoreError, restored, superseded};
use crate::bench::Name;
use crate::bench::rules::{BenchSetting, Entry, Key};
use crate::civil::{Time, time_from_micros};

const NAMED_SPOT: &str = "named spot";
const NAMED_PROBE: &str = "named probe";
/// In the place of a name, for a time away has none.
const AWAY: &str = "away";

/// One thing that a typed command did.
#[derive(Debug, Clone, PartialEq)]
pub enum Part {
    /// It put an entry on record.
    Entry {
        /// What names the entry.
        key: Key,
        /// What it took the place of; that may have been of another time.
        was: Option<Box<Entry>>,
    },
    /// It made a spot by naming it.
    NamedSpot(Name),
    /// It gave a probe another name.
    NamedProbe {
        /// Its name since.
        name: Name,
        /// Its name before.
        was: Name,
    },
}

/// A command that was typed and is still on record.
#[derive(Debug, Clone, PartialEq)]
pub struct Typed {
    /// Its number in the file.
    pub(super) id: i64,
    /// When it was typed.
    pub time: Time,
    /// What it did, in order.
    pub parts: Vec<Part>,
}

impl Typed {
    /// Its number in the file.
    #[must_use]
    pub fn number(&self) -> i64 {
        self.id
    }
}

/// Begins a command; gives its number.
pub(super) fn begin(connection: &Connection, now: Time) -> rusqlite::Result<i64> {
    connection
        .prepare_cached("INSERT INTO typed (time_us) VALUES (?1) RETURNING typed_id")?
        .query_row([now.timestamp_micros()], |row| row.get(0))
}

/// Notes that a command put an entry on record, in the place of what was superseded as `superseded_id`.
pub(super) fn entry(connection: &Connection, typed_id: i64, key: &Key, superseded_id: Option<i64>) -> rusqlite::Result<()> {
    let (part, name, time_us) = columns(key);
    connection
        .prepare_cached("INSERT INTO typed_part (typed_id, part, name, time_us, superseded_id) VALUES (?1, ?2, ?3, ?4, ?5)")?
        .execute(params![typed_id, part, name, time_us, superseded_id])
        .map(drop)
}

/// Notes that a command made a spot by naming it.
pub(super) fn named_spot(connection: &Connection, typed_id: i64, spot: &Name) -> rusqlite::Result<()> {
    connection
        .prepare_cached("INSERT INTO typed_part (typed_id, part, name) VALUES (?1, ?2, ?3)")?
        .execute(params![typed_id, NAMED_SPOT, spot.as_str()])
        .map(drop)
}

/// Notes that a command gave a probe another name; what is noted of the probe goes by that name from now on.
pub(super) fn named_probe(connection: &Connection, typed_id: Option<i64>, was: &Name, name: &Name) -> rusqlite::Result<()> {
    connection.execute(
        "UPDATE typed_part SET name = ?2 WHERE name = ?1 AND part IN ('placement', 'doubt', 'limits')",
        [was.as_str(), name.as_str()],
    )?;
    let Some(typed_id) = typed_id else { return Ok(()) };
    connection
        .prepare_cached("INSERT INTO typed_part (typed_id, part, name, old_name) VALUES (?1, ?2, ?3, ?4)")?
        .execute(params![typed_id, NAMED_PROBE, name.as_str(), was.as_str()])
        .map(drop)
}

/// Forgets that an entry was typed, whichever command did it; a command of which nothing is left goes too.
pub(super) fn forget_entry(connection: &Connection, key: &Key) -> rusqlite::Result<()> {
    let (part, name, time_us) = columns(key);
    connection.execute("DELETE FROM typed_part WHERE part = ?1 AND name = ?2 AND time_us IS ?3", params![part, name, time_us])?;
    connection
        .execute("DELETE FROM typed WHERE NOT EXISTS (SELECT 1 FROM typed_part p WHERE p.typed_id = typed.typed_id)", [])
        .map(drop)
}

/// Lets what is noted of an entry go by the key that it has now.
pub(super) fn rekey(connection: &Connection, was: &Key, is: &Key) -> rusqlite::Result<()> {
    let ((part, name, was), (.., is)) = (columns(was), columns(is));
    connection
        .execute("UPDATE typed_part SET time_us = ?4 WHERE part = ?1 AND name = ?2 AND time_us IS ?3", params![part, name, was, is])
        .map(drop)
}

/// Forgets a command.
pub(super) fn forget(connection: &Connection, typed_id: i64) -> rusqlite::Result<()> {
    connection.execute("DELETE FROM typed_part WHERE typed_id = ?1", [typed_id])?;
    connection.execute("DELETE FROM typed WHERE typed_id = ?1", [typed_id]).map(drop)
}

fn columns(key: &Key) -> (&'static str, &str, Option<i64>) {
    let part = superseded::entry_word(key);
    match key {
        Key::Bench(setting) => (part, setting, None),
        Key::Away(from) => (part, AWAY, Some(from.timestamp_micros())),
        Key::Lot(name) | Key::Limits(name) | Key::Container(name) => (part, name.as_str(), None),
        Key::Spot(name, since) => (part, name.as_str(), since.map(|since| since.timestamp_micros())),
        Key::Placement(name, time)
        | Key::Doubt(name, time)
        | Key::Check(name, time)
        | Key::Move(name, time)
        | Key::Plan(name, time) => (part, name.as_str(), Some(time.timestamp_micros())),
    }
}

fn key(part: &str, name: Name, time: Option<Time>) -> Option<Key> {
    Some(match (part, time) {
        ("setting", _) => Key::Bench(BenchSetting::keys().find(|key| *key == name.as_str())?),
        ("time away", Some(from)) => Key::Away(from),
        ("lot", _) => Key::Lot(name),
        ("limits", _) => Key::Limits(name),
        ("container", _) => Key::Container(name),
        ("spot", since) => Key::Spot(name, since),
        ("placement", Some(since)) => Key::Placement(name, since),
        ("doubt", Some(from)) => Key::Doubt(name, from),
        ("check", Some(time)) => Key::Check(name, time),
        ("move", Some(time)) => Key::Move(name, time),
        ("planned move", Some(time)) => Key::Plan(name, time),
        _ => return None,
    })
}

impl Store {
    /// The last command typed that is still on record.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_typed(&self) -> Result<Option<Typed>, StoreError> {
        let last = self.typed_where("SELECT typed_id, time_us FROM typed ORDER BY typed_id DESC LIMIT 1", [])?;
        last.map(|(id, time)| self.typed_parts(id, time)).transpose()
    }

    /// The command of a number.
    pub(super) fn typed(&self, number: i64) -> Result<Option<Typed>, StoreError> {
        let found = self.typed_where("SELECT typed_id, time_us FROM typed WHERE typed_id = ?1", [number])?;
        found.map(|(id, time)| self.typed_parts(id, time)).transpose()
    }

    /// The last command typed that put `key` on record.
    pub(super) fn typed_as(&self, key: &Key) -> Result<Option<Typed>, StoreError> {
        let (part, name, time_us) = columns(key);
        let sql = "SELECT typed_id, typed.time_us FROM typed_part p JOIN typed USING (typed_id)
                   WHERE part = ?1 AND name = ?2 AND p.time_us IS ?3 ORDER BY typed_id DESC LIMIT 1";
        let last = self.typed_where(sql, params![part, name, time_us])?;
        last.map(|(id, time)| self.typed_parts(id, time)).transpose()
    }

    fn typed_where(&self, sql: &str, values: impl rusqlite::Params) -> Result<Option<(i64, i64)>, StoreError> {
        self.connection
            .query_row(sql, values, |row| Ok((row.get(0)?, row.get(1)?)))
            .optional()
            .map_err(|source| self.failed(source, "reading"))
    }

    fn typed_parts(&self, id: i64, time_us: i64) -> Result<Typed, StoreError> {
        let read = || -> rusqlite::Result<Vec<Row>> {
            let sql = "SELECT part, name, p.time_us, old_name, old FROM typed_part p LEFT JOIN superseded USING (superseded_id)
                       WHERE typed_id = ?1 ORDER BY part_id";
            let mut statement = self.connection.prepare_cached(sql)?;
            let rows = statement.query_map([id], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?, row.get(4)?)))?;
            rows.collect()
        };
        let rows = read().map_err(|source| self.failed(source, "reading"))?;
        let parts = rows.into_iter().map(|row| self.typed_part(row)).collect::<Result<_, _>>()?;
        Ok(Typed { id, time: self.time(time_us)?, parts })
    }

    fn typed_part(&self, (part, name, time_us, old_name, old): Row) -> Result<Part, StoreError> {
        let name = self.name(&name)?;
        match (part.as_str(), old_name) {
            (NAMED_SPOT, _) => Ok(Part::NamedSpot(name)),
            (NAMED_PROBE, Some(was)) => Ok(Part::NamedProbe { name, was: self.name(&was)? }),
            _ => {
                let key = key(&part, name, time_us.and_then(time_from_micros));
                let key = key.ok_or_else(|| self.damaged(format!("'{part}' stands where a kind of entry should")))?;
                let was = old.map(|old| restored::entry(self, &key, &old).map(Box::new)).transpose()?;
                Ok(Part::Entry { key, was })
            }
        }
    }
}

/// Kind, name, time, old name, and the values that were superseded.
type Row = (String, String, Option<i64>, Option<String>, Option<String>);
