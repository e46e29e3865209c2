//! What is seen to once a minute: days that are over, the nightly backup, which computer logs.

use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use chrono::NaiveTime;
use tokio::sync::Notify;

use super::Notice;
use crate::civil::{Time, Zone, local_date, reckon};
use crate::store::{BackupOutcome, Computer, Interrupt, NIGHTLY, Store, StoreError};

/// As many days are summed up at a time: a record of years that comes without sums is not held up by them.
const DAYS_AT_ONCE: u32 = 200;

/// A backup every night.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Nightly {
    /// Where it is put, as `<name of the bench>-YYYY-MM-DD.nightly.db`.
    pub folder: PathBuf,
    /// When, in the bench's zone. A night that was missed is made up for.
    pub at: NaiveTime,
    /// As many are kept, the newest.
    pub keep: usize,
}

/// How a logger takes care of its file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct CareOptions {
    /// The nightly backup, where one is wanted.
    pub nightly: Option<Nightly>,
    /// How often everything is looked after; also whether the file still stands at its path.
    pub look_every: Duration,
}

impl Default for CareOptions {
    fn default() -> Self {
        Self { nightly: None, look_every: Duration::from_secs(60) }
    }
}

/// A backup that is being made.
struct Running {
    thread: JoinHandle<Result<PathBuf, String>>,
    interrupt: Interrupt,
    ended: Arc<AtomicBool>,
}

/// Looks after one bench file.
pub(super) struct Caretaker {
    nightly: Option<Nightly>,
    zone: Zone,
    running: Option<Running>,
    /// Rung when a backup has ended.
    bell: Arc<Notify>,
    tried: Option<Time>,
}

impl Caretaker {
    /// Begins, and says so where another computer logged here before.
    pub(super) fn new(nightly: Option<Nightly>, store: &mut Store, ports: &[String], now: Time) -> (Self, Option<Notice>) {
        let zone = store.bench().map_or(Zone::UTC, |bench| bench.zone);
        // On a full disk logging begins nevertheless; it is noted another time.
        let _ = store.note_nightly(nightly.as_ref().map(|nightly| nightly.folder.as_path()));
        let moved = store.note_computer(&Computer::here(), ports, now).unwrap_or_default();
        (
            Self { nightly, zone, running: None, bell: Arc::default(), tried: None },
            moved.map(|from| Notice::ComputerChanged { from }),
        )
    }

    /// Looks after everything; says what there is to tell.
    ///
    /// # Errors
    /// [`StoreError`] where the days could not be summed up.
    pub(super) fn look(&mut self, store: &mut Store, now: Time) -> Result<Option<Notice>, StoreError> {
        let notice = match self.running.take() {
            Some(running) if !running.ended.load(Ordering::SeqCst) => {
                self.running = Some(running);
                None
            }
            Some(running) => Some(ended(running.thread, store, now)),
            None if self.is_due(store, now) => self.begin(store, now),
            None => None,
        };
        store.close_days(now, DAYS_AT_ONCE)?;
        Ok(notice)
    }

    fn is_due(&self, store: &Store, now: Time) -> bool {
        let Some(due) = self.nightly.as_ref().and_then(|nightly| last_due(nightly.at, self.zone, now)) else { return false };
        let made = store.last_backup().ok().flatten();
        [made, self.tried].into_iter().flatten().all(|before| before < due)
    }

