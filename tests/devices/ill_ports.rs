//! Ports that pour out garbage, come and go, or may not be opened; and a program that stands still for a while.

use std::os::unix::fs::PermissionsExt as _;
use std::path::PathBuf;
use std::process::Command;

use rand::rngs::ChaCha8Rng;
use rand::{RngExt as _, SeedableRng as _};
use seedclock::probes::Player;

use super::harness::{Desk, Logging, end_strace, program, strace};

/// Megabytes that a logger may hold at most whatever comes in.
const MOST_MEGABYTES: u64 = 64;

/// A number out of the system's account of a process, as "VmRSS" or "Threads".
fn of_process(logging: &Logging, what: &str) -> u64 {
    let status = std::fs::read_to_string(format!("/proc/{}/status", logging.pid())).unwrap();
    let line = status.lines().find_map(|line| line.strip_prefix(what)?.strip_prefix(':').map(str::to_owned)).unwrap();
    line.split_whitespace().next().unwrap().parse().unwrap()
}

fn open_files(logging: &Logging) -> usize {
    std::fs::read_dir(format!("/proc/{}/fd", logging.pid())).unwrap().count()
}

/// Pours noise and a line without an end into a logger, then lets `good_lines` print what can be read; says what came of it.
fn after_garbage(options: &[&str], good_lines: impl FnOnce(&mut Player, &mut Logging, &Desk)) {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], options);
    logging.wait_for_words("listening", 1);
    let mut dice = ChaCha8Rng::seed_from_u64(20);
    let mut bytes = vec![0; 100_000];
    for _ in 0..40 {
        dice.fill(&mut bytes[..]);
        board.print(&bytes).unwrap();
    }
    // An endless line of what might be text.
    for _ in 0..40 {
        board.print(&[b'7'; 100_000]).unwrap();
    }
    board.print(b"\n").unwrap();
    good_lines(&mut board, &mut logging, &desk);
    assert!(of_process(&logging, "VmHWM") < MOST_MEGABYTES * 1024, "{} kB", of_process(&logging, "VmHWM"));
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(desk.values().iter().all(|value| value == "p1,21.5"), "{:?}", desk.values());
    assert!(said.matches("could not be read:").count() == 1, "told once");
}

#[test]
fn fault_20_and_21_garbage_makes_no_reading_fills_no_memory_and_harms_no_line_after_it() {
    after_garbage(&["--commit-every", "0.1s", "--baud", "9600"], |board, logging, desk| {
        board.print("p1,21.5\n".repeat(4).as_bytes()).unwrap();
        logging.wait_until("the four lines", |_| desk.bench().exists() && desk.values().len() == 4);
    });
}

/// Where the speed is to be found, a change of it drops what was on its way at the speed before; a board prints on, and is read.
#[test]
fn fault_20_and_21_a_board_whose_speed_is_sought_is_read_again_after_garbage() {
    after_garbage(&["--commit-every", "0.1s"], |board, logging, desk| {
        logging.wait_until("a good line", |_| {
            board.print(b"p1,21.5\n").unwrap();
            desk.bench().exists() && !desk.values().is_empty()
        });
    });
}

#[test]
fn fault_28_a_program_that_stands_still_holds_the_board_up_and_loses_nothing() {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    let signal = |name: &str| assert!(Command::new("kill").args([name, &logging.pid().to_string()]).status().unwrap().success());
    signal("-STOP");
    // Far more than fits on the way, so that the board waits in the middle of it.
    let printing = std::thread::spawn(move || {
        let lines: String = (0..20_000).map(|n| format!("p1,{}.{:04}\n", n / 10_000, n % 10_000)).collect();
        board.print(format!("\n{lines}").as_bytes()).unwrap();
        board
    });
    while !std::fs::read_to_string(format!("/proc/{}/stat", logging.pid())).unwrap().contains(") T ") {
        std::thread::yield_now();
    }
    assert!(!printing.is_finished());
    signal("-CONT");
    let board = printing.join().unwrap();
    let (status, said) = logging.stop("TERM");
    drop(board);
    assert_eq!(status.code(), Some(0), "{said}");
    let raw: Vec<Option<i64>> = desk.readings().into_iter().map(|(_, reading)| reading.raw_c_e4).collect();
    assert_eq!(raw, (0..20_000).map(Some).collect::<Vec<_>>());
}

/// How often each port is unplugged, and how many there are. By hand, more: see "Longer proofs" in DEVELOPERS.md.
fn rounds() -> (usize, usize) {
    let number = |name: &str, usual| std::env::var(name).map_or(usual, |text| text.parse().unwrap());
    (number("SEEDCLOCK_ROUNDS", 6), number("SEEDCLOCK_PORTS", 16))
}

