//! What is done once the configuration is written: the service begun, probes heard and placed.

use std::collections::BTreeMap;
use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use tokio::sync::mpsc::{Receiver, channel};

use crate::bench::Name;
use crate::cli::config::Configured;
use crate::cli::record::place_beside;
use crate::clock::{Clock, Keeper, SystemClock, machine_zone};
use crate::diagnosis::LoggerState;
use crate::probes::{Heard, News, Stop, listen};
use crate::store::{LoggerLock, Store};

/// Probes are listened to for so long at most, and until no other one was heard for so long.
const LONGEST: Duration = Duration::from_secs(20);
const QUIET: Duration = Duration::from_secs(5);
/// Between two looks at what a running logger stored.
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// As many of them, and as many without another probe, as make up the times above.
const LOOKS: u128 = LONGEST.as_millis() / LOOK_EVERY.as_millis();
const QUIET_LOOKS: u128 = QUIET.as_millis() / LOOK_EVERY.as_millis();
/// A logger is asked to put readings on disk as they come for so long.
const ASKED_FOR_US: i64 = 30_000_000;

/// Probes by their lasting names, each with what it showed last, °C.
type Shown = BTreeMap<Name, Option<f64>>;

/// What is asked of the machine after the configuration is written.
pub(super) trait Machine {
    /// Has the service manager run the logger from now on and at every start.
    fn begin_service(&mut self) -> anyhow::Result<()>;

    /// The probes that the configured sources bring within some seconds, but those whose place is on record.
    fn hear(&mut self, bench: &Path, config: &Path) -> anyhow::Result<Vec<(Name, Option<f64>)>>;

    /// Puts on record that a probe stands at a spot from now on.
    fn place(&mut self, bench: &Path, probe: &Name, spot: &str) -> anyhow::Result<()>;
}

/// The machine that the program runs on.
pub(super) struct Present;

impl Machine for Present {
    fn begin_service(&mut self) -> anyhow::Result<()> {
        let told = Command::new("systemctl").args(["enable", "--now", "seedclock"]).output().context("systemctl")?;
        if !told.status.success() {
            anyhow::bail!("{}", String::from_utf8_lossy(&told.stderr).trim());
        }
        Ok(())
    }

    fn hear(&mut self, bench: &Path, config: &Path) -> anyhow::Result<Vec<(Name, Option<f64>)>> {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().context("cannot listen")?;
        let heard = match LoggerLock::state(bench)? {
            LoggerState::Runs(_) => runtime.block_on(stored_meanwhile(bench))?,
            LoggerState::Stopped => runtime.block_on(listened(bench, config))?,
        };
        let placed: Vec<Name> = Store::open_read_only(bench)?.bench()?.placements.into_iter().map(|there| there.probe).collect();
        Ok(heard.into_iter().filter(|(probe, _)| !placed.contains(probe)).collect())
    }

    fn place(&mut self, bench: &Path, probe: &Name, spot: &str) -> anyhow::Result<()> {
        place_beside(bench, probe.clone(), Name::new(spot).map_err(anyhow::Error::msg)?).map(drop)
    }
}

/// What the logger that runs on the bench stores meanwhile.
async fn stored_meanwhile(bench: &Path) -> anyhow::Result<Shown> {
    let mut store = Store::open(bench)?;
    let begun_us = SystemClock.now().timestamp_micros();
    store.watch_until(begun_us + ASKED_FOR_US)?;
    let (mut shown, mut looks_since_new) = (Shown::new(), 0);
    for _ in 0..LOOKS {
        tokio::time::sleep(LOOK_EVERY).await;
        let known = shown.len();
        for span in store.probes()?.into_iter().filter(|span| span.last_us >= Some(begun_us)) {
            let last = store.readings(&span.probe, begun_us, i64::MAX)?.iter().rev().find_map(crate::bench::Reading::raw_c);
            shown.insert(span.probe, last);
        }
        looks_since_new = if shown.len() == known { looks_since_new + 1 } else { 0 };
        if !shown.is_empty() && looks_since_new >= QUIET_LOOKS {
            break;
        }
    }
    store.watch_until(0)?;
    Ok(shown)
}

