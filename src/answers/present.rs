//! What all questions about the present boxes share.

use std::collections::BTreeMap;

use super::fit::Assumption;
use super::{Known, Shelf};
use crate::bench::{Event, Name, Trial};
use crate::forecast::{Outlook, Weather};
use crate::germination::{Fit, Question};
use crate::stats::{Dice, seed_of};

/// Draws that an answer is made from, at most.
const DRAWS: usize = 1000;
/// Days of weather drawn: as far as any forecast reaches.
const WEATHER_DAYS: usize = 400;

/// The present batches, what their species need, and the weather that may come: worked out once for all that is asked of them.
pub struct Present<'a> {
    pub(super) trials: Vec<&'a Trial>,
    pub(super) fits: BTreeMap<(&'a Name, Event), Fit>,
    /// What each fit is kept under.
    pub(super) fit_keys: BTreeMap<(&'a Name, Event), [u8; 16]>,
    pub(super) outlooks: BTreeMap<&'a Name, Outlook>,
    pub(super) weather: Vec<Weather>,
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
        let now_us = known.now.timestamp_micros();
        let changed = |name: &Name| known.bench.spots.get(name)?.changed_by(known.now).map(|time| time.timestamp_micros());
        let outlooks = known
            .warmth
            .iter()
            .filter_map(|(name, warmth)| Some((name, Outlook::new(&warmth.record, now_us, changed(name))?)))
            .collect();
        let mut dice = Dice::new(seed_of("weather"));
        let weather = (0..DRAWS).map(|_| Weather::draw(WEATHER_DAYS, &mut dice)).collect();
        Self { trials, fits, fit_keys, outlooks, weather }
    }

    /// What the species need, in order of species.
    #[must_use]
    pub fn needs(&self) -> Vec<Fit> {
        self.fits.values().cloned().collect()
    }
}
