//! Boxes sown: several alike, out of a chilling bag, or like another.

use std::path::Path;

use super::{ChangeError, Outcome, bench_zone, event, make, refusal, say_made, time};
use crate::bench::rules::{Entry, Fault};
use crate::bench::{Bench, Event, Name};
use crate::changes::{self, Sowing, Wish, names};
use crate::civil::Time;
use crate::clock::{Clock, SystemClock};
use crate::wording::sown_words;

/// Record boxes of seeds
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Sow {
    /// The boxes' names; A3..A8 are six of them
    #[arg(value_name = "BOX", required = true)]
    boxes: Vec<String>,
    /// The plant
    #[arg(long, value_parser = Name::new, required_unless_present_any = ["from", "like"])]
    species: Option<Name>,
    /// How many seeds in each; leave it out if they were not counted
    #[arg(long, value_name = "N")]
    seeds: Option<u32>,
    /// At least so many, where they were sown by the pinch
    #[arg(long, value_name = "N")]
    seeds_low: Option<u32>,
    /// At most so many
    #[arg(long, value_name = "N")]
    seeds_high: Option<u32>,
    /// Where they stand; a spot not known yet is made
    #[arg(long, value_parser = Name::new, required_unless_present = "like")]
    spot: Option<Name>,
    /// The chilling bag, or other box, that the seeds come out of: it loses them, and they keep its days
    #[arg(long, value_name = "BOX", value_parser = Name::new)]
    from: Option<Name>,
    /// Another box that these are like, but for what is said here
    #[arg(long, value_name = "BOX", value_parser = Name::new)]
    like: Option<Name>,
    /// The boxes they are watched with [default: the month, such as 2026-11]
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// Which seeds: collected or bought together
    #[arg(long, value_parser = Name::new)]
    lot: Option<Name>,
    /// What they went through before sowing, such as "30 d cold moist"
    #[arg(long, value_parser = Name::new)]
    treatment: Option<Name>,
    /// What counts as sprouted: radicle (the root tip shows) or emergence (the seedling shows) [default: radicle]
    #[arg(long, value_parser = event)]
    event: Option<Event>,
    /// How deep the seeds lie, in millimetres; 0 on the surface
    #[arg(long, value_name = "MM")]
    depth: Option<f64>,
    /// The lid's own name, where it has one that goes from sowing to sowing
    #[arg(long = "box", value_name = "LID", value_parser = Name::new)]
    lid: Option<Name>,
    /// When the seeds were wetted, or taken out of the bag [default: now]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
}

impl Sow {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let now = SystemClock.now();
        let zone = bench_zone(bench)?;
        let sown = time(self.at.as_deref(), zone, now)?;
        let names = names(&self.boxes).map_err(|faults| refusal(ChangeError::Faults(faults), "recorded"))?;
        let sowing = self.sowing(names, sown);
        let wishes = |bench: &Bench| {
            let entries = sowing.containers(bench, zone)?.into_iter().map(Entry::Container).collect();
            Ok::<_, Vec<Fault>>(vec![Wish::to_record(entries)])
        };
        let mut store = changes::open_or_begin(bench, zone, |empty| {
            let wishes = wishes(empty).map_err(ChangeError::Faults)?;
            changes::examine(empty, &wishes, now)
        })
        .map_err(|error| refusal(error, "recorded"))?;
        let made = make(&mut store, now, wishes)?;
        // As it came out of the rules: the same for all of them.
        let sown = sowing.containers(&made.before, zone).unwrap_or_default();
        say_made(&made, &sown_words(&sown, &made.after));
        Ok(Outcome::Done)
    }

    fn sowing(self, names: Vec<Name>, sown: Time) -> Sowing {
        Sowing {
            names,
            species: self.species,
            seeds: self.seeds,
            seeds_low: self.seeds_low,
            seeds_high: self.seeds_high,
            spot: self.spot,
            from: self.from,
            like: self.like,
            batch: self.batch,
            lot: self.lot,
            treatment: self.treatment,
            event: self.event,
            depth_mm: self.depth,
            lid: self.lid,
            sown,
        }
    }
}
