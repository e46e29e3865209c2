//! Loggers killed at any moment, and with too little memory.

use std::process::Command;

use rand::{RngExt, SeedableRng};
use rusqlite::Connection;
use seedclock::bench::Name;
use seedclock::probes::Player;
use seedclock::store::Store;

use super::{Place, is_whole, tool};
use crate::devices::harness::{Logging, program};

const KILLS: usize = 40;
const SEED: u64 = 20_260_301;

/// As many numbers a board prints before it begins again: up to 99.9999 °C.
const NUMBERS: i64 = 1_000_000;

/// Whether no number is missing in between.
fn follow_one_another(numbers: &[i64]) -> bool {
    numbers.windows(2).all(|pair| pair[1] == (pair[0] + 1) % NUMBERS)
}

/// A board that prints one number after the other, each line once, from 0 on, in 1/10 000 °C.
pub(super) fn counting_board(mut board: Player) {
    std::thread::spawn(move || {
        // A board that prints some ten thousand lines a second, until nobody reads it any more.
        for start in (0..).step_by(20) {
            let number = |n: i64| n % NUMBERS;
            let lines: String = (start..start + 20).map(number).map(|n| format!("p1,{}.{:04}\n", n / 10_000, n % 10_000)).collect();
            if board.print(lines.as_bytes()).is_err() {
                return;
            }
            std::thread::sleep(std::time::Duration::from_millis(1));
        }
    });
}

pub(super) fn raw(bench: &std::path::Path) -> Vec<i64> {
    let store = Store::open_read_only(bench).unwrap();
    let readings = store.readings(&Name::new("p1").unwrap(), i64::MIN, i64::MAX).unwrap();
    readings.iter().map(|reading| reading.raw_c_e4.unwrap()).collect()
}

pub(super) fn count(bench: &std::path::Path) -> i64 {
    let connection = Connection::open(bench).unwrap();
    connection.query_row("SELECT count(*) FROM reading", [], |row| row.get(0)).unwrap_or(0)
}

fn killed_at_random(kills: usize) {
    let place = Place::new();
    assert!(place.import(0, 1).status.success());
    let mut dice = rand::rngs::ChaCha8Rng::seed_from_u64(SEED);
    let board = Player::new().unwrap();
    let port = board.path().to_path_buf();
    counting_board(board);
    let mut before: Vec<i64> = raw(&place.bench());
    for kill in 0..kills {
        let mut logging = Logging::into(&place.bench(), &[&port], &["--commit-every", "0.1s"]);
        let wanted = before.len() as i64 + dice.random_range(1..2500);
        // What another opening sees was committed, and so acknowledged.
        let mut acknowledged = 0;
        logging.wait_until("its readings", |_| {
            acknowledged = count(&place.bench());
            acknowledged >= wanted
        });
        logging.stop("KILL");
        is_whole(&place.bench());
        let after = raw(&place.bench());
        assert!(after.len() as i64 >= acknowledged, "kill {kill}: {acknowledged} were acknowledged, {} are there", after.len());
        assert!(after.starts_with(&before), "kill {kill}: what was there before is there");
        // Of what this logger heard, a beginning without a hole.
        assert!(follow_one_another(&after[before.len()..]), "kill {kill}: a line is missing in between");
        before = after;
    }
}

#[test]
fn fault_1_a_logger_killed_at_any_moment_loses_nothing_acknowledged() {
    killed_at_random(KILLS);
}

/// `cargo test --release --test main two_hundred_kills -- --ignored`
#[test]
#[ignore = "a longer proof"]
fn fault_1_two_hundred_kills() {
    killed_at_random(200);
}

#[test]
fn fault_17_too_little_memory_is_as_a_kill() {
    let (mut ended_early, mut went_well) = (0, 0);
    for megabytes in [6, 9, 12, 16, 24, 48, 96, 256] {
        let place = Place::new();
        assert!(place.import(0, 1).status.success());
        let board = Player::new().unwrap();
        let port = board.path().to_path_buf();
        counting_board(board);
        let mut command: Command = tool("prlimit");
        command.arg(format!("--as={}", megabytes * 1_000_000)).arg(env!("CARGO_BIN_EXE_seedclock"));
        command.arg("--bench").arg(place.bench());
        let mut logging = Logging::by(command, &[&port], &["--commit-every", "0.1s"]);
        let mut acknowledged = 1;
        logging.wait_until_or_end("its readings", |_| {
            acknowledged = count(&place.bench());
            acknowledged > 3000
        });
        let ended = logging.has_ended();
        let (status, said) = if ended { logging.end() } else { logging.stop("TERM") };
        assert!(!said.contains("panicked"), "{megabytes} MB: {said}");
        // It may also have run out of memory in the very moment in which it was to be stopped.
        let ended = ended || said.contains("memory allocation of ");
        *if ended { &mut ended_early } else { &mut went_well } += 1;
        assert!(ended || status.code() == Some(0), "{megabytes} MB: {said}");
        is_whole(&place.bench());
        let after = raw(&place.bench());
        assert!(after.len() as i64 >= acknowledged, "{megabytes} MB");
        assert!(follow_one_another(&after[1..]), "{megabytes} MB");
    }
    assert!(ended_early > 0 && went_well > 0, "{ended_early} ended early, {went_well} went well");
}

#[test]
fn fault_15_a_backup_made_while_readings_pour_in_is_a_beginning_of_them() {
    let place = Place::new();
    let board = Player::new().unwrap();
    let port = board.path().to_path_buf();
    counting_board(board);
    let mut logging = Logging::by(program(&place.bench()), &[&port], &["--commit-every", "0.1s"]);
    let mut kept = Vec::new();
    for round in 1..=3 {
        logging.wait_until("its readings", |_| place.bench().exists() && count(&place.bench()) > round * 2000);
        place.says(&["backup", &format!("{round}.backup.db")]);
        assert!(!logging.has_ended());
        kept.push(raw(&place.path(&format!("{round}.backup.db"))));
    }
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let all = raw(&place.bench());
    assert!(follow_one_another(&all));
    for (round, kept) in (1..).zip(kept) {
        assert!(kept.len() > round * 2000 && all.starts_with(&kept), "round {round}");
    }
    place.says(&["restore", "2.backup.db", "--to", "again.db"]);
    is_whole(&place.path("again.db"));
    assert!(all.starts_with(&raw(&place.path("again.db"))));
}
