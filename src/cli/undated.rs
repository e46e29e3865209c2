//! Readings made while the clock was not known to be right: shown, and given dates.

use std::io::Write as _;
use std::path::Path;

use super::Outcome;
use crate::civil::{Time, Zone, read_time};
use crate::clock::{Clock, SystemClock};
use crate::diagnosis::LoggerState;
use crate::store::{LoggerLock, NotDated, Store};
use crate::wording::{moment, undated_words};

/// Readings made while the clock was not right: shown, or, with a number and a time, given dates
#[derive(Debug, clap::Args)]
pub(super) struct Undated {
    /// Which, by its number in the list
    #[arg(value_name = "N", requires = "began")]
    number: Option<i64>,
    /// When the first of them was made. It cannot be taken back
    #[arg(long, value_name = "TIME", requires = "number")]
    began: Option<String>,
}

impl Undated {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let Some((number, began)) = self.number.zip(self.began) else { return list(bench) };
        let mut store = Store::open(bench)?;
        let zone = store.bench()?.zone;
        let first = read_time(&began, zone)?.time;
        let present = store.undated_starts()?.iter().any(|start| start.number == number && start.id == SystemClock.start_id());
        if present && matches!(LoggerLock::state(bench)?, LoggerState::Runs(_)) {
            anyhow::bail!(
                "the logger is still adding to these readings: nothing was dated\n  \
                 next: set the clock of this computer, and begin again with `seedclock log --clock trusted`"
            );
        }
        match store.date_by_hand(number, first, SystemClock.now())? {
            Ok(dated) => writeln!(std::io::stdout(), "dated: {} from {} on", readings(dated), moment(first, zone))?,
            Err(why) => anyhow::bail!("{}", refusal(number, &began, why, zone)),
        }
        Ok(Outcome::Done)
    }
}

fn list(bench: &Path) -> anyhow::Result<Outcome> {
    let store = Store::open_read_only(bench)?;
    let (zone, starts) = (store.bench()?.zone, store.undated_starts()?);
    let mut out = std::io::stdout();
    if starts.is_empty() {
        writeln!(out, "All readings have their dates.")?;
    }
    for start in &starts {
        writeln!(out, "{}: {}", start.number, undated_words(start, zone))?;
    }
    if let Some(start) = starts.first() {
        writeln!(out, "  next: if you know when the first was made, `seedclock undated {} --began TIME`", start.number)?;
    }
    Ok(Outcome::Done)
}

fn readings(count: usize) -> String {
    format!("{count} {}", if count == 1 { "reading" } else { "readings" })
}

fn refusal(number: i64, began: &str, why: NotDated, zone: Zone) -> String {
    let at = |time: Time| moment(time, zone);
    let why = match why {
        NotDated::Unknown => {
            return format!("there are no readings without dates of number {number}\n  next: `seedclock undated` lists them");
        }
        NotDated::InFuture(last) => format!("the last of them would have been made in the future, on {}", at(last)),
        NotDated::BeforeAnEarlierStart(start) => {
            format!("the computer was started after that, on {}, and once more before they were made", at(start))
        }
        NotDated::AfterALaterStart(start) => {
            format!("the last of them would have been made after the computer was started again, on {}", at(start))
        }
    };
    format!("{began} cannot be when the first of them was made: {why}; nothing was dated")
}
