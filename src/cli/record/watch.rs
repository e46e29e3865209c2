//! Watching readings come in while somebody does something with a probe, and asking whether what was seen is to be recorded.

use std::collections::BTreeMap;
use std::io::Write as _;
use std::path::Path;
use std::time::Duration;

use anyhow::Context;

use crate::bench::Name;
use crate::cli::Outcome;
use crate::clock::{Clock, SystemClock};
use crate::diagnosis::LoggerState;
use crate::quality::{Flag, Thresholds, flags};
use crate::store::{LoggerLock, Store};

/// Between two looks at the bench.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// The logger is asked for so long to put readings on disk as they come; asked again while the watching goes on.
const ASKED_FOR_US: i64 = 30_000_000;
const ASK_AGAIN_US: i64 = 10_000_000;

/// What the probes showed since the watching began, °C, in order of time; only what may be reckoned with.
pub(super) type Seen = BTreeMap<Name, Vec<(i64, f64)>>;

/// How a watching ended.
#[derive(Debug)]
pub(super) enum Watched<T> {
    /// With what was looked for.
    Found(T),
    /// By Ctrl-C.
    Interrupted,
}

/// Watches the probes `of` (all where none is named) until `look` finds what it looks for, `give_up` has passed, or Ctrl-C comes. Nothing
/// is changed by it.
pub(super) fn watch<T>(
    bench: &Path,
    store: &mut Store,
    of: Option<&Name>,
    give_up: Duration,
    mut look: impl FnMut(&Seen) -> Option<T>,
) -> anyhow::Result<Watched<T>> {
    logger_runs(bench)?;
    interruptible(async {
        let clock = SystemClock;
        let begun_us = clock.now().timestamp_micros();
        let mut asked_us = i64::MIN;
        loop {
            let now_us = clock.now().timestamp_micros();
            if now_us.saturating_sub(asked_us) > ASK_AGAIN_US {
                store.watch_until(now_us + ASKED_FOR_US)?;
                asked_us = now_us;
                logger_runs(bench)?;
            }
            let seen = seen(store, of, begun_us)?;
            if let Some(found) = look(&seen) {
                store.watch_until(0)?;
                return Ok(found);
            }
            if now_us - begun_us > i64::try_from(give_up.as_micros()).unwrap_or(i64::MAX) {
                let heard = seen.values().map(Vec::len).sum::<usize>();
                anyhow::bail!(
                    "watched for {} minutes in vain; {heard} readings came\n  nothing was recorded; next: `seedclock status` tells how the probes are",
                    give_up.as_secs().div_ceil(60)
                );
            }
            tokio::time::sleep(LOOK_EVERY).await;
        }
    })
}

fn logger_runs(bench: &Path) -> anyhow::Result<()> {
    match LoggerLock::state(bench)? {
        LoggerState::Runs(_) => Ok(()),
        LoggerState::Stopped => anyhow::bail!(
            "no logger runs on this bench, so no reading comes in\n  nothing was changed; next: start it, with `seedclock log`, and leave it running"
        ),
    }
}

fn seen(store: &Store, of: Option<&Name>, begun_us: i64) -> anyhow::Result<Seen> {
    let probes = match of {
        Some(probe) => vec![probe.clone()],
        None => store.probes()?.into_iter().filter(|span| span.last_us >= Some(begun_us)).map(|span| span.probe).collect(),
    };
    let bench = store.bench()?;
    let mut seen = Seen::new();
    for probe in probes {
        let readings = store.readings(&probe, begun_us, i64::MAX)?;
        // What is quick in the hand is no fault of the probe: only what is no temperature at all is left out.
        let mut thresholds = Thresholds::of(&bench, &probe);
        thresholds.rate.fail_c_per_minute = f64::INFINITY;
        let flags = flags(&readings, &thresholds);
        let usable = readings.iter().zip(&flags).filter(|(_, flag)| **flag <= Flag::Suspect);
        seen.insert(probe, usable.filter_map(|(reading, _)| Some((reading.time_us, reading.raw_c()?))).collect());
    }
    Ok(seen)
}

/// Runs until done or until Ctrl-C.
fn interruptible<T>(work: impl Future<Output = anyhow::Result<T>>) -> anyhow::Result<Watched<T>> {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().context("cannot watch the probes")?;
    let outcome = runtime.block_on(async {
        tokio::select! {
            biased;
            interrupted = tokio::signal::ctrl_c() => {
                interrupted.context("cannot watch for Ctrl-C")?;
                Ok(Watched::Interrupted)
            }
            done = work => done.map(Watched::Found),
        }
    });
    // A question that still waits for its answer is left standing.
    runtime.shutdown_background();
    outcome
}

/// Asks on the terminal and gives the line that was answered, empty where there is nobody to answer.
pub(super) fn ask(question: &str) -> anyhow::Result<Watched<String>> {
    let mut out = std::io::stderr();
    let _ = write!(out, "{question} ");
    let _ = out.flush();
    interruptible(async {
        let read = tokio::task::spawn_blocking(|| {
            let mut line = String::new();
            std::io::stdin().read_line(&mut line).map(|_| line.trim().to_owned())
        });
        Ok(read.await.context("cannot read the answer")??)
    })
}

/// Asks whether to record; none: it was answered with no, or by Ctrl-C, and that is said.
pub(super) fn agreed(yes: bool, question: &str) -> anyhow::Result<Option<Outcome>> {
    if yes {
        return Ok(None);
    }
    match ask(&format!("{question} [y/n]"))? {
        Watched::Interrupted => Ok(Some(interrupted())),
        Watched::Found(answer) if matches!(answer.to_lowercase().as_str(), "y" | "yes") => Ok(None),
        Watched::Found(_) => {
            super::say("nothing was recorded");
            Ok(Some(Outcome::NotEnough))
        }
    }
}

/// Says that nothing was changed.
pub(super) fn interrupted() -> Outcome {
    super::say("\nstopped: nothing was recorded");
    Outcome::Interrupted
}
