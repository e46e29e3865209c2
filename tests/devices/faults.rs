//! What happens to ports and to the program while it runs.

use std::collections::BTreeMap;

use seedclock::bench::Proof;
use seedclock::clock::{Clock, SystemClock};
use seedclock::probes::Player;

use super::harness::{Desk, Logging, own_probe, program};

/// Commits so often that a test need not wait for one.
const OFTEN: [&str; 2] = ["--commit-every", "0.1s"];

#[test]
fn lines_from_two_boards_become_readings_stamped_as_they_arrive() {
    let desk = Desk::new();
    let (mut left, mut right) = (Player::new().unwrap(), Player::new().unwrap());
    let ports = [desk.plug("left", left.path()), desk.plug("right", right.path())];
    let before = SystemClock.now().timestamp_micros();
    let mut logging = Logging::start(&desk, &[&ports[0], &ports[1]], &OFTEN);
    logging.wait_for_words("listening", 2);
    left.print(b"\nmat,26.5\r\nmat,26.5625\r\n").unwrap();
    right.print(b"\nsill,9.25\n19.5\n").unwrap();
    let own = format!("{},19.5", own_probe(&ports[1]));
    let expected = [own.as_str(), "mat,26.5", "mat,26.5625", "sill,9.25"];
    logging.wait_until("the readings", |_| desk.bench().exists() && desk.values() == expected);
    let (status, said) = logging.stop("INT");
    assert_eq!(status.code(), Some(0), "{said}");
    let after = SystemClock.now().timestamp_micros();
    assert!(desk.readings().iter().all(|(_, reading)| (before..=after).contains(&reading.time_us)));
    assert!(said.contains(&format!("mat: 26.5 °C ({})\n  it stands at no spot yet", ports[0].display())), "{said}");
    assert!(said.ends_with("stopped: 4 readings of 3 probes stored\n"), "{said}");
}

#[test]
fn fault_46_either_signal_to_stop_stores_every_line_printed_before_it() {
    for signal in ["TERM", "INT", "HUP"] {
        let desk = Desk::new();
        let mut board = Player::new().unwrap();
        let port = desk.plug("board", board.path());
        let mut logging = Logging::start(&desk, &[&port], &["--commit-every", "1h"]);
        logging.wait_for_words("listening", 1);
        let lines: String = (0..700).map(|n| format!("p{},{}.25\n", n % 3, n % 50)).collect();
        board.print(format!("\n{lines}p0,1").as_bytes()).unwrap();
        let (status, said) = logging.stop(signal);
        assert_eq!(status.code(), Some(0), "{signal}: {said}");
        assert_eq!(desk.readings().len(), 700, "{signal}: {said}");
    }
}

#[test]
fn fault_27_a_flood_of_lines_loses_none_and_keeps_their_order() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    board.print(b"\n").unwrap();
    for start in (0..100_000).step_by(1000) {
        let lines: String = (start..start + 1000).map(|n: i64| format!("p{},{}.{:04}\n", n % 4, n / 10_000, n % 10_000)).collect();
        board.print(lines.as_bytes()).unwrap();
    }
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let mut by_probe: BTreeMap<String, Vec<Option<i64>>> = BTreeMap::new();
    for (probe, reading) in desk.readings() {
        by_probe.entry(probe.to_string()).or_default().push(reading.raw_c_e4);
    }
    for n in 0..4 {
        let expected: Vec<Option<i64>> = (n..100_000).step_by(4).map(Some).collect();
        assert_eq!(by_probe.get(&format!("p{n}")), Some(&expected), "probe p{n}: {said}");
    }
}

#[test]
fn fault_18_and_19_a_board_unplugged_in_mid_line_and_another_plugged_in_go_on_without_splicing() {
    let desk = Desk::new();
    let mut first = Player::new().unwrap();
    let port = desk.plug("board", first.path());
    let mut logging = Logging::start(&desk, &[&port], &OFTEN);
    logging.wait_for_words("listening", 1);
    first.print(b"\np1,21.5\np1,2").unwrap();
    logging.wait_until("the first reading", |_| desk.bench().exists() && desk.values() == ["p1,21.5"]);
    drop(first);
    logging.wait_for_words("unplugged; waiting for it to come back", 1);

    let mut second = Player::new().unwrap();
    desk.plug("board", second.path());
    logging.wait_for_words("listening", 2);
    second.print(b"2.5\np1,85.0\np1,22\n").unwrap();
    logging.wait_until("the later readings", |_| desk.values().len() == 3);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(desk.values(), ["p1,21.5", "p1,85", "p1,22"]);
    assert_eq!(desk.readings()[1].1.proof, Proof::PowerOn, "the first word after the port was opened again");
    let states = ["board: listening", "board: unplugged"].map(|state| said.matches(state).count());
    assert_eq!(states, [2, 1], "each change of state is said once:\n{said}");
}

