//! The speed of a port, found by itself.

use std::os::unix::fs::OpenOptionsExt as _;

use seedclock::probes::Player;

use super::harness::{Desk, Logging};

/// A pseudo-terminal passes bytes on whatever the speed; but it keeps the speed that was set, so that a stand-in can print garbage
/// to whoever reads at another than its own.
#[test]
fn a_board_is_heard_at_the_speed_it_prints_at_and_that_is_remembered() {
    const OWN: u32 = 57_600;
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let peek = std::fs::OpenOptions::new()
        .read(true)
        .write(true)
        .custom_flags(rustix::fs::OFlags::NOCTTY.bits() as i32)
        .open(board.path())
        .unwrap();
    let read_at = || rustix::termios::tcgetattr(&peek).unwrap().input_speed();
    let mut logging = Logging::start(&desk, &[&port], &["--commit-every", "0.1s"]);
    logging.wait_for_words("listening", 1);
    let mut garbled = 0;
    logging.wait_until("the speed", |said| {
        if read_at() == OWN {
            board.print(b"\np1,21.5\np1,21.5625\n").unwrap();
        } else {
            garbled += 1;
            board.print(&[0xe6, 0x00, 0x80, 0x9f, 0x78, 0x06].repeat(100)).unwrap();
        }
        said.contains("its board prints at 57600 bits a second")
    });
    assert!(garbled > 0);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(said.contains("what comes is no text; looking for the speed that the board prints at"), "{said}");
    assert!(desk.values().iter().all(|value| ["p1,21.5", "p1,21.5625"].contains(&value.as_str())), "{:?}", desk.values());
    assert!(!desk.values().is_empty());

    // The next time it begins with the speed that was found.
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    assert_eq!(read_at(), OWN);
    assert_eq!(logging.stop("TERM").0.code(), Some(0));
}
