//! What is asked of a bench file to tell how it is getting on.

use std::path::Path;

use rusqlite::params;

use super::{Store, StoreError};
use crate::bench::Name;
use crate::civil::Time;
use crate::diagnosis::UnreadLines;

impl Store {
    /// The times of a probe's last readings up to `until`, at most `count`, in microseconds and in order.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn last_times(&self, probe: &Name, until: Time, count: usize) -> Result<Vec<i64>, StoreError> {
        let sql = "SELECT time_us FROM reading WHERE probe_id = (SELECT probe_id FROM probe WHERE name = ?1) AND time_us <= ?2
                   ORDER BY time_us DESC LIMIT ?3";
        let read = || -> rusqlite::Result<Vec<i64>> {
            let mut statement = self.connection.prepare_cached(sql)?;
            let count = i64::try_from(count).unwrap_or(i64::MAX);
            let rows = statement.query_map(params![probe.as_str(), until.timestamp_micros(), count], |row| row.get(0))?;
            rows.collect()
        };
        let mut times = read().map_err(|source| self.failed(source, "reading"))?;
        times.reverse();
        Ok(times)
    }

    /// The lines after `from` and up to `until` that could not be read, by port.
    ///
    /// # Errors
    /// [`StoreError`].
    pub fn unread_lines(&self, from: Time, until: Time) -> Result<Vec<UnreadLines>, StoreError> {
        // The other columns of a group with max() are those of the row that has it.
        let sql = "SELECT port, count(*), max(time_us), why FROM unread_line WHERE time_us > ?1 AND time_us <= ?2
                   GROUP BY port ORDER BY port";
        let read = || -> rusqlite::Result<Vec<(String, i64, i64, String)>> {
            let mut statement = self.connection.prepare_cached(sql)?;
            let span = params![from.timestamp_micros(), until.timestamp_micros()];
            let rows = statement.query_map(span, |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?, row.get(3)?)))?;
            rows.collect()
        };
        let rows = read().map_err(|source| self.failed(source, "reading"))?;
        let lines = |(port, count, last, why): (String, i64, i64, String)| {
            Ok(UnreadLines { port, count: usize::try_from(count).unwrap_or(0), last: self.time(last)?, why })
        };
        rows.into_iter().map(lines).collect()
    }
}

/// Room left for this account on the disk that holds a bench, in bytes; none where the system does not tell.
#[must_use]
pub fn free_bytes(bench: &Path) -> Option<u64> {
    let disk = rustix::fs::statvfs(bench).ok()?;
    disk.f_bavail.checked_mul(disk.f_frsize)
}
