//! `plan`: the next sowing.

mod trial;

use std::path::{Path, PathBuf};

use anyhow::{Context, bail, ensure};
use chrono::NaiveDate;

use super::Outcome;
use super::ask::{Asking, not_enough, note};
use super::record::event;
use crate::answers::{Concerning, PlanQuestion, plan, plan_horizon_days};
use crate::bench::{Event, Name};
use crate::civil::local_date;
use crate::exchange::{is_own_calendar, plan_calendar, plan_json};
use crate::experiment::plan::{FrostPlan, LastFrost, MOST_SEEDS, Outcome as SpotOutcome, PlanAnswer, PlanWish};
use crate::store::Keepsakes;
use crate::units::{Bounds, CHILL_DAYS};
use crate::wording::plan_text;

/// Days that sprouts may grow on.
const GROW_ON: Bounds = Bounds { what: "the time to grow on", low: 0.0, high: 730.0, unit: "days" };
/// Standard deviation of last-frost dates, days.
const FROST_SPREAD: Bounds = Bounds { what: "the spread of last-frost dates", low: 0.0, high: 60.0, unit: "days" };
/// Share of sprouts that live.
const SURVIVAL: Bounds = Bounds { what: "the share of sprouts that live", low: 1.0, high: 100.0, unit: "%" };
/// A risk of frost.
const RISK: Bounds = Bounds { what: "the risk of frost", low: 1.0, high: 99.0, unit: "%" };
/// Further ahead than this nothing is planned.
const FURTHEST_DAYS: i64 = 731;
/// Lots in one plan.
const MOST_LOTS: usize = 100;

/// When and how many seeds to sow for plants on a wished day
#[derive(Debug, clap::Args)]
#[command(args_conflicts_with_subcommands = true, subcommand_negates_reqs = true)]
pub(super) struct Plan {
    #[command(subcommand)]
    other: Option<Other>,
    /// The plant; all its lots, each with its own numbers
    #[arg(long, value_parser = Name::new, required_unless_present = "lot")]
    species: Option<Name>,
    /// A lot; once for each
    #[arg(long, value_parser = Name::new)]
    lot: Vec<Name>,
    /// How many living plants are wanted of each lot
    #[arg(long, value_name = "N", required = true, value_parser = clap::value_parser!(u32).range(1..=i64::from(MOST_SEEDS)))]
    plants: Option<u32>,
    /// The day on which they are to be ready, or planted out [default: by --last-frost]
    #[arg(long, value_name = "DATE", value_parser = date, required_unless_present = "last_frost")]
    by: Option<NaiveDate>,
    /// A spot to sow at; once for each [default: all where something is known]
    #[arg(long, value_parser = Name::new)]
    spot: Vec<Name>,
    /// How sure to be of enough plants in time, in percent
    #[arg(long, value_name = "PERCENT", default_value = "80", value_parser = confidence)]
    confidence: f64,
    /// How many of 100 sprouts live to be plants [default: by your records]
    #[arg(long, value_name = "PERCENT", value_parser = |text: &str| percent(text, &SURVIVAL))]
    survival: Option<f64>,
    /// How long a sprout grows on until it is ready: 40d or 6w
    #[arg(long, value_name = "DAYS|WEEKS", value_parser = grow_on)]
    grow_on: Option<u32>,
    /// The average last frost, or three dates by which the last frost is past in 1, 5 and 9 years of 10: D1,D2,D3
    #[arg(long, value_name = "DATE", value_delimiter = ',', value_parser = date)]
    last_frost: Vec<NaiveDate>,
    /// How last frosts scatter about the average, as a standard deviation in days [default: 12]
    #[arg(long, value_name = "DAYS", requires = "last_frost", value_parser = |text: &str| days(text, &FROST_SPREAD))]
    last_frost_spread: Option<f64>,
    /// In how many of 100 years a frost may come after planting out
    #[arg(long, value_name = "PERCENT", requires = "last_frost", default_value = "10", value_parser = |text: &str| percent(text, &RISK))]
    frost_risk: f64,
    /// Days in the moist cold before sowing [default: as lot, treatment or the last sowing say]
    #[arg(long, value_name = "DAYS", value_parser = |text: &str| days(text, &CHILL_DAYS))]
    chill: Option<f64>,
    /// What they go through before sowing [default: as the last time]
    #[arg(long, value_parser = Name::new)]
    treatment: Option<Name>,
    /// What counts as sprouted: radicle or emergence [default: as the last time]
    #[arg(long, value_parser = event)]
    event: Option<Event>,
    /// Boxes that the seeds of a lot are shared out over: boxes differ, so more of them are surer
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=50))]
    boxes: u32,
    /// What a spot's temperature will be: 21, 70F, 21±2, or another spot; once for each spot
    #[arg(long, value_name = "SPOT=21|SPOT=OTHER")]
    assume: Vec<String>,
    /// Write the days into a calendar file (iCalendar)
    #[arg(long, value_name = "FILE")]
    ics: Option<PathBuf>,
    #[command(flatten)]
    asking: Asking,
}