#[test]
fn fault_26_a_port_that_is_not_there_yet_or_is_no_port_is_waited_for() {
    let desk = Desk::new();
    let port = desk.port("board");
    let mut logging = Logging::start(&desk, &[&port], &OFTEN);
    logging.wait_for_words("board: nothing is plugged in there; waiting for it", 1);
    std::fs::write(&port, "p1,21.5\n").unwrap();
    logging.wait_for_words("board: that is not a serial port; waiting for one to appear there", 1);
    let mut board = Player::new().unwrap();
    desk.plug("board", board.path());
    logging.wait_for_words("board: listening", 1);
    board.print(b"\np1,21.5\n").unwrap();
    logging.wait_until("the reading", |_| desk.values() == ["p1,21.5"]);
    let (status, said) = logging.stop("TERM");
    assert_eq!((status.code(), said.matches("board: ").count()), (Some(0), 3), "{said}");
}

#[test]
fn fault_26_a_port_that_another_program_has_is_said_and_taken_when_free() {
    let desk = Desk::new();
    let (mut board, other_bench) = (Player::new().unwrap(), Desk::new());
    let port = desk.plug("board", board.path());
    let mut holder = Logging::start(&other_bench, &[&port], &OFTEN);
    holder.wait_for_words("listening", 1);
    let mut logging = Logging::start(&desk, &[&port], &OFTEN);
    let words = format!("board: another program is using it (seedclock, process {}); trying again until it is free", holder.pid());
    logging.wait_for_words(&words, 1);
    holder.stop("TERM");
    logging.wait_for_words("board: listening", 1);
    board.print(b"\np1,21.5\n").unwrap();
    logging.wait_until("the reading", |_| desk.values() == ["p1,21.5"]);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

#[test]
fn fault_13_a_second_logger_on_a_bench_is_refused_and_told_who_runs() {
    let desk = Desk::new();
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    let second = program(&desk.bench()).arg("log").arg("--port").arg(&port).output().unwrap();
    assert_eq!(second.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(second.stderr).unwrap(),
        format!("seedclock: a logger already runs on {} (process {})\n", desk.bench().display(), logging.pid())
    );
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

#[test]
fn what_cannot_be_meant_is_refused_before_a_bench_is_made() {
    let desk = Desk::new();
    for (options, words) in [
        (
            vec!["--port", "/dev/a", "--port", "/dev/a"],
            "seedclock: the port /dev/a is named twice: one reader of a port is enough\n",
        ),
        (vec!["--port", " "], "seedclock: cannot use the port ' ': a name is missing\n"),
    ] {
        let refused = program(&desk.bench()).arg("log").args(options).output().unwrap();
        assert_eq!((refused.status.code(), String::from_utf8(refused.stderr).unwrap().as_str()), (Some(2), words));
    }
    for options in [vec![], vec!["--port", "/dev/a", "--commit-every", "60"], vec!["--port", "/dev/a", "--baud", "0"]] {
        let refused = program(&desk.bench()).arg("log").args(&options).output().unwrap();
        assert_eq!(refused.status.code(), Some(2), "{options:?}");
    }
    assert!(!desk.bench().exists());
}

#[test]
fn a_new_format_and_a_wrong_clock_are_each_said_once() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &OFTEN);
    logging.wait_for_words("listening", 1);
    let pack = "[{\"n\":\"p1\",\"u\":\"Cel\",\"v\":9.5,\"t\":1276020076}]\n";
    board.print(format!("\n{}{}", "p1,21.5\n".repeat(4), pack.repeat(6)).as_bytes()).unwrap();
    logging.wait_until("the readings", |_| desk.bench().exists() && desk.values().len() == 8);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let port = port.display();
    let changed = format!("\nnote: {port} prints SenML now, and '21.5' or 'probe,21.5' before: has its board been changed?\n");
    assert_eq!(said.matches(&changed).count(), 1, "{said}");
    let clock = format!("\nnote: {port}: its clock is ");
    assert_eq!(said.matches(&clock).count(), 1, "{said}");
    assert!(said.contains(" s behind this machine's: the times of arrival are used instead\n"), "{said}");
    assert_eq!(desk.values()[4..], ["p1,9.5", "p1,9.5", "p1,9.5", "p1,9.5"], "the first two packs might have been talk");
}
