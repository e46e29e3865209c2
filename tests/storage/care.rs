//! Backups by hand and the way back, in words.

use std::path::PathBuf;

use seedclock::store::LoggerLock;

use super::{Place, is_whole, of_version_3, values};

fn today() -> String {
    use seedclock::clock::Clock as _;
    seedclock::civil::local_date(seedclock::clock::SystemClock.now(), seedclock::civil::Zone::Europe__Berlin).to_string()
}

#[test]
fn a_backup_holds_everything_and_comes_back_as_the_bench() {
    let place = Place::new();
    assert!(place.import(0, 2000).status.success());
    place.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    let said = place.says(&["backup"]);
    let name = format!("backups/bench-{}.backup.db", today());
    assert_eq!(said, format!("backed up and checked: {name}\n"));
    assert_eq!(place.says(&["verify", &name]), format!("{name} is whole: 2 days of 1 probe as they were written, 2000 readings\n"));
    place.says(&["sow", "A2", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    let said = place.says(&["restore", &name]);
    assert_eq!(
        said,
        format!(
            "restored bench.db from {name}: 1 box, 1 probe, the last reading of Mon 2 Mar 2026, 10:19\nthe bench that stood there is kept \
             as bench.db.replaced-{}\n",
            today()
        )
    );
    assert_eq!(place.says(&["verify"]), "bench.db is whole: 2 days of 1 probe as they were written, 2000 readings\n");
    let aside = place.path(&format!("bench.db.replaced-{}", today()));
    is_whole(&aside);
    let again = place.says(&["restore", &name]);
    assert!(again.ends_with(&format!("bench.db.replaced-{}-2\n", today())), "{again}");
    // Opened as a bench it is one, and its other tables may change.
    let closed = crate::asking::program(&place.path(&name)).args(["close", "A1"]).output().unwrap();
    assert!(closed.status.success(), "{}", String::from_utf8_lossy(&closed.stderr));
    is_whole(&place.path(&name));
}

#[test]
fn photographs_travel_in_a_backup_and_in_nothing_that_is_handed_on() {
    let place = Place::new();
    place.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill"]);
    let a1 = seedclock::bench::Name::new("A1").unwrap();
    let jpeg = b"\xff\xd8 a picture of somebody's kitchen \xff\xd9";
    let taken = seedclock::civil::time_from_micros(1_772_500_000_000_000).unwrap();
    let mut store = seedclock::store::Store::open(&place.bench()).unwrap();
    let mut change = store.change().unwrap();
    let id = change.put_photo(&a1, taken, (4, 3), jpeg).unwrap();
    change.commit().unwrap();
    drop(store);
    place.says(&["backup", "kept.backup.db"]);
    // As a file: opened as a bench, a backup is one, and its other tables may change.
    let backup = rusqlite::Connection::open(place.path("kept.backup.db")).unwrap();
    let there: Vec<u8> = backup.query_row("SELECT jpeg FROM photo WHERE photo_id = ?1", [id], |row| row.get(0)).unwrap();
    assert_eq!(there, jpeg);
    drop(backup);
    let holds = |file: &std::path::Path| std::fs::read(file).unwrap().windows(jpeg.len()).any(|some| some == jpeg);
    assert!(holds(&place.bench()), "what is looked for can be found");
    for arguments in [&["export", "whole"][..], &["export", "shared", "--share"], &["report", "report.html"]] {
        let (code, _, told) = place.run(arguments);
        assert!(code < 2, "{arguments:?}: {told}");
    }
    let files = ["whole", "shared"].map(|folder| std::fs::read_dir(place.path(folder)).unwrap().map(|file| file.unwrap().path()));
    let files: Vec<PathBuf> = files.into_iter().flatten().chain([place.path("report.html")]).collect();
    assert!(files.len() > 4, "{files:?}");
    for file in files {
        let text = std::fs::read_to_string(&file).unwrap();
        assert!(!text.contains("kitchen") && !text.contains("photo") && !text.contains("image/jpeg"), "{}", file.display());
    }
    // Restored, it is there again; and no byte of it may change unseen.
    let (code, _, told) = place.run(&["restore", "kept.backup.db"]);
    assert_eq!(code, 0, "{told}");
    assert_eq!(seedclock::store::Store::open_read_only(&place.bench()).unwrap().photos(&a1).unwrap().len(), 1);
    let harm = rusqlite::Connection::open(place.path("kept.backup.db")).unwrap();
    harm.execute("UPDATE photo SET jpeg = x'00'", []).unwrap();
    drop(harm);
    let (code, said, told) = place.run(&["verify", "kept.backup.db"]);
    assert!(code != 0 && format!("{said}{told}").contains("'photo'"), "{code} {said}{told}");
}

#[test]
fn nothing_but_an_earlier_backup_of_this_bench_is_written_over() {
    let (place, other) = (Place::new(), Place::new());
    assert!(place.import(0, 10).status.success());
    assert!(other.import(0, 10).status.success());
    other.says(&["backup", "other.backup.db"]);
    std::fs::copy(other.path("other.backup.db"), place.path("other.backup.db")).unwrap();
    std::fs::copy(other.bench(), place.path("other.db")).unwrap();
    std::fs::write(place.path("letter.txt"), "Dear seeds").unwrap();
    std::os::unix::fs::symlink(place.bench(), place.path("link.db")).unwrap();
    for (target, what) in [
        ("bench.db", "that is the bench itself"),
        ("link.db", "that is the bench itself"),
        ("other.db", "a bench that is no backup stands there"),
        ("other.backup.db", "a backup of another bench stands there"),
        ("letter.txt", "another file stands there"),
    ] {
        let before = std::fs::read(place.path(target)).unwrap();
        let (code, said, told) = place.run(&["backup", target]);
        let words = format!("seedclock: {target} was left as it is: {what}\n  next: name another file\n");
        assert_eq!((code, said.as_str(), told), (2, "", words));
        assert!(std::fs::read(place.path(target)).unwrap() == before);
    }
    place.says(&["backup", "own.backup.db"]);
    place.says(&["backup", "own.backup.db"]);
}

#[test]
fn what_cannot_be_restored_is_refused_and_the_bench_stays() {
    let place = Place::new();
    assert!(place.import(0, 10).status.success());
    place.says(&["backup", "kept.backup.db"]);
    let (code, _, told) = place.run(&["restore", "bench.db"]);
    let words = "seedclock: nothing was restored to bench.db: bench.db was left as it is: that is the file to restore from\n  next: name \
                 another file\n";
    assert_eq!((code, told.as_str()), (2, words));
    let (code, _, told) = place.run(&["restore", "none.db"]);
    assert_eq!((code, told.as_str()), (2, "seedclock: nothing was restored to bench.db: there is no file none.db\n"));
    rusqlite::Connection::open(place.path("kept.backup.db")).unwrap().execute_batch("PRAGMA user_version = 9").unwrap();
    let (code, _, told) = place.run(&["restore", "kept.backup.db"]);
    let words = "seedclock: nothing was restored to bench.db: kept.backup.db was written by a later seedclock (file version 9; this one \
                 knows up to 4): it was left as it is\n  next: use the later seedclock\n";
    assert_eq!((code, told.as_str()), (2, words));
    rusqlite::Connection::open(place.path("kept.backup.db")).unwrap().execute_batch("PRAGMA user_version = 4").unwrap();
    let lock = LoggerLock::take(&place.bench()).unwrap();
    let (code, _, told) = place.run(&["restore", "kept.backup.db"]);
    let words = format!(
        "seedclock: nothing was restored to bench.db: a logger already runs on bench.db (process {})\n",
        std::process::id()
    );
    assert_eq!((code, told), (2, words));
    drop(lock);
    assert_eq!(values(&place.bench()).len(), 10);
    let left: Vec<_> = std::fs::read_dir(place.path("")).unwrap().map(|entry| entry.unwrap().file_name()).collect();
    assert!(
        !left.iter().any(|name| name.to_string_lossy().contains("replaced") || name.to_string_lossy().contains(".new-")),
        "{left:?}"
    );
}

#[test]
fn a_file_of_an_earlier_version_is_looked_at_as_it_is_and_restored_as_a_new_one() {
    let place = Place::new();
    of_version_3(&place.path("old.db"));
    let before = std::fs::read(place.path("old.db")).unwrap();
    assert_eq!(place.says(&["verify", "old.db"]), "old.db is whole: 0 days of 0 probes as they were written, 0 readings\n");
    assert!(std::fs::read(place.path("old.db")).unwrap() == before);
    place.says(&["restore", "old.db"]);
    assert!(std::fs::read(place.path("old.db")).unwrap() == before);
    assert_eq!(values(&place.bench()), [1, 2]);
    is_whole(&place.bench());
}

#[test]
fn drafts_of_killed_processes_are_cleared_away_and_those_of_others_are_not() {
    let place = Place::new();
    assert!(place.import(0, 10).status.success());
    // No process has a number this large (proc(5): pid_max is at most 2^22).
    let dead = place.path("kept.backup.db.new-4194305");
    let alive = place.path(&format!("kept.backup.db.new-{}", std::process::id()));
    let foreign = place.path("kept.backup.db.new-draft");
    [&dead, &alive, &foreign].iter().for_each(|path| std::fs::write(path, "half").unwrap());
    place.says(&["backup", "kept.backup.db"]);
    assert_eq!((dead.exists(), alive.exists(), foreign.exists()), (false, true, true));
}

#[test]
fn that_another_computer_logs_now_is_told() {
    let place = Place::new();
    assert!(place.import(0, 10).status.success());
    let connection = rusqlite::Connection::open(place.bench()).unwrap();
    let notes = "INSERT INTO care_note VALUES ('computer', '00'), ('computer_name', 'shelf-pi'), ('ports', '/dev/nowhere-usb')";
    connection.execute_batch(notes).unwrap();
    drop(connection);
    let said = place.run(&["status"]).1;
    assert!(said.ends_with("It is logged by the computer 'shelf-pi', not by this one.\n"), "{said}");
    let board = seedclock::probes::Player::new().unwrap();
    let mut logging = crate::devices::harness::Logging::into(&place.bench(), &[board.path()], &[]);
    let words = "note: this bench was logged by the computer 'shelf-pi' before\n  next: start no logger there any more\n";
    logging.wait_for_words(words, 1);
    logging.stop("TERM");
    let (code, said, _) = place.run(&["status"]);
    let told = "\n  next: start no logger on the old one; give `seedclock log` the ports that are here\n";
    let joined = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        joined.contains("this computer logs here, and 'shelf-pi' before. Not here any more: /dev/nowhere-usb. next: "),
        "{said}"
    );
    assert!(code == 1 && said.contains(told), "{said}");
    let mut again = crate::devices::harness::Logging::into(&place.bench(), &[board.path()], &[]);
    again.wait_for_words("listening", 1);
    assert!(!again.stop("TERM").1.contains("shelf-pi"), "said once");
}

/// As when the logger is a service with an account of its own.
#[test]
fn somebody_who_may_not_write_can_ask_while_a_logger_runs() {
    use std::os::unix::fs::PermissionsExt;
    use std::os::unix::process::CommandExt;
    let place = Place::new();
    let program = place.path("seedclock");
    std::fs::copy(env!("CARGO_BIN_EXE_seedclock"), &program).unwrap();
    assert!(place.import(0, 10).status.success());
    let mut board = seedclock::probes::Player::new().unwrap();
    let mut logging = crate::devices::harness::Logging::into(&place.bench(), &[board.path()], &["--commit-every", "0.1s"]);
    logging.wait_for_words("listening", 1);
    board.print(b"\np1,0.10\n").unwrap();
    logging.wait_until("the reading", |_| values(&place.bench()).len() == 11);
    let may = |name: &str, mode| std::fs::set_permissions(place.path(name), std::fs::Permissions::from_mode(mode)).unwrap();
    for file in ["bench.db", "bench.db-wal", "bench.db-shm"] {
        may(file, 0o444);
    }
    may("", 0o555);
    let ask = |arguments: &[&str]| {
        let mut command = std::process::Command::new(&program);
        command.arg("--bench").arg(place.bench()).args(arguments).current_dir("/");
        if rustix::process::getuid().is_root() {
            command.uid(65_534).gid(65_534);
        }
        place.told(&command.output().unwrap())
    };
    let (code, said, told) = ask(&["status"]);
    let verified = ask(&["verify"]);
    let refused = ask(&["check", "A1", "none"]);
    may("", 0o755);
    assert!(code == 1 && told.is_empty() && said.contains("\n  p1 nowhere yet: last reading "), "{said}{told}");
    assert!(verified.0 == 0 && verified.1.ends_with("11 readings; 1 is not summed up yet\n"), "{verified:?}");
    let words = "seedclock: bench.db may not be written to: nothing can be recorded\n  next: see whether the disk was mounted read-only \
                 after an error, and whose the file is\n";
    assert_eq!((refused.0, refused.2.as_str()), (2, words));
    logging.stop("TERM");
}
