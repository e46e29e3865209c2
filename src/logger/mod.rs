//! Probes → store: port threads → a bounded channel → the one writer.

#[cfg(test)]
mod alarm_faults;
mod alarms;
mod caretaker;
#[cfg(test)]
mod clock_faults;
mod dating;
mod notice;
mod origins;
mod post;
#[cfg(test)]
mod rig;
mod sources;
#[cfg(test)]
mod weeks;
mod writer;

pub use alarms::letter;
pub use caretaker::{CareOptions, Nightly};
pub use notice::Notice;
pub use post::{About, Carried, Letter, Post, Tray};

use std::future::Future;
use std::io;
use std::pin::pin;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use thiserror::Error;
use tokio::sync::mpsc::{self, Receiver};
use tokio::time::{Interval, MissedTickBehavior};

use crate::clock::{Clock, Keeper};
use crate::probes::{Heard, Source, Stop, listen};
use crate::store::{Store, StoreError};
use alarms::Watchman;
use caretaker::Caretaker;
use dating::Dating;
use writer::Writer;

/// News that may wait between the ports and the writer. When it is full the ports stop reading and the boards wait.
const CHANNEL_NEWS: usize = 4096;
/// News taken from the channel at a time.
const NEWS_AT_ONCE: usize = 256;
/// Commits closer together than this would be a busy loop.
const SHORTEST_COMMIT: Duration = Duration::from_millis(10);
/// How often the clock is looked at, beside every stamp.
const LOOK_AT_CLOCK_EVERY: Duration = Duration::from_secs(2);

/// Letters on their way are waited for so long at the end.
const CARRIERS_WAITED_FOR: Duration = Duration::from_secs(3);

/// How often the logger looks whether somebody watches the readings come.
const WATCHED_EVERY: Duration = Duration::from_secs(1);

/// What a logger works with.
#[derive(Debug, Clone)]
pub struct Resources {
    /// What to read.
    pub sources: Vec<Source>,
    /// Readings are committed this often, or whenever a thousand wait: what a loss of power can cost.
    pub commit_every: Duration,
    /// How the file is taken care of.
    pub care: CareOptions,
    /// How often [`Notice::Alive`] is told; none: never.
    pub alive_every: Option<Duration>,
    /// By which ways alarms are told, beside [`Notice::Alarm`].
    pub post: Post,
}

/// What a logger did.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Tally {
    /// Readings stored.
    pub stored: u64,
    /// Probes they came from.
    pub probes: usize,
    /// Lines that could not be read.
    pub unread: u64,
    /// Readings that came again with their source's own time, and are stored once.
    pub repeated: u64,
    /// Readings stored without dates, as the clock is not known to be right: of this start of the computer, whoever logged them.
    pub undated: u64,
    /// Readings that could be neither stored nor kept any longer while the storage failed.
    pub dropped: u64,
}

/// Why a logger could not go on.
#[derive(Debug, Error)]
pub enum LoggerError {
    /// A source's thread could not be started.
    #[error("cannot listen to {name}: {source}")]
    Thread {
        /// The source.
        name: String,
        /// The system's own account.
        source: io::Error,
    },
    /// The bench could not be read at the start.
    #[error(transparent)]
    Bench(#[from] StoreError),
    /// The last readings could not be stored.
    #[error("the last readings ({readings}) could not be stored before stopping, and are lost")]
    NotStored {
        /// How many.
        readings: usize,
        /// Why.
        source: StoreError,
    },
    /// The disk failed to make readings safe.
    #[error("the disk failed while readings were put on it: the last ones ({readings}) may be lost, no earlier one is")]
    NotSafe {
        /// How many.
        readings: usize,
        /// How it failed.
        source: StoreError,
    },
    /// The disk failed to make readings safe. Those that waited were stored after all, but it is not to be trusted.
    #[error(
        "the disk failed while readings were put on it; the file was opened anew and found whole, and the last ones ({readings}) \
         are stored after all; look after the disk before you begin again"
    )]
    DiskInDoubt {
        /// How many.
        readings: usize,
        /// How it failed.
        source: StoreError,
    },
}

