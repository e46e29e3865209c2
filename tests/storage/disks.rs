//! Full and read-only disks. They are small file systems of their own, which only root can make; as somebody else by `sudo -n`.

use std::path::PathBuf;
use std::process::{Child, Command, Stdio};

use seedclock::probes::Player;

use super::{Place, is_whole, tool, values};
use crate::devices::harness::Logging;

const OFTEN: [&str; 2] = ["--commit-every", "0.1s"];

/// A command as root.
fn as_root(name: &str) -> Command {
    if rustix::process::getuid().is_root() {
        return Command::new(name);
    }
    let mut command = Command::new("sudo");
    command.arg("-n").arg(name);
    command
}

/// A disk of a few megabytes, gone at the end.
struct SmallDisk {
    place: Place,
}

impl SmallDisk {
    fn new() -> Self {
        let place = Place::new();
        std::fs::create_dir(place.path("disk")).unwrap();
        let disk = Self { place };
        let mode = format!("size=4m,mode=0777,uid={}", rustix::process::getuid().as_raw());
        disk.root(&["mount", "-t", "tmpfs", "-o", &mode, "small", disk.path("").to_str().unwrap()]);
        disk
    }

    fn root(&self, command: &[&str]) {
        let done = as_root(command[0]).args(&command[1..]).output().unwrap();
        let said = String::from_utf8_lossy(&done.stderr);
        assert!(done.status.success(), "{command:?} (it needs root, or sudo without a password): {said}");
    }

    fn path(&self, name: &str) -> PathBuf {
        self.place.path("disk").join(name)
    }

    fn bench(&self) -> PathBuf {
        self.path("bench.db")
    }

    fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        self.place.told(&crate::asking::program(&self.bench()).args(arguments).current_dir(self.place.path("")).output().unwrap())
    }

    /// Fills what is left.
    fn fill(&self) {
        let _ = std::fs::write(self.path("ballast"), vec![7; 8_000_000]);
        let full = std::fs::write(self.path("drop"), [7; 4096]).is_err();
        assert!(full, "the disk is full");
        let _ = std::fs::remove_file(self.path("drop"));
    }
}

impl Drop for SmallDisk {
    fn drop(&mut self) {
        let _ = as_root("umount").arg("-l").arg(self.path("")).output();
    }
}

fn begun(bench: &std::path::Path) -> (Player, Logging) {
    let mut board = Player::new().unwrap();
    let port = board.path().to_path_buf();
    let mut logging = Logging::into(bench, &[&port], &OFTEN);
    logging.wait_for_words("listening", 1);
    board.print(b"\np1,0.01\n").unwrap();
    logging.wait_until("the first reading", |_| bench.exists() && values(bench) == [1]);
    (board, logging)
}

/// Prints readings until the logger says that they wait in memory; gives how many there are with the first.
fn print_until_full(board: &mut Player, logging: &Logging) -> i64 {
    let mut printed = 1;
    // Some readings still find room in pages that are there.
    while !logging.said().contains("kept in memory") {
        for _ in 0..500 {
            printed += 1;
            board.print(format!("p1,{}.{:02}\n", printed / 100 % 100, printed % 100).as_bytes()).unwrap();
        }
    }
    printed
}

#[test]
fn fault_6_on_a_full_disk_readings_wait_in_memory_and_everything_else_goes_on() {
    let disk = SmallDisk::new();
    let (mut board, mut logging) = begun(&disk.bench());
    disk.fill();
    let printed = print_until_full(&mut board, &logging);
    let words = format!(
        "\nthe storage failed while writing to {}: database or disk is full\n  the readings are kept in memory, and storing them is tried \
         again\n",
        disk.bench().display()
    );
    assert!(logging.said().contains(&words), "{}", logging.said());
    let (code, said, told) = disk.run(&["status"]);
    assert_eq!((code, told.as_str()), (1, ""), "{said}");
    let full = "- The disk is full: nothing can be recorded. A logger that runs keeps up to 100,000 readings in\n  memory and stores them \
                when there is room again.\n  next: make room on the disk that holds the bench\n";
    assert!(said.contains(full), "{said}");
    assert_eq!(disk.run(&["export", "out"]).0, 0);
    let (code, _, told) = disk.run(&["sow", "A1", "--species", "leek", "--spot", "sill"]);
    // Refused by the disk, or because the logger is just trying again.
    assert!((code == 75 && told.contains("is full")) || (code == 2 && told.contains("is in use by another program")), "{told}");
    let (code, _, told) = disk.run(&["backup"]);
    assert_eq!((code, told.contains("no backup was made at ")), (75, true), "{told}");
    std::fs::remove_file(disk.path("ballast")).unwrap();
    logging.wait_for_words("the storage works again: ", 1);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    let expected: Vec<i64> = (1..=printed).map(|n| n % 10_000).collect();
    assert!(values(&disk.bench()) == expected, "{} of {printed} readings", values(&disk.bench()).len());
    is_whole(&disk.bench());
}

