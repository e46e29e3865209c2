//! The tables, their versions, and how a file is made, recognised and brought up to date.

use std::fs::File;
use std::path::Path;

use rusqlite::config::DbConfig;
use rusqlite::{Connection, OpenFlags, TransactionBehavior, params};
use rustix::fs::{Access, access};

use super::lock::beside;
use super::{BenchKind, StoreError};
use crate::civil::Zone;

/// Marks a file as a bench: the letters `seed` as a big-endian number.
const APPLICATION_ID: i64 = 0x7365_6564;
/// The first SQLite whose write-ahead log cannot lose a commit when a checkpoint meets a reset (fixed in 3.51.3, March 2026).
const OLDEST_LIBRARY: i32 = 3_051_003;

/// How long we wait for another writer.
pub(super) const BUSY_TIMEOUT: std::time::Duration = std::time::Duration::from_secs(5);

/// What leads from one version of the file to the next, forward only: entry `n` (from 0) makes version `n + 1`. An entry that
/// has been released is never edited; a change of the tables is one more entry.
const MIGRATIONS: &[&str] =
    &[include_str!("version_1.sql"), include_str!("version_2.sql"), include_str!("version_3.sql"), include_str!("version_4.sql")];

/// Makes a new bench file, whole or not at all, and opens it.
pub(super) fn create(path: &Path, zone: Zone, kind: BenchKind) -> Result<Connection, StoreError> {
    if path.try_exists().map_err(|source| files(path, "looking for", source))? {
        return Err(StoreError::Exists(path.to_path_buf()));
    }
    // SQLite would take a log that lies there for the new file's own.
    if has_wal_file(path) {
        return Err(StoreError::LogLeft(path.to_path_buf()));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    std::fs::create_dir_all(folder).map_err(|source| files(folder, "making the folder", source))?;
    // Made under another name, so that no half-made bench ever stands at `path`.
    let draft = beside(path, &format!(".new-{}", std::process::id()));
    let clear = || {
        for part in [draft.clone(), beside(&draft, "-wal"), beside(&draft, "-shm"), beside(&draft, "-journal")] {
            // Mostly not there at all.
            let _ = std::fs::remove_file(part);
        }
    };
    // Of a process that had our number and was killed here.
    clear();
    let made = write_draft(&draft, zone, kind).and_then(|()| {
        // A hard link refuses to replace a file that has appeared since; some file systems know no links.
        let placed = std::fs::hard_link(&draft, path).or_else(|error| match error.kind() {
            std::io::ErrorKind::AlreadyExists => Err(error),
            _ => std::fs::rename(&draft, path),
        });
        placed.map_err(|source| match source.kind() {
            std::io::ErrorKind::AlreadyExists => StoreError::Exists(path.to_path_buf()),
            _ => files(path, "making", source),
        })
    });
    clear();
    made?;
    File::open(folder).and_then(|folder| folder.sync_all()).map_err(|source| files(folder, "syncing", source))?;
    open(path)
}

fn write_draft(draft: &Path, zone: Zone, kind: BenchKind) -> Result<(), StoreError> {
    let sql = |doing| move |source| StoreError::from_sql(source, draft, doing);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_CREATE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection = Connection::open_with_flags(draft, flags).map_err(sql("making"))?;
    set_up(&connection, draft)?;
    switch_to_wal(&connection, draft)?;
    migrate(&mut connection, draft, 0, MIGRATIONS)?;
    connection
        .execute("INSERT INTO setting (key, value) VALUES ('zone', ?1), ('kind', ?2)", params![zone.name(), kind.code()])
        .map_err(sql("writing to"))?;
    // An error of the disk during the switch can stay unseen, and the next write then goes to a rollback journal.
    if !has_wal_file(draft) {
        return Err(StoreError::NoWriteAheadLog { path: draft.to_path_buf(), mode: "wal, but writes none".to_owned() });
    }
    // All of it in the one file before that is given its name.
    let left: i64 = connection.query_row("PRAGMA wal_checkpoint(TRUNCATE)", [], |row| row.get(0)).map_err(sql("writing to"))?;
    if left != 0 {
        return Err(StoreError::Busy(draft.to_path_buf()));
    }
    connection.close().map_err(|(_, source)| StoreError::from_sql(source, draft, "closing"))
}

/// Opens an existing bench, brought up to this version. A foreign or newer file is refused with no byte changed.
pub(super) fn open(path: &Path) -> Result<Connection, StoreError> {
    if rusqlite::version_number() < OLDEST_LIBRARY {
        return Err(StoreError::OldLibrary(rusqlite::version()));
    }
    if !path.try_exists().map_err(|source| files(path, "looking for", source))? {
        return Err(StoreError::Missing(path.to_path_buf()));
    }
    let had_wal = has_wal_file(path);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut connection =
        Connection::open_with_flags(path, flags).map_err(|source| StoreError::from_sql(source, path, "opening"))?;
    match recognise(&connection, path) {
        Ok(version) => {
            set_up(&connection, path)?;
            migrate(&mut connection, path, version, MIGRATIONS)?;
            switch_to_wal(&connection, path)?;
            Ok(connection)
        }
        Err(refusal) => {
            // Closing the last connection would copy a log that stands there into the file. Where there was none, closing
            // as usual takes away the empty one that looking made.
            if had_wal {
                let _ = connection.set_db_config(DbConfig::SQLITE_DBCONFIG_NO_CKPT_ON_CLOSE, true);
            }
            Err(refusal)
        }
    }
}

/// Whether a bench stands there that nobody writes to, and that we may not write to: the file itself or its folder.
pub(super) fn is_closed_to_us(path: &Path) -> bool {
    let may_write = |path: &Path| access(path, Access::WRITE_OK).is_ok();
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    path.exists() && !has_wal_file(path) && !(may_write(path) && may_write(folder))
}

/// Opens such a bench. SQLite is told that the file will not change, since looking whether it does would need files beside it: those
/// we may not make, or would leave behind as ours, in the way of whoever writes next.
pub(super) fn open_closed(path: &Path) -> Result<Connection, StoreError> {
    let mut uri = String::from("file:");
    for byte in path.as_os_str().as_encoded_bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'.' | b'-' | b'_' => uri.push(char::from(*byte)),
            _ => uri.push_str(&format!("%{byte:02X}")),
        }
    }
    uri.push_str("?immutable=1");
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_URI | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let connection = Connection::open_with_flags(uri, flags).map_err(|source| StoreError::from_sql(source, path, "opening"))?;
    let version = recognise(&connection, path)?;
    if version < MIGRATIONS.len() {
        return Err(StoreError::Outdated(path.to_path_buf()));
    }
    set_up(&connection, path)?;
    Ok(connection)
}

