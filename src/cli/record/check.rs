//! Looks at boxes.

use std::path::Path;

use anyhow::Context;

use super::undo::{Looked, look_taken_back};
use super::{ChangeError, Outcome, existing, fault, free_text, listed, make, refusal, say, say_made, time, trial};
use crate::bench::rules::{Counted, Entry, Fault};
use crate::bench::{Bench, Check as Look, Name};
use crate::changes::{Made, Wish, look_wishes, names, standing};
use crate::civil::{Time, Zone, local_time};
use crate::wording::stand_words;

/// Record a look at boxes
#[derive(Debug, clap::Args)]
#[command(override_usage = "seedclock check BOX N|none [OPTIONS]\n       \
    seedclock check BOX BOX… none\n       \
    seedclock check BOX --total N\n       \
    seedclock check --spot SPOT --rest none\n       \
    seedclock check BOX [N] [--at TIME] --undo")]
pub(in crate::cli) struct Check {
    /// The boxes (A3..A8 are six of them), and how many sprouts are new since the last look, or none
    #[arg(value_name = "BOX… N|none", required_unless_present = "spot", conflicts_with = "spot")]
    words: Vec<String>,
    /// All sprouts that there ever were in the box, instead of the new ones
    #[arg(long, value_name = "N", conflicts_with_all = ["spot", "undo"])]
    total: Option<u32>,
    /// All boxes at this spot that have not been looked at in this round
    #[arg(long, value_name = "SPOT", value_parser = Name::new, requires = "rest")]
    spot: Option<Name>,
    /// What was new in the rest of them: none
    #[arg(long, value_name = "none", value_parser = ["none"], requires = "spot")]
    rest: Option<String>,
    /// Take the look back: the last one, or the one --at a time
    #[arg(long, conflicts_with_all = ["spot", "removed", "lost", "potted_on", "died", "condition", "note"])]
    undo: bool,
    /// Unsprouted seeds taken out mouldy or rotten
    #[arg(long, value_name = "N", default_value_t = 0)]
    removed: u32,
    /// Unsprouted seeds lost or taken
    #[arg(long, value_name = "N", default_value_t = 0)]
    lost: u32,
    /// Sprouts taken out to grow on
    #[arg(long, value_name = "N", default_value_t = 0)]
    potted_on: u32,
    /// Sprouts that died
    #[arg(long, value_name = "N", default_value_t = 0)]
    died: u32,
    /// How the box looked: fine, dry, wet, mould …
    #[arg(long, value_name = "WORD", value_parser = free_text)]
    condition: Option<String>,
    /// A note
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    note: Option<String>,
    /// When [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Check {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        if self.undo {
            return self.take_back(bench);
        }
        let (mut store, zone, now) = existing(bench)?;
        let at = time(self.at.as_deref(), zone, now)?;
        if let Some(spot) = &self.spot {
            let made = make(&mut store, now, |bench| self.rest_of(bench, spot, at))?;
            say_rest(&made, spot, at);
            return Ok(Outcome::Done);
        }
        let (words, counted) = self.counted()?;
        let names = names(words).map_err(refused)?;
        if let [_, _, ..] = names[..]
            && (counted.0 > 0 || self.removed + self.lost + self.potted_on + self.died > 0)
        {
            anyhow::bail!("of several boxes at once only `none` can be said\n  nothing was recorded; next: one command a box");
        }
        let made = make(&mut store, now, |bench| {
            let look = |name| Ok((trial(bench, name)?, self.look(name, at, counted.0)));
            let looks = names.iter().map(look).collect::<Result<Vec<_>, Vec<Fault>>>()?;
            Ok(look_wishes(looks, counted.1))
        })?;
        match &names[..] {
            [name] => say_made(&made, &said_of(name, &made, at, zone)),
            _ => say_made(&made, &format!("{}: none new", listed(&names))),
        }
        Ok(Outcome::Done)
    }

    /// The words that name boxes, and what was counted in them.
    fn counted(&self) -> anyhow::Result<(&[String], (u32, Counted))> {
        if let Some(total) = self.total {
            return Ok((&self.words, (total, Counted::InTotal)));
        }
        let last = self.words.split_last().filter(|(_, boxes)| !boxes.is_empty());
        let read = last.and_then(|(last, boxes)| sprouts(last).map(|count| (boxes, (count, Counted::SinceLast))));
        read.context("how many are new since the last look? Write the box, then a number or none, as in `seedclock check A3 2`")
    }

    fn look(&self, name: &Name, at: Time, sprouted: u32) -> Look {
        Look {
            sprouted,
            removed: self.removed,
            lost: self.lost,
            potted_on: self.potted_on,
            died: self.died,
            condition: self.condition.clone(),
            note: self.note.clone(),
            ..Look::none_new(name.clone(), at)
        }
    }

    /// A look without anything new at each box standing at a spot that had none in this round.
    fn rest_of(&self, bench: &Bench, spot: &Name, at: Time) -> Result<Vec<Wish>, Vec<Fault>> {
        if !bench.spots.contains_key(spot) {
            return Err(fault(format!("there is no spot '{spot}' on this bench")));
        }
        let (rest, seen) = standing(bench, spot, at);
        if rest.is_empty() && seen.is_empty() {
            return Err(fault(format!("no box stands at '{spot}'")));
        }
        if self.removed + self.lost + self.potted_on + self.died > 0 {
            return Err(fault("of the rest of a spot only `none` can be said: record boxes with more to say one by one"));
        }
        Ok(vec![Wish::to_record(rest.iter().map(|name| Entry::Check(self.look(name, at, 0), Counted::SinceLast)).collect())])
    }

    fn take_back(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let at = super::optional_time(self.at.as_deref(), zone, now)?;
        let (name, found) = match &self.words[..] {
            [name] => (name, None),
            [name, found] => {
                let rule = "write one box, and perhaps what the look had found, as in `seedclock check A3 2 --undo`";
                (name, Some(sprouts(found).context(rule)?))
            }
            _ => anyhow::bail!("only the look at one box can be taken back at a time"),
        };
        let name = Name::new(name)?;
        look_taken_back(&mut store, zone, now, Looked { name: &name, at, found })
    }
}