impl LoggerError {
    /// Whether the storage itself failed.
    #[must_use]
    pub fn storage_failed(&self) -> bool {
        match self {
            Self::Bench(source)
            | Self::NotStored { source, .. }
            | Self::NotSafe { source, .. }
            | Self::DiskInDoubt { source, .. } => source.storage_failed(),
            Self::Thread { .. } => false,
        }
    }
}

/// Reads the sources into the bench until `shutdown` comes or all have come to their end; then stops them, stores everything they had read, and says
/// what was done. Troubles of a source or of the storage are told through `tell`, once each, and waited out; but where the file was
/// taken away, or the disk failed to make safe what was written, it stops by itself.
///
/// # Errors
/// [`LoggerError`]
pub async fn run(
    resources: Resources,
    store: Store,
    clock: Arc<dyn Clock>,
    shutdown: impl Future<Output = ()>,
    tell: impl FnMut(Notice),
) -> Result<Tally, LoggerError> {
    let ends_with_sources = !resources.sources.is_empty();
    let names: Vec<String> = resources.sources.iter().map(Source::name).collect();
    let known = store.known_start(&clock.start_id())?;
    let keeper = Arc::new(Keeper::new(Arc::clone(&clock), known, store.newest_reading_us()?));
    let mut store = store;
    let (caretaker, moved) = Caretaker::new(resources.care.nightly, &mut store, &names, clock.now());
    let watchman = Watchman::new(resources.post, &store);
    let tray = watchman.tray();
    let mut writer = Writer::new(store, Dating::new(Arc::clone(&keeper)), names, (caretaker, watchman), tell)?;
    moved.into_iter().for_each(|notice| writer.tell(notice));
    writer.look_at_clock();
    let stop = Arc::new(Stop::default());
    let (sender, mut receiver) = mpsc::channel(CHANNEL_NEWS);
    let mut threads = Vec::new();
    for (number, source) in resources.sources.into_iter().enumerate() {
        let name = source.name();
        match listen(number, source, Arc::clone(&keeper), sender.clone(), Arc::clone(&stop)) {
            Ok(thread) => threads.push((name, thread)),
            Err(source) => {
                stop.ring();
                return Err(LoggerError::Thread { name, source });
            }
        }
    }
    // Now the channel closes when the last thread of a source ends.
    drop(sender);
    let every = Every {
        commit: resources.commit_every.max(SHORTEST_COMMIT),
        look: resources.care.look_every.max(SHORTEST_COMMIT),
        alive: resources.alive_every,
        ends_with_sources,
    };
    write_until(shutdown, &mut receiver, every, (&*clock, &tray), &mut writer).await;
    stop.ring();
    let mut news = Vec::with_capacity(NEWS_AT_ONCE);
    while receiver.recv_many(&mut news, NEWS_AT_ONCE).await > 0 {
        news.drain(..).for_each(|heard| writer.take(heard));
    }
    join(threads, &mut writer);
    writer.look_at_clock();
    // What is on its way may arrive, and would go out again if nobody took note.
    let _ = tokio::time::timeout(CARRIERS_WAITED_FOR, async {
        while writer.waits_for_carriers() {
            tray.filled().await;
            writer.take_up_letters();
        }
    })
    .await;
    writer.finish()
}

/// How often what is done.
struct Every {
    commit: Duration,
    look: Duration,
    alive: Option<Duration>,
    /// A logger that reads nothing, but looks after the file, goes on until it is told to stop.
    ends_with_sources: bool,
}

