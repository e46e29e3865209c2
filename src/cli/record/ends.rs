//! Boxes closed, and opened again.

use std::path::Path;

use super::names::names;
use super::{ChangeError, Outcome, existing, fault_with, listed, make, refusal, say_made, time, trial};
use crate::bench::rules::Entry;
use crate::bench::{Container, Name, Trial};
use crate::changes::Wish;
use crate::civil::local_time;
use crate::wording::stand_words;

/// Record that boxes were given up or emptied
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Close {
    /// The boxes; A3..A8 are six of them
    #[arg(value_name = "BOX", required = true)]
    boxes: Vec<String>,
    /// When [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

/// Record that closed boxes are watched again
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Reopen {
    /// The boxes; A3..A8 are six of them
    #[arg(value_name = "BOX", required = true)]
    boxes: Vec<String>,
}

impl Close {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let at = time(self.at.as_deref(), zone, now)?;
        let names = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let made = make(&mut store, now, |bench| {
            let mut entries = Vec::new();
            for name in &names {
                let container = &trial(bench, name)?.container;
                if let Some(ended) = container.ended.filter(|ended| *ended != at) {
                    let ended = local_time(ended, zone);
                    let typed = name.as_typed();
                    let next = format!("`seedclock correct box {typed} --closed TIME`, or `seedclock reopen {typed}`");
                    return Err(fault_with(format!("box '{name}' is closed already, since {ended}"), next));
                }
                entries.push(Entry::Container(Container { ended: Some(at), ..container.clone() }));
            }
            Ok(vec![Wish::to_correct(entries)])
        })?;
        let stand = |trial: &Trial| format!("{}: closed on {}; {}", trial.container.name, local_time(at, zone), stand_words(trial));
        let said: Vec<String> = names.iter().filter_map(|name| made.after.trials.get(name)).map(stand).collect();
        say_made(&made, &said.join("\n"));
        Ok(Outcome::Done)
    }
}

impl Reopen {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let names = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let made = make(&mut store, now, |bench| {
            let mut entries = Vec::new();
            for name in &names {
                let trial = trial(bench, name)?;
                if trial.container.ended.is_none() {
                    return Err(not_closed(name, trial, trial.ended_at(now).map(|ended| local_time(ended, zone))));
                }
                entries.push(Entry::Container(Container { ended: None, ..trial.container.clone() }));
            }
            Ok(vec![Wish::to_correct(entries)])
        })?;
        let is = if names.len() == 1 { "is" } else { "are" };
        let mut said = format!("{} {is} open again", listed(&names));
        let unseen = |name: &&Name| made.after.trials.get(*name).is_some_and(|trial| trial.ended_at(now).is_some());
        let unseen = listed(names.iter().filter(unseen));
        if !unseen.is_empty() {
            said += &format!("; nobody has looked at {unseen} for over 30 days: present again from the next look on");
        }
        say_made(&made, &said);
        Ok(Outcome::Done)
    }
}

fn not_closed(name: &Name, trial: &Trial, ended: Option<String>) -> Vec<super::Fault> {
    let what = format!("box '{name}' is not closed");
    match ended {
        None => super::fault(format!("{what}: there is nothing to reopen")),
        Some(ended) if trial.left() == Some(0) => {
            super::fault(format!("{what}: all its seeds have been accounted for since {ended}, and so it has ended"))
        }
        Some(ended) => fault_with(
            format!("{what}: nobody has looked at it since {ended}, over 30 days, and so it counts as ended"),
            format!("look, then `seedclock check {} …`", name.as_typed()),
        ),
    }
}
