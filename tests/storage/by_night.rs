//! Backups that the logger makes, by a made-up clock.

use std::path::Path;
use std::sync::{Arc, Mutex};
use std::time::{Duration, Instant};

use chrono::NaiveTime;
use seedclock::civil::Time;
use seedclock::clock::StoppedClock;
use seedclock::logger::{CareOptions, Nightly, Notice, Post, Resources, run};
use seedclock::store::{Computer, Store};

use super::{Place, is_whole, values};

/// A logger without ports, whose clock stands where it is put.
struct Night {
    clock: Arc<StoppedClock>,
    told: Arc<Mutex<Vec<String>>>,
    stop: tokio::sync::oneshot::Sender<()>,
    thread: std::thread::JoinHandle<Result<(), String>>,
}

impl Night {
    fn begin(place: &Place, now: &str, keep: usize) -> Self {
        let clock = Arc::new(StoppedClock::new(at(now)));
        let told = Arc::new(Mutex::new(Vec::new()));
        let (stop, stopped) = tokio::sync::oneshot::channel();
        let nightly = Nightly { folder: place.path("nightly"), at: NaiveTime::from_hms_opt(3, 0, 0).unwrap(), keep };
        let care = CareOptions { nightly: Some(nightly), look_every: Duration::from_millis(10) };
        // Committed only now and then: what is looked at between does not wait for that.
        let resources = Resources {
            sources: Vec::new(),
            commit_every: Duration::from_secs(3600),
            care,
            alive_every: None,
            post: Post::default(),
        };
        let store = Store::open(&place.bench()).unwrap();
        let thread = std::thread::spawn({
            let (clock, told) = (Arc::clone(&clock), Arc::clone(&told));
            move || {
                let tell = |notice: Notice| told.lock().unwrap().push(notice.to_string());
                let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
                let stopped = async { stopped.await.unwrap_or(()) };
                runtime.block_on(run(resources, store, clock, stopped, tell)).map(drop).map_err(|error| error.to_string())
            }
        });
        Self { clock, told, stop, thread }
    }

    fn wait(&self, what: &str, done: impl Fn(&[String]) -> bool) {
        let begun = Instant::now();
        while !done(&self.told.lock().unwrap()) {
            assert!(begun.elapsed() < Duration::from_secs(60), "waited in vain for {what}: {:?}", self.told.lock().unwrap());
            std::thread::sleep(Duration::from_millis(5));
        }
    }

    fn told(&self) -> usize {
        self.told.lock().unwrap().len()
    }
}

fn at(text: &str) -> Time {
    text.parse().unwrap()
}

fn names(folder: &Path) -> Vec<String> {
    let mut names: Vec<String> =
        std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    names.sort();
    names
}

#[test]
fn a_backup_is_made_every_night_and_only_the_newest_of_them_are_kept() {
    let place = Place::new();
    assert!(place.import(0, 100).status.success());
    std::fs::create_dir(place.path("nightly")).unwrap();
    // Not of the logger's making, each for another reason.
    let others =
        ["bench-2026-01-01.backup.db", "bench-2026-01-02.nightly.db", "bench-today.nightly.db", "shelf-2026-01-01.nightly.db"];
    others.iter().for_each(|other| std::fs::write(place.path("nightly").join(other), "kept").unwrap());
    let night = Night::begin(&place, "2026-03-05T20:00:00Z", 2);
    // The night before was missed.
    night.wait("the first", |told| told.len() == 1);
    for (number, now) in (2..).zip(["2026-03-06T02:00:00Z", "2026-03-07T02:00:30Z", "2026-03-08T12:00:00Z"]) {
        night.clock.set(at(now));
        night.wait("the next", |told| told.len() == number);
    }
    // Later on the same day nothing is made.
    night.clock.set(at("2026-03-09T01:59:00Z"));
    night.stop.send(()).unwrap();
    assert_eq!(night.thread.join().unwrap(), Ok(()));
    let told = night.told.lock().unwrap().clone();
    assert_eq!(told.len(), 4, "{told:?}");
    assert_eq!(told[3], format!("backed up and checked: {}", place.path("nightly/bench-2026-03-08.nightly.db").display()));
    let mut expected = others.map(str::to_owned).to_vec();
    expected.extend(["bench-2026-03-07.nightly.db".to_owned(), "bench-2026-03-08.nightly.db".to_owned()]);
    expected.sort();
    assert_eq!(names(&place.path("nightly")), expected);
    let newest = place.path("nightly/bench-2026-03-08.nightly.db");
    is_whole(&newest);
    assert_eq!(values(&newest).len(), 100);
    let care = Store::open(&place.bench()).unwrap().care(&Computer::here()).unwrap();
    let last = care.backup.unwrap();
    assert_eq!((last.time, last.file.as_str()), (at("2026-03-08T12:00:00Z"), newest.to_str().unwrap()));
}

