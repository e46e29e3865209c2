//! The one writer: it holds what is not stored yet, and stores it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use tokio::sync::Notify;

use super::alarms::Watchman;
use super::caretaker::Caretaker;
use super::dating::Dating;
use super::sources::{Once, Sources};
use super::{LoggerError, Notice, Tally};
use crate::bench::{Name, Reading, Stamp};
use crate::civil::Time;
use crate::diagnosis::LARGEST_LOG_BYTES;
use crate::probes::{Heard, News};
use crate::store::{Checkpointed, Store, StoreError, UnreadLine, log_bytes};

/// As many readings are worth a commit of their own.
const COMMIT_READINGS: usize = 1000;
/// As many readings are kept in memory while the storage fails.
const MOST_WAITING: usize = 100_000;
/// As many unreadable lines are kept between two commits; a port set to a wrong speed brings thousands, all alike.
const MOST_UNREAD: usize = 100;
/// Commits between two checkpoints.
const CHECKPOINT_AFTER: u32 = 10;
/// How often storing the last readings is tried before they are given up.
const LAST_TRIES: u32 = 3;
/// Probes remembered as heard; a bound, because garbage makes names too.
const MOST_PROBES: usize = 10_000;

pub(super) struct Writer<T> {
    store: Store,
    dating: Dating,
    sources: Sources,
    caretaker: Caretaker,
    watchman: Watchman,
    tell: T,
    spots: BTreeMap<Name, Name>,
    heard: BTreeSet<Name>,
    waiting: Vec<(Name, Reading, Stamp)>,
    unread: Vec<UnreadLine>,
    tally: Tally,
    commits: u32,
    trouble: Trouble,
    /// Whether it was told that the log beside the file grows.
    log_grows: bool,
    /// Why nothing more may be written.
    given_up: Option<StoreError>,
}

/// What has been told of the storage.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Trouble {
    None,
    /// Another program writes for a long time: waited out, which is nothing to tell.
    Waiting,
    Told {
        dropped_before: u64,
    },
}

impl<T: FnMut(Notice)> Writer<T> {
    pub(super) fn new(
        store: Store,
        dating: Dating,
        names: Vec<String>,
        (caretaker, watchman): (Caretaker, Watchman),
        tell: T,
    ) -> Result<Self, StoreError> {
        let sources = Sources::new(&store, names)?;
        let placements = store.bench()?.placements;
        // In order of time, so that the spot where a probe stands now is the last one taken.
        let spots = placements.into_iter().map(|placement| (placement.probe, placement.spot)).collect();
        Ok(Self {
            store,
            dating,
            sources,
            caretaker,
            watchman,
            tell,
            spots,
            heard: BTreeSet::new(),
            waiting: Vec::new(),
            unread: Vec::new(),
            tally: Tally::default(),
            commits: 0,
            trouble: Trouble::None,
            log_grows: false,
            given_up: None,
        })
    }

    /// Says that it is alive, and how it stands.
    pub(super) fn is_alive(&mut self) {
        let tally = Tally { probes: self.heard.len(), ..self.tally };
        let storage_fails = matches!(self.trouble, Trouble::Told { .. });
        self.tell(Notice::Alive { tally, waiting: self.waiting.len(), storage_fails });
    }

    pub(super) fn tell(&mut self, notice: Notice) {
        (self.tell)(notice);
    }

    pub(super) fn take(&mut self, heard: Heard) {
        let Heard { source, news } = heard;
        let name = self.sources.name(source);
        let notice = match news {
            News::State { time_us, state } => Some(self.sources.stands(source, time_us, state)),
            News::Reading(probe, reading, stamp) => {
                self.take_reading(source, probe, reading, stamp);
                None
            }
            News::FormatChanged { from, to } => Some(Notice::FormatChanged { source: name, from, to }),
            News::ClockDiffers { ahead_us } => {
                self.sources.is_first(source, Once::ClockDiffers).then_some(Notice::ClockDiffers { source: name, ahead_us })
            }
            News::Unread { time_us, line, fault } => {
                self.tally.unread += 1;
                if self.unread.len() < MOST_UNREAD {
                    self.unread.push(UnreadLine { port: name.clone(), time_us, line: line.clone(), why: fault.to_string() });
                }
                self.sources.is_first(source, Once::Unread).then_some(Notice::Unread { source: name, line, fault })
            }
            News::SpeedFound { baud } => Some(self.sources.speed_found(source, baud)),
            News::Device(device) => self.sources.device(source, device),
            News::Retained { topic } => {
                self.sources.is_first(source, Once::Retained).then_some(Notice::Retained { source: name, topic })
            }
            News::ProbeGone(probe) => Some(Notice::ProbeGone { source: name, probe }),
            News::ProbeBack(probe) => Some(Notice::ProbeBack { source: name, probe }),
        };
        notice.into_iter().for_each(|notice| self.tell(notice));
    }

