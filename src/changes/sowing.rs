//! Boxes sown: several alike, out of a chilling bag, or like another.

use super::usual_batch;
use crate::bench::rules::{About, Fault, Origin};
use crate::bench::{Bench, Container, Event, Name, Trial};
use crate::civil::{Time, Zone};

/// Boxes to be sown, all alike. What is not said is taken from the bag, or from the box that they are like.
#[derive(Debug, Clone, PartialEq)]
pub struct Sowing {
    /// What they are to be called.
    pub names: Vec<Name>,
    /// The plant.
    pub species: Option<Name>,
    /// How many seeds in each.
    pub seeds: Option<u32>,
    /// At least so many.
    pub seeds_low: Option<u32>,
    /// At most so many.
    pub seeds_high: Option<u32>,
    /// Where they stand.
    pub spot: Option<Name>,
    /// The chilling bag, or other box, that the seeds come out of.
    pub from: Option<Name>,
    /// Another box that they are like.
    pub like: Option<Name>,
    /// The boxes they are watched with; none: the month.
    pub batch: Option<Name>,
    /// Which seeds.
    pub lot: Option<Name>,
    /// What they went through before.
    pub treatment: Option<Name>,
    /// What counts as sprouted.
    pub event: Option<Event>,
    /// How deep they lie, in millimetres.
    pub depth_mm: Option<f64>,
    /// The lid's own name.
    pub lid: Option<Name>,
    /// When the seeds were wetted, or taken out of the bag.
    pub sown: Time,
}

impl Sowing {
    /// The boxes as they go on record.
    ///
    /// # Errors
    /// What is missing, or names a box that is not there.
    pub fn containers(&self, bench: &Bench, zone: Zone) -> Result<Vec<Container>, Vec<Fault>> {
        let known = |name: &Option<Name>| {
            let found = name.as_ref().map(|name| box_named(bench, name).map(|trial| trial.container.clone()));
            found.transpose().map_err(|fault| vec![fault.about(About::From)])
        };
        let (bag, like) = (known(&self.from)?, known(&self.like)?);
        let pattern = bag.as_ref().or(like.as_ref());
        let species = self.species.clone().or_else(|| pattern.map(|pattern| pattern.species.clone()));
        let spot = self.spot.clone().or_else(|| like.as_ref().map(|like| like.spot.clone()));
        let batch = self.batch.clone().or_else(|| usual_batch(self.sown, zone));
        let (Some(species), Some(spot), Some(batch)) = (species, spot, batch) else {
            return Err(vec![Fault::new(&Origin::Typed, "a species, a spot or a batch is missing")]);
        };
        let nothing_counted = self.seeds.or(self.seeds_low).or(self.seeds_high).is_none();
        let counted = like.as_ref().filter(|_| nothing_counted);
        if let Some(lid) = self.lid.as_ref().filter(|_| self.names.len() > 1) {
            let what = format!("one lid, '{lid}', cannot lie on {} boxes", self.names.len());
            return Err(vec![Fault::new(&Origin::Typed, what).about(About::Lid)]);
        }
        let container = |name: &Name| Container {
            lot: self.lot.clone().or_else(|| pattern.and_then(|pattern| pattern.lot.clone())),
            treatment: self.treatment.clone().or_else(|| pattern.and_then(|pattern| pattern.treatment.clone())),
            seeds: self.seeds.or(counted.and_then(|like| like.seeds)),
            seeds_low: self.seeds_low.or(counted.and_then(|like| like.seeds_low)),
            seeds_high: self.seeds_high.or(counted.and_then(|like| like.seeds_high)),
            event: self.event.or(pattern.map(|pattern| pattern.event)).unwrap_or_default(),
            depth_mm: self.depth_mm.or(like.as_ref().and_then(|like| like.depth_mm)),
            from: self.from.clone(),
            lid: self.lid.clone(),
            ..Container::new(name.clone(), batch.clone(), species.clone(), spot.clone(), self.sown)
        };
        Ok(self.names.iter().map(container).collect())
    }
}

/// The box of a name.
///
/// # Errors
/// That there is none.
pub fn box_named<'a>(bench: &'a Bench, name: &Name) -> Result<&'a Trial, Fault> {
    let none = || Fault::new(&Origin::Typed, format!("there is no box '{name}' on this bench")).about(About::Name);
    bench.trials.get(name).ok_or_else(none)
}
