//! Boxes closed, and opened again.

use std::path::Path;

use super::{ChangeError, Outcome, existing, make, refusal, say_made, time};
use crate::bench::Bench;
use crate::bench::rules::Fault;
use crate::changes::{NotEnded, closing, names, reopening};
use crate::wording::{closed_words, reopened_words};

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
        let made = make(&mut store, now, |bench| Ok(vec![closing(bench, &names, at).map_err(|why| faults(bench, &why))?]))?;
        say_made(&made, &closed_words(&names, at, &made.after));
        Ok(Outcome::Done)
    }
}

impl Reopen {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, _, now) = existing(bench)?;
        let names = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let made = make(&mut store, now, |bench| Ok(vec![reopening(bench, &names, now).map_err(|why| faults(bench, &why))?]))?;
        say_made(&made, &reopened_words(&names, &made.after, now));
        Ok(Outcome::Done)
    }
}

/// Why not, and which command helps.
fn faults(bench: &Bench, why: &NotEnded) -> Vec<Fault> {
    let next = match why {
        NotEnded::Closed(name, _) => {
            let typed = name.as_typed();
            Some(format!("`seedclock correct box {typed} --closed TIME`, or `seedclock reopen {typed}`"))
        }
        NotEnded::Open(name, Some(_)) if bench.trials.get(name).is_some_and(|trial| trial.left() != Some(0)) => {
            Some(format!("look, then `seedclock check {} …`", name.as_typed()))
        }
        NotEnded::Open(..) | NotEnded::Unknown(_) => None,
    };
    vec![Fault { next, ..why.fault(bench) }]
}
