//! What is to be logged and how, as it was told: by options, or by a configuration file whose keys are the options' names.

use std::collections::BTreeSet;
use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::time::Duration;

use anyhow::Context;
use chrono::NaiveTime;

use crate::clock::{Clock, SystemClock, VouchedClock};
use crate::logger::{CareOptions, Nightly};
use crate::probes::{Broker, Hwmon, MQTT_PORT, OneWire, Port, READ_EVERY, Recording, Roots, Source, Speed, stable_name};
use crate::service::Way;
use crate::store::Store;

use super::log::say;
use super::ways::Ways;

/// The shortest and the longest time between two commits, in seconds.
const COMMIT_SECONDS: std::ops::RangeInclusive<f64> = 0.1..=3600.0;
/// The shortest and the longest time between two readings of a sensor, in seconds.
const EVERY_SECONDS: std::ops::RangeInclusive<f64> = 1.0..=3600.0;
/// Where nothing else is said.
const COMMIT_EVERY: Duration = Duration::from_secs(60);
const BACKUP_KEEP: u16 = 14;

/// Sources, times and places; nothing: what is usual.
#[derive(Debug, Default, Clone, clap::Args)]
pub(super) struct Wishes {
    /// A serial port to read, for example /dev/serial/by-id/…; may be given several times
    #[arg(long = "port", value_name = "PATH")]
    ports: Vec<PathBuf>,
    /// The speed of the ports, in bits a second [default: found out]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(50..=4_000_000))]
    baud: Option<u32>,
    /// Read the sensors on this computer's own 1-Wire bus
    #[arg(long)]
    one_wire: bool,
    /// Read a temperature chip of this computer, or one sensor of it, such as jc42 or jc42/temp1; may be given several times
    #[arg(long, value_name = "NAME")]
    hwmon: Vec<String>,
    /// How often sensors of the 1-Wire bus and chips are read. Write 10s, 1m or 1h [default: 60s]
    #[arg(long, value_name = "TIME", value_parser = every)]
    every: Option<Duration>,
    /// Listen to an MQTT broker on your own network
    #[arg(long, value_name = "HOST[:PORT]", requires = "topics")]
    broker: Option<String>,
    /// A topic of the broker; + and # stand for any; may be given several times
    #[arg(long = "topic", value_name = "TOPIC", value_parser = topic)]
    topics: Vec<String>,
    /// The user by whose name the broker lets us in
    #[arg(long, value_name = "NAME", requires = "broker_password_file")]
    broker_user: Option<String>,
    /// A file whose first line is the password
    #[arg(long, value_name = "FILE", requires = "broker_user")]
    broker_password_file: Option<PathBuf>,
    /// How often readings are put safely on disk: what a power cut can cost. Write 60s, 5m or 1h [default: 60s]
    #[arg(long, value_name = "TIME", value_parser = commit_every)]
    commit_every: Option<Duration>,
    /// Whether the computer's clock is right: found out as far as can be (auto), or you vouch for it (trusted) [default: auto]
    #[arg(long, value_name = "HOW", hide_possible_values = true)]
    clock: Option<Believed>,
    /// Put a backup into this folder every night
    #[arg(long, value_name = "FOLDER")]
    backup: Option<PathBuf>,
    /// When, in the bench's own time [default: 03:00]
    #[arg(long, value_name = "HH:MM", value_parser = time_of_day)]
    backup_at: Option<NaiveTime>,
    /// As many of them are kept [default: 14]
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u16).range(1..=1000))]
    backup_keep: Option<u16>,
    /// Show the bench in a browser too, listening here; 0.0.0.0 is every network of this computer; may be given several times
    #[arg(long, value_name = "ADDRESS[:PORT]", value_parser = super::page::address)]
    page: Vec<SocketAddr>,
    /// A name that this computer goes by on the local network, for the page; may be given several times
    #[arg(long, value_name = "NAME", requires = "page")]
    page_name: Vec<String>,
    /// How alarms are told.
    #[command(flatten)]
    ways: Ways,
}

/// How the computer's clock is believed.
#[derive(Debug, Clone, Copy, clap::ValueEnum)]
enum Believed {
    /// Once the network has set it, or where a battery or the host of a virtual machine keeps it
    Auto,
    /// You vouch for it
    Trusted,
}

impl Wishes {
    /// These, and where they say nothing, those.
    pub(super) fn over(self, other: Self) -> Self {
        let several = |mine: Vec<_>, its| if mine.is_empty() { its } else { mine };
        // A login belongs to its broker.
        let broker = if self.broker.is_some() { self.clone() } else { other.clone() };
        Self {
            ports: if self.ports.is_empty() { other.ports } else { self.ports },
            baud: self.baud.or(other.baud),
            one_wire: self.one_wire || other.one_wire,
            hwmon: several(self.hwmon, other.hwmon),
            every: self.every.or(other.every),
            broker: broker.broker,
            topics: several(self.topics, broker.topics),
            broker_user: broker.broker_user,
            broker_password_file: broker.broker_password_file,
            commit_every: self.commit_every.or(other.commit_every),
            clock: self.clock.or(other.clock),
            backup: self.backup.or(other.backup),
            backup_at: self.backup_at.or(other.backup_at),
            backup_keep: self.backup_keep.or(other.backup_keep),
            page_name: if self.page.is_empty() { other.page_name } else { self.page_name },
            page: if self.page.is_empty() { other.page } else { self.page },
            ways: self.ways.over(other.ways),
        }
    }

