//! Files that were damaged: by a loss of power, by a worn card, or by somebody's hand.

use std::path::Path;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};
use rusqlite::Connection;
use rusqlite::types::Value;
use seedclock::bench::{Name, Proof, Reading, Stamp};
use seedclock::civil::Zone;
use seedclock::store::{BenchKind, Store};

use super::{Place, is_whole, values};

const SEED: u64 = 20_260_302;

/// All rows of all tables that say something of the bench.
fn dump(path: &Path) -> Option<Vec<Vec<Value>>> {
    let connection = Connection::open(path).ok()?;
    let tables = "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT IN ('table_sum', 'day_sum') ORDER BY name";
    let names: Vec<String> =
        connection.prepare(tables).ok()?.query_map([], |row| row.get(0)).ok()?.collect::<Result<_, _>>().ok()?;
    let mut all = Vec::new();
    for name in names {
        let mut statement = connection.prepare(&format!("SELECT * FROM \"{name}\"")).ok()?;
        let columns = statement.column_count();
        let rows = statement.query_map([], |row| (0..columns).map(|column| row.get(column)).collect()).ok()?;
        all.extend(rows.collect::<Result<Vec<Vec<Value>>, _>>().ok()?);
    }
    Some(all)
}

/// A backup of a bench with a box, two looks and some days of readings.
fn backup() -> (Place, Vec<u8>) {
    let place = Place::new();
    assert!(place.import(0, 8000).status.success());
    for line in [
        &["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"][..],
        &["probe", "place", "p1", "sill", "--since", "2026-03-01 08:00"],
        &["check", "A1", "2", "--at", "2026-03-03 08:00"],
        &["backup", "kept.backup.db"],
    ] {
        place.says(line);
    }
    let bytes = std::fs::read(place.path("kept.backup.db")).unwrap();
    (place, bytes)
}

/// Each bit flipped alone: no command panics, and what `verify` calls whole holds what it held.
fn bits_flipped(flips: usize) {
    let (place, bytes) = backup();
    let before = dump(&place.path("kept.backup.db")).unwrap();
    let mut dice = ChaCha8Rng::seed_from_u64(SEED);
    let (mut refused, mut named, mut whole) = (0, 0, 0);
    for flip in 0..flips {
        let place = Place::new();
        let (at, bit) = (dice.random_range(0..bytes.len()), dice.random_range(0..8));
        let mut damaged = bytes.clone();
        damaged[at] ^= 1 << bit;
        std::fs::write(place.bench(), &damaged).unwrap();
        let what = format!("bit {bit} of byte {at}");
        let (code, said, told) = place.run(&["verify"]);
        match code {
            0 => {
                whole += 1;
                assert!(dump(&place.bench()).as_ref() == Some(&before), "{what} changed something: {said}");
            }
            1 => {
                named += 1;
                assert!(said.starts_with("bench.db is damaged:\n  ") && told.is_empty(), "{what}: {said}{told}");
            }
            2 | 75 => {
                refused += 1;
                assert!(told.contains("bench.db"), "{what}: {told}");
            }
            other => panic!("{what}: {other}: {said}{told}"),
        }
        assert!(std::fs::read(place.bench()).unwrap() == damaged, "{what}: verify changes nothing");
        // One of the others in turn, since each costs a start of the program.
        let others: [&[&str]; 6] = [
            &["status"],
            &["export", "out"],
            &["forecast", "--as-of", "2026-03-04"],
            &["check", "A1", "none", "--at", "2026-03-03 18:00"],
            &["restore", "bench.db", "--to", "again.db", "--damaged-too"],
            &["backup", "again.backup.db"],
        ];
        let (code, said, told) = place.run(others[flip % others.len()]);
        assert!(matches!(code, 0 | 1 | 2 | 75) && !told.contains("panicked"), "{what}: {code}: {said}{told}");
    }
    println!("{flips} bits flipped: {refused} refused, {named} named, {whole} without consequence");
    // The rest lies where nothing is kept: at the ends of pages that are not full.
    assert!(named + refused > flips / 3, "{refused} refused, {named} named, {whole} without consequence");
}

#[test]
fn fault_9_a_flipped_bit_is_named_or_has_no_consequence() {
    bits_flipped(60);
}

/// `cargo test --release --test main four_hundred_bits -- --ignored --nocapture`
#[test]
#[ignore = "a longer proof"]
fn fault_9_four_hundred_bits() {
    bits_flipped(400);
}