/// The version of a bench file that this program can use.
fn recognise(connection: &Connection, path: &Path) -> Result<usize, StoreError> {
    let number = |pragma: &str| connection.query_row(pragma, [], |row| row.get::<_, i64>(0));
    let application = number("PRAGMA application_id").map_err(|source| match source.sqlite_error_code() {
        Some(rusqlite::ErrorCode::NotADatabase) => StoreError::Foreign(path.to_path_buf()),
        _ => StoreError::from_sql(source, path, "opening"),
    })?;
    if application != APPLICATION_ID {
        return Err(StoreError::Foreign(path.to_path_buf()));
    }
    let found = number("PRAGMA user_version").map_err(|source| StoreError::from_sql(source, path, "opening"))?;
    match usize::try_from(found) {
        Ok(version) if (1..=MIGRATIONS.len()).contains(&version) => Ok(version),
        Ok(version) if version > MIGRATIONS.len() => {
            Err(StoreError::Newer { path: path.to_path_buf(), found, known: MIGRATIONS.len() as i64 })
        }
        _ => Err(StoreError::Foreign(path.to_path_buf())),
    }
}

/// What holds for each connection.
fn set_up(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    connection
        .execute_batch(
            "PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = 0; PRAGMA foreign_keys = ON; PRAGMA trusted_schema = OFF;",
        )
        .and_then(|()| connection.busy_timeout(BUSY_TIMEOUT))
        .map_err(|source| StoreError::from_sql(source, path, "opening"))
}

/// Switches to the write-ahead log, or confirms it. The statement is stepped to its end, since an error of the disk comes only
/// after the row that says "wal" (seen by injecting faults into each fsync).
fn switch_to_wal(connection: &Connection, path: &Path) -> Result<(), StoreError> {
    let mode = || -> rusqlite::Result<String> {
        let mut statement = connection.prepare("PRAGMA journal_mode = WAL")?;
        let mut rows = statement.query([])?;
        let mut mode = String::new();
        while let Some(row) = rows.next()? {
            mode = row.get(0)?;
        }
        Ok(mode)
    };
    let mode = mode().map_err(|source| StoreError::from_sql(source, path, "opening"))?;
    if mode == "wal" { Ok(()) } else { Err(StoreError::NoWriteAheadLog { path: path.to_path_buf(), mode }) }
}

