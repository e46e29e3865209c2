//! A bench made of a backup.

use std::fs::File;
use std::path::{Path, PathBuf};

use rusqlite::{Connection, TransactionBehavior};

use super::lock::beside;
use super::place::number_of;
use super::verify::{has_sums, of};
use super::{LoggerLock, Store, StoreError, Verified, schema};

/// What a restored bench was made of.
#[derive(Debug)]
pub struct Restored {
    /// The bench, open.
    pub store: Store,
    /// Where the bench went that stood there.
    pub aside: Option<PathBuf>,
    /// What was found wrong with the backup.
    pub found: Verified,
}

/// What to do where a backup is damaged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Damage {
    /// Restore nothing.
    Refused,
    /// Restore what is sound.
    LeftOut,
}

/// Makes the bench at `target` anew from `source`, which is not changed. A bench that stands there is moved aside to the first free
/// name of `aside`, its log with it, and stays whole.
///
/// # Errors
/// [`StoreError::LoggerRuns`] where a logger holds the bench, [`StoreError::Unsound`] where the backup is damaged and that is refused,
/// or where it is too damaged; nothing was changed then.
pub fn restore(source: &Path, target: &Path, damage: Damage, aside: impl Fn(u32) -> PathBuf) -> Result<Restored, StoreError> {
    let refused = |what| Err(StoreError::Target { path: target.to_path_buf(), what });
    let connection = schema::open_as_it_is(source)?;
    if number_of(source)? == number_of(target)? {
        return refused("that is the file to restore from");
    }
    let folder = schema::folder_of(target);
    std::fs::create_dir_all(folder).map_err(|cause| files(folder, "making the folder", cause))?;
    // Held until all is done, so that no logger begins meanwhile.
    let _lock = LoggerLock::take(target)?;
    let found = of(&connection);
    schema::clear_drafts(target);
    let draft = schema::draft_of(target)?;
    let made = if found.is_whole() {
        schema::vacuum_into(&connection, source, &draft)
    } else if damage == Damage::LeftOut && has_sums(&connection) {
        salvage(&connection, source, &draft, &found)
    } else {
        Err(StoreError::Unsound { path: source.to_path_buf(), found: Box::new(found.clone()) })
    };
    let made = made.and_then(|()| {
        File::open(&draft).and_then(|file| file.sync_all()).map_err(|cause| files(&draft, "syncing", cause))?;
        let moved = move_aside(target, aside)?;
        std::fs::rename(&draft, target).map_err(|cause| files(target, "writing", cause))?;
        File::open(folder).and_then(|folder| folder.sync_all()).map_err(|cause| files(folder, "syncing", cause))?;
        Ok(moved)
    });
    if made.is_err() {
        schema::remove_file_and_log(&draft);
    }
    Ok(Restored { aside: made?, store: Store::open(target)?, found })
}

/// Moves a bench out of the way. Where it can be opened, its log is copied into it first; else the log goes along.
fn move_aside(target: &Path, aside: impl Fn(u32) -> PathBuf) -> Result<Option<PathBuf>, StoreError> {
    let parts = ["", "-wal", "-shm"];
    if !parts[..2].iter().any(|part| beside(target, part).exists()) {
        return Ok(None);
    }
    // The last to close takes the log away; whether it could is of no matter here.
    drop(Store::open(target).ok());
    let free = |path: &PathBuf| !parts.iter().any(|part| beside(path, part).exists());
    let Some(aside) = (1..1000).map(aside).find(free) else {
        return Err(StoreError::Target { path: target.to_path_buf(), what: "no free name was found to move it to" });
    };
    // The file first: killed in between, no file is left there that would go without its log.
    for part in parts {
        match std::fs::rename(beside(target, part), beside(&aside, part)) {
            Err(cause) if cause.kind() != std::io::ErrorKind::NotFound => return Err(files(target, "moving", cause)),
            _ => {}
        }
    }
    Ok(Some(aside))
}

/// Copies what is sound: every table but those that can be worked out again, and the readings of days that are not damaged.
fn salvage(damaged: &Connection, source: &Path, draft: &Path, found: &super::Verified) -> Result<(), StoreError> {
    let unsound = |_| StoreError::Unsound { path: source.to_path_buf(), found: Box::new(found.clone()) };
    schema::create_bare(draft)?;
    let copied = || -> rusqlite::Result<()> {
        let mut connection = Connection::open(draft)?;
        connection.execute("ATTACH ?1 AS damaged", [source.to_string_lossy()])?;
        connection.execute_batch("PRAGMA foreign_keys = OFF;")?;
        let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate)?;
        for table in super::verify::summed_tables(&transaction)? {
            // Worked out again when it is asked for; of the days those that are copied are noted.
            if !["stretch_table", "warmth_change", "kept_fit", "day_sum"].contains(&table.as_str()) {
                transaction
                    .execute_batch(&format!("DELETE FROM main.{table}; INSERT INTO main.{table} SELECT * FROM damaged.{table};"))?;
            }
        }
        let mut days = damaged.prepare("SELECT probe_id, day FROM day_sum")?;
        let days: Vec<(i64, i64)> = days.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect::<rusqlite::Result<_>>()?;
        let written = "SELECT digest FROM day_sum WHERE probe_id = ?1 AND day = ?2";
        for day in days {
            let written: Option<i64> = damaged.prepare_cached(written)?.query_row([day.0, day.1], |row| row.get(0))?;
            match super::day_sum::sum_of(damaged, day.0, day.1) {
                Ok(Some(there)) if written.is_none_or(|written| written == there.digest()) => {}
                _ => continue,
            }
            let from_us = day.1.saturating_mul(super::day_sum::DAY_US);
            transaction
                .prepare_cached(
                    "INSERT INTO main.reading SELECT * FROM damaged.reading WHERE probe_id = ?1 AND time_us >= ?2 AND time_us < ?3",
                )?
                .execute([day.0, from_us, from_us.saturating_add(super::day_sum::DAY_US)])?;
            transaction.prepare_cached("INSERT INTO main.day_sum (probe_id, day) VALUES (?1, ?2)")?.execute([day.0, day.1])?;
        }
        super::day_sum::close(&transaction, i64::MAX, i64::MAX)?;
        transaction.commit()?;
        connection.execute_batch("DETACH damaged")?;
        connection.close().map_err(|(_, error)| error)
    };
    copied().map_err(unsound)
}

fn files(path: &Path, doing: &'static str, cause: std::io::Error) -> StoreError {
    StoreError::Files { path: path.to_path_buf(), doing, cause }
}
