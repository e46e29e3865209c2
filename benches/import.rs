//! Import against bare prepared inserts of the very same rows: import is to reach a third of their speed.
//! `cargo bench --bench import [-- ROWS]`.
//!
//! The rows are of sixteen probes, one reading each a minute, in the order in which a file has them. Each round measures every
//! way once, so that whatever else the machine does meets them all.
//!
//! Last figures of `cargo bench --bench import`, medians of 7 rounds of 1,000,000 rows, million rows/s (two cores of an AMD EPYC in
//! a virtual machine, nothing else running, ext4 on a virtual disk; the rates vary by a third from run to run, the ratios by 0.03):
//!
//! | way | million rows/s | of bare inserts |
//! |---|---|---|
//! | bare inserts, as the file has them / probe by probe / the latter to closing | 2.45 / 3.11 / 2.73 | |
//! | import out of memory, times in UTC | 1.51 | 0.48 |
//! | import out of memory, local times | 1.22 | 0.39 |
//! | `seedclock import` of files, whole process | 1.33 | 0.49 |
//!
//! Before days had sums that are kept with them: 0.58, 0.46 and 0.57.
//! Local times stood at 0.33 while each was first tried as a lone date and a lone time of day.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a measurement run by hand")]

use std::fmt::Write as _;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Instant;

use rusqlite::{Connection, params};
use seedclock::bench::rules::Conflict;
use seedclock::changes::import_folder;
use seedclock::civil::{Time, Zone, local_time, rfc3339, time_from_micros};
use seedclock::exchange::{Document, Folder};
use seedclock::store::{BenchKind, Store};

const ROWS: usize = 1_000_000;
const ROUNDS: usize = 7;
const PROBES: usize = 16;
const MINUTE_US: i64 = 60_000_000;
/// 2024-01-01T00:00:00Z.
const FIRST_US: i64 = 1_704_067_200_000_000;
/// A sixteenth of a degree, the step of common probes, in 1/10 000 °C.
const STEP_C_E4: i64 = 625;

/// What stands in a row of the table.
#[derive(Clone, Copy)]
struct Row {
    probe: usize,
    time_us: i64,
    raw_c_e4: i64,
}

/// One way to get the rows into a file that does not exist yet: what it is called, and a run of it, in seconds.
struct Way<'a> {
    name: &'static str,
    run: Box<dyn Fn(&Path) -> f64 + 'a>,
    seconds: Vec<f64>,
}

impl<'a> Way<'a> {
    fn new(name: &'static str, run: impl Fn(&Path) -> f64 + 'a) -> Self {
        Self { name, run: Box::new(run), seconds: Vec::new() }
    }

    fn median(&self) -> f64 {
        let mut sorted = self.seconds.clone();
        sorted.sort_by(f64::total_cmp);
        sorted[sorted.len() / 2]
    }
}

fn main() {
    // Cargo adds an option of its own.
    let count = std::env::args().skip(1).find(|word| !word.starts_with('-')).map_or(ROWS, |rows| rows.parse().unwrap());
    let rows: Vec<Row> = (0..count).map(row).collect();
    let mut by_probe = rows.clone();
    by_probe.sort_by_key(|row| (row.probe, row.time_us));
    let utc = files(&rows, rfc3339);
    let local = files(&rows, |time| local_time(time, Zone::UTC));
    let on_disk = tempfile::tempdir().unwrap();
    for document in &utc {
        std::fs::write(on_disk.path().join(&document.name), &document.bytes).unwrap();
    }
    let mut ways = [
        Way::new("bare inserts, as the file has them", |path| bare(path, &rows, Clock::StopsAtCommit)),
        Way::new("bare inserts, probe by probe", |path| bare(path, &by_probe, Clock::StopsAtCommit)),
        Way::new("bare inserts, probe by probe, to closing", |path| bare(path, &by_probe, Clock::StopsWhenClosed)),
        Way::new("import out of memory, times in UTC", |path| import(path, &utc)),
        Way::new("import out of memory, local times", |path| import(path, &local)),
        Way::new("`seedclock import` of files, whole process", |path| whole_process(path, on_disk.path())),
    ];
    for round in 0..ROUNDS {
        for way in &mut ways {
            let folder = tempfile::tempdir().unwrap();
            let path = folder.path().join("bench.db");
            way.seconds.push((way.run)(&path));
            // Whoever stored less would win.
            if round == 0 {
                assert_eq!(stored(&path), count, "{}", way.name);
            }
        }
    }
    println!("{count} rows, medians of {ROUNDS} rounds");
    for way in &ways {
        println!("  {:44} {:5.2} million rows/s", way.name, count as f64 / way.median() / 1e6);
    }
    let [as_in_file, by_probe, to_closing, utc, local, whole] = ways.map(|way| way.median());
    let fastest = as_in_file.min(by_probe);
    println!("import / the faster bare inserts: {:.2}, local times {:.2} (at least 0.33)", fastest / utc, fastest / local);
    println!("whole process / bare inserts to closing: {:.2}", to_closing / whole);
}