    /// Refuses what cannot be meant, before a bench is made for it.
    pub(super) fn check(&self) -> anyhow::Result<()> {
        let mut named = BTreeSet::new();
        if let Some(twice) = self.ports.iter().find(|path| !named.insert(*path)) {
            anyhow::bail!("the port {} is named twice: one reader of a port is enough", twice.display());
        }
        for path in &self.ports {
            let port = Port { path: path.clone(), speed: self.speed(None) };
            port.own_probe().with_context(|| format!("cannot use the port '{}'", path.display()))?;
        }
        self.ways()?;
        self.broker().map(drop)
    }

    /// By which ways alarms are told.
    pub(super) fn ways(&self) -> anyhow::Result<Vec<Way>> {
        self.ways.open()
    }

    /// Where the page is to be shown, and under which names of this computer.
    pub(super) fn page(&self) -> (&[SocketAddr], &[String]) {
        (&self.page, &self.page_name)
    }

    /// The options of these ways.
    pub(super) fn into_ways(self) -> Ways {
        self.ways
    }

    /// Whether anything is to be read.
    pub(super) fn has_sources(&self) -> bool {
        !self.ports.is_empty() || self.one_wire || !self.hwmon.is_empty() || self.broker.is_some()
    }

    /// What is to be read; `store` knows what was found out of the ports before, and learns by which names they go from now on.
    pub(super) fn sources(&self, store: &mut Store, recording: Option<Recording>) -> anyhow::Result<Vec<Source>> {
        let mut sources = Vec::new();
        let mut named: BTreeSet<PathBuf> = BTreeSet::new();
        let known = store.known_sources()?;
        for given in &self.ports {
            let path = lasting(given, store)?;
            if !named.insert(path.clone()) {
                anyhow::bail!("the ports named are one and the same: {}", path.display());
            }
            let remembered = known.iter().find(|known| Path::new(&known.name) == path).and_then(|known| known.baud);
            sources.push(Source::Port(Port { path, speed: self.speed(remembered) }));
        }
        let every = self.every.unwrap_or(READ_EVERY);
        if self.one_wire {
            sources.push(Source::OneWire(OneWire { every, roots: Roots::default() }));
        }
        if !self.hwmon.is_empty() {
            sources.push(Source::Hwmon(Hwmon { wanted: self.hwmon.clone(), every, roots: Roots::default() }));
        }
        sources.extend(self.broker()?.map(Source::Broker));
        sources.extend(recording.map(Source::Recording));
        Ok(sources)
    }

    fn speed(&self, remembered: Option<u32>) -> Speed {
        self.baud.map_or(Speed::Find { remembered }, Speed::Given)
    }

    fn broker(&self) -> anyhow::Result<Option<Broker>> {
        let Some(address) = &self.broker else { return Ok(None) };
        let (host, port) =
            address_of(address, MQTT_PORT).map_err(|rule| anyhow::anyhow!("cannot use the broker '{address}': {rule}"))?;
        let login = match (&self.broker_user, &self.broker_password_file) {
            (Some(user), Some(file)) => {
                let text = std::fs::read_to_string(file)
                    .with_context(|| format!("cannot read the broker's password in {}", file.display()))?;
                Some((user.clone(), text.lines().next().unwrap_or_default().to_owned()))
            }
            _ => None,
        };
        Ok(Some(Broker { host, port, topics: self.topics.clone(), login }))
    }

    pub(super) fn commit_every(&self) -> Duration {
        self.commit_every.unwrap_or(COMMIT_EVERY)
    }

    pub(super) fn clock(&self) -> Arc<dyn Clock> {
        match self.clock {
            None | Some(Believed::Auto) => Arc::new(SystemClock),
            Some(Believed::Trusted) => Arc::new(VouchedClock),
        }
    }

    pub(super) fn care(&self) -> CareOptions {
        let nightly = |folder: PathBuf| Nightly {
            folder,
            at: self.backup_at.or_else(|| NaiveTime::from_hms_opt(3, 0, 0)).unwrap_or_default(),
            keep: usize::from(self.backup_keep.unwrap_or(BACKUP_KEEP)),
        };
        CareOptions { nightly: self.backup.clone().map(nightly), ..CareOptions::default() }
    }
}