fn refused(faults: Vec<Fault>) -> anyhow::Error {
    refusal(ChangeError::Faults(faults), "recorded")
}

/// How many are new; none where the word is no count.
fn sprouts(word: &str) -> Option<u32> {
    if word == "none" { Some(0) } else { word.parse().ok() }
}

fn say_rest(made: &Made, spot: &Name, at: Time) {
    let (rest, seen) = standing(&made.before, spot, at);
    let seen = if seen.is_empty() { String::new() } else { format!("; {} looked at already", listed(seen)) };
    match &rest[..] {
        [] => say(&format!("{spot}: nothing left to look at{seen}")),
        rest => say_made(made, &format!("{spot}: none new in {}{seen}", listed(rest.iter().copied()))),
    }
}

/// "A3: 2 new; 7 of 20 have sprouted", and that a late sprout opened it again.
fn said_of(name: &Name, made: &Made, at: Time, zone: Zone) -> String {
    let (Some(before), Some(after)) = (made.before.trials.get(name), made.after.trials.get(name)) else { return String::new() };
    let look = after.checks.iter().find(|check| check.time == at);
    let new = look.map_or(0, |look| look.sprouted);
    let new_words = if new == 0 { "none new".to_owned() } else { format!("{new} new") };
    let mut said = format!("{name}: {new_words}; {}", stand_words(after));
    if after.container.ended.is_some() || before.ended_at(at).is_none() {
        return said;
    }
    if let Some(ended) = before.container.ended {
        said += &format!("; a late sprout: it was closed on {} and is open again", local_time(ended, zone));
    } else if after.ended_at(at).is_none() {
        said += &format!("; it counted as ended, unseen since {}, and is present again", local_time(before.last_touched(), zone));
    }
    said
}