/// Brings a file of `version` up to the last of `migrations`, in one transaction; of an existing file a copy is kept first.
fn migrate(connection: &mut Connection, path: &Path, version: usize, migrations: &[&str]) -> Result<(), StoreError> {
    let sql = |source| StoreError::from_sql(source, path, "bringing up to date");
    if version >= migrations.len() {
        return Ok(());
    }
    if version > 0 {
        keep_copy(connection, path, version)?;
    }
    // A table that others refer to can only be made anew while references are not followed, and that can't be changed within a
    // transaction; whether they still hold is asked before it ends.
    connection.pragma_update(None, "foreign_keys", false).map_err(sql)?;
    let done = steps(connection, path, migrations);
    connection.pragma_update(None, "foreign_keys", true).map_err(sql)?;
    done
}

fn steps(connection: &mut Connection, path: &Path, migrations: &[&str]) -> Result<(), StoreError> {
    let sql = |source| StoreError::from_sql(source, path, "bringing up to date");
    let transaction = connection.transaction_with_behavior(TransactionBehavior::Immediate).map_err(sql)?;
    // Asked again under the lock: another process may have done it while we waited.
    let now: i64 = transaction.query_row("PRAGMA user_version", [], |row| row.get(0)).map_err(sql)?;
    for step in migrations.iter().skip(usize::try_from(now).unwrap_or(0)) {
        transaction.execute_batch(step).map_err(sql)?;
    }
    let loose: i64 = transaction.query_row("SELECT count(*) FROM pragma_foreign_key_check", [], |row| row.get(0)).map_err(sql)?;
    if loose > 0 {
        let what = format!("{loose} of its rows refer to what is not there");
        return Err(StoreError::Damaged { path: path.to_path_buf(), what });
    }
    transaction.pragma_update(None, "application_id", APPLICATION_ID).map_err(sql)?;
    transaction.pragma_update(None, "user_version", migrations.len() as i64).map_err(sql)?;
    transaction.commit().map_err(sql)
}

/// Keeps the file as it was as `<bench>.version-N`, complete or not there.
fn keep_copy(connection: &Connection, path: &Path, version: usize) -> Result<(), StoreError> {
    let copy = beside(path, &format!(".version-{version}"));
    let draft = beside(path, &format!(".version-{version}.new-{}", std::process::id()));
    let Some(target) = draft.to_str() else {
        return Err(files(&draft, "copying to", std::io::Error::other("its path is not UTF-8")));
    };
    // A draft of an earlier process with our number, killed while copying.
    let _ = std::fs::remove_file(&draft);
    connection.execute("VACUUM INTO ?1", [target]).map_err(|source| StoreError::from_sql(source, path, "copying"))?;
    File::open(&draft)
        .and_then(|file| file.sync_all())
        .and_then(|()| std::fs::rename(&draft, &copy))
        .map_err(|source| files(&copy, "copying to", source))
}

fn has_wal_file(path: &Path) -> bool {
    beside(path, "-wal").exists()
}

