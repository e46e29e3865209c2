//! What one container's seeds need: the species' needs with its lot's, its treatment's and its own effects.

use super::layout::{FRACTION_SD, LOT_SPEED_SD, TREATMENT_BASE_SD_C, TREATMENT_SPEED_SD};
use super::space::Added;
use super::{Coordinate, Fit, Level, Needs, RateShape};
use crate::bench::{Container, Name};
use crate::stats::{Dice, logistic, logit, seed_of};

/// A container's needs in one draw.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct OwnNeeds {
    /// As this container has them.
    pub own: Needs,
    /// As any container of its lot and treatment would have them: its own effects 0.
    pub typical: Needs,
    /// ln of the factor on the requirement that only the container and its lot explain; above 0 it is slower than its warmth explains.
    pub ln_slower: f64,
}

impl Fit {
    /// A container's needs, draw by draw. Where its looks taught, they have been taken into account; a lot, treatment or container
    /// that did not is drawn from what is assumed of such. `mean_c`: how warm it stands, °C, for a fraction that changes with
    /// warmth. Empty where there are no draws.
    #[must_use]
    pub fn needs_of(&self, container: &Container, mean_c: Option<f64>) -> Vec<OwnNeeds> {
        let Some(draws) = &self.draws else { return Vec::new() };
        let layout = &self.layout;
        let first = layout.coordinates().len();
        let taught = self.trials.iter().position(|trial| trial.container == container.name);
        let mut lot = Factor::new(
            layout.lot(container.lot.as_ref()),
            self.trials.iter().any(|trial| trial.lot == container.lot) || self.trials.is_empty(),
            &format!("lot {}", container.lot.as_ref().map_or("", Name::as_str)),
        );
        let mut treatment = Factor::new(
            layout.treatment(container.treatment.as_ref()),
            self.trials.iter().any(|trial| trial.treatment == container.treatment) || self.trials.is_empty(),
            &format!("treatment {}", container.treatment.as_ref().map_or("", Name::as_str)),
        );
        let mut dice = Dice::new(seed_of(container.name.as_str()));
        let warmth = layout.centre_c.zip(mean_c).map_or(0.0, |(centre, mean)| mean - centre);
        let own_of = |point: &Vec<f64>| {
            let value = |which| layout.value(point, which);
            let species = layout.space.needs(point)?;
            let [lot_fraction, lot_speed] = lot.added(
                &|level| [value(Coordinate::Lot(level, Added::Fraction)), value(Coordinate::Lot(level, Added::Requirement))],
                [FRACTION_SD, LOT_SPEED_SD],
            );
            let base_sd = if layout.space.shape == RateShape::Days { 0.0 } else { TREATMENT_BASE_SD_C };
            let [fraction, speed, base] = treatment.added(
                &|level| {
                    let of = |added| value(Coordinate::Treatment(level, added));
                    [of(Added::Fraction), of(Added::Requirement), of(Added::Base)]
                },
                [FRACTION_SD, TREATMENT_SPEED_SD, base_sd],
            );
            let share = logit(species.germinable) + lot_fraction + fraction + value(Coordinate::FractionSlope) * warmth;
            let typical = Needs {
                rate: species.rate.with_base_raised(base).unwrap_or(species.rate),
                ln_half: species.ln_half + lot_speed + speed,
                germinable: logistic(share),
                ..species
            };
            let (own_speed, own_fraction) = match (layout.place_of(Coordinate::LnSpeedSd), taught) {
                (None, _) => (0.0, 0.0),
                (Some(at), taught) => {
                    let drawn = (dice.normal(), dice.normal());
                    let of = |taught: usize| Some((*point.get(first + 2 * taught)?, *point.get(first + 2 * taught + 1)?));
                    let (speed, fraction) = taught.and_then(of).unwrap_or(drawn);
                    (point[at].exp() * speed, point[at + 1].exp() * fraction)
                }
            };
            let own = Needs { ln_half: typical.ln_half + own_speed, germinable: logistic(share + own_fraction), ..typical };
            Some(OwnNeeds { own, typical, ln_slower: own_speed + lot_speed })
        };
        draws.points.iter().filter_map(own_of).collect()
    }

    /// What has to be added to the temperatures of a level, draw by draw, °C: as the fit found it where containers that taught rest on
    /// it, else drawn from `sd_c`.
    #[must_use]
    pub fn offsets_of(&self, level: &Level, sd_c: f64) -> Vec<f64> {
        let Some(draws) = &self.draws else { return Vec::new() };
        let known = self.layout.offsets.iter().position(|(other, _)| other == level);
        match known.and_then(|known| self.layout.place_of(Coordinate::Offset(known))) {
            Some(at) => draws.points.iter().map(|point| point[at]).collect(),
            None => {
                let mut dice = Dice::new(seed_of(&format!("level {level:?}")));
                draws.points.iter().map(|_| sd_c * dice.normal()).collect()
            }
        }
    }
}

/// A lot's or treatment's effects: those of a level that the fit knows, none where its factor has one level only, else new ones.
struct Factor {
    known: Option<usize>,
    dropped: bool,
    dice: Dice,
}

impl Factor {
    fn new(known: Option<usize>, taught: bool, seed: &str) -> Self {
        Self { known, dropped: known.is_none() && taught, dice: Dice::new(seed_of(seed)) }
    }

    fn added<const N: usize>(&mut self, of_level: &dyn Fn(usize) -> [f64; N], sds: [f64; N]) -> [f64; N] {
        match self.known {
            Some(level) => of_level(level),
            None if self.dropped => [0.0; N],
            None => sds.map(|sd| sd * self.dice.normal()),
        }
    }
}