/// What the sources bring while no logger runs. No reading is stored, but the bench is begun.
async fn listened(bench: &Path, config: &Path) -> anyhow::Result<Shown> {
    let wishes = Configured::read(config)?.wishes;
    let mut store = Store::open_or_create(bench, machine_zone())?;
    // Nobody else reads a port meanwhile.
    let _lock = LoggerLock::take(bench)?;
    let sources = wishes.sources(&mut store, None)?;
    let (stop, keeper) = (Arc::new(Stop::default()), Arc::new(Keeper::new(Arc::new(SystemClock), None, None)));
    let (to, from) = channel(1000);
    let mut threads = Vec::new();
    for (number, source) in sources.into_iter().enumerate() {
        threads.push(listen(number, source, Arc::clone(&keeper), to.clone(), Arc::clone(&stop)).context("cannot listen")?);
    }
    drop(to);
    let mut shown = Shown::new();
    let _ = tokio::time::timeout(LONGEST, take(from, &store, &mut shown)).await;
    stop.ring();
    threads.into_iter().for_each(|thread| drop(thread.join()));
    Ok(shown)
}

/// Takes readings until no other probe comes for a while.
async fn take(mut from: Receiver<Heard>, store: &Store, shown: &mut Shown) {
    loop {
        let waiting = tokio::time::sleep(QUIET);
        tokio::pin!(waiting);
        let known = shown.len();
        while shown.len() == known {
            tokio::select! {
                () = &mut waiting, if known > 0 => return,
                heard = from.recv() => match heard {
                    None => return,
                    Some(Heard { news: News::Reading(name, reading, _), .. }) => {
                        let lasting = store.probe_of_line(&name).ok().flatten().unwrap_or(name);
                        shown.insert(lasting, reading.raw_c());
                    }
                    Some(_) => {}
                },
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::probes::Player;

    #[test]
    fn a_board_is_heard_its_probes_are_placed_and_not_asked_about_again() {
        let folder = tempfile::tempdir().unwrap();
        let (bench, config) = (folder.path().join("bench.db"), folder.path().join("seedclock.toml"));
        let mut board = Player::new().unwrap();
        std::fs::write(&config, format!("port = [\"{}\"]\n", board.path().display())).unwrap();
        let hear = |board: &mut Player| {
            std::thread::scope(|scope| {
                let hearing = scope.spawn(|| Present.hear(&bench, &config).unwrap());
                while !hearing.is_finished() {
                    board.print(b"p1,21.5\np2,4.25\np3,85\n").unwrap();
                    std::thread::sleep(LOOK_EVERY);
                }
                hearing.join().unwrap()
            })
        };
        let name = |text: &str| Name::new(text).unwrap();
        assert_eq!(
            hear(&mut board),
            [(name("p1"), Some(21.5)), (name("p2"), Some(4.25)), (name("p3"), Some(85.0))],
            "what it shows is said as it is shown"
        );
        Present.place(&bench, &name("p1"), "sill").unwrap();
        Present.place(&bench, &name("p2"), "fridge").unwrap();
        assert!(Present.place(&bench, &name("p3"), "").is_err());
        let rest: Vec<Name> = hear(&mut board).into_iter().map(|(probe, _)| probe).collect();
        assert_eq!(rest, [name("p3")]);
        let placements = Store::open_read_only(&bench).unwrap().bench().unwrap().placements;
        let placed: Vec<(&str, &str)> = placements.iter().map(|there| (there.probe.as_str(), there.spot.as_str())).collect();
        assert_eq!(placed, [("p1", "sill"), ("p2", "fridge")]);
        assert_eq!(Store::open_read_only(&bench).unwrap().newest_reading_us().unwrap(), None, "nothing heard is stored");
    }
}
