//! A fault at each call of the system in turn: the process killed there, or the call failing for an error of the device or a full
//! disk (strace's injection). After each, what was acknowledged is there, nothing is there by half, the file opens and is whole.

use std::path::Path;

use seedclock::probes::Player;

use super::{Place, is_whole, of_version_3, tool, values};
use crate::devices::harness::Logging;

/// Calls that write, sync, cut, name or open, with the faults each can meet.
const FAULTS: [(&str, &[&str]); 8] = [
    ("pwrite64", &["signal=SIGKILL", "error=EIO", "error=ENOSPC"]),
    ("fsync", &["signal=SIGKILL", "error=EIO"]),
    ("fdatasync", &["signal=SIGKILL", "error=EIO"]),
    ("ftruncate", &["signal=SIGKILL", "error=EIO", "error=ENOSPC"]),
    ("rename", &["signal=SIGKILL", "error=EIO", "error=ENOSPC"]),
    ("link", &["signal=SIGKILL", "error=EIO", "error=ENOSPC"]),
    ("unlink", &["signal=SIGKILL", "error=EIO"]),
    ("openat", &["signal=SIGKILL", "error=EIO", "error=EMFILE"]),
];
/// Without the long proof, a fault is staged at one call in so many, beginning with the first.
const EVERY: usize = 13;

/// How a command came out: its exit code, none where it was killed.
struct Ended {
    code: Option<i32>,
    what: String,
}

impl Ended {
    /// Done, and so acknowledged. Where it failed it says so, and by no panic.
    fn is_done(&self) -> bool {
        assert!(matches!(self.code, None | Some(0 | 1 | 2 | 75)), "{}", self.what);
        matches!(self.code, Some(0 | 1))
    }
}

fn strace(place: &Place, call: &str, inject: Option<String>, arguments: &[&str]) -> (Ended, String) {
    let log = place.path("calls");
    let mut command = tool("strace");
    command.args(["-f", "-qq", "-y", "-o"]).arg(&log).arg("-e").arg(format!("trace={call}"));
    let what = format!("{arguments:?} with {call} {inject:?}");
    inject.iter().for_each(|inject| {
        command.arg("-e").arg(inject);
    });
    command.arg(env!("CARGO_BIN_EXE_seedclock")).arg("--bench").arg(place.bench()).args(arguments);
    let output = command.env("TZ", "Europe/Berlin").current_dir(place.path("")).output().unwrap();
    let said = String::from_utf8_lossy(&output.stderr).into_owned();
    // The tracer ends by the signal that ended the program.
    let code = output.status.code().filter(|code| *code < 128);
    (Ended { code, what: format!("{what}: {said}") }, std::fs::read_to_string(log).unwrap())
}

/// Stages every fault of a command on a place that `make` makes, and has `holds` look at each outcome; says how many were staged.
fn at_each_call(arguments: &[&str], make: impl Fn() -> Place, holds: impl Fn(&Place, &Ended)) -> usize {
    let every = if std::env::var_os("SEEDCLOCK_EVERY_FAULT").is_some() { 1 } else { EVERY };
    let mut staged = 0;
    for (call, faults) in FAULTS {
        let place = make();
        let (ended, log) = strace(&place, call, None, arguments);
        assert!(ended.is_done(), "without a fault: {}", ended.what);
        holds(&place, &ended);
        // Opening the program's own libraries is no matter of the storage.
        let folder = place.path("").display().to_string();
        let ours = |line: &str| call != "openat" || line.contains(folder.trim_end_matches('/')) || line.contains("bench.db");
        let calls: Vec<usize> = (1..).zip(log.lines()).filter(|(_, line)| ours(line)).map(|(number, _)| number).collect();
        for (fault_number, fault) in faults.iter().enumerate() {
            // Another start for each fault, so that together they meet more calls.
            for number in calls.iter().skip((fault_number * 5) % every.max(1)).step_by(every) {
                let place = make();
                let (ended, _) = strace(&place, call, Some(format!("inject={call}:{fault}:when={number}")), arguments);
                holds(&place, &ended);
                staged += 1;
            }
        }
    }
    println!("{arguments:?}: {staged} faults");
    staged
}

