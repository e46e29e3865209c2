//! What happens to the bench file while the program logs into it.

use std::path::{Path, PathBuf};
use std::process::Command;

use seedclock::probes::Player;
use seedclock::store::Store;

use crate::devices::harness::{Desk, Logging, program};

/// Commits so often that a test need not wait for one.
const OFTEN: [&str; 2] = ["--commit-every", "0.1s"];

/// A logger with one reading on disk.
struct Begun {
    desk: Desk,
    board: Player,
    logging: Logging,
}

impl Begun {
    fn with(prepare: impl FnOnce(&Desk, &mut Command)) -> Self {
        let desk = Desk::new();
        let mut board = Player::new().unwrap();
        let port = desk.plug("board", board.path());
        let mut command = program(&desk.bench());
        prepare(&desk, &mut command);
        let mut logging = Logging::by(command, &[&port], &OFTEN);
        logging.wait_for_words("listening", 1);
        board.print(b"\np1,21.5\n").unwrap();
        logging.wait_until("the first reading", |_| desk.bench().exists() && desk.values() == ["p1,21.5"]);
        Self { desk, board, logging }
    }
}

fn values(bench: &Path) -> Vec<Option<i64>> {
    let store = Store::open_read_only(bench).unwrap();
    let probe = seedclock::bench::Name::new("p1").unwrap();
    store.readings(&probe, i64::MIN, i64::MAX).unwrap().iter().map(|reading| reading.raw_c_e4).collect()
}

#[test]
fn fault_8_a_bench_moved_away_ends_the_logger_with_all_it_had_stored() {
    let Begun { desk, logging, .. } = Begun::with(|_, _| {});
    let away = desk.port("away.db");
    std::fs::rename(desk.bench(), &away).unwrap();
    let (status, said) = logging.end();
    let bench = desk.bench().display().to_string();
    let words = format!(
        "seedclock: {bench} was moved or deleted while it was open: nothing more is written to it\n  \
         next: put the file that was there back, with {bench}-wal and {bench}-shm as they are, and begin again\n"
    );
    assert_eq!(status.code(), Some(75), "{said}");
    assert!(said.ends_with(&words), "{said}");
    assert_eq!(values(&away), [Some(215_000)], "the file moved holds it, without its log");
    // A new one is not begun where it would take the old one's log for its own; put back, it goes on.
    if desk.port("bench.db-wal").exists() {
        let again = program(&desk.bench()).args(["sow", "A1", "--species", "leek", "--spot", "sill"]).output().unwrap();
        assert_eq!(again.status.code(), Some(2), "{}", String::from_utf8_lossy(&again.stderr));
    }
    std::fs::rename(&away, desk.bench()).unwrap();
    assert_eq!(desk.values(), ["p1,21.5"]);
}

#[test]
fn fault_8_a_bench_replaced_by_another_file_ends_the_logger_and_the_other_is_not_written() {
    let Begun { desk, mut board, logging } = Begun::with(|_, _| {});
    let other = desk.port("other");
    std::fs::write(&other, "somebody else's").unwrap();
    std::fs::rename(&other, desk.bench()).unwrap();
    let _ = board.print(b"p1,22\n");
    let (status, said) = logging.end();
    assert_eq!(status.code(), Some(75), "{said}");
    assert!(said.contains("was replaced by another file while it was open: nothing more is written to it"), "{said}");
    assert_eq!(std::fs::read(desk.bench()).unwrap(), b"somebody else's");
}

/// Builds what makes syncing fail, and has `command` load it; gives the file whose being there makes it fail.
fn with_a_failing_disk(desk: &Desk, command: &mut Command) -> PathBuf {
    let source = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/storage/failing_sync.c");
    let (library, switch) = (desk.port("failing_sync.so"), desk.port("sync-fails"));
    let built = Command::new("cc").args(["-shared", "-fPIC", "-o"]).arg(&library).arg(source).output().unwrap();
    assert!(built.status.success(), "{}", String::from_utf8_lossy(&built.stderr));
    command.env("LD_PRELOAD", library).env("SYNC_FAILS", &switch);
    switch
}

/// The system reports a failed sync once and may have dropped what was written: a second "done" proves nothing
/// (https://wiki.postgresql.org/wiki/Fsync_Errors).
#[test]
fn fault_5_a_disk_that_cannot_sync_ends_the_logger_and_no_stored_reading_is_lost() {
    for (switch_holds, ending, may_lack_the_last) in [
        (
            "",
            "the disk failed while readings were put on it: the last ones (1) may be lost, no earlier one is: the storage failed",
            true,
        ),
        (
            "once",
            "the disk failed while readings were put on it; the file was opened anew and found whole, and the last ones (1) are \
             stored after all; look after the disk before you begin again: the storage failed while writing to ",
            false,
        ),
    ] {
        let mut switch = PathBuf::new();
        let Begun { desk, mut board, logging } = Begun::with(|desk, command| switch = with_a_failing_disk(desk, command));
        // In one step, as the program may look at any time.
        let draft = desk.port("draft");
        std::fs::write(&draft, switch_holds).unwrap();
        std::fs::rename(&draft, &switch).unwrap();
        board.print(b"p1,22\n").unwrap();
        let (status, said) = logging.end();
        assert_eq!(status.code(), Some(75), "{said}");
        assert!(said.contains(&format!("seedclock: {ending}")), "{said}");
        let _ = std::fs::remove_file(&switch);
        let kept: Vec<_> = values(&desk.bench()).into_iter().flatten().collect();
        let whole = kept == [215_000, 220_000];
        assert!(whole || (may_lack_the_last && kept == [215_000]), "{kept:?}: {said}");
    }
}