#[test]
fn fault_33_ports_that_come_and_go_leave_no_file_open_and_no_thread() {
    let (rounds, count) = rounds();
    let desk = Desk::new();
    let names: Vec<String> = (0..count).map(|n| format!("board{n}")).collect();
    let plug = || -> (Vec<Player>, Vec<PathBuf>) {
        names
            .iter()
            .map(|name| {
                let board = Player::new().unwrap();
                let port = desk.plug(name, board.path());
                (board, port)
            })
            .unzip()
    };
    let (mut boards, ports) = plug();
    let paths: Vec<&std::path::Path> = ports.iter().map(PathBuf::as_path).collect();
    let mut logging = Logging::start(&desk, &paths, &["--commit-every", "0.1s"]);
    logging.wait_for_words("listening", count);
    let before = (open_files(&logging), of_process(&logging, "Threads"));
    for round in 1..=rounds {
        drop(boards);
        logging.wait_for_words("unplugged", round * count);
        boards = plug().0;
        logging.wait_for_words("listening", (round + 1) * count);
        for (n, board) in boards.iter_mut().enumerate() {
            board.print(format!("\np{n},{}.5\n", round % 100).as_bytes()).unwrap();
        }
        logging.wait_until("every board's line", |_| desk.bench().exists() && desk.readings().len() == round * count);
    }
    assert_eq!((open_files(&logging), of_process(&logging, "Threads")), before);
    drop(boards);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

/// An empty socket costs a look every other second: of one core, less than one part in a hundred.
#[test]
fn fault_18_an_unplugged_port_costs_no_work() {
    let desk = Desk::new();
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    drop(board);
    logging.wait_for_words("unplugged", 1);
    // Calls of the system are counted, not time: a loop that spins makes a million in a second.
    let counting = strace(&logging, &["-c", "-o", desk.port("calls").to_str().unwrap()]);
    let begun = std::time::Instant::now();
    while begun.elapsed() < std::time::Duration::from_secs(3) {
        std::thread::park_timeout(std::time::Duration::from_secs(3));
    }
    end_strace(counting);
    let calls = std::fs::read_to_string(desk.port("calls")).unwrap();
    let total = calls.lines().find(|line| line.ends_with(" total")).unwrap_or_else(|| panic!("{calls}"));
    let total: Vec<&str> = total.split_whitespace().collect();
    let count: u64 = total[3].parse().unwrap_or_else(|_| panic!("{calls}"));
    assert!(count < 1_000, "{calls}");
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

#[test]
fn fault_26_a_port_that_this_account_may_not_open_is_told_with_the_group_that_may() {
    let desk = Desk::new();
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let is_root = rustix::process::geteuid().is_root();
    // Root may open anything; so somebody else asks.
    std::fs::set_permissions(board.path(), std::fs::Permissions::from_mode(if is_root { 0o660 } else { 0o000 })).unwrap();
    let mut command = if is_root {
        std::fs::set_permissions(desk.port("."), std::fs::Permissions::from_mode(0o777)).unwrap();
        // A copy where everybody may run it.
        let copy = desk.port("seedclock");
        std::fs::copy(env!("CARGO_BIN_EXE_seedclock"), &copy).unwrap();
        std::fs::set_permissions(&copy, std::fs::Permissions::from_mode(0o755)).unwrap();
        let mut command = Command::new("setpriv");
        command.args(["--reuid=65534", "--regid=65534", "--clear-groups"]).arg(copy).arg("--bench").arg(desk.bench());
        command
    } else {
        program(&desk.bench())
    };
    command.env("HOME", desk.port("."));
    let mut logging = Logging::by(command, &[&port], &[]);
    logging.wait_for_words("board: this account may not open it", 1);
    std::fs::set_permissions(board.path(), std::fs::Permissions::from_mode(0o666)).unwrap();
    logging.wait_for_words("board: listening", 1);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

#[test]
fn fault_26_status_says_how_it_stands_with_each_source_and_who_has_a_busy_port() {
    const OFTEN: [&str; 2] = ["--commit-every", "0.1s"];
    let desk = Desk::new();
    let (board, other) = (Player::new().unwrap(), Desk::new());
    let (port, absent) = (desk.plug("board", board.path()), desk.port("absent"));
    let mut holder = Logging::start(&other, &[&port], &OFTEN);
    holder.wait_for_words("listening", 1);
    let mut logging = Logging::start(&desk, &[&port, &absent], &OFTEN);
    let holds = format!("{}: another program is using it (seedclock, process {})", port.display(), holder.pid());
    let plugged = format!("{}: nothing is plugged in there; waiting for it", absent.display());
    let status = || {
        let answer = program(&desk.bench()).arg("status").output().unwrap();
        (answer.status.code(), String::from_utf8(answer.stdout).unwrap())
    };
    let whole = |said: &str| said.split_whitespace().collect::<Vec<_>>().join(" ");
    logging.wait_until("status to tell", |_| desk.bench().exists() && whole(&status().1).matches(&holds).count() == 2);
    logging.wait_until("status to tell", |_| whole(&status().1).matches(&plugged).count() == 2);
    let (code, said) = status();
    let next = format!("next: close seedclock (process {}), or take another port", holder.pid());
    assert!(code == Some(1) && whole(&said).contains(&next), "{said}");
    holder.stop("TERM");
    logging.wait_until("status to tell", |_| status().1.contains(&format!("{}: listening, since ", port.display())));
    logging.stop("TERM");
    assert!(!status().1.contains("listening"), "without a logger nobody knows");
}
