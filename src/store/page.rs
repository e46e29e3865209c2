//! What a page sends: each request once, looks that cannot be as they were counted, photographs.

use rusqlite::{OptionalExtension, Row, params};

use super::{Change, Store, StoreError};
use crate::bench::{Check, Name};
use crate::civil::Time;

/// Requests are remembered for so many days: a page that was out of reach for longer has lost what it kept.
const REMEMBERED_DAYS: i64 = 400;

/// A look that waits until the grower has said what is right.
#[derive(Debug, Clone, PartialEq)]
pub struct WaitingLook {
    /// Its number.
    pub id: i64,
    /// The look as it was counted.
    pub look: Check,
    /// Why it cannot be.
    pub why: String,
}

/// A photograph without its picture.
#[derive(Debug, Clone, PartialEq)]
pub struct Photo {
    /// Its number.
    pub id: i64,
    /// The box.
    pub container: Name,
    /// When it was taken.
    pub time: Time,
    /// Pixels across.
    pub width: u32,
    /// Pixels down.
    pub height: u32,
}

impl Store {
    /// Looks that wait, the oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn waiting_looks(&self) -> Result<Vec<WaitingLook>, StoreError> {
        let mut waiting = Vec::new();
        let sql = "SELECT waiting_id, container, time_us, sprouted, removed, lost, potted_on, died, condition, note, why
                   FROM waiting_look ORDER BY time_us, waiting_id";
        self.each(sql, |row| {
            waiting.push(self.waiting(row)?);
            Ok(())
        })?;
        Ok(waiting)
    }

    fn waiting(&self, row: &Row<'_>) -> Result<WaitingLook, StoreError> {
        let look = Check {
            container: self.name(&self.get::<String>(row, 1)?)?,
            time: self.time(self.get(row, 2)?)?,
            sprouted: self.get(row, 3)?,
            removed: self.get(row, 4)?,
            lost: self.get(row, 5)?,
            potted_on: self.get(row, 6)?,
            died: self.get(row, 7)?,
            condition: self.get(row, 8)?,
            note: self.get(row, 9)?,
        };
        Ok(WaitingLook { id: self.get(row, 0)?, look, why: self.get(row, 10)? })
    }

    /// The photographs of a box, the oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn photos(&self, container: &Name) -> Result<Vec<Photo>, StoreError> {
        let ask = || {
            let mut statement = self
                .connection
                .prepare_cached("SELECT photo_id, time_us, width, height FROM photo WHERE container = ?1 ORDER BY time_us")?;
            let rows = statement.query_map([container.as_str()], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            rows.collect::<rusqlite::Result<Vec<(i64, i64, u32, u32)>>>()
        };
        let rows = ask().map_err(|source| self.failed(source, "reading"))?;
        let photo =
            |(id, time_us, width, height)| Ok(Photo { id, container: container.clone(), time: self.time(time_us)?, width, height });
        rows.into_iter().map(photo).collect()
    }

    /// A photograph as JPEG.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn photo(&self, id: i64) -> Result<Option<Vec<u8>>, StoreError> {
        let ask = self.connection.query_row("SELECT jpeg FROM photo WHERE photo_id = ?1", [id], |row| row.get(0)).optional();
        ask.map_err(|source| self.failed(source, "reading"))
    }
}

impl Change<'_> {
    /// Remembers a request; whether it is new.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_request(&mut self, request: &str, now: Time) -> Result<bool, StoreError> {
        let oldest = now - chrono::Duration::days(REMEMBERED_DAYS);
        self.sql("DELETE FROM page_request WHERE done_us < ?1", params![oldest.timestamp_micros()])?;
        Ok(self.sql("INSERT OR IGNORE INTO page_request VALUES (?1, ?2)", params![request, now.timestamp_micros()])? > 0)
    }

    /// Keeps a look that cannot be as it was counted; gives its number.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_waiting_look(&mut self, look: &Check, why: &str) -> Result<i64, StoreError> {
        self.sql(
            "INSERT INTO waiting_look VALUES (NULL, ?1, ?2, ?3, ?4, ?5, ?6, ?7, ?8, ?9, ?10)",
            params![
                look.container.as_str(),
                look.time.timestamp_micros(),
                look.sprouted,
                look.removed,
                look.lost,
                look.potted_on,
                look.died,
                look.condition,
                look.note,
                why
            ],
        )?;
        Ok(self.connection().last_insert_rowid())
    }

    /// Takes a look off those that wait; none where it waits no more.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn take_waiting_look(&mut self, id: i64) -> Result<Option<Check>, StoreError> {
        let found = self.waiting_looks()?.into_iter().find(|waiting| waiting.id == id);
        self.sql("DELETE FROM waiting_look WHERE waiting_id = ?1", params![id])?;
        Ok(found.map(|waiting| waiting.look))
    }

    /// Looks that wait, the oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn waiting_looks(&self) -> Result<Vec<WaitingLook>, StoreError> {
        self.store().waiting_looks()
    }

    /// The photographs of a box, the oldest first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn photos(&self, container: &Name) -> Result<Vec<Photo>, StoreError> {
        self.store().photos(container)
    }

    /// Keeps a photograph; gives its number.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_photo(&mut self, container: &Name, time: Time, size: (u32, u32), jpeg: &[u8]) -> Result<i64, StoreError> {
        let values = params![container.as_str(), time.timestamp_micros(), size.0, size.1, jpeg];
        self.sql("INSERT INTO photo VALUES (NULL, ?1, ?2, ?3, ?4, ?5)", values)?;
        Ok(self.connection().last_insert_rowid())
    }

    /// Takes a photograph away; whether there was one of this number.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove_photo(&mut self, id: i64) -> Result<bool, StoreError> {
        Ok(self.sql("DELETE FROM photo WHERE photo_id = ?1", params![id])? > 0)
    }

    /// Takes all photographs of a box away: another box may have its name one day.
    pub(super) fn remove_photos_of(&mut self, container: &Name) -> Result<(), StoreError> {
        self.sql("DELETE FROM photo WHERE container = ?1", params![container.as_str()]).map(drop)
    }
}
