//! Boxes carried to another spot, or to be carried.

use std::path::Path;

use super::{ChangeError, Outcome, existing, make, refusal, say_made, time};
use crate::bench::Name;
use crate::bench::rules::Fault;
use crate::changes::{Moving, Wish, names};
use crate::civil::local_time;
use crate::wording::{carried_words, listed};

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
        let boxes = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let moving = Moving { boxes, spot: self.spot, may_be_new: false, at, planned: self.planned };
        let made = make(&mut store, now, |_| Ok(vec![Wish::to_record(moving.entries(zone, now).map_err(not_planned)?)]))?;
        let Moving { boxes, spot, .. } = &moving;
        let said = if moving.planned {
            format!("{}: to be moved to '{spot}' on {on}", listed(boxes))
        } else {
            carried_words(boxes, spot, at, &made.after, now)
        };
        say_made(&made, &said);
        Ok(Outcome::Done)
    }
}

/// What to type instead of a plan for a time that has passed.
fn not_planned(faults: Vec<Fault>) -> Vec<Fault> {
    let next = || Some("leave --planned out if it was made then".to_owned());
    faults.into_iter().map(|fault| Fault { next: next(), ..fault }).collect()
}
