//! A logger without ports, threads or a world outside: bytes in, and a clock in hand.

use std::cell::RefCell;
use std::collections::BTreeMap;
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::rc::Rc;
use std::sync::Arc;

use chrono::Duration;

use super::alarms::Watchman;
use super::caretaker::Caretaker;
use super::dating::Dating;
use super::{Notice, Post, Tally, writer::Writer};
use crate::bench::Name;
use crate::civil::{Time, Zone, read_time};
use crate::clock::{Clock, Keeper, StoppedClock};
use crate::probes::{Heard, LineReader, News, Opening, Told};
use crate::store::{BenchKind, Store};

pub(super) struct Rig {
    folder: tempfile::TempDir,
    pub(super) clock: Arc<StoppedClock>,
    told: Rc<RefCell<Vec<String>>>,
    /// By which ways alarms go out.
    pub(super) post: Post,
    process: Option<Process>,
}

/// What is gone when the process is killed.
struct Process {
    keeper: Arc<Keeper>,
    writer: Writer<Box<dyn FnMut(Notice)>>,
    opening: Opening<'static>,
}

pub(super) fn time(text: &str) -> Time {
    read_time(text, Zone::UTC).unwrap().time
}

impl Rig {
    /// A new bench beside a clock; no logger runs yet.
    pub(super) fn new(clock: StoppedClock) -> Self {
        let folder = tempfile::tempdir().unwrap();
        drop(Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap());
        Self { folder, clock: Arc::new(clock), told: Rc::default(), post: Post::default(), process: None }
    }

    pub(super) fn bench(&self) -> PathBuf {
        self.folder.path().join("b.db")
    }

    /// Starts the logger, as `logger::run` does.
    pub(super) fn begin(&mut self) {
        let mut store = Store::open(&self.bench()).unwrap();
        let known = store.known_start(&self.clock.start_id()).unwrap();
        let clock: Arc<dyn Clock> = Arc::clone(&self.clock) as Arc<dyn Clock>;
        let keeper = Arc::new(Keeper::new(clock, known, store.newest_reading_us().unwrap()));
        let told = Rc::clone(&self.told);
        let tell: Box<dyn FnMut(Notice)> = Box::new(move |notice| told.borrow_mut().push(notice.to_string()));
        let ports = vec!["port".to_owned()];
        let (caretaker, _) = Caretaker::new(None, &mut store, &ports, self.clock.now());
        let watchman = Watchman::new(self.post.clone(), &store);
        let mut writer = Writer::new(store, Dating::new(Arc::clone(&keeper)), ports, (caretaker, watchman), tell).unwrap();
        writer.look_at_clock();
        self.process = Some(Process { keeper, writer, opening: opening() });
    }

    /// The board is unplugged and plugged in again.
    pub(super) fn replug(&mut self) {
        if let Some(process) = &mut self.process {
            process.opening = opening();
        }
    }

    /// Bytes come in from the port.
    pub(super) fn print(&mut self, bytes: &[u8]) {
        let Some(Process { keeper, writer, opening }) = &mut self.process else { return };
        let _ = opening.push(
            bytes,
            || keeper.stamp(),
            |told| {
                let news = match told {
                    Told::Reading(probe, reading, stamp) => News::Reading(probe, reading, stamp),
                    Told::Unread { line, fault } => {
                        News::Unread { time_us: keeper.now().timestamp_micros(), line: line.to_vec(), fault }
                    }
                    Told::FormatChanged { from, to } => News::FormatChanged { from, to },
                    Told::ClockDiffers { ahead_us } => News::ClockDiffers { ahead_us },
                };
                writer.take(Heard { source: 0, news });
                ControlFlow::Continue(())
            },
        );
    }

    /// Whether the clock is believed.
    pub(super) fn believes(&self) -> bool {
        self.process.as_ref().is_some_and(|process| process.keeper.anchor().is_some())
    }

    /// The clock is looked at.
    pub(super) fn look(&mut self) {
        self.writer().look_at_clock();
    }

    /// Everything is looked after, as once a minute.
    pub(super) fn look_after(&mut self) {
        let now = self.clock.now();
        self.writer().look(now);
    }

    /// The time of a commit has come.
    pub(super) fn commit(&mut self) {
        self.writer().commit();
    }

    /// Time goes by, the clock being looked at as often as it is.
    pub(super) fn pass(&mut self, time: Duration) {
        let every = Duration::seconds(2);
        let mut left = time;
        while left > Duration::zero() {
            self.clock.pass(left.min(every));
            left -= every;
            if self.process.is_some() {
                self.look();
            }
        }
    }

    /// Stops as told to.
    pub(super) fn finish(&mut self) -> Tally {
        self.process.take().unwrap().writer.finish().unwrap()
    }

    /// Killed: what waits in memory is gone. Gives it, by probe and 1/10 000 °C.
    pub(super) fn kill(&mut self) -> Vec<(Name, i64)> {
        let Some(process) = self.process.take() else { return Vec::new() };
        process.writer.waiting().iter().filter_map(|(probe, reading, _)| Some((probe.clone(), reading.raw_c_e4?))).collect()
    }

    pub(super) fn writer(&mut self) -> &mut Writer<Box<dyn FnMut(Notice)>> {
        &mut self.process.as_mut().unwrap().writer
    }

    /// All that was told, first lines only.
    pub(super) fn told(&self) -> Vec<String> {
        self.told.borrow().iter().map(|notice| notice.lines().next().unwrap_or_default().to_owned()).collect()
    }

    pub(super) fn store(&self) -> Store {
        Store::open(&self.bench()).unwrap()
    }

    /// Every dated reading by probe, in order of time, as (microseconds, 1/10 000 °C).
    pub(super) fn dated(&self) -> BTreeMap<Name, Vec<(i64, i64)>> {
        let store = self.store();
        let readings = |probe: &Name| store.readings(probe, i64::MIN, i64::MAX).unwrap();
        let rows = |probe: Name| {
            let rows = readings(&probe).iter().map(|reading| (reading.time_us, reading.raw_c_e4.unwrap())).collect();
            (probe, rows)
        };
        store.probes().unwrap().into_iter().map(|span| rows(span.probe)).collect()
    }

    /// Dated readings of `p1` as "time value".
    pub(super) fn rows(&self) -> Vec<String> {
        let rows = self.dated().remove(&Name::new("p1").unwrap()).unwrap_or_default();
        rows.iter().map(|(us, raw)| format!("{} {raw}", time_of(*us).format("%m-%d %H:%M:%S"))).collect()
    }
}

fn time_of(us: i64) -> Time {
    crate::civil::time_from_micros(us).unwrap()
}

/// Opened in the middle of nothing: what was on its way before the first line end is not counted.
fn opening() -> Opening<'static> {
    let reader = Box::leak(Box::new(LineReader::new()));
    let mut opening = Opening::new(Name::new("own").unwrap(), reader);
    let _ = opening.push(b"\n", || unreachable!("nothing was printed"), |_| ControlFlow::Continue(()));
    opening
}
