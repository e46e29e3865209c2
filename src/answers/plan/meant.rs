//! What the names in a plan mean: plants, lots and spots of the bench.

use std::collections::BTreeSet;

use thiserror::Error;

use super::Planner;
use crate::answers::Known;
use crate::bench::{Bench, Event, Name, SpotKind, Trial};
use crate::germination::published;

/// Why nothing can be planned.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PlanFault {
    /// Nothing is known of such a plant.
    #[error(
        "nothing is known of '{species}': no box and no lot on this bench, and no published days; there are {known}\n  next: seedclock lot NAME --species '{species}' with what the packet says"
    )]
    UnknownSpecies {
        /// The name asked for.
        species: Name,
        /// The names on the bench.
        known: String,
    },
    /// There is no such lot.
    #[error("there is no lot '{lot}' on this bench; it has {known}")]
    UnknownLot {
        /// The name asked for.
        lot: Name,
        /// The names on the bench.
        known: String,
    },
    /// A lot is of another plant than the one named.
    #[error("lot '{lot}' is {species}, not {asked}")]
    OtherSpecies {
        /// The lot.
        lot: Name,
        /// What it is.
        species: Name,
        /// What was asked for.
        asked: Name,
    },
    /// There is no such spot.
    #[error("there is no spot '{spot}' on this bench; it has {known}")]
    UnknownSpot {
        /// The name asked for.
        spot: Name,
        /// The names on the bench.
        known: String,
    },
    /// A spot for chilling.
    #[error("'{0}' is a fridge: seeds are chilled there, not sprouted; name the spot where they go afterwards")]
    Fridge(Name),
    /// A fit could not be made.
    #[error("what {0} needs could not be worked out from what is on record")]
    NoFit(Name),
}

/// Seeds of one lot as they are going to be sown.
#[derive(Debug, Clone)]
pub(super) struct Kind<'a> {
    pub(super) species: &'a Name,
    pub(super) lot: Option<&'a Name>,
    pub(super) event: Event,
    pub(super) treatment: Option<Name>,
    /// The last sowing that they are like.
    pub(super) like: Option<&'a Trial>,
}

impl Kind<'_> {
    /// What rates of progress depend on.
    pub(super) fn key(&self) -> (&Name, Event, Option<&Name>) {
        (self.species, self.event, self.treatment.as_ref())
    }
}

impl<'a> Planner<'a> {
    /// The seeds that are planned: plant and lot.
    pub(super) fn lots(&self) -> Result<Vec<(&'a Name, Option<&'a Name>)>, PlanFault> {
        let bench = &self.known.bench;
        if self.question.lots.is_empty() {
            let Some(species) = &self.question.species else { return Ok(Vec::new()) };
            let known = species_of(bench).contains(species) || published(species, Event::Emergence).is_some();
            if !known {
                let known = listed(species_of(bench));
                return Err(PlanFault::UnknownSpecies { species: species.clone(), known });
            }
            // A friend's lots are learnt from, not sown.
            let friends = bench.friends();
            let own = |lot: &Name| !friends.iter().any(|friend| lot.is_of(friend));
            let lots = lots_of(bench).into_iter().filter(|(lot, of)| *of == species && own(lot));
            let lots: BTreeSet<&Name> = lots.map(|(lot, _)| lot).collect();
            if lots.is_empty() {
                return Ok(vec![(species, None)]);
            }
            return Ok(lots.into_iter().map(|lot| (species, Some(lot))).collect());
        }
        let of = |lot: &'a Name| {
            let found = lots_of(bench).into_iter().filter(|(name, _)| *name == lot);
            let mut found: Vec<&Name> = found.map(|(_, species)| species).collect();
            // A lot's name may be used for several plants: "saved 2025".
            if let Some(asked) = &self.question.species {
                match found.iter().find(|species| **species == asked) {
                    Some(asked) => found = vec![asked],
                    None if !found.is_empty() => {
                        return Err(PlanFault::OtherSpecies { lot: lot.clone(), species: found[0].clone(), asked: asked.clone() });
                    }
                    None => {}
                }
            }
            found.dedup();
            if found.is_empty() {
                let known = listed(lots_of(bench).into_iter().map(|(lot, _)| lot).collect());
                return Err(PlanFault::UnknownLot { lot: lot.clone(), known });
            }
            Ok(found.into_iter().map(|species| (species, Some(lot))).collect::<Vec<_>>())
        };
        let mut all = Vec::new();
        for lot in &self.question.lots {
            for one in of(lot)? {
                if !all.contains(&one) {
                    all.push(one);
                }
            }
        }
        Ok(all)
    }

    pub(super) fn kind(&self, species: &'a Name, lot: Option<&'a Name>) -> Kind<'a> {
        let trials = || self.known.bench.trials.values().filter(|trial| trial.container.species == *species);
        let sown_last = |of: &dyn Fn(&Trial) -> bool| trials().filter(|trial| of(trial)).max_by_key(|trial| trial.container.sown);
        let of_lot = |trial: &Trial| trial.container.lot.as_ref() == lot;
        let treated = |trial: &Trial| self.question.treatment.is_none() || trial.container.treatment == self.question.treatment;
        let like = sown_last(&|trial| of_lot(trial) && treated(trial)).or_else(|| sown_last(&treated));
        let event =
            self.question.event.or(like.map(|like| like.container.event)).or(sown_last(&|_| true).map(|like| like.container.event));
        Kind {
            species,
            lot,
            // Published days and those of a packet are to the seedling showing.
            event: event.unwrap_or(Event::Emergence),
            treatment: self.question.treatment.clone().or_else(|| like.and_then(|like| like.container.treatment.clone())),
            like,
        }
    }
}

/// The spots named, else all where boxes may sprout: not fridges, and not friends' places.
pub(super) fn spots<'a>(known: &'a Known, named: &[Name]) -> Result<Vec<&'a Name>, PlanFault> {
    let bench = &known.bench;
    let fridge = |spot: &Name| bench.spots.get(spot).is_some_and(|spot| spot.kind_at(known.now) == SpotKind::Fridge);
    let friends = bench.friends();
    if named.is_empty() {
        let elsewhere = |name: &Name| friends.iter().any(|friend| name.is_of(friend));
        return Ok(bench.spots.keys().filter(|spot| !fridge(spot) && !elsewhere(spot)).collect());
    }
    let mut spots = Vec::new();
    for name in named {
        match bench.spots.keys().find(|spot| *spot == name) {
            None => return Err(PlanFault::UnknownSpot { spot: name.clone(), known: listed(bench.spots.keys().collect()) }),
            Some(spot) if fridge(spot) => return Err(PlanFault::Fridge(spot.clone())),
            Some(spot) if !spots.contains(&spot) => spots.push(spot),
            Some(_) => {}
        }
    }
    Ok(spots)
}

fn species_of(bench: &Bench) -> BTreeSet<&Name> {
    bench.trials.values().map(|trial| &trial.container.species).chain(bench.lots.values().map(|lot| &lot.species)).collect()
}

/// Every lot with its plant.
fn lots_of(bench: &Bench) -> BTreeSet<(&Name, &Name)> {
    let told = bench.lots.values().map(|lot| (&lot.name, &lot.species));
    let sown = bench.trials.values().filter_map(|trial| Some((trial.container.lot.as_ref()?, &trial.container.species)));
    told.chain(sown).collect()
}

fn listed(names: BTreeSet<&Name>) -> String {
    if names.is_empty() {
        return "none".to_owned();
    }
    names.into_iter().map(|name| format!("'{name}'")).collect::<Vec<_>>().join(", ")
}
