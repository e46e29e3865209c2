//! The bench file under whatever can befall it: killed processes, failing, full and read-only disks, damage; backups and the way back.
//!
//! `SEEDCLOCK_EVERY_FAULT=1` stages each fault at every call, as the long proof does; otherwise at some of them.

#![allow(clippy::print_stdout, reason = "the long proofs say how many faults they staged")]

mod by_night;
mod care;
mod damage;
mod disks;
mod each_call;
mod kills;
mod locks;
mod own_code;
mod while_logging;

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use rusqlite::Connection;
use seedclock::bench::Name;
use seedclock::store::{Store, verify};

/// A folder of its own for one test.
struct Place {
    folder: tempfile::TempDir,
}

impl Place {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn bench(&self) -> PathBuf {
        self.path("bench.db")
    }

    /// Runs the program on this place's bench; the folder is left out of what it says.
    fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        self.told(&crate::asking::program(&self.bench()).args(arguments).current_dir(self.folder.path()).output().unwrap())
    }

    fn told(&self, output: &Output) -> (i32, String, String) {
        let text = |bytes: &[u8]| String::from_utf8_lossy(bytes).replace(&format!("{}/", self.folder.path().display()), "");
        (output.status.code().unwrap_or(-1), text(&output.stdout), text(&output.stderr))
    }

    /// Runs a command that must go well.
    fn says(&self, arguments: &[&str]) -> String {
        let (code, said, told) = self.run(arguments);
        assert_eq!((code, told.as_str()), (0, ""), "{arguments:?} said {said}");
        said
    }

    /// Takes `count` readings of p1 in, one a minute from 1 March on, their values counting from `first`.
    fn import(&self, first: i64, count: i64) -> Output {
        let folder = self.path("folder");
        let _ = std::fs::create_dir(&folder);
        let mut readings = String::from("time,probe,celsius\n");
        for at in first..first + count {
            let time = seedclock::civil::time_from_micros((MARCH_MINUTE + at) * MINUTE_US).unwrap();
            readings += &format!("{},p1,{}\n", seedclock::civil::rfc3339(time), at as f64 / 100.0);
        }
        for (name, text) in [
            ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot\n"),
            ("checks.csv", "container,time,sprouted\n"),
            ("probes.csv", "probe,spot,since\n"),
            ("readings.csv", readings.as_str()),
        ] {
            std::fs::write(folder.join(name), text).unwrap();
        }
        crate::asking::program(&self.bench()).arg("import").arg(&folder).output().unwrap()
    }
}

const MINUTE_US: i64 = 60_000_000;
/// 2026-03-01T00:00:00Z, in minutes.
const MARCH_MINUTE: i64 = 29_538_720;

/// The values of p1 in order of time, in 1/100 °C.
fn values(bench: &Path) -> Vec<i64> {
    let store = Store::open_read_only(bench).unwrap();
    let readings = store.readings(&Name::new("p1").unwrap(), i64::MIN, i64::MAX).unwrap();
    readings.iter().map(|reading| reading.raw_c_e4.unwrap() / 100).collect()
}

/// The file opens and holds what was written to it.
fn is_whole(bench: &Path) {
    let found = verify(bench).unwrap();
    assert!(found.is_whole(), "{found:?}");
}

/// A bench as version 3 of the file left it, with two readings and a box.
fn of_version_3(bench: &Path) {
    let connection = Connection::open(bench).unwrap();
    for version in [
        include_str!("../../src/store/version_1.sql"),
        include_str!("../../src/store/version_2.sql"),
        include_str!("../../src/store/version_3.sql"),
    ] {
        connection.execute_batch(version).unwrap();
    }
    connection
        .execute_batch(
            "PRAGMA application_id = 0x73656564; PRAGMA user_version = 3;
             INSERT INTO setting VALUES ('zone', 'Europe/Dublin'), ('kind', 'own');
             INSERT INTO probe VALUES (1, 'p1', NULL);
             INSERT INTO spot VALUES (1, 'sill');
             INSERT INTO container (container_id, name, batch, species, event, sown_us, spot_id)
                VALUES (1, 'A1', 'b', 'leek', 'radicle', 1767225600000000, 1);
             INSERT INTO reading VALUES (1, 1772323200000000, 100, 0), (1, 1772323260000000, 200, 0);",
        )
        .unwrap();
    let mode: String = connection.query_row("PRAGMA journal_mode = WAL", [], |row| row.get(0)).unwrap();
    assert_eq!(mode, "wal");
}

/// A tool that a test needs; where it is missing the test fails saying so.
fn tool(name: &str) -> Command {
    let there = Command::new(name).arg("--version").output().is_ok();
    assert!(there, "{name} is missing: tests/all installs it");
    Command::new(name)
}