    /// Begins a backup in a thread of its own and over an opening of its own, so that logging never waits for it.
    fn begin(&mut self, store: &mut Store, now: Time) -> Option<Notice> {
        let nightly = self.nightly.clone()?;
        self.tried = Some(now);
        let stem = stem_of(store.path());
        let target = nightly.folder.join(format!("{stem}-{}{NIGHTLY}", local_date(now, self.zone)));
        let begun = Store::open(store.path()).map_err(|error| error.to_string()).and_then(|own| {
            let interrupt = own.interrupt();
            let ended = Arc::new(AtomicBool::new(false));
            let when_done = WhenDone(Arc::clone(&ended), Arc::clone(&self.bell));
            let work = move || {
                let _when_done = when_done;
                let made = own.backup(&target).and_then(|()| own.prune(&nightly.folder, &stem, nightly.keep));
                made.map(|()| target).map_err(|error| error.to_string())
            };
            let thread = std::thread::Builder::new().name("backup".to_owned()).spawn(work).map_err(|error| error.to_string())?;
            Ok(Running { thread, interrupt, ended })
        });
        match begun {
            Ok(running) => {
                self.running = Some(running);
                None
            }
            Err(why) => Some(failed(why, store, now)),
        }
    }

    /// Ends a backup that is being made: what stood there before stays.
    pub(super) fn end(&mut self) {
        if let Some(running) = self.running.take() {
            running.interrupt.ring();
            let _ = running.thread.join();
        }
    }

    /// What is rung when there is something to look at before its time.
    pub(super) fn bell(&self) -> Arc<Notify> {
        Arc::clone(&self.bell)
    }
}

/// Tells that a backup's thread ends, also where it breaks down.
struct WhenDone(Arc<AtomicBool>, Arc<Notify>);

impl Drop for WhenDone {
    fn drop(&mut self) {
        self.0.store(true, Ordering::SeqCst);
        self.1.notify_one();
    }
}

fn ended(thread: JoinHandle<Result<PathBuf, String>>, store: &mut Store, now: Time) -> Notice {
    match thread.join() {
        Ok(Ok(file)) => {
            // Should it not be possible to note it, the next night notes the next one.
            let _ = store.note_backup(&BackupOutcome::Made(&file), now);
            Notice::BackupMade { file }
        }
        Ok(Err(why)) => failed(why, store, now),
        Err(_) => failed("making it broke down, which is a fault of seedclock".to_owned(), store, now),
    }
}

fn failed(why: String, store: &mut Store, now: Time) -> Notice {
    let first = why.lines().next().unwrap_or_default().trim_end_matches(':').to_owned();
    let _ = store.note_backup(&BackupOutcome::Failed(&first), now);
    Notice::BackupFailed { why }
}

/// What the names of a bench's backups begin with.
fn stem_of(bench: &Path) -> String {
    bench.file_stem().unwrap_or(bench.as_os_str()).to_string_lossy().into_owned()
}

/// The last instant up to `now` at which a backup was due.
fn last_due(at: NaiveTime, zone: Zone, now: Time) -> Option<Time> {
    let today = local_date(now, zone);
    [Some(today), today.pred_opt()].into_iter().flatten().find_map(|date| {
        let local = date.and_time(at);
        // Where clocks were put forward over it, an hour later exists.
        let due = reckon(local, zone, "").or_else(|_| reckon(local + chrono::Duration::hours(1), zone, "")).ok()?.time;
        (due <= now).then_some(due)
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_backup_is_due_once_a_night_by_the_benchs_own_time() {
        let at = |text: &str| text.parse::<Time>().unwrap();
        let three = NaiveTime::from_hms_opt(3, 0, 0).unwrap();
        let due = |now: &str| last_due(three, Zone::Europe__Berlin, at(now)).unwrap();
        assert_eq!(due("2026-03-04T01:59:59Z"), at("2026-03-03T02:00:00Z"));
        assert_eq!(due("2026-03-04T02:00:00Z"), at("2026-03-04T02:00:00Z"));
        assert_eq!(due("2026-07-04T12:00:00Z"), at("2026-07-04T01:00:00Z"));
        // On 29 March 2026 there was no half past two.
        let half_past_two = NaiveTime::from_hms_opt(2, 30, 0).unwrap();
        assert_eq!(last_due(half_past_two, Zone::Europe__Berlin, at("2026-03-29T12:00:00Z")), Some(at("2026-03-29T01:30:00Z")));
    }
}
