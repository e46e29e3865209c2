//! Other programs that hold the bench.

use rusqlite::Connection;
use seedclock::probes::Player;
use seedclock::store::log_bytes;

use super::{Place, is_whole};
use crate::devices::harness::Logging;

const OFTEN: [&str; 2] = ["--commit-every", "0.1s"];

/// A bench with one reading, and a logger that listens to a board.
fn logged() -> (Place, Player, Logging) {
    let place = Place::new();
    assert!(place.import(0, 1).status.success());
    let mut board = Player::new().unwrap();
    let port = board.path().to_path_buf();
    let mut logging = Logging::into(&place.bench(), &[&port], &OFTEN);
    logging.wait_for_words("listening", 1);
    board.print(b"\n").unwrap();
    (place, board, logging)
}

#[test]
fn fault_14_while_a_shell_holds_the_bench_readings_wait_and_none_is_lost() {
    let (place, mut board, mut logging) = logged();
    let shell = Connection::open(place.bench()).unwrap();
    shell.execute_batch("BEGIN IMMEDIATE; INSERT INTO lot (name, species) VALUES ('own', 'leek');").unwrap();
    // Longer than the logger waits for a lock at a time (5 s).
    let begun = std::time::Instant::now();
    let mut printed = 0;
    while begun.elapsed().as_secs() < 7 {
        board.print(format!("p1,{}.{:04}\n", printed / 10_000, printed % 10_000).as_bytes()).unwrap();
        printed += 1;
        std::thread::sleep(std::time::Duration::from_millis(2));
    }
    assert_eq!(super::kills::count(&place.bench()), 1, "nothing was stored meanwhile");
    assert!(!logging.has_ended());
    shell.execute_batch("COMMIT").unwrap();
    logging.wait_until("what waited", |_| super::kills::count(&place.bench()) == 1 + printed);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(super::kills::raw(&place.bench())[1..], (0..printed).collect::<Vec<_>>());
    is_whole(&place.bench());
}

#[test]
fn fault_14_a_reader_that_looks_back_for_long_is_told_once_and_the_log_is_bounded_again_after_it() {
    let (place, mut board, logging) = logged();
    let reader = Connection::open(place.bench()).unwrap();
    reader.execute_batch("BEGIN; SELECT count(*) FROM reading;").unwrap();
    // Each probe's readings lie on a page of their own, so that a commit of them all is large.
    let round = |board: &mut Player| {
        let lines: String = (0..2000).map(|probe| format!("q{probe},21.5\n")).collect();
        lines.as_bytes().chunks(4000).for_each(|part| board.print(part).unwrap());
    };
    let mut rounds = 0;
    while !logging.said().contains("has grown to") {
        round(&mut board);
        rounds += 1;
        assert!(rounds < 200, "{} bytes; {}", log_bytes(&place.bench()), logging.said().lines().last().unwrap_or_default());
    }
    let (code, said, _) = place.run(&["status"]);
    assert!(code == 1 && said.contains("- The log beside the bench has grown to "), "{said}");
    assert!(said.contains("\n  next: close the program that has the bench open\n"), "{said}");
    for _ in 0..10 {
        round(&mut board);
    }
    reader.execute_batch("COMMIT").unwrap();
    drop(reader);
    let mut more = 0;
    while log_bytes(&place.bench()) > 32 * 1024 * 1024 {
        round(&mut board);
        more += 1;
        assert!(more < 200, "{} bytes", log_bytes(&place.bench()));
    }
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(said.matches("note: the log beside the bench has grown to ").count(), 1);
    assert_eq!(super::kills::count(&place.bench()), 1 + 2000 * (rounds + 10 + more));
    is_whole(&place.bench());
}