#[test]
fn fault_2_and_3_a_bench_that_is_begun_is_there_whole_or_not_at_all() {
    let sow = ["sow", "A1", "--species", "leek", "--spot", "sill", "--at", "2026-03-01 08:00"];
    let staged = at_each_call(&sow, Place::new, |place, ended| {
        let done = ended.is_done();
        if place.bench().exists() {
            is_whole(&place.bench());
            let boxes = seedclock::store::Store::open_read_only(&place.bench()).unwrap().bench().unwrap().trials.len();
            assert!(boxes == 1 || !done, "{}", ended.what);
        } else {
            assert!(!done, "{}", ended.what);
        }
        // Whatever was left behind is in nobody's way.
        assert!(matches!(place.run(&sow).0, 0), "{}", ended.what);
        let left: Vec<_> = std::fs::read_dir(place.path("")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
        let draft = left.iter().any(|name| name.to_string_lossy().contains(".new-"));
        assert!(!draft || place.bench().exists(), "{left:?}");
    });
    assert!(staged > 20, "{staged}");
}

#[test]
fn fault_2_and_3_an_import_is_there_whole_or_not_at_all() {
    let prepared = Place::new();
    assert!(prepared.import(0, 2000).status.success());
    let before = std::fs::read(prepared.bench()).unwrap();
    prepared.import(2000, 2000);
    let make = || {
        let place = Place::new();
        std::fs::write(place.bench(), &before).unwrap();
        copy_folder(&prepared.path("folder"), &place.path("folder"));
        place
    };
    let staged = at_each_call(&["import", "folder"], make, |place, ended| {
        let done = ended.is_done();
        is_whole(&place.bench());
        let kept = values(&place.bench());
        let whole = kept == (0..4000).collect::<Vec<i64>>();
        assert!(whole || (!done && kept == (0..2000).collect::<Vec<i64>>()), "{} readings: {}", kept.len(), ended.what);
    });
    assert!(staged > 20, "{staged}");
}

#[test]
fn fault_12_a_file_of_an_earlier_version_is_that_or_the_new_one_with_its_copy() {
    let make = || {
        let place = Place::new();
        of_version_3(&place.bench());
        place
    };
    let version = |path: &Path| -> i64 {
        rusqlite::Connection::open(path).unwrap().query_row("PRAGMA user_version", [], |row| row.get(0)).unwrap()
    };
    let staged = at_each_call(&["check", "A1", "none"], make, |place, ended| {
        let found = version(&place.bench());
        assert!(found == 4 || (found == 3 && !ended.is_done()), "version {found}: {}", ended.what);
        is_whole(&place.bench());
        let copy = place.path("bench.db.version-3");
        if found == 4 || copy.exists() {
            assert_eq!(version(&copy), 3, "{}", ended.what);
            is_whole(&copy);
        }
        assert_eq!(values(&place.bench()), [1, 2], "{}", ended.what);
        assert_eq!(version(&place.bench()), 4);
        is_whole(&place.bench());
    });
    assert!(staged > 20, "{staged}");
}

#[test]
fn fault_15_a_backup_that_fails_leaves_the_one_before_and_the_bench() {
    let prepared = Place::new();
    assert!(prepared.import(0, 500).status.success());
    prepared.says(&["backup", "kept.backup.db"]);
    let old = std::fs::read(prepared.path("kept.backup.db")).unwrap();
    assert!(prepared.import(500, 500).status.success());
    let bench = std::fs::read(prepared.bench()).unwrap();
    let make = || {
        let place = Place::new();
        std::fs::write(place.bench(), &bench).unwrap();
        std::fs::write(place.path("kept.backup.db"), &old).unwrap();
        place
    };
    let staged = at_each_call(&["backup", "kept.backup.db"], make, |place, ended| {
        let done = ended.is_done();
        is_whole(&place.bench());
        assert_eq!(values(&place.bench()).len(), 1000);
        let backup = place.path("kept.backup.db");
        is_whole(&backup);
        let same = std::fs::read(&backup).unwrap() == old;
        assert!(!(same && done), "{}", ended.what);
        let kept = values(&backup).len();
        assert_eq!(kept, if same { 500 } else { 1000 }, "{}", ended.what);
    });
    assert!(staged > 20, "{staged}");
}

#[test]
fn fault_15_restoring_that_fails_loses_neither_the_bench_nor_the_backup() {
    let prepared = Place::new();
    assert!(prepared.import(0, 500).status.success());
    prepared.says(&["backup", "kept.backup.db"]);
    let backup = std::fs::read(prepared.path("kept.backup.db")).unwrap();
    assert!(prepared.import(500, 500).status.success());
    let bench = std::fs::read(prepared.bench()).unwrap();
    let make = || {
        let place = Place::new();
        std::fs::write(place.bench(), &bench).unwrap();
        std::fs::write(place.path("kept.backup.db"), &backup).unwrap();
        place
    };
    let staged = at_each_call(&["restore", "kept.backup.db"], make, |place, ended| {
        let done = ended.is_done();
        assert!(std::fs::read(place.path("kept.backup.db")).unwrap() == backup, "{}", ended.what);
        let names = std::fs::read_dir(place.path("")).unwrap().map(|entry| entry.unwrap().path());
        let aside: Vec<_> = names.filter(|path| path.to_string_lossy().contains("bench.db.replaced-")).collect();
        let of_the_log = |path: &&std::path::PathBuf| ["-wal", "-shm"].iter().any(|end| path.to_string_lossy().ends_with(end));
        let main: Vec<_> = aside.iter().filter(|path| !of_the_log(path)).collect();
        let stands = place.bench().exists().then(|| values(&place.bench()).len());
        match (stands, &main[..]) {
            (Some(1000), []) => assert!(!done, "{}", ended.what),
            (Some(500), [aside]) => assert_eq!(values(aside).len(), 1000, "{}", ended.what),
            (None, [aside]) => assert!(!done && values(aside).len() == 1000, "{}", ended.what),
            other => panic!("{other:?}: {}", ended.what),
        }
    });
    assert!(staged > 20, "{staged}");
}

/// A logger that hears three readings, each waited for until it is on disk, as one who asks sees it, until the logger tells that it keeps
/// it in memory, or until it ended; then it is told to stop. Gives what was acknowledged, and the calls that were traced.
fn log_three(place: &Place, call: &str, inject: Option<&str>) -> (Ended, Vec<i64>, String) {
    let mut board = Player::new().unwrap();
    let log = place.path("calls");
    let mut command = tool("strace");
    // Here the tracer is the one that is started by the way, so that signals meet the program.
    command.args(["-D", "-f", "-q", "-y", "-o"]).arg(&log).arg("-e").arg(format!("trace={call}"));
    inject.iter().for_each(|inject| {
        command.arg("-e").arg(inject);
    });
    command.arg(env!("CARGO_BIN_EXE_seedclock")).arg("--bench").arg(place.bench());
    let mut logging = Logging::by(command, &[board.path()], &["--commit-every", "0.1s"]);
    logging.wait_until_or_end("a listener", |said| said.contains("listening"));
    let mut acknowledged = Vec::new();
    for value in 1..=3 {
        let _ = board.print(format!("\np1,{:.2}\n", value as f64 / 100.0).as_bytes());
        logging.wait_until_or_end("the reading", |said| {
            acknowledged = values(&place.bench());
            acknowledged.contains(&value) || said.contains("kept in memory")
        });
        if logging.has_ended() {
            break;
        }
    }
    let (status, said) = if logging.has_ended() { logging.end() } else { logging.stop("TERM") };
    let begun = std::time::Instant::now();
    let traced = loop {
        let traced = std::fs::read_to_string(&log).unwrap();
        if traced.contains("+++ exited") || traced.contains("+++ killed") {
            break traced;
        }
        assert!(begun.elapsed().as_secs() < 60, "the tracer did not end");
        std::thread::sleep(std::time::Duration::from_millis(5));
    };
    (Ended { code: status.code(), what: format!("log with {call} {inject:?}: {said}") }, acknowledged, traced)
}

#[test]
fn fault_2_3_and_5_what_a_logger_acknowledged_is_there_after_a_fault_at_any_call() {
    let prepared = Place::new();
    assert!(prepared.import(0, 1).status.success());
    let bench = std::fs::read(prepared.bench()).unwrap();
    let every = if std::env::var_os("SEEDCLOCK_EVERY_FAULT").is_some() { 1 } else { 9 };
    let mut staged = 0;
    for (call, faults) in FAULTS.into_iter().filter(|(call, _)| !["openat", "link", "rename"].contains(call)) {
        let make = || {
            let place = Place::new();
            std::fs::write(place.bench(), &bench).unwrap();
            place
        };
        let place = make();
        let (ended, acknowledged, traced) = log_three(&place, call, None);
        assert!(ended.is_done() && acknowledged == [0, 1, 2, 3], "{acknowledged:?}: {}", ended.what);
        let calls = traced.lines().filter(|line| line.contains(&format!("{call}("))).count();
        for (fault_number, fault) in faults.iter().enumerate() {
            // A full disk stays full.
            let on = if fault.contains("ENOSPC") { "+" } else { "" };
            for number in (1..=calls).skip((fault_number * 4) % every).step_by(every) {
                let place = make();
                let (ended, acknowledged, _) = log_three(&place, call, Some(&format!("inject={call}:{fault}:when={number}{on}")));
                ended.is_done();
                is_whole(&place.bench());
                let kept = values(&place.bench());
                assert!(kept.starts_with(&acknowledged), "{acknowledged:?} was acknowledged, {kept:?} is there: {}", ended.what);
                assert!(kept == (0..kept.len() as i64).collect::<Vec<_>>(), "{kept:?}: {}", ended.what);
                assert!(kept.len() == 4 || ended.code != Some(0), "{kept:?}: {}", ended.what);
                staged += 1;
            }
        }
    }
    println!("log: {staged} faults");
    assert!(staged > 8, "{staged}");
}

fn copy_folder(from: &Path, to: &Path) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        std::fs::copy(&path, to.join(path.file_name().unwrap())).unwrap();
    }
}
