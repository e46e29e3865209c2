//! The whole job on a made-up bench that ends today: its last minutes come in as a board would print them.

mod story;

use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;

use super::Outcome;
use super::log::say;
use crate::bench::Name;
use crate::clock::{Clock, RunningClock, SystemClock};
use crate::logger::{self, CareOptions, Notice, Post, Resources, Tally};
use crate::probes::{Player, Port, Source, SourceState, Speed, Stop};
use crate::store::{BenchKind, LoggerLock, Store, StoreError};
use story::Story;

/// So much faster than the world the last minutes pass.
const FASTER: u32 = 60;
/// The demo's readings are put on disk this often, in the world's time.
const COMMIT_EVERY: Duration = Duration::from_secs(1);

/// Show the whole job on a made-up bench
#[derive(Debug, clap::Args)]
pub(super) struct Demo {}

impl Demo {
    pub(super) fn run(self, bench: Option<PathBuf>) -> anyhow::Result<Outcome> {
        let path = bench.map_or_else(|| Ok::<_, anyhow::Error>(super::data_folder()?.join("demo.db")), Ok)?;
        let story = Story::ending_today(SystemClock.now())?;
        let held = make_room(&path)?;
        let mut store = Store::create(&path, story.zone, BenchKind::Demo)?;
        let _lock = held.map_or_else(|| LoggerLock::take(&path), Ok)?;
        let container = story.load_into(&mut store)?;
        tell(format_args!(
            "A made-up bench, so that you can see the whole job: two past seasons and a present batch, ending now.\n\
             It is kept in {}. Your own bench is not touched.\n\n\
             Its probes print their last {} minutes, {FASTER} times as fast, as a board on a serial port would:",
            path.display(),
            story::PLAYED_MINUTES,
        ))?;
        let tally = play(&story, store)?;
        tell(format_args!("{} readings of {} probes are now on the bench.\n", tally.stored, tally.probes))?;
        super::ask::show_all(&path, SystemClock.now())?;
        tell(what_to_try(&path, container.as_ref()))?;
        Ok(Outcome::Done)
    }
}

/// Removes an earlier demo, and keeps loggers away until the new one is made. Nothing else is ever replaced.
fn make_room(path: &Path) -> anyhow::Result<Option<LoggerLock>> {
    let store = match Store::open(path) {
        Err(StoreError::Missing(_)) => return Ok(None),
        opened => opened?,
    };
    if store.kind() != BenchKind::Demo {
        anyhow::bail!(
            "{} is a bench of your own, and the demo replaces only its own: nothing was changed\n  \
             next: `seedclock demo` without --bench, or with the name of a new file",
            path.display()
        );
    }
    let lock = LoggerLock::take(path)?;
    store.discard_demo()?;
    Ok(Some(lock))
}

/// Plays the story's last minutes through a pseudo-terminal into the logger.
fn play(story: &Story, store: Store) -> anyhow::Result<Tally> {
    let mut player = Player::new().context("cannot make a pseudo-terminal to play the probes on")?;
    let port = Source::Port(Port { path: player.path().to_path_buf(), speed: Speed::Given(9600) });
    let clock = Arc::new(RunningClock::new(story.played_from, FASTER));
    let (printed, all_printed) = tokio::sync::oneshot::channel();
    let board = std::thread::spawn({
        let (lines, clock) = (story.lines(), Arc::clone(&clock));
        move || {
            let played = player.play(&lines, clock.as_ref(), &Stop::default());
            // The player goes with the answer: unplugged only after the logger has read it out.
            let _ = printed.send((played, player));
        }
    });
    let mut board_end = None;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().context("cannot start the logger")?;
    let resources = Resources {
        sources: vec![port],
        commit_every: COMMIT_EVERY,
        care: CareOptions::default(),
        alive_every: None,
        post: Post::default(),
    };
    let shutdown = async { board_end = all_printed.await.ok() };
    let tally = runtime.block_on(logger::run(resources, store, clock, shutdown, show))?;
    let _ = board.join();
    let (played, _player) = board_end.context("the player of the probes broke down")?;
    played.context("cannot print on the pseudo-terminal")?;
    Ok(tally)
}

/// Of the logger's notices, those that a grower watching the demo cares about.
fn show(notice: Notice) {
    match notice {
        // Hours go by within seconds; what is hot there is told by the diagnosis.
        Notice::State { state: SourceState::Listening, .. } | Notice::Alarm { .. } => {}
        Notice::FirstReading { probe, spot, reading, .. } => {
            // Whether anybody reads along does not matter to the logger.
            let _ = tell(format_args!("  {}", Notice::measured(&probe, spot.as_ref(), &reading)));
        }
        trouble => say(trouble),
    }
}

fn tell(words: impl Display) -> std::io::Result<()> {
    writeln!(std::io::stdout(), "{words}")
}

fn what_to_try(path: &Path, container: Option<&Name>) -> String {
    let mut words = "Try next, on the same made-up bench:\n".to_owned();
    let named = path.display().to_string();
    let bench = if named.contains(char::is_whitespace) { format!("\"{named}\"") } else { named };
    let mut add = |command: &str, what: &str| words += &format!("  seedclock --bench {bench} {command:<22} {what}\n");
    add("forecast --days 30", "the dates again");
    add("diagnose", "which boxes are slow, and why");
    if let Some(container) = container {
        add(&format!("check {container} 2"), "you looked, and two more had sprouted");
        add(&format!("check {container} none"), "you looked, and nothing was new: that counts too");
    }
    add("fit --prior none", "what the sowings alone can tell");
    words + "Your own bench begins with `seedclock sow --help` and `seedclock log --help`."
}