fn files(path: &Path, doing: &'static str, cause: std::io::Error) -> StoreError {
    StoreError::Files { path: path.to_path_buf(), doing, cause }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A file as the first version made it, open, with `rows` in it.
    fn of_version_1(path: &Path, rows: &str) -> Connection {
        let mut connection = Connection::open(path).unwrap();
        set_up(&connection, path).unwrap();
        switch_to_wal(&connection, path).unwrap();
        migrate(&mut connection, path, 0, &MIGRATIONS[..1]).unwrap();
        connection.execute_batch("INSERT INTO setting VALUES ('zone', 'Europe/Dublin'), ('kind', 'own');").unwrap();
        connection.execute_batch(rows).unwrap();
        connection
    }

    #[test]
    fn a_later_version_is_one_more_entry_and_keeps_a_copy_of_the_file_as_it_was() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let mut connection = create(&path, Zone::UTC, BenchKind::Own).unwrap();
        let later: Vec<&str> = MIGRATIONS.iter().copied().chain(["ALTER TABLE spot ADD COLUMN colour TEXT;"]).collect();
        migrate(&mut connection, &path, MIGRATIONS.len(), &later).unwrap();
        connection.execute("INSERT INTO spot (name, colour) VALUES ('sill', 'green')", []).unwrap();
        drop(connection);
        let known = MIGRATIONS.len() as i64;
        assert!(matches!(open(&path), Err(StoreError::Newer { found, known: says, .. }) if found == known + 1 && says == known));
        let copy = open(&folder.path().join(format!("b.db.version-{known}"))).unwrap();
        let columns: i64 =
            copy.query_row("SELECT count(*) FROM pragma_table_info('spot') WHERE name = 'colour'", [], |row| row.get(0)).unwrap();
        assert_eq!(columns, 0, "the copy is the file as it was");
    }

    #[test]
    fn a_step_that_fails_changes_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let mut connection = create(&path, Zone::UTC, BenchKind::Own).unwrap();
        let broken: Vec<&str> =
            MIGRATIONS.iter().copied().chain(["ALTER TABLE spot ADD COLUMN colour TEXT; SELECT * FROM nowhere;"]).collect();
        assert!(migrate(&mut connection, &path, MIGRATIONS.len(), &broken).is_err());
        drop(connection);
        let again = open(&path).unwrap();
        assert!(again.prepare("SELECT colour FROM spot").is_err());
    }

    #[test]
    fn rows_that_refer_to_nothing_stop_a_step() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let mut connection = create(&path, Zone::UTC, BenchKind::Own).unwrap();
        let loose: Vec<&str> = MIGRATIONS.iter().copied().chain(["INSERT INTO doubt VALUES (7, 0, NULL, NULL);"]).collect();
        let refused = migrate(&mut connection, &path, MIGRATIONS.len(), &loose);
        assert!(matches!(refused, Err(StoreError::Damaged { .. })), "{refused:?}");
        let followed: i64 = connection.query_row("PRAGMA foreign_keys", [], |row| row.get(0)).unwrap();
        assert_eq!(followed, 1);
        drop(connection);
        assert!(open(&path).is_ok());
    }

    #[test]
    fn a_file_of_version_1_is_brought_up_to_date_with_all_that_is_in_it() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        drop(of_version_1(
            &path,
            "INSERT INTO spot VALUES (4, 'sill', 'indoors', NULL, NULL, NULL), (7, 'fridge', 'fridge', 4.5, 0.5, 'salad drawer');
             INSERT INTO probe VALUES (1, 'p1');
             INSERT INTO placement VALUES (1, 1000000, 4, -0.25, 1.0, 'in');
             INSERT INTO container VALUES (3, 'A1', 'b', 'leek', 'own', NULL, 20, 'radicle', 2000000, 4, NULL);
             INSERT INTO container_check VALUES (3, 5000000, 2, 1, 0, 0, 0, 'dry', NULL);
             INSERT INTO container_move VALUES (3, 4000000, 7);
             INSERT INTO reading VALUES (1, 3000000, 185000, 0);",
        ));
        let store = super::super::Store::open(&path).unwrap();
        let bench = store.bench().unwrap();
        let name = |text: &str| crate::bench::Name::new(text).unwrap();
        let set = crate::bench::SetTemperature { celsius: 4.5, sd_c: 0.5 };
        assert!(bench.spots[&name("sill")].settings.is_empty());
        let fridge = &bench.spots[&name("fridge")].settings;
        assert_eq!((fridge.len(), fridge[0].since, fridge[0].set()), (1, None, Some(set)));
        assert_eq!(fridge[0].note.as_deref(), Some("salad drawer"));
        assert_eq!(bench.placements[0].spot, name("sill"));
        let trial = &bench.trials[&name("A1")];
        assert_eq!((&trial.container.spot, trial.container.seeds), (&name("sill"), Some(20)));
        assert_eq!((trial.checks[0].sprouted, &trial.moves[0].spot), (2, &name("fridge")));
        assert_eq!(store.readings(&name("p1"), 0, i64::MAX).unwrap().len(), 1);
        drop(store);
        let copy = Connection::open(folder.path().join("b.db.version-1")).unwrap();
        let kept: i64 = copy.query_row("SELECT count(set_c) FROM spot", [], |row| row.get(0)).unwrap();
        assert_eq!(kept, 1, "the file as it was stands beside it");
    }
}