#[test]
fn a_backup_that_fails_is_told_kept_in_mind_and_tried_again_the_next_night() {
    let place = Place::new();
    assert!(place.import(0, 100).status.success());
    std::fs::write(place.path("nightly"), "a file where the folder should be").unwrap();
    let night = Night::begin(&place, "2026-03-05T20:00:00Z", 2);
    night.wait("the failure", |told| told.len() == 1);
    let file = place.path("nightly/bench-2026-03-05.nightly.db").display().to_string();
    let why = format!("looking for {file} did not work: Not a directory (os error 20)");
    let words = format!("the nightly backup was not made: {why}\n  earlier ones stay; it is tried again the next night");
    assert_eq!(night.told.lock().unwrap()[0], words);
    night.clock.set(at("2026-03-06T01:00:00Z"));
    let care = || Store::open(&place.bench()).unwrap().care(&Computer::here()).unwrap();
    assert_eq!(care().failed, Some((at("2026-03-05T20:00:00Z"), why)));
    let said = place.run(&["status"]).1;
    assert!(said.contains("- The backup of Thu 5 Mar 2026, 21:00 failed: looking for"), "{said}");
    assert!(said.contains(" No backup was ever made.\n  next: see to it, then `seedclock backup`\n"), "{said}");
    std::fs::remove_file(place.path("nightly")).unwrap();
    assert_eq!(night.told(), 1, "told once");
    night.clock.set(at("2026-03-06T02:00:00Z"));
    night.wait("the next night's", |told| told.len() == 2);
    night.stop.send(()).unwrap();
    assert_eq!(night.thread.join().unwrap(), Ok(()));
    assert_eq!((care().failed, care().backup.is_some()), (None, true));
}

#[test]
fn the_program_makes_them_as_its_options_say() {
    let place = Place::new();
    assert!(place.import(0, 100).status.success());
    let folder = place.path("nightly");
    let options = ["--backup", folder.to_str().unwrap(), "--backup-at", "00:00", "--backup-keep", "3"];
    let board = seedclock::probes::Player::new().unwrap();
    let mut logging = crate::devices::harness::Logging::into(&place.bench(), &[board.path()], &options);
    logging.wait_for_words("\nbacked up and checked: ", 1);
    let (status, said) = logging.stop("TERM");
    assert_eq!((status.code(), names(&folder).len()), (Some(0), 1), "{said}");
    is_whole(&folder.join(&names(&folder)[0]));
    let last = place.run(&["status"]).1;
    assert!(last.contains("\nLast backup a moment ago: "), "{last}");
    for wrong in [["--backup-at", "25:00"], ["--backup-keep", "0"]] {
        let refused = place.run(&[&["log", "--port", "/dev/nowhere"][..], &wrong].concat());
        assert_eq!(refused.0, 2, "{refused:?}");
    }
}

#[test]
fn fault_8_a_bench_moved_away_is_noticed_between_commits() {
    let place = Place::new();
    assert!(place.import(0, 100).status.success());
    let night = Night::begin(&place, "2026-03-05T20:00:00Z", 2);
    night.wait("the first backup", |told| told.len() == 1);
    std::fs::rename(place.bench(), place.path("away.db")).unwrap();
    // It ends by itself, an hour before its next commit.
    let ended = night.thread.join().unwrap().unwrap_err();
    assert!(ended.contains("was moved or deleted while it was open: nothing more is written to it"), "{ended}");
    drop(night.stop);
}