    fn take_reading(&mut self, source: usize, probe: Name, reading: Reading, stamp: Stamp) {
        let (probe, notice) = self.sources.keep_as(source, probe, reading.time_us);
        if !self.heard.contains(&probe) && self.heard.len() < MOST_PROBES {
            self.heard.insert(probe.clone());
            let (source, spot) = (self.sources.name(source), self.spots.get(&probe).cloned());
            self.tell(Notice::FirstReading { probe: probe.clone(), source, reading, spot });
        }
        notice.into_iter().for_each(|notice| self.tell(notice));
        if self.waiting.len() >= MOST_WAITING {
            self.drop_one();
            return;
        }
        self.waiting.push((probe, reading, stamp));
        // While the storage fails the regular commits are tries enough.
        if self.waiting.len() >= COMMIT_READINGS && self.trouble == Trouble::None {
            self.commit();
        }
    }

    /// Counts a reading for which there is no room, and tells of the first one.
    fn drop_one(&mut self) {
        let dropped_before = match self.trouble {
            Trouble::Told { dropped_before } => dropped_before,
            Trouble::None | Trouble::Waiting => self.tally.dropped,
        };
        if dropped_before == self.tally.dropped {
            self.tell(Notice::MemoryFull { kept: MOST_WAITING });
        }
        self.trouble = Trouble::Told { dropped_before };
        self.tally.dropped += 1;
    }

    /// Whether nothing more will be stored, so that going on is of no use.
    pub(super) fn has_given_up(&self) -> bool {
        self.given_up.is_some()
    }

    /// Looks at the clock, tells what became of it, and stores at once what that changes.
    pub(super) fn look_at_clock(&mut self) {
        self.dating.look().into_iter().for_each(|notice| self.tell(notice));
        // While the storage fails the regular commits are tries enough.
        if self.dating.is_due() && self.trouble == Trouble::None {
            self.commit();
        }
    }

    /// Stores what waits. Where that fails, everything goes on waiting and the next commit tries again; but not where the file is
    /// gone, or where the system may have dropped what was written and would say "done" the next time.
    pub(super) fn commit(&mut self) {
        if self.has_given_up() {
            return;
        }
        let (kept, dropped) = (self.waiting.len(), self.tally.dropped);
        match self.try_to_commit() {
            Ok(()) => {
                if let Trouble::Told { dropped_before } = self.trouble {
                    self.tell(Notice::StorageWorks { kept, dropped: dropped - dropped_before });
                }
                self.trouble = Trouble::None;
            }
            Err(error) if is_final(&error) => self.given_up = Some(error),
            Err(StoreError::Busy(_)) if self.trouble == Trouble::None => self.trouble = Trouble::Waiting,
            Err(StoreError::Busy(_)) => {}
            Err(error) => {
                if !matches!(self.trouble, Trouble::Told { .. }) {
                    self.tell(Notice::StorageFails { error: error.to_string() });
                    self.trouble = Trouble::Told { dropped_before: dropped };
                }
            }
        }
    }

    /// What is rung when there is something to look at before its time.
    pub(super) fn bell(&self) -> Arc<Notify> {
        self.caretaker.bell()
    }

    /// Sees to what is not of every commit: whether the file still stands there, days that are over, backups.
    pub(super) fn look(&mut self, now: Time) {
        if self.has_given_up() {
            return;
        }
        if let Err(error) = self.store.check_place() {
            self.given_up = is_final(&error).then_some(error);
            return;
        }
        match self.caretaker.look(&mut self.store, now) {
            Ok(notice) => notice.into_iter().for_each(|notice| self.tell(notice)),
            Err(error) if is_final(&error) => self.given_up = Some(error),
            // Days can be summed up another time; that the storage fails is told of readings.
            Err(_) => {}
        }
        // Without a clock that is believed nobody knows what is late, or what a reading is of.
        if let Some(now) = self.dating.now().filter(|_| self.given_up.is_none()) {
            let (notices, kept) = self.watchman.look(&mut self.store, &self.waiting, now);
            notices.into_iter().for_each(|notice| self.tell(notice));
            self.given_up = kept.err().filter(is_final);
        }
    }

