//! Alarms: those that are present, and whether they reach anybody.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use super::Outcome;
use super::config::Configured;
use super::ways::Ways;
use crate::bench::Name;
use crate::civil::read_time;
use crate::clock::{Clock, SystemClock};
use crate::diagnosis::LoggerState;
use crate::diagnosis::alarms::{Delivery, Event};
use crate::exchange::alarms_json;
use crate::logger::letter;
use crate::store::{LoggerLock, Store};
use crate::wording::{alarms_text, delivery_words};

/// The alarms that are present, and how telling of them went; the exit code is 1 when there are any
#[derive(Debug, clap::Args)]
pub(super) struct Alarms {
    /// Answer as JSON, for other programs
    #[arg(long)]
    json: bool,
    /// Those that were present then, as far as that is on record: of each thing the last alarm [default: now]
    #[arg(long, value_name = "TIME", conflicts_with_all = ["seen", "test"])]
    as_of: Option<String>,
    /// Say that they were seen: all, or the one about this spot, probe or box. They leave the things to do
    #[arg(long, value_name = "SUBJECT", num_args = 0..=1, value_parser = Name::new, conflicts_with_all = ["json", "test"])]
    seen: Option<Option<Name>>,
    /// Send a test by every way that the options or the configuration name
    #[arg(long, conflicts_with = "json")]
    test: bool,
    /// The configuration of the logger
    #[arg(long, value_name = "FILE", requires = "test")]
    config: Option<PathBuf>,
    #[command(flatten)]
    ways: Ways,
}

impl Alarms {
    pub(super) fn run(self, named: Option<PathBuf>) -> anyhow::Result<Outcome> {
        let configured = self.config.as_deref().map(Configured::read).transpose()?.unwrap_or_default();
        let bench = super::place(named.or(configured.bench))?;
        if self.test {
            return test(&bench, &self.ways.over(configured.wishes.into_ways()));
        }
        if let Some(subject) = self.seen {
            return seen(&bench, subject.as_ref());
        }
        let store = Store::open_read_only(&bench)?;
        let whole = store.bench()?;
        let named = self.as_of.as_deref().map(|text| read_time(text, whole.zone)).transpose()?.map(|reckoned| reckoned.time);
        let now = named.unwrap_or_else(|| SystemClock.now());
        let known = whole.as_of(now);
        let (mut states, mut deliveries) = (store.alarms()?, store.deliveries()?);
        if named.is_some() {
            states = states.into_iter().map(|state| state.as_of(now)).collect();
            deliveries.retain(|delivery| delivery.tried.is_some_and(|tried| tried <= now));
        }
        // Whether a logger ran then is not on record.
        let runs = match named {
            Some(_) => None,
            None => Some(matches!(LoggerLock::state(&bench)?, LoggerState::Runs(_))),
        };
        let text = if self.json {
            alarms_json(&states, &deliveries, &known, now, runs)
        } else {
            alarms_text(&states, &deliveries, &known, now, runs)
        };
        writeln!(std::io::stdout(), "{}", text.trim_end())?;
        let present = states.iter().any(|state| state.is_present());
        Ok(if present { Outcome::NotEnough } else { Outcome::Done })
    }
}

fn seen(bench: &Path, subject: Option<&Name>) -> anyhow::Result<Outcome> {
    let mut store = Store::open(bench)?;
    let noted = store.alarms_are_seen(subject, SystemClock.now())?;
    let words = match (noted, subject) {
        (0, Some(subject)) => anyhow::bail!("there is no alarm about '{subject}' that was not seen yet"),
        (0, None) => "there is no alarm that was not seen yet".to_owned(),
        (1, _) => "1 alarm was seen".to_owned(),
        (several, _) => format!("{several} alarms were seen"),
    };
    writeln!(std::io::stdout(), "{words}")?;
    Ok(Outcome::Done)
}

/// Sends a test by each way, and says how each went.
fn test(bench: &Path, ways: &Ways) -> anyhow::Result<Outcome> {
    let ways = ways.open()?;
    if ways.is_empty() {
        anyhow::bail!(
            "no way is named by which alarms are told\n  next: name the configuration of the logger with --config, or a way with \
             --alarm-command or --mail-server"
        );
    }
    let mut store = Store::open(bench)?;
    let known = store.bench()?;
    let mut all_arrived = true;
    for way in ways {
        let now = SystemClock.now();
        let mut delivery = Delivery::due(None, Name::new("test")?, way.name().to_owned(), Event::Begun, now);
        delivery.tried(way.carry(&letter(&bench.display().to_string(), &known, &[], now)), now);
        // A test is not tried again.
        delivery.next = None;
        all_arrived &= delivery.arrived();
        writeln!(std::io::stdout(), "{}", delivery_words(&delivery, known.zone))?;
        store.keep_test(&delivery)?;
    }
    Ok(if all_arrived { Outcome::Done } else { Outcome::NotEnough })
}
