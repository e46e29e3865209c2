//! Times in which nobody is there.

use std::path::Path;

use chrono::NaiveDate;

use super::{Outcome, existing, fault_with, make, refusal, say, say_made, time};
use crate::answers::{Concerning, Known, Present, Shelf, Tables, away};
use crate::bench::Away as TimeAway;
use crate::bench::rules::{Entry, Key};
use crate::changes::{self, Wish};
use crate::civil::{Time, Zone, read_time, reckon};
use crate::exchange::away_json;
use crate::store::Store;
use crate::wording::{away_text, away_words, moment};

/// Say when nobody is there: what will sprout meanwhile, what could wait where; reminders to look pause
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Away {
    /// From when on: a day, as 2026-12-01, or a day and a time of day, or now
    #[arg(requires = "to", required_unless_present_any = ["list", "cancel"])]
    from: Option<String>,
    /// Until when; a day alone counts whole
    to: Option<String>,
    /// List the times away that are not over
    #[arg(long, conflicts_with_all = ["from", "cancel"])]
    list: bool,
    /// Somebody is there after all: take back the present time away, or the next
    #[arg(long, conflicts_with = "from")]
    cancel: bool,
    /// Answer as JSON, for other programs
    #[arg(long, conflicts_with = "cancel")]
    json: bool,
    /// Only ask, using nothing that happened later than this: nothing is recorded [default: now]
    #[arg(long, value_name = "TIME", conflicts_with = "cancel")]
    as_of: Option<String>,
}

/// Which end of a day a day alone means.
#[derive(Clone, Copy)]
enum End {
    Beginning,
    Whole,
}

impl Away {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        if self.cancel {
            let (mut store, zone, now) = existing(bench)?;
            return cancel(&mut store, zone, now);
        }
        if let Some(as_of) = self.as_of.as_deref() {
            let store = Store::open_read_only(bench)?;
            let zone = store.bench()?.zone;
            let now = read_time(as_of, zone)?.time;
            if self.list {
                return self.list(&store, now);
            }
            let told = self.told(zone, now)?;
            if told.until <= told.from {
                anyhow::bail!("the end of the time {} is not after its beginning", away_words(&told, zone));
            }
            return self.answer(&Known::as_of(&store, now)?, &store, &told, Recorded::No);
        }
        let (mut store, zone, now) = existing(bench)?;
        if self.list {
            return self.list(&store, now);
        }
        let told = self.told(zone, now)?;
        let made = make(&mut store, now, |_| Ok(vec![Wish::to_correct(vec![Entry::Away(told)])]))?;
        if !self.json {
            say_made(
                &made,
                &format!(
                    "{}: reminders to look wait so long; alarms of heat, frost and silent probes go on",
                    away_words(&told, zone)
                ),
            );
        }
        let store = Store::open_read_only(bench)?;
        let known = Known::at_present(&store, now, Concerning::Present, Tables::Used, &mut |_, _| {})?;
        self.answer(&known, &store, &told, Recorded::Yes)
    }

    fn list(&self, store: &Store, now: Time) -> anyhow::Result<Outcome> {
        let bench = store.bench()?;
        let coming: Vec<TimeAway> = bench.aways.iter().filter(|away| away.until > now).copied().collect();
        let words: Vec<String> = coming.iter().map(|away| away_words(away, bench.zone)).collect();
        say(&match (self.json, words.is_empty()) {
            (true, _) => away_json(&coming, None, false, now),
            (false, true) => "no time away is on record".to_owned(),
            (false, false) => words.join("\n"),
        });
        Ok(Outcome::Done)
    }

    /// The time that was typed.
    fn told(&self, zone: Zone, now: Time) -> anyhow::Result<TimeAway> {
        let (from, to) = self.from.as_deref().zip(self.to.as_deref()).unwrap_or_default();
        let told = TimeAway { from: end(from, zone, now, End::Beginning)?, until: end(to, zone, now, End::Whole)? };
        if told.until <= now {
            anyhow::bail!("the time {} is over\n  nothing was recorded", away_words(&told, zone));
        }
        Ok(told)
    }

    /// What comes meanwhile.
    fn answer(&self, known: &Known, store: &Store, told: &TimeAway, recorded: Recorded) -> anyhow::Result<Outcome> {
        let present = Present::with(known, &mut Shelf::of(store));
        let answer = away(known, &present, told);
        let zone = known.bench.zone;
        if self.json {
            say(&away_json(&[*told], Some(&answer), recorded == Recorded::Yes, known.now));
            return Ok(Outcome::Done);
        }
        if recorded == Recorded::No {
            say(&format!("{}, asked as of {}; nothing was recorded", away_words(told, zone), moment(known.now, zone)));
        }
        let text = away_text(&answer, zone, known.bench.units.unwrap_or_default());
        if !text.is_empty() {
            say(text.trim_end());
        }
        Ok(Outcome::Done)
    }
}

/// Whether the time was put on record, or only asked about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Recorded {
    Yes,
    No,
}

fn cancel(store: &mut Store, zone: Zone, now: Time) -> anyhow::Result<Outcome> {
    let mut gone = None;
    changes::take_back(store, now, |bench| {
        let next = bench.aways.iter().find(|away| away.until > now).copied();
        gone = next;
        let none = || fault_with("no time away is on record that is not over", "`seedclock away FROM TO` records one");
        next.map(|away| vec![Key::Away(away.from)]).ok_or_else(none)
    })
    .map_err(|error| refusal(error, "taken back"))?;
    if let Some(away) = gone {
        say(&format!("taken back: {}", away_words(&away, zone)));
    }
    Ok(Outcome::Done)
}

/// A time typed, or a day alone.
fn end(text: &str, zone: Zone, now: Time, end: End) -> anyhow::Result<Time> {
    let Ok(date) = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d") else { return time(Some(text), zone, now) };
    let date = match end {
        End::Beginning => Some(date),
        End::Whole => date.succ_opt(),
    };
    let midnight = date.and_then(|date| date.and_hms_opt(0, 0, 0)).unwrap_or_default();
    // Where clocks were put forward over midnight, an hour later exists.
    let reckoned = reckon(midnight, zone, text).or_else(|_| reckon(midnight + chrono::Duration::hours(1), zone, text))?;
    Ok(reckoned.time)
}