#[test]
fn fault_9_a_changed_value_that_sqlite_calls_whole_is_named_by_its_day_and_the_rest_restored() {
    let place = Place::new();
    assert!(place.import(0, 4000).status.success());
    place.says(&["backup", "kept.backup.db"]);
    let change = "PRAGMA writable_schema = ON; DROP TRIGGER reading_changed; UPDATE reading SET raw_c_e4 = raw_c_e4 + 1 WHERE raw_c_e4 = 150000;";
    Connection::open(place.path("kept.backup.db")).unwrap().execute_batch(change).unwrap();
    let (code, said, told) = place.run(&["verify", "kept.backup.db"]);
    assert_eq!(
        (code, said.as_str(), told.as_str()),
        (
            1,
            "kept.backup.db is damaged:\n  p1 on 2026-03-02: a value was changed\n  next: `seedclock restore BACKUP` brings back what a \
             backup holds; look after the disk first\n",
            ""
        )
    );
    let (code, said, _) = place.run(&["verify", "kept.backup.db", "--json"]);
    let answer: serde_json::Value = serde_json::from_str(&said).unwrap();
    assert_eq!((code, &answer["whole"]), (1, &false.into()));
    let day = serde_json::json!([{"probe": "p1", "day": "2026-03-02", "written": 1440, "found": 1440}]);
    assert_eq!(answer["damaged_days"], day);
    let (code, _, told) = place.run(&["restore", "kept.backup.db"]);
    assert_eq!(
        (code, told.as_str()),
        (
            2,
            "seedclock: nothing was restored to bench.db: kept.backup.db is damaged:\n  p1 on 2026-03-02: a value was changed\n  next: \
             another backup, or `--damaged-too` for what is sound\n"
        )
    );
    assert_eq!(values(&place.bench()).len(), 4000, "the bench is as it was");
    let said = place.says(&["restore", "kept.backup.db", "--damaged-too", "--to", "again.db"]);
    assert_eq!(
        said,
        "restored again.db from kept.backup.db: 0 boxes, 1 probe, the last reading of Tue 3 Mar 2026, 19:39\nleft out, since it is \
         damaged there:\n  p1 on 2026-03-02: a value was changed\n"
    );
    let kept: Vec<i64> = (0..1440).chain(2880..4000).collect();
    assert_eq!(values(&place.path("again.db")), kept);
    is_whole(&place.path("again.db"));
}

#[test]
fn fault_10_a_file_cut_short_emptied_or_of_garbage_is_refused_with_its_path_and_left_as_it_is() {
    let (place, bytes) = backup();
    let garbage: Vec<u8> = (0..bytes.len()).map(|at| (at * 31 % 251) as u8).collect();
    let bench = std::fs::read(place.bench()).unwrap();
    for damaged in [Vec::new(), bytes[..50].to_vec(), bytes[..100].to_vec(), bytes[..5000].to_vec(), garbage] {
        std::fs::write(place.path("odd.db"), &damaged).unwrap();
        for command in [&["verify", "odd.db"][..], &["restore", "odd.db"], &["backup", "odd.db"]] {
            let (code, said, told) = place.run(command);
            assert!(matches!(code, 1 | 2 | 75), "{command:?} of {} bytes: {said}{told}", damaged.len());
            assert!(format!("{said}{told}").contains("odd.db"), "{command:?}: {said}{told}");
            assert!(std::fs::read(place.path("odd.db")).unwrap() == damaged, "{command:?} of {} bytes", damaged.len());
            assert!(std::fs::read(place.bench()).unwrap() == bench, "{command:?}");
        }
    }
}

/// Three commits after the file's own content, with the log of all of them.
fn file_and_log() -> (Vec<u8>, Vec<u8>) {
    let place = Place::new();
    let mut store = Store::create(&place.bench(), Zone::UTC, BenchKind::Own).unwrap();
    let p1 = Name::new("p1").unwrap();
    for commit in 0..40 {
        let batch: Vec<_> = (0..5)
            .map(|at| {
                let reading =
                    Reading { time_us: commit * 5 + at + 1, raw_c_e4: Some((commit * 5 + at) * 100), proof: Proof::Plain };
                (p1.clone(), reading, Stamp::Arrival)
            })
            .collect();
        store.append_arrivals(&batch).unwrap();
    }
    (std::fs::read(place.bench()).unwrap(), std::fs::read(place.path("bench.db-wal")).unwrap())
}

#[test]
fn fault_4_a_log_cut_zeroed_or_garbled_anywhere_opens_as_a_beginning_of_the_commits() {
    let (file, log) = file_and_log();
    let every = if std::env::var_os("SEEDCLOCK_EVERY_FAULT").is_some() { 331 } else { 2731 };
    let mut seen = std::collections::BTreeSet::new();
    for at in (0..log.len()).step_by(every) {
        let garbled = |byte: fn(usize) -> u8| [&log[..at], &(at..log.len()).map(byte).collect::<Vec<u8>>()[..]].concat();
        for damaged in [log[..at].to_vec(), garbled(|_| 0), garbled(|at| (at * 57 % 253) as u8)] {
            let place = Place::new();
            std::fs::write(place.bench(), &file).unwrap();
            std::fs::write(place.path("bench.db-wal"), damaged).unwrap();
            is_whole(&place.bench());
            let kept = values(&place.bench());
            assert!(kept.len().is_multiple_of(5), "at {at}: a commit came by half: {} readings", kept.len());
            assert!(kept == (0..kept.len() as i64).collect::<Vec<_>>(), "at {at}: {kept:?}");
            seen.insert(kept.len());
        }
    }
    assert!(seen.len() > 10, "{seen:?}");
}
