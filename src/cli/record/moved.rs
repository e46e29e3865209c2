//! Boxes carried to another spot, or to be carried.

use std::path::Path;

use super::names::names;
use super::{ChangeError, Outcome, existing, listed, record, refusal, say_made, time};
use crate::bench::rules::Entry;
use crate::bench::{Move as Carried, Name};
use crate::civil::local_time;

/// Record that boxes were carried to another spot, or are to be
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Move {
    /// The boxes; A3..A8 are six of them
    #[arg(value_name = "BOX", required = true)]
    boxes: Vec<String>,
    /// Where to: a spot that exists
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// It is only planned, for the time that --at says: forecasts follow it
    #[arg(long, requires = "at")]
    planned: bool,
    /// When [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Move {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let at = time(self.at.as_deref(), zone, now)?;
        let on = local_time(at, zone);
        if self.planned && at <= now {
            anyhow::bail!("{on} has passed: a planned move lies in the future\n  next: leave --planned out if it was made then");
        }
        let names = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let entry = |container: &Name| {
            let moved = Carried { container: container.clone(), time: at, spot: self.spot.clone() };
            if self.planned { Entry::Plan(moved) } else { Entry::Move(moved) }
        };
        let made = record(&mut store, names.iter().map(entry).collect(), now)?;
        let boxes = listed(&names);
        let mut said = if self.planned {
            format!("{boxes}: to be moved to '{}' on {on}", self.spot)
        } else {
            format!("{boxes}: at '{}' from {on} on", self.spot)
        };
        for trial in names.iter().filter_map(|name| made.after.trials.get(name)).filter(|_| !self.planned) {
            if let Some(plan) = trial.planned.iter().find(|plan| plan.time > at.max(now)) {
                let (name, to, on) = (&trial.container.name, &plan.spot, local_time(plan.time, zone));
                said += &format!("; {name} is still to be moved to '{to}' on {on}");
            }
        }
        say_made(&made, &said);
        Ok(Outcome::Done)
    }
}