/// A day's wave, a probe's own warmth and some flicker, in whole steps of a probe.
fn row(at: usize) -> Row {
    let (minute, probe) = (at / PROBES, at % PROBES);
    let wave = (std::f64::consts::TAU * minute as f64 / 1440.0).sin();
    let flicker = at.wrapping_mul(2_654_435_761) >> 16 & 1;
    let steps = (16.0 * (19.0 + 4.0 * wave)).round() as i64 + (probe + flicker) as i64;
    Row { probe, time_us: FIRST_US + minute as i64 * MINUTE_US, raw_c_e4: steps * STEP_C_E4 }
}

/// A bench folder with these readings and no boxes.
fn files(rows: &[Row], said: impl Fn(Time) -> String) -> Vec<Document<'static>> {
    let mut readings = String::from("time,probe,celsius\n");
    for row in rows {
        let celsius = row.raw_c_e4 as f64 / 10_000.0;
        writeln!(readings, "{},{},{celsius}", said(time_from_micros(row.time_us).unwrap()), name(row.probe)).unwrap();
    }
    let files = [
        ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot\n".to_owned()),
        ("checks.csv", "container,time,sprouted\n".to_owned()),
        ("probes.csv", "probe,spot,since\n".to_owned()),
        ("readings.csv", readings),
    ];
    files.map(|(name, text)| Document { name: name.to_owned(), bytes: text.into_bytes().into() }).into()
}

fn name(probe: usize) -> String {
    format!("shelf-{probe:02}")
}

/// Whether what closing does, copying the log into the file, is part of the time.
#[derive(Clone, Copy, PartialEq)]
enum Clock {
    StopsAtCommit,
    StopsWhenClosed,
}

/// The same table, the same log, the same safety (the log synced at the commit), and nothing else.
fn bare(path: &Path, rows: &[Row], clock: Clock) -> f64 {
    drop(Store::create(path, Zone::UTC, BenchKind::Own).unwrap());
    let begun = Instant::now();
    let mut connection = Connection::open(path).unwrap();
    connection.execute_batch("PRAGMA synchronous = FULL; PRAGMA wal_autocheckpoint = 0; PRAGMA foreign_keys = OFF;").unwrap();
    let transaction = connection.transaction().unwrap();
    for probe in 0..PROBES {
        transaction.execute("INSERT INTO probe (probe_id, name) VALUES (?1, ?2)", params![probe as i64, name(probe)]).unwrap();
    }
    let mut insert =
        transaction.prepare("INSERT INTO reading (probe_id, time_us, raw_c_e4, proof) VALUES (?1, ?2, ?3, 0)").unwrap();
    for row in rows {
        insert.execute(params![row.probe as i64, row.time_us, row.raw_c_e4]).unwrap();
    }
    drop(insert);
    transaction.commit().unwrap();
    let at_commit = begun.elapsed();
    connection.close().unwrap();
    if clock == Clock::StopsAtCommit { at_commit } else { begun.elapsed() }.as_secs_f64()
}

fn import(path: &Path, documents: &[Document<'_>]) -> f64 {
    drop(Store::create(path, Zone::UTC, BenchKind::Own).unwrap());
    let begun = Instant::now();
    let mut store = Store::open(path).unwrap();
    let folder = Folder::read(documents, Zone::UTC);
    // Nothing in it lies in the future.
    let now: Time = "2100-01-01T00:00:00Z".parse().unwrap();
    import_folder(&mut store, &folder, Conflict::Refused, now).unwrap();
    begun.elapsed().as_secs_f64()
}

fn whole_process(path: &Path, folder: &Path) -> f64 {
    let begun = Instant::now();
    let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
    let status = command.arg("--bench").arg(path).arg("import").arg(folder).stdout(Stdio::null()).status().unwrap();
    assert!(status.success());
    begun.elapsed().as_secs_f64()
}

fn stored(path: &Path) -> usize {
    let count: i64 = Connection::open(path).unwrap().query_row("SELECT count(*) FROM reading", [], |row| row.get(0)).unwrap();
    count as usize
}
