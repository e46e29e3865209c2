//! What all questions about the present boxes share.

use std::collections::BTreeMap;

use super::fit::Assumption;
use super::given::{As, steps};
use super::{Known, Shelf};
use crate::bench::{Event, Name, Trial};
use crate::forecast::{Outlook, SLOT_US, SLOTS_PER_DAY, Weather};
use crate::germination::{Fit, Question};
use crate::stats::{Dice, parallel_map, seed_of};
use crate::thermal::{SpotRecord, SpotWarmth};

/// Draws that an answer is made from, at most.
const DRAWS: usize = 1000;

/// The present batches, what their species need, and the weather that may come: worked out once for all that is asked of them.
pub struct Present<'a> {
    pub(super) trials: Vec<&'a Trial>,
    pub(super) fits: BTreeMap<(&'a Name, Event), Fit>,
    /// What each fit is kept under.
    pub(super) fit_keys: BTreeMap<(&'a Name, Event), [u8; 16]>,
    pub(super) outlooks: BTreeMap<&'a Name, Outlook>,
    pub(super) weather: Vec<Weather>,
    /// How many more boxes have room at a spot, where that is said.
    pub(super) room: BTreeMap<&'a Name, u32>,
}

impl<'a> Present<'a> {
    /// Of each batch with a container that has not ended, all containers, with every fit made anew.
    #[must_use]
    pub fn new(known: &'a Known) -> Self {
        Self::with(known, &mut Shelf::none())
    }

    /// The same, with fits from the shelf where they are there.
    #[must_use]
    pub fn with(known: &'a Known, shelf: &mut Shelf<'_>) -> Self {
        let batches = known.bench.present_batches(known.now);
        let trials: Vec<&Trial> = batches.into_values().flatten().collect();
        let (mut fits, mut fit_keys) = (BTreeMap::new(), BTreeMap::new());
        for trial in &trials {
            let key = (&trial.container.species, trial.container.event);
            if fits.contains_key(&key) {
                continue;
            }
            let own = known.bench.trials.values().filter(|other| (&other.container.species, other.container.event) == key);
            let own: Vec<&Trial> = own.filter(|other| !other.checks.is_empty()).collect();
            let question = Question { prior: Assumption::BestKnown.of(&known.bench, key.0, key.1), ..Question::default() };
            if let Some((fit, digest)) = shelf.fit(known, key.0, key.1, &own, question) {
                fits.insert(key, fit);
                fit_keys.insert(key, digest);
            }
        }
        let spots: Vec<(&Name, &SpotWarmth)> = known.warmth.iter().collect();
        let outlooks = parallel_map(&spots, |(name, warmth)| outlook(known, name, warmth));
        let outlooks = spots.iter().zip(outlooks).filter_map(|((name, _), outlook)| Some((*name, outlook?))).collect();
        let room = room(known);
        Self { trials, fits, fit_keys, outlooks, weather: weather(), room }
    }

    /// What the species need, in order of species.
    #[must_use]
    pub fn needs(&self) -> Vec<Fit> {
        self.fits.values().cloned().collect()
    }
}

/// What is left of each spot's capacity.
fn room(known: &Known) -> BTreeMap<&Name, u32> {
    let standing = |spot: &Name| {
        let there = |trial: &&Trial| trial.ended_at(known.now).is_none() && trial.spot_at(known.now) == spot;
        known.bench.trials.values().filter(there).count()
    };
    let capacity = |name: &Name| known.bench.spots.get(name)?.setting_at(known.now).capacity;
    let spots = known.bench.spots.keys().filter_map(|name| Some((name, capacity(name)?)));
    spots.map(|(name, capacity)| (name, capacity.saturating_sub(u32::try_from(standing(name)).unwrap_or(u32::MAX)))).collect()
}

/// The weather that may come, one a draw.
pub(super) fn weather() -> Vec<Weather> {
    let mut dice = Dice::new(seed_of("weather"));
    (0..DRAWS).map(|_| Weather::draw(&mut dice)).collect()
}

/// What may come at a spot: where its temperature is given, that, without weather.
pub(super) fn outlook(known: &Known, name: &Name, warmth: &SpotWarmth) -> Option<Outlook> {
    let (spot, now_us) = (known.bench.spots.get(name)?, known.now.timestamp_micros());
    if warmth.set {
        let until_us = now_us + SLOTS_PER_DAY as i64 * SLOT_US;
        let coming = SpotRecord::nothing().with(steps(spot, known.bench.zone, now_us, until_us, As::Known));
        let day: Vec<f64> = coming.sampled(now_us, SLOT_US, SLOTS_PER_DAY, 0.0).into_iter().flatten().collect();
        // Where nothing is given any more, what it was before is the best that is known.
        if day.len() == SLOTS_PER_DAY {
            return Outlook::given(&day);
        }
    }
    let changed_us = spot.changed_by(known.now).map(|time| time.timestamp_micros());
    Outlook::new(&warmth.record, |from_us, until_us| known.mean_c(name, from_us, until_us), now_us, changed_us)
}
