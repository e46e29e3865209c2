//! Devices that may use the page, and the codes that let them in. Only digests are kept: who reads the file cannot get in by it.

use rusqlite::{OptionalExtension, params};

use super::{Change, Store, StoreError};
use crate::civil::Time;

/// A device that was let in.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Device {
    /// Its number.
    pub id: i64,
    /// What it may, in the word that it was let in with.
    pub may: String,
    /// What its owner calls it.
    pub name: String,
    /// When it was let in.
    pub paired: Time,
    /// When it was last here, to the hour.
    pub seen: Time,
}

impl Store {
    /// The devices that were let in, the first one first.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn devices(&self) -> Result<Vec<Device>, StoreError> {
        let mut devices = Vec::new();
        self.each("SELECT device_id, may, name, paired_us, seen_us FROM device ORDER BY device_id", |row| {
            devices.push(Device {
                id: self.get(row, 0)?,
                may: self.get(row, 1)?,
                name: self.get(row, 2)?,
                paired: self.time(self.get(row, 3)?)?,
                seen: self.time(self.get(row, 4)?)?,
            });
            Ok(())
        })?;
        Ok(devices)
    }

    /// What the device that knows itself by this may, and its number.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn device_of(&self, digest: &[u8; 32]) -> Result<Option<(i64, String)>, StoreError> {
        let ask = || {
            self.connection
                .prepare_cached("SELECT device_id, may FROM device WHERE digest = ?1")?
                .query_row([&digest[..]], |row| Ok((row.get(0)?, row.get(1)?)))
                .optional()
        };
        ask().map_err(|source| self.failed(source, "reading"))
    }
}

impl Change<'_> {
    /// Remembers a code that lets one device in; codes that have run out go.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_pairing_code(&mut self, digest: &[u8; 32], may: &str, name: &str, now: Time, until: Time) -> Result<(), StoreError> {
        self.sql("DELETE FROM pairing_code WHERE until_us < ?1", params![now.timestamp_micros()])?;
        self.sql(
            "INSERT OR REPLACE INTO pairing_code VALUES (?1, ?2, ?3, ?4)",
            params![&digest[..], may, name, until.timestamp_micros()],
        )
        .map(drop)
    }

    /// Takes a code away and says what it lets a device do, and the device's name; none where there is no such code any more.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn take_pairing_code(&mut self, digest: &[u8; 32], now: Time) -> Result<Option<(String, String)>, StoreError> {
        let sql = "DELETE FROM pairing_code WHERE digest = ?1 AND until_us >= ?2 RETURNING may, name";
        let taken =
            self.connection().query_row(sql, params![&digest[..], now.timestamp_micros()], |row| Ok((row.get(0)?, row.get(1)?)));
        self.did(taken.optional())
    }

    /// Lets a device in.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn put_device(&mut self, digest: &[u8; 32], may: &str, name: &str, now: Time) -> Result<(), StoreError> {
        let values = params![&digest[..], may, name, now.timestamp_micros()];
        self.sql("INSERT INTO device (digest, may, name, paired_us, seen_us) VALUES (?1, ?2, ?3, ?4, ?4)", values).map(drop)
    }

    /// Notes that a device was here.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn device_seen(&mut self, id: i64, now: Time) -> Result<(), StoreError> {
        self.sql("UPDATE device SET seen_us = ?2 WHERE device_id = ?1", params![id, now.timestamp_micros()]).map(drop)
    }

    /// Shuts a device out; whether there was one of this number.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn remove_device(&mut self, id: i64) -> Result<bool, StoreError> {
        Ok(self.sql("DELETE FROM device WHERE device_id = ?1", params![id])? > 0)
    }
}