#[test]
fn fault_6_a_full_disk_is_told_and_asking_goes_on_where_no_logger_runs() {
    let disk = SmallDisk::new();
    assert_eq!(disk.run(&["sow", "A1", "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"]).0, 0);
    disk.fill();
    for command in [&["check", "A1", "none"][..], &["log", "--port", "/dev/nowhere"]] {
        let (code, said, told) = disk.run(command);
        let words = "seedclock: disk/bench.db cannot be written to: the disk is full\n  next: make room on it\n";
        assert_eq!((code, said.as_str(), told.as_str()), (75, "", words), "{command:?}");
    }
    let (code, said, told) = disk.run(&["status"]);
    assert!(code == 1 && told.is_empty() && said.contains("- The disk is full: nothing can be recorded."), "{said}{told}");
    assert_eq!(disk.run(&["verify"]).0, 0);
    assert_eq!(disk.run(&["export", "out"]).0, 0);
    assert_eq!(disk.run(&["backup", "rescued.backup.db"]).0, 0);
    is_whole(&disk.place.path("rescued.backup.db"));
    std::fs::remove_file(disk.path("ballast")).unwrap();
    assert_eq!(disk.run(&["check", "A1", "none"]).0, 0);
    is_whole(&disk.bench());
}

#[test]
fn fault_46_told_to_stop_while_the_disk_is_full_it_owns_up_to_what_is_lost() {
    let disk = SmallDisk::new();
    let (mut board, logging) = begun(&disk.bench());
    disk.fill();
    let printed = print_until_full(&mut board, &logging);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(75), "{said}");
    let (_, after) = said.split_once("seedclock: the last readings (").unwrap();
    let lost: usize = after.split_once(") could not be stored before stopping, and are lost").unwrap().0.parse().unwrap();
    std::fs::remove_file(disk.path("ballast")).unwrap();
    let kept = values(&disk.bench());
    assert_eq!(kept.len() + lost, printed as usize, "{said}");
    assert!(kept.windows(2).all(|pair| (pair[0] + 1) % 10_000 == pair[1]));
    is_whole(&disk.bench());
}

#[test]
fn fault_7_on_a_read_only_disk_logging_is_refused_and_asking_goes_on() {
    let disk = SmallDisk::new();
    assert_eq!(disk.run(&["sow", "A1", "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"]).0, 0);
    disk.root(&["mount", "-o", "remount,ro", disk.path("").to_str().unwrap()]);
    let (code, _, told) = disk.run(&["log", "--port", "/dev/nowhere"]);
    assert!(matches!(code, 2 | 75), "{told}");
    assert_eq!(
        told,
        "seedclock: disk/bench.db may not be written to: nothing can be recorded\n  next: see whether the disk was mounted read-only \
         after an error, and whose the file is\n"
    );
    let (code, said, told) = disk.run(&["status"]);
    assert_eq!((code, told.as_str()), (1, ""));
    assert!(said.contains("- The bench may not be written to: nothing can be recorded.\n"), "{said}");
    assert_eq!(disk.run(&["verify"]).0, 0);
    assert_eq!(disk.run(&["export", "out"]).0, 0);
    assert_eq!(disk.run(&["backup", "rescued.backup.db"]).0, 0);
    is_whole(&disk.place.path("rescued.backup.db"));
}

/// What a kernel does that finds the disk at fault: from now on every write is refused.
fn read_only_for(logging: &Logging) -> Child {
    let mut command = tool("strace");
    command.args(["-f", "-p", &logging.pid().to_string(), "-o", "/dev/null", "-e", "trace=pwrite64,ftruncate"]);
    command.args(["-e", "inject=pwrite64,ftruncate:error=EROFS"]);
    command.stderr(Stdio::null()).stdout(Stdio::null()).spawn().unwrap()
}

#[test]
fn fault_7_a_disk_that_turns_read_only_is_waited_out() {
    let place = Place::new();
    let (mut board, mut logging) = begun(&place.bench());
    let mut tracer = read_only_for(&logging);
    let mut printed = 1;
    while !logging.said().contains("kept in memory") {
        printed += 1;
        board.print(format!("p1,{}.{:02}\n", printed / 100 % 100, printed % 100).as_bytes()).unwrap();
        std::thread::sleep(std::time::Duration::from_millis(5));
    }
    assert_eq!(place.run(&["verify"]).0, 0);
    let stopped = Command::new("kill").arg("-INT").arg(tracer.id().to_string()).status().unwrap();
    assert!(stopped.success());
    tracer.wait().unwrap();
    logging.wait_for_words("the storage works again: ", 1);
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!(values(&place.bench()), (1..=printed).map(|n| n % 10_000).collect::<Vec<i64>>());
}