    /// Whether letters about alarms are on their way.
    pub(super) fn waits_for_carriers(&self) -> bool {
        self.watchman.waits_for_carriers()
    }

    /// Puts on record how letters went, at the end.
    pub(super) fn take_up_letters(&mut self) {
        if let Some(now) = self.dating.now().filter(|_| self.given_up.is_none()) {
            // They go out again where that cannot be noted.
            let _ = self.watchman.end(&mut self.store, now);
        }
    }

    /// Commits what waits where somebody watches for it. Whether anybody does is not worth a word where it cannot be read.
    pub(super) fn commit_if_watched(&mut self, now_us: i64) {
        if !self.waiting.is_empty() && !self.has_given_up() && self.store.watched_until().is_ok_and(|until_us| until_us > now_us) {
            self.commit();
        }
    }

    fn try_to_commit(&mut self) -> Result<(), StoreError> {
        self.store.check_place()?;
        let due = !self.waiting.is_empty() || self.dating.is_due();
        if !due && self.unread.is_empty() && !self.sources.is_due() {
            return Ok(());
        }
        if due {
            self.store_waiting(false)?;
        }
        if !self.unread.is_empty() {
            self.store.keep_unread_lines(&self.unread)?;
            self.unread.clear();
        }
        if self.sources.is_due() {
            self.sources.store(&mut self.store)?;
        }
        self.commits += 1;
        if self.commits >= CHECKPOINT_AFTER {
            self.commits = 0;
            self.checkpoint()?;
        }
        Ok(())
    }

    /// Copies the log into the file. What a reader holds back this time is copied the next time; but where one holds back for so
    /// long that the log fills the disk, that is told once.
    fn checkpoint(&mut self) -> Result<(), StoreError> {
        let copied = self.store.checkpoint()?;
        let bytes = log_bytes(self.store.path());
        match copied {
            _ if bytes <= LARGEST_LOG_BYTES => self.log_grows = false,
            Checkpointed::Partly { .. } if self.log_grows => {}
            Checkpointed::Partly { .. } => {
                self.log_grows = true;
                self.tell(Notice::LogGrows { bytes });
            }
            Checkpointed::Whole => self.store.shorten_log()?,
        }
        Ok(())
    }

    /// Stores the readings that wait; `again` where they may be on record already.
    fn store_waiting(&mut self, again: bool) -> Result<(), StoreError> {
        let (kept, told) = self.dating.store(&mut self.store, &self.waiting, again)?;
        let repeated = kept.repeated as u64;
        self.tally.repeated += repeated;
        self.tally.stored += self.waiting.len() as u64 - repeated;
        self.waiting.clear();
        told.into_iter().for_each(|notice| self.tell(notice));
        Ok(())
    }

    /// Stores the last readings and says what was done.
    pub(super) fn finish(mut self) -> Result<Tally, LoggerError> {
        self.caretaker.end();
        let mut outcome = self.given_up.take().map_or_else(|| self.try_to_commit(), Err);
        for _ in 1..LAST_TRIES {
            if outcome.as_ref().is_err_and(|error| !is_final(error)) {
                outcome = self.try_to_commit();
            }
        }
        match outcome.and_then(|()| self.store.checkpoint()) {
            Err(source) if source.sync_failed() => Err(self.store_anew(source)),
            Err(source) => {
                if matches!(source, StoreError::Moved { replaced: false, .. }) {
                    // What was stored goes with the file, wherever it is. Its log is still its own: no other file stands there.
                    let _ = self.store.checkpoint();
                }
                Err(not_stored(self.waiting.len(), source))
            }
            Ok(_) => {
                let undated = self.dating.undated(&self.store).map_err(LoggerError::Bench)?;
                Ok(Tally { probes: self.heard.len(), undated, ..self.tally })
            }
        }
    }

    /// Stores what waits over a new opening of the file, which knows nothing of what the old one believed to be written.
    fn store_anew(mut self, source: StoreError) -> LoggerError {
        let readings = self.waiting.len();
        let Ok(store) = self.store.reopen() else { return LoggerError::NotSafe { readings, source } };
        self.store = store;
        // The log may have been dropped behind our back, so that only what was copied out of it, and synced, is safe.
        // What was refused may stand in it nevertheless, and must not come in twice.
        match self.store_waiting(true).and_then(|()| self.store.checkpoint()) {
            Ok(Checkpointed::Whole) => LoggerError::DiskInDoubt { readings, source },
            Ok(Checkpointed::Partly { .. }) | Err(_) => LoggerError::NotSafe { readings, source },
        }
    }
}