#[derive(Debug, clap::Subcommand)]
enum Other {
    /// Lay a trial out: which box goes where, shuffled, and what it can show
    Trial(trial::Trial),
}

impl Plan {
    pub(super) fn run(mut self, bench: &Path) -> anyhow::Result<Outcome> {
        if let Some(Other::Trial(trial)) = self.other.take() {
            return trial.run(bench);
        }
        ensure!(self.lot.len() <= MOST_LOTS, "{} lots are named: at most {MOST_LOTS} go into one plan", self.lot.len());
        let mut desk = self.asking.desk(bench)?;
        let today = local_date(desk.now, desk.store.bench()?.zone);
        let wish = self.wish()?;
        let ahead = (wish.by - today).num_days();
        ensure!(ahead <= FURTHEST_DAYS, "{} is {ahead} days ahead: nothing is planned further than two years ahead", wish.by);
        let days = plan_horizon_days(ahead - i64::from(wish.grow_on_days));
        let known = desk.known(Concerning::Coming { days })?;
        let question = PlanQuestion {
            species: self.species.clone(),
            lots: self.lot.clone(),
            treatment: self.treatment.clone(),
            event: self.event,
            spots: self.spot.clone(),
            wish,
            survival: self.survival.map(|percent| percent / 100.0),
            chill_days: self.chill.map(|days| days.ceil() as u32),
            assumed: super::assume::read(&self.assume, &known)?,
        };
        let mut shelf = desk.shelf();
        let answer = plan(&known, &question, &mut shelf)?;
        let fresh = shelf.into_fresh();
        let degrees = known.bench.units.unwrap_or_default();
        let named = self.spot.first().filter(|_| self.spot.len() == 1);
        self.asking.print(&if self.asking.json {
            plan_json(&answer, named, degrees)
        } else {
            plan_text(&answer, known.bench.zone, degrees)
        })?;
        // Made again next time where they cannot be kept.
        let _ = desk.keep(&Keepsakes { stretches: Some(known.unkept()), fits: &fresh, ..Keepsakes::default() });
        if let Some(path) = &self.ics {
            write_calendar(path, &answer, named)?;
        }
        if answer.has_dates() { Ok(Outcome::Done) } else { no_day(&answer) }
    }

    fn wish(&self) -> anyhow::Result<PlanWish> {
        let last = match self.last_frost[..] {
            [] => None,
            [middle] => Some(LastFrost::average(middle, self.last_frost_spread)),
            [one, five, nine] => {
                ensure!(
                    self.last_frost_spread.is_none(),
                    "three last-frost dates tell their spread themselves: leave out --last-frost-spread"
                );
                let told = LastFrost::by_chance([one, five, nine]);
                Some(told.with_context(|| {
                    format!("--last-frost {one},{five},{nine}: the dates by which it is past in 1, 5 and 9 years of 10 follow each other")
                })?)
            }
            _ => bail!("--last-frost takes one date, the average, or three: those by which it is past in 1, 5 and 9 years of 10"),
        };
        let risk = self.frost_risk / 100.0;
        let frost = last.map(|last| FrostPlan { last, risk, day: last.day_for(risk), decides: self.by.is_none() });
        let by = self.by.or(frost.map(|frost| frost.day)).context("name the day with --by")?;
        Ok(PlanWish {
            plants: self.plants.context("say how many plants are wanted with --plants")?,
            by,
            confidence: self.confidence,
            grow_on_days: self.grow_on.unwrap_or(0),
            boxes: self.boxes,
            frost,
        })
    }
}

/// Says in short why there is no day, and what would give one.
fn no_day(answer: &PlanAnswer) -> anyhow::Result<Outcome> {
    let outcomes = || answer.lots.iter().flat_map(|lot| &lot.spots).map(|spot| &spot.outcome);
    let soonest = outcomes().filter_map(|outcome| match outcome {
        SpotOutcome::TooLate { earliest, .. } => *earliest,
        _ => None,
    });
    if let Some(soonest) = soonest.min() {
        let past = if answer.wish.by < answer.today { "past" } else { "too near" };
        return not_enough(
            &format!("{} is {past}: the first day that can be met is {soonest}", answer.wish.by),
            &format!("--by {soonest} or later, or fewer plants, or less surely"),
        );
    }
    if outcomes().all(|outcome| *outcome == SpotOutcome::Unknown) {
        return not_enough(
            "no spot has a temperature to plan by",
            "seedclock probe place, or seedclock spot with the temperature it is set to, or --assume SPOT=21",
        );
    }
    not_enough(
        "at none of these spots is there a day to sow",
        "the lines above say why; --assume SPOT=21 tries another temperature",
    )
}

