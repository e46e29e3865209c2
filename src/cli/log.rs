//! Reading probes until told to stop.

use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};

use anyhow::Context;
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::Outcome;
use super::config::{Configured, EXAMPLE};
use super::wishes::Wishes;
use crate::clock::machine_zone;
use crate::logger::{self, Notice, Resources, Tally};
use crate::probes::Recording;
use crate::service::{Level, Manager, Mornings, PageProcess, Pages, Voice, open_ways};
use crate::store::{LoggerLock, Store};

/// Read the probes until told to stop: on serial ports, on this computer's own buses, at a broker
#[derive(Debug, clap::Args)]
pub(super) struct Log {
    #[command(flatten)]
    wishes: Wishes,
    /// Take what no option says from a file
    #[arg(long, value_name = "FILE")]
    config: Option<PathBuf>,
    /// Print a configuration file with every key explained, and do nothing
    #[arg(long)]
    example_config: bool,
    /// Read what a port printed from a file, and end with it. Lines may begin with their times, as 2026-03-14T07:30:00Z
    #[arg(long, value_name = "FILE")]
    recording: Option<PathBuf>,
    /// Play a recording with times so many times as fast as it was made [default: as fast as can be]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..))]
    faster: Option<u32>,
}

impl Log {
    pub(super) fn run(self, named: Option<PathBuf>) -> anyhow::Result<Outcome> {
        if self.example_config {
            write!(std::io::stdout(), "{EXAMPLE}")?;
            return Ok(Outcome::Done);
        }
        let configured = self.config.as_deref().map(Configured::read).transpose()?.unwrap_or_default();
        let bench = super::place(named.or(configured.bench))?;
        let wishes = self.wishes.over(configured.wishes);
        let recording = self.recording.map(|path| Recording { path, faster: self.faster });
        if !wishes.has_sources() && recording.is_none() {
            anyhow::bail!(
                "nothing to read was named\n  next: `seedclock log --port PATH`, `--one-wire`, `--broker HOST --topic TOPIC`, or \
                 `--config FILE`; `seedclock probe ports` lists the ports of this computer"
            );
        }
        wishes.check()?;
        log(&bench, &wishes, recording)
    }
}

fn log(bench: &Path, wishes: &Wishes, recording: Option<Recording>) -> anyhow::Result<Outcome> {
    let mut store = Store::open_or_create(bench, machine_zone())?;
    let _lock = LoggerLock::take(bench)?;
    let (commit_every, sources) = (wishes.commit_every(), wishes.sources(&mut store, recording)?);
    let post = open_ways(wishes.ways()?).context("cannot begin to carry alarms")?;
    let (voice, manager) = (Voice::of_environment(), Manager::of_environment());
    voice.say(
        Level::Info,
        format_args!(
            "logging into {}: readings are put on disk every {} s; stop with Ctrl-C",
            bench.display(),
            commit_every.as_secs_f64()
        ),
    );
    // A recording is soon over.
    let mornings = if wishes.has_sources() { Some(mornings(&store, bench, voice)?) } else { None };
    let pages = pages(wishes, bench, voice)?;
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().context("cannot start the logger")?;
    let tally = runtime.block_on(async {
        let signals = Signals::watch().context("cannot watch for the signals to stop")?;
        let shutdown = async {
            signals.any().await;
            manager.iter().for_each(Manager::stops);
        };
        let alive_every = manager.as_ref().map(Manager::alive_every);
        let resources = Resources { sources, commit_every, care: wishes.care(), alive_every, post };
        let tell = |notice: Notice| match (&notice, &manager) {
            (Notice::Alive { .. }, Some(manager)) => manager.is_alive(&notice.to_string()),
            (Notice::Alive { .. }, None) => {}
            _ => voice.say(if notice.is_trouble() { Level::Warning } else { Level::Info }, &notice),
        };
        Ok::<_, anyhow::Error>(logger::run(resources, store, wishes.clock(), shutdown, tell).await)
    })?;
    drop((mornings, pages));
    let tally = tally?;
    voice.say(if tally.dropped > 0 { Level::Warning } else { Level::Info }, summary(&tally));
    Ok(Outcome::Done)
}

/// Has the page shown, where it is wished.
fn pages(wishes: &Wishes, bench: &Path, voice: Voice) -> anyhow::Result<Option<Pages>> {
    let (listen, names) = wishes.page();
    if listen.is_empty() {
        return Ok(None);
    }
    let program = std::env::current_exe().context("cannot tell where this program lies")?;
    let process = PageProcess { program, bench: bench.to_path_buf(), listen: listen.to_vec(), names: names.to_vec() };
    let tell = move |words: String| voice.say(Level::Info, words);
    Ok(Some(Pages::begin(process, tell).context("cannot show the page")?))
}

/// Has a forecast made each morning.
fn mornings(store: &Store, bench: &Path, voice: Voice) -> anyhow::Result<Mornings> {
    let program = std::env::current_exe().context("cannot tell where this program lies")?;
    let zone = store.bench()?.zone;
    let tell = move |words: String| voice.say(Level::Warning, words);
    Mornings::begin(program, bench.to_path_buf(), zone, tell).context("cannot have a forecast made each morning")
}

/// The signals that mean "stop": Ctrl-C, a service manager's request, a closed terminal.
struct Signals {
    interrupt: Signal,
    terminate: Signal,
    hangup: Signal,
}

impl Signals {
    fn watch() -> std::io::Result<Self> {
        Ok(Self {
            interrupt: signal(SignalKind::interrupt())?,
            terminate: signal(SignalKind::terminate())?,
            hangup: signal(SignalKind::hangup())?,
        })
    }

    async fn any(mut self) {
        tokio::select! {
            _ = self.interrupt.recv() => {}
            _ = self.terminate.recv() => {}
            _ = self.hangup.recv() => {}
        }
    }
}

/// Tells what happens while it happens. Where nobody can hear it any more, logging goes on.
pub(super) fn say(words: impl Display) {
    let _ = writeln!(std::io::stderr(), "{words}");
}

fn summary(tally: &Tally) -> String {
    let several = |count: u64, one: &str, many: &str| format!("{count} {}", if count == 1 { one } else { many });
    let mut words = format!(
        "stopped: {} of {} stored",
        several(tally.stored, "reading", "readings"),
        several(tally.probes as u64, "probe", "probes")
    );
    if tally.unread > 0 {
        words += &format!("; {} could not be read", several(tally.unread, "line", "lines"));
    }
    if tally.repeated > 0 {
        words += &format!("; {} came again and are stored once", several(tally.repeated, "reading", "readings"));
    }
    if tally.undated > 0 {
        words += &format!("; {} without dates yet", several(tally.undated, "reading is", "readings are"));
    }
    if tally.dropped > 0 {
        words += &format!("; {} lost while the storage failed", several(tally.dropped, "reading", "readings"));
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_summary_counts_what_was_kept_and_what_was_not() {
        let tally = Tally { stored: 120, probes: 3, unread: 0, repeated: 0, undated: 0, dropped: 0 };
        assert_eq!(summary(&tally), "stopped: 120 readings of 3 probes stored");
        assert_eq!(
            summary(&Tally { stored: 1, probes: 1, unread: 1, repeated: 3, undated: 1, dropped: 2 }),
            "stopped: 1 reading of 1 probe stored; 1 line could not be read; 3 readings came again and are stored once; \
             1 reading is without dates yet; 2 readings lost while the storage failed"
        );
    }
}
