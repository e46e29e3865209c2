//! Which coordinates a model has, and what is assumed of those that tell lots, treatments, containers and spots apart.

use std::collections::BTreeSet;

use super::space::Added;
use super::{Coordinate, Evidence, Level, Prior, RateShape, Space};
use crate::bench::Name;

/// Spots that containers must have stood at before a change of the fraction with warmth is asked about.
const TELLING_SPOTS: usize = 3;

/// Whether containers may differ from each other beyond lot and treatment.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum ContainerEffect {
    /// They may, in speed and in fraction.
    #[default]
    On,
    /// They are alike.
    Off,
}

/// The coordinates of a model in order, and the names that their numbers stand for.
#[derive(Debug, Clone, PartialEq)]
pub struct Layout {
    /// Those of the species.
    pub space: Space,
    /// Whether containers differ.
    pub containers: ContainerEffect,
    /// Mean over the containers of their mean temperatures, °C, from which the fraction's change with warmth counts; none where it
    /// is taken to be the same at any warmth.
    pub centre_c: Option<f64>,
    /// Lots with effects of their own, in order; empty where there is one only. None: seeds of no named lot.
    pub lots: Vec<Option<Name>>,
    /// Treatments likewise.
    pub treatments: Vec<Option<Name>>,
    /// Levels that are unsure, with their standard uncertainty, °C.
    pub offsets: Vec<(Level, f64)>,
    coordinates: Vec<Coordinate>,
}

impl Layout {
    /// The species' coordinates alone: all containers are alike.
    #[must_use]
    pub fn plain(space: Space) -> Self {
        Self::of_parts(space, ContainerEffect::Off, None, Vec::new(), Vec::new(), Vec::new())
    }

    /// Everything that the evidence can have: lots and treatments where there are several, a change of the fraction with warmth
    /// where three or more spots teach it, an offset for each level that `level_sd_c` calls unsure. Without a prior lots and
    /// treatments are taken together and levels as read: nothing would hold them.
    #[must_use]
    pub fn new(
        space: Space,
        containers: ContainerEffect,
        prior: &Prior,
        evidence: &[Evidence],
        level_sd_c: impl Fn(&Level) -> f64,
    ) -> Self {
        if prior.is_none() {
            return Self::of_parts(space, containers, None, Vec::new(), Vec::new(), Vec::new());
        }
        let levels = |of: fn(&Evidence) -> &Option<Name>| -> Vec<Option<Name>> {
            let levels: BTreeSet<&Option<Name>> = evidence.iter().map(of).collect();
            if levels.len() > 1 { levels.into_iter().cloned().collect() } else { Vec::new() }
        };
        let passages = || evidence.iter().flat_map(Evidence::passages);
        let warm = || passages().filter(|passage| passage.stretch.duration() > 0.0);
        let spots: BTreeSet<&Name> = warm().map(|passage| &passage.spot).collect();
        let levels_read: BTreeSet<&Level> = warm().map(|passage| &passage.level).collect();
        let thermal = space.shape != RateShape::Days;
        let means: Vec<f64> = evidence.iter().filter_map(Evidence::mean_c).collect();
        let teaches = thermal && spots.len() >= TELLING_SPOTS && means.len() >= TELLING_SPOTS;
        let centre_c = teaches.then(|| means.iter().sum::<f64>() / means.len() as f64);
        let offsets = levels_read.into_iter().filter(|_| thermal).map(|level| (level.clone(), level_sd_c(level)));
        let offsets = offsets.filter(|(_, sd)| *sd > 0.0).collect();
        Self::of_parts(space, containers, centre_c, levels(|e| &e.lot), levels(|e| &e.treatment), offsets)
    }

    /// A layout put together again from its parts.
    #[must_use]
    pub fn of_parts(
        space: Space,
        containers: ContainerEffect,
        centre_c: Option<f64>,
        lots: Vec<Option<Name>>,
        treatments: Vec<Option<Name>>,
        offsets: Vec<(Level, f64)>,
    ) -> Self {
        let mut coordinates = space.coordinates().to_vec();
        if containers == ContainerEffect::On {
            coordinates.extend([Coordinate::LnSpeedSd, Coordinate::LnFractionSd]);
        }
        coordinates.extend(centre_c.map(|_| Coordinate::FractionSlope));
        for lot in 0..lots.len() {
            coordinates.extend([Coordinate::Lot(lot, Added::Fraction), Coordinate::Lot(lot, Added::Requirement)]);
        }
        for treatment in 0..treatments.len() {
            let mut add = |added| coordinates.push(Coordinate::Treatment(treatment, added));
            add(Added::Fraction);
            add(Added::Requirement);
            if space.shape != RateShape::Days {
                add(Added::Base);
            }
        }
        coordinates.extend((0..offsets.len()).map(Coordinate::Offset));
        Self { space, containers, centre_c, lots, treatments, offsets, coordinates }
    }

