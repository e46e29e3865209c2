//! Nobody but SQLite opens the bench file or its log: another handle on them, when it is closed, drops SQLite's locks, and with
//! that a commit of another process can be lost without a word (seen; https://www.sqlite.org/howtocorrupt.html, 2.2).

use std::path::Path;

use super::{Place, tool};

/// What opens or reads a file in Rust, other than through SQLite.
const OPENING: [&str; 6] = ["File::open", "OpenOptions", "fs::read(", "fs::read_to_string", "fs::copy", "fs::write"];
/// Lines of the store that may: folders, the lock file, drafts that SQLite has closed, and the system's own files.
const ALLOWED: [&str; 8] = [
    "File::open(folder)",
    "File::open(&draft)",
    "File::open(draft)",
    "File::open(&path)",
    "OpenOptions::new().read(true).write(true).create(true).truncate(false).open(&path)",
    "use std::fs::{File, OpenOptions, TryLockError};",
    "std::fs::read_to_string(\"/etc/machine-id\")",
    "fs::write",
];

fn sources(folder: &Path, found: &mut Vec<std::path::PathBuf>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() { sources(&path, found) } else { found.push(path) }
    }
}

#[test]
fn fault_16_the_store_opens_no_database_itself() {
    let mut files = Vec::new();
    sources(&Path::new(env!("CARGO_MANIFEST_DIR")).join("src/store"), &mut files);
    let mut seen = 0;
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        let program = text.split("#[cfg(test)]").next().unwrap();
        for line in program.lines().filter(|line| OPENING.iter().any(|word| line.contains(word))) {
            seen += 1;
            assert!(ALLOWED.iter().any(|allowed| line.contains(allowed)), "{}: {line}", file.display());
        }
    }
    assert!(seen >= 8, "{seen}");
}

/// SQLite opens its files with O_NOFOLLOW, which the standard library never does.
#[test]
fn fault_16_every_opening_of_the_file_is_sqlites() {
    let place = Place::new();
    assert!(place.import(0, 10).status.success());
    let mut openings = 0;
    for arguments in [
        &["status"][..],
        &["backup", "kept.backup.db"],
        &["backup", "kept.backup.db"],
        &["sow", "A1", "--species", "leek", "--spot", "sill"],
        &["verify"],
        &["restore", "kept.backup.db"],
        &["export", "out"],
        &["forecast"],
    ] {
        let log = place.path("calls");
        let mut command = tool("strace");
        command.args(["-f", "-qq", "-o"]).arg(&log).args(["-e", "trace=open,openat,openat2"]);
        command.arg(env!("CARGO_BIN_EXE_seedclock")).arg("--bench").arg(place.bench()).args(arguments);
        let done = command.current_dir(place.path("")).output().unwrap();
        assert!(matches!(done.status.code(), Some(0 | 1)), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
        for line in std::fs::read_to_string(log).unwrap().lines() {
            let named = line.split('"').nth(1).unwrap_or_default();
            let of_a_database = [".db", ".db-wal", ".db-shm", ".db-journal"].iter().any(|end| named.ends_with(end));
            if of_a_database {
                openings += 1;
                assert!(line.contains("O_NOFOLLOW"), "{arguments:?}: {line}");
            }
        }
    }
    assert!(openings > 20, "{openings}");
}