#[cfg(test)]
impl<T> Writer<T> {
    pub(super) fn waiting(&self) -> &[(Name, Reading, Stamp)] {
        &self.waiting
    }

    pub(super) fn dropped(&self) -> u64 {
        self.tally.dropped
    }

    pub(super) fn store(&mut self) -> &mut Store {
        &mut self.store
    }
}

/// Whether trying again can only make it worse.
fn is_final(error: &StoreError) -> bool {
    error.sync_failed() || matches!(error, StoreError::Moved { .. })
}

fn not_stored(readings: usize, source: StoreError) -> LoggerError {
    if readings > 0 { LoggerError::NotStored { readings, source } } else { LoggerError::Bench(source) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use crate::civil::{Zone, time_from_micros};
    use crate::clock::{Keeper, StoppedClock};
    use crate::store::BenchKind;
    use std::cell::RefCell;
    use std::sync::Arc;

    fn reading(time_us: i64) -> Heard {
        let reading = Reading { time_us, raw_c_e4: Some(215_000), proof: Proof::Plain };
        Heard { source: 0, news: News::Reading(Name::new("p1").unwrap(), reading, Stamp::Arrival) }
    }

    fn writer<T: FnMut(Notice)>(mut store: Store, tell: T) -> Writer<T> {
        let clock = StoppedClock::new(time_from_micros(1_780_000_000_000_000).unwrap());
        let dating = Dating::new(Arc::new(Keeper::new(Arc::new(clock), None, None)));
        let ports = vec!["port".to_owned()];
        let (caretaker, _) = Caretaker::new(None, &mut store, &ports, Time::UNIX_EPOCH);
        let watchman = Watchman::new(super::super::Post::default(), &store);
        Writer::new(store, dating, ports, (caretaker, watchman), tell).unwrap()
    }

    /// A store held to reading stands for one whose disk fails: every write is refused.
    #[test]
    fn while_the_storage_fails_readings_wait_in_order_up_to_a_bound_and_losses_are_counted() {
        let folder = tempfile::tempdir().unwrap();
        let bench = folder.path().join("b.db");
        drop(Store::create(&bench, Zone::UTC, BenchKind::Own).unwrap());
        let told = RefCell::new(Vec::new());
        let broken = Store::open_read_only(&bench).unwrap();
        let tell = |notice: Notice| told.borrow_mut().push(notice.to_string().lines().next().unwrap_or_default().to_owned());
        let mut writer = writer(broken, tell);

        (0..MOST_WAITING as i64 + 2).for_each(|time_us| writer.take(reading(time_us)));
        writer.commit();
        writer.commit();
        assert_eq!((writer.waiting.len(), writer.tally.dropped, writer.tally.stored), (MOST_WAITING, 2, 0));
        let told_while_failing = told.borrow().len();
        assert_eq!(told_while_failing, 3, "the probe, the failure and the full memory, once each: {:?}", told.borrow());

        writer.store = Store::open(&bench).unwrap();
        writer.commit();
        writer.take(reading(MOST_WAITING as i64 + 2));
        assert_eq!(
            told.borrow().last().map(String::as_str),
            Some("the storage works again: 100000 readings that waited are stored, 2 are lost")
        );
        let tally = writer.finish().unwrap();
        assert_eq!(tally, Tally { stored: MOST_WAITING as u64 + 1, probes: 1, unread: 0, repeated: 0, undated: 0, dropped: 2 });
        let kept = Store::open(&bench).unwrap().readings(&Name::new("p1").unwrap(), 0, i64::MAX).unwrap();
        assert!(kept.windows(2).all(|pair| pair[0].time_us < pair[1].time_us));
        assert_eq!(kept.len() as u64, tally.stored);
    }

    #[test]
    fn readings_that_cannot_be_stored_at_the_end_are_owned_up_to() {
        let folder = tempfile::tempdir().unwrap();
        let bench = folder.path().join("b.db");
        drop(Store::create(&bench, Zone::UTC, BenchKind::Own).unwrap());
        let mut writer = writer(Store::open_read_only(&bench).unwrap(), |_| {});
        writer.take(reading(1));
        let error = writer.finish().unwrap_err();
        assert_eq!(error.to_string(), "the last readings (1) could not be stored before stopping, and are lost");
    }
}
