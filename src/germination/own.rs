//! How a container differs from the others of its species, judged by its own looks.

use super::{Counts, Distribution, Needs};
use crate::stats::{Dice, logistic, logit};

/// Standard deviation of ln requirement between containers and lots taken together: 0.06 and 0.15 added in squares, the means
/// of what is assumed for each.
pub(super) const SPEED_SD: f64 = 0.16;
/// Standard deviation of logit fraction between containers and lots: 0.3 and 0.8 added in squares.
pub(super) const FRACTION_SD: f64 = 0.85;

/// Nodes of speed and of fraction, from −2.6 to 2.6 standard deviations.
const SPEED_NODES: usize = 11;
const FRACTION_NODES: usize = 9;
const REACH: f64 = 2.6;

/// A container's own effects.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct OwnEffects {
    /// Added to ln of the half requirement: above 0 it is slower than its warmth explains.
    pub ln_requirement: f64,
    /// Added to the logit of the germinable fraction.
    pub fraction_logit: f64,
}

impl OwnEffects {
    /// One draw of a container's effects given its looks and the species' needs: both normal around 0 beforehand, weighed by the
    /// container's likelihood on a grid, and spread within the drawn cell.
    #[must_use]
    pub fn draw(counts: &Counts<'_>, family: Distribution, needs: &Needs, dice: &mut Dice) -> Self {
        let node = |at: usize, nodes: usize| REACH * (2.0 * at as f64 / (nodes - 1) as f64 - 1.0);
        let fractions: Vec<f64> =
            (0..FRACTION_NODES).map(|at| logistic(logit(needs.germinable) + FRACTION_SD * node(at, FRACTION_NODES))).collect();
        let mut heights = Vec::with_capacity(SPEED_NODES * FRACTION_NODES);
        for speed in 0..SPEED_NODES {
            let from_speed = node(speed, SPEED_NODES);
            let values = counts.by_fraction(family, needs.ln_half + SPEED_SD * from_speed, needs.spread, &fractions);
            heights.extend(values.iter().enumerate().map(|(at, value)| {
                let height = value - 0.5 * (from_speed.powi(2) + node(at, FRACTION_NODES).powi(2));
                if height.is_nan() { f64::NEG_INFINITY } else { height }
            }));
        }
        let most = heights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        if most == f64::NEG_INFINITY {
            // What was seen could not have happened under these needs: nothing can be said of the container itself.
            return Self { ln_requirement: SPEED_SD * dice.normal(), fraction_logit: FRACTION_SD * dice.normal() };
        }
        let weights: Vec<f64> = heights.iter().map(|height| (height - most).exp()).collect();
        let mut wanted = dice.uniform() * weights.iter().sum::<f64>();
        let cell = weights
            .iter()
            .position(|weight| {
                wanted -= weight;
                wanted < 0.0
            })
            .unwrap_or(weights.len() - 1);
        let mut within = |nodes: usize| (dice.uniform() - 0.5) * 2.0 * REACH / (nodes - 1) as f64;
        Self {
            ln_requirement: SPEED_SD * (node(cell / FRACTION_NODES, SPEED_NODES) + within(SPEED_NODES)),
            fraction_logit: FRACTION_SD * (node(cell % FRACTION_NODES, FRACTION_NODES) + within(FRACTION_NODES)),
        }
    }

    /// A species' needs as this container shows them.
    #[must_use]
    pub fn applied_to(&self, needs: &Needs) -> Needs {
        Needs {
            ln_half: needs.ln_half + self.ln_requirement,
            germinable: logistic(logit(needs.germinable) + self.fraction_logit),
            ..*needs
        }
    }
}
