//! Somebody watches readings come: the logger then puts them on disk each second.

use rusqlite::{OptionalExtension, params};

use super::{Store, StoreError};

impl Store {
    /// Until when somebody watches, in microseconds; 0 where nobody ever did.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn watched_until(&self) -> Result<i64, StoreError> {
        let ask = || self.connection.prepare_cached("SELECT until_us FROM watch")?.query_row([], |row| row.get(0)).optional();
        Ok(ask().map_err(|source| self.failed(source, "reading"))?.unwrap_or(0))
    }

    /// Asks the logger to put readings on disk as they come, until a time in microseconds. It runs out by itself.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn watch_until(&mut self, until_us: i64) -> Result<(), StoreError> {
        self.connection
            .execute("INSERT INTO watch VALUES (1, ?1) ON CONFLICT DO UPDATE SET until_us = excluded.until_us", params![until_us])
            .map(drop)
            .map_err(|source| self.failed(source, "writing to"))
    }
}