async fn write_until(
    shutdown: impl Future<Output = ()>,
    receiver: &mut Receiver<Heard>,
    every: Every,
    (clock, tray): (&dyn Clock, &Tray),
    writer: &mut Writer<impl FnMut(Notice)>,
) {
    let (mut shutdown, bell) = (pin!(shutdown), writer.bell());
    let (mut due, mut look) = (tokio::time::interval(every.commit), tokio::time::interval(every.look));
    due.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut look_at_clock = tokio::time::interval(LOOK_AT_CLOCK_EVERY);
    look_at_clock.set_missed_tick_behavior(MissedTickBehavior::Delay);
    look.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut watched = tokio::time::interval(WATCHED_EVERY);
    watched.set_missed_tick_behavior(MissedTickBehavior::Delay);
    let mut alive = every.alive.map(tokio::time::interval);
    let (mut news, mut heard) = (Vec::with_capacity(NEWS_AT_ONCE), true);
    loop {
        // In this order, so that a flood of lines can hold up neither the end nor a commit.
        tokio::select! {
            biased;
            () = &mut shutdown => return,
            _ = due.tick() => {
                writer.commit();
                if writer.has_given_up() {
                    return;
                }
            }
            _ = look_at_clock.tick() => {
                writer.look_at_clock();
                if writer.has_given_up() {
                    return;
                }
            }
            _ = watched.tick() => writer.commit_if_watched(clock.now().timestamp_micros()),
            () = next(&mut alive) => writer.is_alive(),
            _ = async { tokio::select! { _ = look.tick() => {}, () = bell.notified() => {}, () = tray.filled() => {} } } => {
                writer.look(clock.now());
                if writer.has_given_up() {
                    return;
                }
            }
            count = receiver.recv_many(&mut news, NEWS_AT_ONCE), if heard => {
                news.drain(..).for_each(|heard| writer.take(heard));
                heard = count > 0;
                if !heard && every.ends_with_sources {
                    // Each has come to its end, as recordings do.
                    return;
                }
                if writer.has_given_up() {
                    return;
                }
            }
        }
    }
}

/// The next tick; never, where there is nothing that ticks.
async fn next(interval: &mut Option<Interval>) {
    match interval {
        Some(interval) => drop(interval.tick().await),
        None => std::future::pending().await,
    }
}