/// The name by which a port is known from now on: one that stays when boards are plugged in in another order, where there is one. A
/// probe that was named after the port before goes on under it.
fn lasting(given: &Path, store: &mut Store) -> anyhow::Result<PathBuf> {
    let Some(stable) = stable_name(given, &Roots::default()) else { return Ok(given.to_path_buf()) };
    let probe = |path: &Path| Port { path: path.to_path_buf(), speed: Speed::Given(9600) }.own_probe();
    if let (Ok(before), Ok(now)) = (probe(given), probe(&stable)) {
        store.lines_go_on_as(&before, &now)?;
    }
    say(format_args!("{}: known from now on as {}, which stays when it is plugged in again", given.display(), stable.display()));
    Ok(stable)
}

/// Host and port of "host", "host:1883" or "[fe80::1]:1883".
pub(super) fn address_of(text: &str, usual_port: u16) -> Result<(String, u16), String> {
    let (host, port) = match text.strip_prefix('[').and_then(|rest| rest.split_once(']')) {
        Some((host, "")) => (host, None),
        Some((host, port)) => (host, Some(port.strip_prefix(':').unwrap_or(port))),
        None => text.split_once(':').map_or((text, None), |(host, port)| (host, Some(port))),
    };
    if host.is_empty() {
        return Err("a host is missing".to_owned());
    }
    let port = port.map_or(Ok(usual_port), str::parse).ok().filter(|port| *port > 0);
    port.map(|port| (host.to_owned(), port)).ok_or_else(|| "the port is a number from 1 to 65535".to_owned())
}

fn topic(text: &str) -> Result<String, String> {
    let rule = "+ stands alone between two /, # alone at the end (MQTT 3.1.1, section 4.7.1)";
    if Broker::is_topic(text) { Ok(text.to_owned()) } else { Err(rule.to_owned()) }
}

fn time_of_day(text: &str) -> Result<NaiveTime, String> {
    NaiveTime::parse_from_str(text, "%H:%M").map_err(|_| "write hours and minutes, as 03:00".to_owned())
}

fn commit_every(text: &str) -> Result<Duration, String> {
    duration(text, &COMMIT_SECONDS)
}

fn every(text: &str) -> Result<Duration, String> {
    duration(text, &EVERY_SECONDS)
}

pub(super) fn duration(text: &str, seconds_allowed: &std::ops::RangeInclusive<f64>) -> Result<Duration, String> {
    let number = text.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let rule = || "write a number and a unit: 60s, 5m or 1h".to_owned();
    let seconds_each = match text.get(number.len()..) {
        Some("s") => 1.0,
        Some("m") => 60.0,
        Some("h") => 3600.0,
        _ => return Err(rule()),
    };
    let seconds = number.trim().parse::<f64>().map_err(|_| rule())? * seconds_each;
    if seconds_allowed.contains(&seconds) {
        Ok(Duration::from_secs_f64(seconds))
    } else {
        let most = seconds_allowed.end();
        let most = if *most < 3600.0 { format!("{most} s") } else { "1h".to_owned() };
        Err(format!("{seconds} s is out of range: it lies from {} s to {most}", seconds_allowed.start()))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn times_are_read_with_their_unit() {
        assert_eq!(commit_every("60s"), Ok(Duration::from_secs(60)));
        assert_eq!(commit_every("1.5m"), Ok(Duration::from_secs(90)));
        assert_eq!(commit_every("1h"), Ok(Duration::from_secs(3600)));
        for wrong in ["60", "s", "", "1d", "nans", "5 m s", "é"] {
            assert!(commit_every(wrong).is_err(), "{wrong:?}");
        }
        assert_eq!(commit_every("2h"), Err("7200 s is out of range: it lies from 0.1 s to 1h".to_owned()));
        assert_eq!(every("0.5s"), Err("0.5 s is out of range: it lies from 1 s to 1h".to_owned()));
        assert!(commit_every("infs").is_err() && commit_every("0s").is_err() && commit_every("-1s").is_err());
    }

    #[test]
    fn times_of_day_are_read() {
        assert_eq!(time_of_day("03:00"), Ok(NaiveTime::from_hms_opt(3, 0, 0).unwrap()));
        assert!(["3", "25:00", "03:60", "", "3 am"].iter().all(|wrong| time_of_day(wrong).is_err()));
    }

    #[test]
    fn a_brokers_address_is_a_host_and_perhaps_a_port() {
        let of = |text: &str| address_of(text, MQTT_PORT);
        assert_eq!(of("house.lan"), Ok(("house.lan".to_owned(), 1883)));
        assert_eq!(of("house.lan:1884"), Ok(("house.lan".to_owned(), 1884)));
        assert_eq!(of("[fe80::1]:1884"), Ok(("fe80::1".to_owned(), 1884)));
        assert_eq!(of("[fe80::1]"), Ok(("fe80::1".to_owned(), 1883)));
        for wrong in ["", ":1883", "house:0", "house:x", "house:70000"] {
            assert!(of(wrong).is_err(), "{wrong}");
        }
    }
}
