//! Boxes sown: several alike, out of a chilling bag, or like another.

use std::path::Path;

use super::names::names;
use super::{Outcome, bench_zone, event, fault, listed, make, refusal, say_made, time, trial};
use crate::bench::rules::{Entry, Fault};
use crate::bench::{Bench, Container, Event, Name};
use crate::changes::{self, Wish};
use crate::civil::{Time, Zone, local_time};
use crate::clock::{Clock, SystemClock};
use crate::wording::{seeds_words, stand_words};

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
        let wishes = |bench: &Bench| {
            let entries = self.containers(bench, sown, zone)?.into_iter().map(Entry::Container).collect();
            Ok::<_, Vec<Fault>>(vec![Wish::to_record(entries)])
        };
        let mut store = changes::open_or_begin(bench, zone, |empty| {
            let wishes = wishes(empty).map_err(changes::ChangeError::Faults)?;
            changes::examine(empty, &wishes, now)
        })
        .map_err(|error| refusal(error, "recorded"))?;
        let made = make(&mut store, now, wishes)?;
        // As it came out of the rules: the same for all of them.
        let sown = self.containers(&made.before, sown, zone).unwrap_or_default();
        let Some(first) = sown.first() else { return Ok(Outcome::Done) };
        let each = if sown.len() == 1 { "" } else { " each," };
        let mut said = format!(
            "{}: {} of {}{each} sown on {} at '{}', batch {}",
            listed(sown.iter().map(|container| &container.name)),
            seeds_words(first),
            first.species,
            local_time(first.sown, zone),
            first.spot,
            first.batch
        );
        if let Some(bag) = first.from.as_ref().and_then(|from| made.after.trials.get(from)) {
            let wetted = local_time(made.after.wetted(bag), zone);
            said += &format!(", out of {} (wetted {wetted})", bag.container.name);
            said += &format!("; {}: {}", bag.container.name, stand_words(bag));
            said += &bag.left().map(|left| format!(", {left} left")).unwrap_or_default();
        }
        say_made(&made, &said);
        Ok(Outcome::Done)
    }

    /// The boxes wished, with what is not said taken from the bag or the box that they are like.
    fn containers(&self, bench: &Bench, sown: Time, zone: Zone) -> Result<Vec<Container>, Vec<Fault>> {
        let known =
            |name: &Option<Name>| name.as_ref().map(|name| trial(bench, name).map(|trial| trial.container.clone())).transpose();
        let (bag, like) = (known(&self.from)?, known(&self.like)?);
        let pattern = bag.as_ref().or(like.as_ref());
        let species = self.species.clone().or_else(|| pattern.map(|pattern| pattern.species.clone()));
        let spot = self.spot.clone().or_else(|| like.as_ref().map(|like| like.spot.clone()));
        let batch = self.batch.clone().or_else(|| changes::usual_batch(sown, zone));
        let (Some(species), Some(spot), Some(batch)) = (species, spot, batch) else {
            return Err(fault("a species, a spot or a batch is missing"));
        };
        let nothing_counted = self.seeds.or(self.seeds_low).or(self.seeds_high).is_none();
        let counted = like.as_ref().filter(|_| nothing_counted);
        let names = names(&self.boxes)?;
        if let Some(lid) = self.lid.as_ref().filter(|_| names.len() > 1) {
            return Err(fault(format!("one lid, '{lid}', cannot lie on {} boxes", names.len())));
        }
        let container = |name| Container {
            lot: self.lot.clone().or_else(|| pattern.and_then(|pattern| pattern.lot.clone())),
            treatment: self.treatment.clone().or_else(|| pattern.and_then(|pattern| pattern.treatment.clone())),
            seeds: self.seeds.or(counted.and_then(|like| like.seeds)),
            seeds_low: self.seeds_low.or(counted.and_then(|like| like.seeds_low)),
            seeds_high: self.seeds_high.or(counted.and_then(|like| like.seeds_high)),
            event: self.event.or(pattern.map(|pattern| pattern.event)).unwrap_or_default(),
            depth_mm: self.depth.or(like.as_ref().and_then(|like| like.depth_mm)),
            from: self.from.clone(),
            lid: self.lid.clone(),
            ..Container::new(name, batch.clone(), species.clone(), spot.clone(), sown)
        };
        Ok(names.into_iter().map(container).collect())
    }
}
