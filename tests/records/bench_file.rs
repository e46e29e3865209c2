//! The bench file itself: what is refused is not touched, and what is written stays.

use std::path::Path;

use rusqlite::Connection;
use seedclock::civil::Zone;
use seedclock::store::{BenchKind, Checkpointed, Store, StoreError};

use super::Desk;

/// A new bench, its file changed by `sql` and closed whole.
fn changed_bench(desk: &Desk, sql: &str) {
    drop(Store::create(&desk.bench(), Zone::UTC, BenchKind::Own).unwrap());
    Connection::open(desk.bench()).unwrap().execute_batch(sql).unwrap();
}

/// Every command leaves the folder of a refused file as it was, to the byte, and names it.
fn is_refused(desk: &Desk, complaint: &str) {
    let before = desk.files("");
    let commands: [&[&str]; 4] = [
        &["check", "A1", "none"],
        &["export", "out"],
        &["sow", "A1", "--species", "leek", "--spot", "sill"],
        &["move", "A1", "sill"],
    ];
    for command in commands {
        let answer = desk.run(command);
        assert_eq!((answer.code, answer.err.as_str()), (2, complaint), "{command:?}");
    }
    assert!(desk.files("") == before, "a file of the folder was changed, added or taken away");
}

#[test]
fn a_newer_bench_is_refused_and_left_as_it_was() {
    let desk = Desk::new();
    changed_bench(&desk, "PRAGMA user_version = 5; CREATE TABLE later (x);");
    is_refused(
        &desk,
        "seedclock: bench.db was written by a later seedclock (file version 5; this one knows up to 4): it was left as it is\n  \
         next: use the later seedclock\n",
    );
}

#[test]
fn a_newer_bench_that_was_not_closed_keeps_its_log() {
    let desk = Desk::new();
    changed_bench(&desk, "PRAGMA user_version = 5;");
    let writer = Connection::open(desk.bench()).unwrap();
    writer.execute_batch("PRAGMA wal_autocheckpoint = 0; CREATE TABLE later (x); INSERT INTO later VALUES (7);").unwrap();
    // The files as a loss of power would leave them.
    let left = Desk::new();
    for file in ["bench.db", "bench.db-wal"] {
        std::fs::copy(desk.path(file), left.path(file)).unwrap();
    }
    let before: Vec<_> = left.files("");
    assert_eq!(left.run(&["check", "A1", "none"]).code, 2);
    let after: Vec<_> = left.files("").into_iter().filter(|(name, _)| name != "bench.db-shm").collect();
    assert!(before == after, "file and log are as they were; only the index of the log, which holds nothing, was made anew");
}

#[test]
fn foreign_files_are_refused_and_left_as_they_were() {
    let complaint = "seedclock: bench.db is not a seedclock bench: it was left as it is\n";
    let foreign: [fn(&Path); 4] = [
        |path| std::fs::write(path, "some text that is no database at all\n".repeat(50)).unwrap(),
        |path| std::fs::write(path, "").unwrap(),
        |path| Connection::open(path).unwrap().execute_batch("CREATE TABLE spot (name TEXT);").unwrap(),
        |path| {
            let sql = "PRAGMA journal_mode = WAL; PRAGMA application_id = 77; CREATE TABLE spot (name TEXT);";
            Connection::open(path).unwrap().execute_batch(sql).unwrap();
        },
    ];
    for make in foreign {
        let desk = Desk::new();
        make(&desk.bench());
        is_refused(&desk, complaint);
    }
}

