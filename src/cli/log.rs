//! Reading probes until told to stop.

use std::collections::BTreeSet;
use std::fmt::Display;
use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use tokio::signal::unix::{Signal, SignalKind, signal};

use super::Outcome;
use crate::clock::{Clock, SystemClock, VouchedClock, machine_zone};
use crate::logger::{self, Resources, Tally};
use crate::probes::Port;
use crate::store::{LoggerLock, Store};

/// The shortest and the longest time between two commits, in seconds.
const COMMIT_SECONDS: std::ops::RangeInclusive<f64> = 0.1..=3600.0;

/// Read the probes on serial ports until told to stop
#[derive(Debug, clap::Args)]
pub(super) struct Log {
    /// A serial port to read, for example /dev/serial/by-id/…; may be given several times
    #[arg(long = "port", value_name = "PATH", required = true)]
    ports: Vec<PathBuf>,
    /// How often readings are put safely on disk: what a power cut can cost. Write 60s, 5m or 1h
    #[arg(long, value_name = "TIME", default_value = "60s", value_parser = read_commit_every)]
    commit_every: Duration,
    /// The speed of the ports, in bits a second
    #[arg(long, value_name = "N", default_value_t = 9600, value_parser = clap::value_parser!(u32).range(50..=4_000_000))]
    baud: u32,
    /// Whether the computer's clock is right: found out as far as can be, or you vouch for it
    #[arg(long, value_name = "HOW", default_value = "auto")]
    clock: Believed,
}

/// How the computer's clock is believed.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Believed {
    /// Once the network has set it, or where a battery or the host of a virtual machine keeps it
    Auto,
    /// You vouch for it
    Trusted,
}

impl Believed {
    fn clock(self) -> Arc<dyn Clock> {
        match self {
            Self::Auto => Arc::new(SystemClock),
            Self::Trusted => Arc::new(VouchedClock),
        }
    }
}

impl Log {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let ports = self.ports()?;
        let store = Store::open_or_create(bench, machine_zone())?;
        let _lock = LoggerLock::take(bench)?;
        say(format_args!(
            "logging into {}: readings are put on disk every {} s; stop with Ctrl-C",
            bench.display(),
            self.commit_every.as_secs_f64()
        ));
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().context("cannot start the logger")?;
        let tally = runtime.block_on(async {
            let signals = Signals::watch().context("cannot watch for the signals to stop")?;
            let resources = Resources { ports, commit_every: self.commit_every };
            Ok::<_, anyhow::Error>(logger::run(resources, store, self.clock.clock(), signals.any(), say).await?)
        })?;
        say(summary(&tally));
        Ok(Outcome::Done)
    }

    fn ports(&self) -> anyhow::Result<Vec<Port>> {
        let mut named = BTreeSet::new();
        if let Some(twice) = self.ports.iter().find(|path| !named.insert(*path)) {
            anyhow::bail!("the port {} is named twice: one reader of a port is enough", twice.display());
        }
        let port = |path: &PathBuf| Port { path: path.clone(), baud: self.baud };
        let ports: Vec<Port> = self.ports.iter().map(port).collect();
        for port in &ports {
            port.own_probe().with_context(|| format!("cannot use the port '{}'", port.path.display()))?;
        }
        Ok(ports)
    }
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

fn read_commit_every(text: &str) -> Result<Duration, String> {
    let number = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let seconds_each = match &text[number.len()..] {
        "s" => 1.0,
        "m" => 60.0,
        "h" => 3600.0,
        _ => return Err("write a number and a unit: 60s, 5m or 1h".to_owned()),
    };
    let seconds = number.trim().parse::<f64>().map_err(|_| "write a number and a unit: 60s, 5m or 1h".to_owned())? * seconds_each;
    if COMMIT_SECONDS.contains(&seconds) {
        Ok(Duration::from_secs_f64(seconds))
    } else {
        Err(format!("{seconds} s is out of range: it lies from {} s to 1h", COMMIT_SECONDS.start()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_with_their_unit() {
        assert_eq!(read_commit_every("60s"), Ok(Duration::from_secs(60)));
        assert_eq!(read_commit_every("1.5m"), Ok(Duration::from_secs(90)));
        assert_eq!(read_commit_every("1h"), Ok(Duration::from_secs(3600)));
        for wrong in ["60", "s", "", "1d", "nans", "5 m s", "é"] {
            assert!(read_commit_every(wrong).is_err(), "{wrong:?}");
        }
        assert_eq!(read_commit_every("2h"), Err("7200 s is out of range: it lies from 0.1 s to 1h".to_owned()));
        assert!(read_commit_every("infs").is_err() && read_commit_every("0s").is_err() && read_commit_every("-1s").is_err());
    }

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