    /// All coordinates in order.
    #[must_use]
    pub fn coordinates(&self) -> &[Coordinate] {
        &self.coordinates
    }

    /// Where a coordinate stands in a point; none where it is no part of the model.
    #[must_use]
    pub fn place_of(&self, which: Coordinate) -> Option<usize> {
        self.coordinates.iter().position(|coordinate| *coordinate == which)
    }

    /// The value of a coordinate at a point; 0 where it is no part of the model.
    pub(super) fn value(&self, point: &[f64], which: Coordinate) -> f64 {
        self.place_of(which).and_then(|at| point.get(at)).copied().unwrap_or(0.0)
    }

    /// Which level a lot is; none where lots have no effects or this one was not among those that taught.
    #[must_use]
    pub fn lot(&self, lot: Option<&Name>) -> Option<usize> {
        self.lots.iter().position(|level| level.as_ref() == lot)
    }

    /// Which level a treatment is.
    #[must_use]
    pub fn treatment(&self, treatment: Option<&Name>) -> Option<usize> {
        self.treatments.iter().position(|level| level.as_ref() == treatment)
    }

    /// Mean and standard deviation assumed for a coordinate beside the species' own.
    ///
    /// Lots and treatments of one species: 0.8 in logit fraction, 0.15 and 0.25 in ln requirement, 2 °C in the base; containers: about
    /// 0.06 in ln requirement and 0.3 in logit fraction, each within a factor of two; 0.1 in logit fraction per °C (spinach falls
    /// from 96 % at 5 °C to 28 % at 25 °C, 0.2 per °C: Harrington & Minges 1954). Chosen here, from memory of what trials show.
    #[must_use]
    pub fn normal(&self, which: Coordinate) -> Option<(f64, f64)> {
        Some(match which {
            Coordinate::LnSpeedSd => (0.06f64.ln(), 0.6),
            Coordinate::LnFractionSd => (0.3f64.ln(), 0.7),
            Coordinate::FractionSlope => (0.0, 0.1),
            Coordinate::Lot(_, Added::Fraction) | Coordinate::Treatment(_, Added::Fraction) => (0.0, FRACTION_SD),
            Coordinate::Lot(_, Added::Requirement) => (0.0, LOT_SPEED_SD),
            Coordinate::Treatment(_, Added::Requirement) => (0.0, TREATMENT_SPEED_SD),
            Coordinate::Lot(_, Added::Base) | Coordinate::Treatment(_, Added::Base) => (0.0, TREATMENT_BASE_SD_C),
            Coordinate::Offset(at) => (0.0, self.offsets.get(at)?.1),
            _ => return None,
        })
    }
}

/// Standard deviation of the logit fraction between lots, and between treatments.
pub(super) const FRACTION_SD: f64 = 0.8;
/// Of ln requirement between lots.
pub(super) const LOT_SPEED_SD: f64 = 0.15;
/// Of ln requirement between treatments.
pub(super) const TREATMENT_SPEED_SD: f64 = 0.25;
/// Of the base between treatments, °C.
pub(super) const TREATMENT_BASE_SD_C: f64 = 2.0;

/// Where coordinates stand in a point.
#[derive(Debug)]
pub(super) struct Places {
    pub(super) base: Option<usize>,
    pub(super) optimum: Option<usize>,
    pub(super) ln_fall: Option<usize>,
    pub(super) ln_half: usize,
    pub(super) ln_spread: usize,
    pub(super) logit: usize,
    pub(super) sds: Option<usize>,
    pub(super) slope: Option<usize>,
    pub(super) lots: usize,
    pub(super) treatments: usize,
    pub(super) treatment_width: usize,
    pub(super) offsets: usize,
}

impl Places {
    pub(super) fn of(layout: &Layout) -> Self {
        let own = |which| layout.place_of(which);
        let first = |found: &dyn Fn(&Coordinate) -> bool| layout.coordinates().iter().position(found).unwrap_or(0);
        Self {
            base: own(Coordinate::Base),
            optimum: own(Coordinate::Optimum),
            ln_fall: own(Coordinate::LnFall),
            ln_half: own(Coordinate::LnHalf).unwrap_or(0),
            ln_spread: own(Coordinate::LnSpread).unwrap_or(0),
            logit: own(Coordinate::LogitGerminable).unwrap_or(0),
            sds: own(Coordinate::LnSpeedSd),
            slope: own(Coordinate::FractionSlope),
            lots: first(&|which| matches!(which, Coordinate::Lot(..))),
            treatments: first(&|which| matches!(which, Coordinate::Treatment(..))),
            treatment_width: if layout.space.shape == RateShape::Days { 2 } else { 3 },
            offsets: first(&|which| matches!(which, Coordinate::Offset(_))),
        }
    }
}