#[test]
fn a_damaged_bench_is_a_failure_of_the_storage() {
    let desk = Desk::new();
    desk.says(&["sow", "A1", "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    let mut bytes = std::fs::read(desk.bench()).unwrap();
    // All pages but the first, which holds the header and where the list of tables begins.
    bytes[4096..].fill(0xA5);
    std::fs::write(desk.bench(), bytes).unwrap();
    let answer = desk.run(&["check", "A1", "none"]);
    assert_eq!((answer.code, answer.out.as_str()), (75, ""));
    assert_eq!(answer.err, "seedclock: the storage failed while opening bench.db: database disk image is malformed\n");
}

#[test]
fn tables_take_no_text_for_a_number_and_no_reading_without_a_probe() {
    let desk = Desk::new();
    drop(Store::create(&desk.bench(), Zone::UTC, BenchKind::Own).unwrap());
    let connection = Connection::open(desk.bench()).unwrap();
    connection.execute_batch("INSERT INTO probe (name) VALUES ('p1')").unwrap();
    let refused = |sql: &str| connection.execute(sql, []).unwrap_err().to_string();
    assert_eq!(
        refused("INSERT INTO reading VALUES (1, 'noon', 5, 0)"),
        "cannot store TEXT value in INTEGER column reading.time_us"
    );
    assert_eq!(refused("INSERT INTO reading VALUES (1, 5, 5, NULL)"), "NOT NULL constraint failed: reading.proof");
    connection.execute_batch("INSERT INTO reading VALUES (1, 5, NULL, 3)").unwrap();
}

#[test]
fn commits_go_to_a_write_ahead_log_until_a_checkpoint_moves_them() {
    let desk = Desk::new();
    let mut store = Store::create(&desk.bench(), Zone::UTC, BenchKind::Demo).unwrap();
    let log = desk.path("bench.db-wal");
    let reader = Connection::open(desk.bench()).unwrap();
    reader.execute_batch("BEGIN; SELECT * FROM spot;").unwrap();
    let probe = seedclock::bench::Name::new("p1").unwrap();
    let reading = |time_us| seedclock::bench::Reading { time_us, raw_c_e4: Some(215_000), proof: seedclock::bench::Proof::Plain };
    let arrived = |time_us| (probe.clone(), reading(time_us), seedclock::bench::Stamp::Arrival);
    store.append_arrivals(&[arrived(1), arrived(2)]).unwrap();
    assert!(std::fs::metadata(&log).unwrap().len() > 0, "the log is in use");
    assert!(matches!(store.checkpoint(), Ok(Checkpointed::Partly { pages_left: 1.. })), "a reader that looks back holds it up");
    drop(reader);
    assert_eq!(store.checkpoint().unwrap(), Checkpointed::Whole);
    drop(store);
    assert!(!log.exists(), "the last to close leaves one file");
    let again = Store::open(&desk.bench()).unwrap();
    assert_eq!(again.kind(), BenchKind::Demo);
    assert_eq!(again.readings(&probe, 1, 2).unwrap(), [reading(1)], "from inclusive, until exclusive");
    assert!(matches!(Store::create(&desk.bench(), Zone::UTC, BenchKind::Own), Err(StoreError::Exists(_))));
}

#[test]
fn processes_that_write_at_once_lose_nothing() {
    let desk = Desk::new();
    desk.says(&["sow", "A0", "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    std::thread::scope(|scope| {
        for writer in 0..4 {
            let desk = &desk;
            scope.spawn(move || {
                for round in 0..5 {
                    let name = format!("W{writer}-{round}");
                    desk.says(&["sow", &name, "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"]);
                }
            });
        }
    });
    let bench = Store::open_read_only(&desk.bench()).unwrap().bench().unwrap();
    assert_eq!(bench.trials.len(), 21);
}

#[test]
fn a_reader_writes_nothing() {
    let desk = Desk::new();
    drop(Store::create(&desk.bench(), Zone::UTC, BenchKind::Own).unwrap());
    let mut store = Store::open_read_only(&desk.bench()).unwrap();
    let now = seedclock::civil::Time::UNIX_EPOCH;
    let name = |text| seedclock::bench::Name::new(text).unwrap();
    let lot = seedclock::bench::rules::Entry::Lot(seedclock::bench::Lot::new(name("own saved"), name("leek")));
    assert!(seedclock::changes::make(&mut store, now, |_| Ok(vec![seedclock::changes::Wish::to_record(vec![lot])])).is_err());
}
