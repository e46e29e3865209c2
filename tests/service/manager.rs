//! A stand-in for the service manager, and the real program.

use std::os::unix::net::UnixDatagram;
use std::time::Duration;

use seedclock::probes::Player;

use crate::devices::harness::{Desk, Logging, end_strace, program, strace};

/// Nothing here takes a tenth of this.
const DEADLINE: Duration = Duration::from_secs(60);

struct Manager(UnixDatagram);

impl Manager {
    fn on(desk: &Desk) -> Self {
        let socket = UnixDatagram::bind(desk.port("notify")).unwrap();
        socket.set_read_timeout(Some(DEADLINE)).unwrap();
        Self(socket)
    }

    fn next(&self) -> String {
        let mut bytes = [0; 4096];
        let count = self.0.recv(&mut bytes).expect("a message from the logger");
        String::from_utf8(bytes[..count].to_vec()).unwrap()
    }

    /// Forgets what has come so far.
    fn forget(&self) {
        self.0.set_nonblocking(true).unwrap();
        let mut bytes = [0; 4096];
        while self.0.recv(&mut bytes).is_ok() {}
        self.0.set_nonblocking(false).unwrap();
    }
}

#[test]
fn the_manager_hears_that_the_logger_is_ready_alive_and_stopping() {
    let desk = Desk::new();
    let manager = Manager::on(&desk);
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut command = program(&desk.bench());
    command.env("NOTIFY_SOCKET", desk.port("notify")).env("WATCHDOG_USEC", "300000").env("WATCHDOG_PID", "");
    let mut logging = Logging::by(command, &[&port], &["--commit-every", "0.1s"]);
    let first = manager.next();
    assert_eq!(first, "READY=1\nWATCHDOG=1\nSTATUS=0 probes heard, 0 readings stored, 0 waiting\n", "an empty number is not ours");
    logging.wait_for_words("listening", 1);
    board.print(b"\np1,21.5\np2,9.5\n").unwrap();
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let mut last = manager.next();
    while last != "STOPPING=1\n" {
        assert!(last.starts_with("WATCHDOG=1\nSTATUS="), "{last}");
        last = manager.next();
    }
    assert!(!said.contains("<6>"), "what is not the journal is spoken to plainly");
}

/// A program that stands still feeds no watchdog: it is the manager's to start another. One that goes on feeds it again.
#[test]
fn fault_47_a_logger_that_stands_still_gives_no_sign_of_life() {
    let desk = Desk::new();
    let manager = Manager::on(&desk);
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut command = program(&desk.bench());
    command.env("NOTIFY_SOCKET", desk.port("notify")).env("WATCHDOG_USEC", "300000");
    let mut logging = Logging::by(command, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    assert!(manager.next().starts_with("READY=1\nWATCHDOG=1\n"));
    let signal = |name: &str| {
        assert!(std::process::Command::new("kill").args([name, &logging.pid().to_string()]).status().unwrap().success());
    };
    signal("-STOP");
    // Stopped for sure once the system says so of every thread.
    let stands = || std::fs::read_to_string(format!("/proc/{}/stat", logging.pid())).unwrap().contains(") T ");
    while !stands() {
        std::thread::yield_now();
    }
    manager.forget();
    manager.0.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    assert!(manager.0.recv(&mut [0; 64]).is_err(), "two seconds are twenty feeds");
    manager.0.set_read_timeout(Some(DEADLINE)).unwrap();
    signal("-CONT");
    assert!(manager.next().starts_with("WATCHDOG=1\n"));
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}

/// A disk that hangs holds up the writer alone: the ports' threads go on, and yet no sign of life comes until it is over.
#[test]
fn fault_47_a_writer_that_hangs_gives_no_sign_of_life_though_ports_are_read() {
    let desk = Desk::new();
    let manager = Manager::on(&desk);
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut command = program(&desk.bench());
    command.env("NOTIFY_SOCKET", desk.port("notify")).env("WATCHDOG_USEC", "300000");
    let mut logging = Logging::by(command, &[&port], &["--commit-every", "0.1s"]);
    logging.wait_for_words("listening", 1);
    let hanging = strace(&logging, &["-o", "/dev/null", "-e", "inject=fsync,fdatasync:delay_enter=5000000:when=1"]);
    manager.0.set_read_timeout(Some(Duration::from_secs(2))).unwrap();
    board.print(b"\np1,21.5\n").unwrap();
    let begun = std::time::Instant::now();
    while manager.0.recv(&mut [0; 4096]).is_ok() {
        assert!(begun.elapsed() < DEADLINE, "it never stops to feed");
    }
    // More than has room on the way from the board: somebody reads the port meanwhile, until the writer's own room is full.
    board.print("p1,21.5\n".repeat(3_000).as_bytes()).unwrap();
    manager.0.set_read_timeout(Some(DEADLINE)).unwrap();
    assert!(manager.next().starts_with("WATCHDOG=1\n"));
    end_strace(hanging);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(desk.readings().len(), 3_001, "{said}");
}

#[test]
fn a_manager_that_is_not_there_is_no_reason_not_to_log() {
    let desk = Desk::new();
    let board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut command = program(&desk.bench());
    command.env("NOTIFY_SOCKET", "/nowhere/at/all").env("JOURNAL_STREAM", "1:1");
    let mut logging = Logging::by(command, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}