/// Waits for the threads of the sources, which have all let go of the channel.
fn join(threads: Vec<(String, JoinHandle<()>)>, writer: &mut Writer<impl FnMut(Notice)>) {
    for (path, thread) in threads {
        if thread.join().is_err() {
            writer.tell(Notice::SourceCrashed { source: path });
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Name, Proof};
    use crate::civil::{Time, Zone};
    use crate::clock::StoppedClock;
    use crate::probes::{Player, Port, SourceState, Speed};
    use crate::store::BenchKind;

    fn block_on<T>(future: impl Future<Output = T>) -> T {
        tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap().block_on(future)
    }

    fn source(player: &Player) -> Source {
        Source::Port(Port { path: player.path().to_path_buf(), speed: Speed::Given(9600) })
    }

    #[test]
    fn every_line_printed_before_the_stop_is_stored() {
        let folder = tempfile::tempdir().unwrap();
        let bench = folder.path().join("b.db");
        let store = Store::create(&bench, Zone::UTC, BenchKind::Own).unwrap();
        let mut player = Player::new().unwrap();
        let port = source(&player);
        let clock = StoppedClock::new(Time::UNIX_EPOCH + chrono::Duration::days(20_000));
        let (listening, was_listening) = tokio::sync::oneshot::channel();
        let (printed, was_printed) = tokio::sync::oneshot::channel();
        let board = std::thread::spawn(move || {
            was_listening.blocking_recv().unwrap();
            let lines: String = (0..2000).map(|n| format!("p{},{}.5\n", n % 2, n % 40)).collect();
            player.print(b"half a li").unwrap();
            player.print(b"ne\np0,85\nwhat is this\n").unwrap();
            player.print(lines.as_bytes()).unwrap();
            player.print(b"p0,2").unwrap();
            printed.send(()).unwrap();
            player
        });
        let mut listening = Some(listening);
        let mut notices = Vec::new();
        let tally = block_on(run(
            Resources {
                sources: vec![port],
                commit_every: Duration::from_secs(60),
                care: CareOptions::default(),
                alive_every: None,
                post: Post::default(),
            },
            store,
            Arc::new(clock),
            async { was_printed.await.unwrap() },
            |notice| {
                if matches!(&notice, Notice::State { state: SourceState::Listening, .. }) {
                    listening.take().unwrap().send(()).unwrap();
                }
                notices.push(notice);
            },
        ))
        .unwrap();
        drop(board.join().unwrap());
        assert_eq!(tally, Tally { stored: 2001, probes: 2, unread: 1, repeated: 0, undated: 0, dropped: 0 });
        let store = Store::open(&bench).unwrap();
        let readings = store.readings(&Name::new("p0").unwrap(), 0, i64::MAX).unwrap();
        assert_eq!(readings.len(), 1001);
        assert_eq!((readings[0].raw_c_e4, readings[0].proof), (Some(850_000), Proof::PowerOn));
        assert!(readings.windows(2).all(|pair| pair[0].time_us < pair[1].time_us), "stamps increase though the clock stands");
        assert_eq!(readings[1000].raw_c_e4, Some(385_000), "in order of arrival");
        let unread = notices.iter().filter(|notice| matches!(notice, Notice::Unread { .. })).count();
        assert_eq!(unread, 1);
    }

    /// One of two ports breaks down in the middle: it is heard again, and the other never notices.
    #[test]
    fn fault_49_a_port_whose_reading_breaks_down_begins_anew_while_the_others_go_on() {
        let folder = tempfile::tempdir().unwrap();
        let bench = folder.path().join("b.db");
        let store = Store::create(&bench, Zone::UTC, BenchKind::Own).unwrap();
        let (mut broken, mut whole) = (Player::new().unwrap(), Player::new().unwrap());
        let sources = [&broken, &whole].map(source).into();
        let (states, heard) = std::sync::mpsc::channel();
        let (printed, was_printed) = tokio::sync::oneshot::channel();
        let boards = std::thread::spawn(move || {
            let wait_for = |wanted: (usize, usize)| {
                let (mut listening, mut broken_down) = (0, 0);
                while (listening, broken_down) != wanted {
                    match heard.recv_timeout(Duration::from_secs(60)).unwrap() {
                        SourceState::Listening => listening += 1,
                        SourceState::BrokenDown => broken_down += 1,
                        other => panic!("{other}"),
                    }
                }
            };
            wait_for((2, 0));
            whole.print(b"\nw,1\n").unwrap();
            broken.print(b"\nb,1\n").unwrap();
            for round in 2..4 {
                broken.print(&[crate::probes::BREAK_DOWN, b"\n"].concat()).unwrap();
                whole.print(format!("w,{round}\n").as_bytes()).unwrap();
                wait_for((1, 1));
                broken.print(format!("\nb,{round}\n").as_bytes()).unwrap();
            }
            printed.send(()).unwrap();
            (broken, whole)
        });
        let tally = block_on(run(
            Resources {
                sources,
                commit_every: Duration::from_secs(60),
                care: CareOptions::default(),
                alive_every: None,
                post: Post::default(),
            },
            store,
            Arc::new(StoppedClock::new(Time::UNIX_EPOCH + chrono::Duration::days(20_000))),
            async { was_printed.await.unwrap() },
            |notice| match notice {
                Notice::State { state, .. } => states.send(state).unwrap(),
                Notice::FirstReading { .. } => {}
                other => panic!("{other}"),
            },
        ))
        .unwrap();
        drop(boards.join().unwrap());
        assert_eq!(tally, Tally { stored: 6, probes: 2, unread: 0, repeated: 0, undated: 0, dropped: 0 });
        let store = Store::open(&bench).unwrap();
        for probe in ["b", "w"] {
            let readings = store.readings(&Name::new(probe).unwrap(), 0, i64::MAX).unwrap();
            let values: Vec<_> = readings.iter().filter_map(|reading| reading.raw_c_e4).collect();
            assert_eq!(values, [10_000, 20_000, 30_000], "{probe}");
        }
    }
}
