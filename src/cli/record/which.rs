//! Which probe is which: the one that is held in a hand.

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use super::watch::{Watched, agreed, ask, interrupted, watch};
use super::{Outcome, existing, make, refusal, say, say_made, time};
use crate::bench::rules::Entry;
use crate::bench::{Name, Placement, Siting};
use crate::changes::{self, Wish};
use crate::civil::local_time;
use crate::quality::{Warming, warming};

/// Hold a probe in your hand: the one that warms is named
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Which {
    /// Call it so from now on [default: asked]
    #[arg(long, value_parser = Name::new)]
    name: Option<Name>,
    /// It stands there from now on [default: asked]
    #[arg(long, value_parser = Name::new)]
    spot: Option<Name>,
    /// Where it is: in a box, beside the boxes, or only in the same room
    #[arg(long, value_name = "in|beside|room", value_parser = super::siting, default_value = "beside")]
    siting: Siting,
    /// Record without asking
    #[arg(long)]
    yes: bool,
    /// How many minutes to watch before giving up
    #[arg(long, value_name = "MINUTES", default_value_t = 10, value_parser = clap::value_parser!(u64).range(1..=120))]
    give_up: u64,
}

impl Which {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, _) = existing(bench)?;
        say("hold one probe in your hand, its metal in your fist, and leave the others alone; Ctrl-C stops");
        let (mut heard, mut several) = (BTreeSet::new(), BTreeSet::new());
        let held = watch(bench, &mut store, None, Duration::from_secs(60 * self.give_up), |seen| {
            for (probe, points) in seen {
                if let Some((_, celsius)) = points.last()
                    && heard.insert(probe.clone())
                {
                    say(&format!("  watching {probe}: it shows {celsius:.1} °C"));
                }
            }
            let names: Vec<&Name> = seen.keys().collect();
            let series: Vec<&[(i64, f64)]> = seen.values().map(Vec::as_slice).collect();
            match warming(&series) {
                Warming::None => None,
                Warming::One(at) => names.get(at).map(|name| (*name).clone()),
                Warming::Several(at) => {
                    let risen: BTreeSet<Name> = at.into_iter().filter_map(|at| names.get(at).map(|name| (*name).clone())).collect();
                    if several != risen {
                        say(&format!("  several become warmer: {}; hold only one, and let the others cool", super::listed(&risen)));
                        several = risen;
                    }
                    None
                }
            }
        })?;
        let probe = match held {
            Watched::Interrupted => return Ok(interrupted()),
            Watched::Found(probe) => probe,
        };
        say(&format!("it is {probe}"));
        let Some(name) = self.answered(self.name.as_ref(), "what is it to be called? (Enter: as it is)")? else {
            return Ok(interrupted());
        };
        let Some(spot) = self.answered(self.spot.as_ref(), "at which spot does it stand? (Enter: leave that open)")? else {
            return Ok(interrupted());
        };
        let name = name.filter(|name| *name != probe);
        if name.is_none() && spot.is_none() {
            say("nothing was recorded");
            return Ok(Outcome::Done);
        }
        let called = name.as_ref().map(|name| format!("call {probe} {name}")).into_iter();
        let stands = spot.as_ref().map(|spot| format!("place it at '{spot}' from now on"));
        if let Some(ended) = agreed(self.yes, &format!("{}?", called.chain(stands).collect::<Vec<_>>().join(" and ")))? {
            return Ok(ended);
        }
        let (mut store, _, now) = existing(bench)?;
        if let Some(name) = &name {
            changes::name_probe(&mut store, &probe, name, now).map_err(|error| refusal(error, "recorded"))?;
            say(&format!("probe {probe}: called {name} from now on; its readings so far and to come stay its own"));
        }
        let Some(spot) = spot else { return Ok(Outcome::Done) };
        let (probe, since) = (name.unwrap_or(probe), time(None, zone, now)?);
        let made = make(&mut store, now, |bench| {
            let calibration = changes::placed(bench, &probe, since).and_then(|before| before.calibration);
            let placement = Placement { probe: probe.clone(), spot: spot.clone(), since, calibration, siting: self.siting };
            Ok(vec![Wish::to_record(vec![Entry::Placement(placement)])])
        })?;
        say_made(&made, &format!("probe {probe}: at '{spot}' from {} on", local_time(since, zone)));
        Ok(Outcome::Done)
    }

    /// A name given as an option or answered to a question; the outer none: Ctrl-C, the inner one: left as it is.
    fn answered(&self, given: Option<&Name>, question: &str) -> anyhow::Result<Option<Option<Name>>> {
        if given.is_some() || self.yes {
            return Ok(Some(given.cloned()));
        }
        loop {
            match ask(question)? {
                Watched::Interrupted => return Ok(None),
                Watched::Found(answer) if answer.is_empty() => return Ok(Some(None)),
                Watched::Found(answer) => match Name::new(&answer) {
                    Ok(name) => return Ok(Some(Some(name))),
                    Err(rule) => say(&format!("'{answer}': {rule}")),
                },
            }
        }
    }
}