fn write_calendar(path: &Path, answer: &PlanAnswer, named: Option<&Name>) -> anyhow::Result<()> {
    let Some(text) = plan_calendar(answer, named) else {
        note(&format!("there is no day to write, so {} was left as it is", path.display()));
        return Ok(());
    };
    replace_own(path, &text, "calendar", is_own_calendar)
}

/// Writes a file whole or not at all; in place of one that is there only where that is `ours`.
fn replace_own(path: &Path, text: &str, what: &str, ours: impl Fn(&str) -> bool) -> anyhow::Result<()> {
    match std::fs::read(path) {
        Ok(before) => ensure!(
            ours(&String::from_utf8_lossy(&before)),
            "{} is there already and is no {what} written by seedclock plan: it was left as it is",
            path.display()
        ),
        Err(error) if error.kind() == std::io::ErrorKind::NotFound => {}
        Err(error) => return Err(error).with_context(|| format!("cannot read {}", path.display())),
    }
    let mut draft = path.as_os_str().to_owned();
    draft.push(format!(".new-{}", std::process::id()));
    let written = std::fs::write(&draft, text).and_then(|()| std::fs::rename(&draft, path));
    written
        .inspect_err(|_| drop(std::fs::remove_file(&draft)))
        .with_context(|| format!("cannot write the {what} {}", path.display()))
}

fn date(text: &str) -> Result<NaiveDate, String> {
    let date = NaiveDate::parse_from_str(text.trim(), "%Y-%m-%d").map_err(|_| "write the date as 2026-05-20".to_owned())?;
    let year = chrono::Datelike::year(&date);
    if (1970..=2200).contains(&year) { Ok(date) } else { Err("dates lie from 1970 to 2200".to_owned()) }
}

fn percent(text: &str, bounds: &Bounds) -> Result<f64, String> {
    let digits = text.trim().trim_end_matches('%').trim_end();
    let number: f64 = digits.parse().map_err(|_| "write a number of percent: 85 or 85%".to_owned())?;
    if number > 0.0 && number < 1.0 && !text.contains('%') {
        return Err(format!("{text} would be less than 1 %: write {}%", number * 100.0));
    }
    bounds.check(number)
}

fn confidence(text: &str) -> Result<f64, String> {
    const CONFIDENCE: Bounds = Bounds { what: "how sure to be", low: 50.0, high: 99.0, unit: "%" };
    percent(text, &CONFIDENCE).map(|percent| percent / 100.0)
}

fn days(text: &str, bounds: &Bounds) -> Result<f64, String> {
    let digits = text.trim().trim_end_matches("days").trim_end_matches('d').trim_end();
    bounds.check(digits.parse().map_err(|_| "write a number of days, as 30".to_owned())?)
}

/// "40", "40d", "6w", "6 weeks".
fn grow_on(text: &str) -> Result<u32, String> {
    let text = text.trim();
    let digits = text.trim_end_matches(|c: char| c.is_alphabetic() || c.is_whitespace());
    let each = match text[digits.len()..].trim() {
        "" | "d" | "day" | "days" => 1.0,
        "w" | "week" | "weeks" => 7.0,
        _ => return Err("write days or weeks: 40d, 6w".to_owned()),
    };
    let number: f64 = digits.parse().map_err(|_| "write days or weeks: 40d, 6w".to_owned())?;
    GROW_ON.check(number * each).map(|days| days.ceil() as u32)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_typed_is_read_or_refused_with_the_rule() {
        assert_eq!(["40", "40d", "6w", "6 weeks", "1.5w"].map(grow_on), [Ok(40), Ok(40), Ok(42), Ok(42), Ok(11)]);
        assert!(["", "w", "6 months", "-3d", "é", "1e9w", "nan"].iter().all(|text| grow_on(text).is_err()));
        assert_eq!(["80", "90%", "50 %"].map(confidence), [Ok(0.8), Ok(0.9), Ok(0.5)]);
        assert_eq!(confidence("100"), Err("100 % is out of range: how sure to be lies from 50 to 99 %".to_owned()));
        assert_eq!(percent("0.85", &SURVIVAL), Err("0.85 would be less than 1 %: write 85%".to_owned()));
        assert!(["0", "101", "-5", "x", ""].iter().all(|text| percent(text, &SURVIVAL).is_err()));
        assert_eq!(date("2024-02-29").map(|date| date.to_string()).as_deref(), Ok("2024-02-29"));
        assert!(["2026-02-29", "2026-13-01", "1 June", "9999-01-01", ""].iter().all(|text| date(text).is_err()));
        assert_eq!((days("30", &CHILL_DAYS), days("30d", &CHILL_DAYS)), (Ok(30.0), Ok(30.0)));
    }
}
