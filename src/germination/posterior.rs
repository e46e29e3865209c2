//! Draws from what follows from evidence and assumptions together.

use super::sampler::{Length, sample};
use super::{Model, Needs};

/// Draws from the posterior.
#[derive(Debug, Clone, PartialEq)]
pub struct Draws {
    /// The draws' points, equally likely: the coordinates of the fit's layout, then, where containers differ, the own effects of each
    /// container that taught, speed and fraction, in standard deviations between containers.
    pub points: Vec<Vec<f64>>,
    /// How many independent draws the chains are worth in their worst coordinate.
    pub effective: f64,
}

/// Draws around a mode by Hamiltonian Monte Carlo, as many as are to be handed on taken evenly from the chains. None where the density
/// around the mode is not finite.
#[must_use]
pub fn draw(model: &Model, mode: &[f64], length: Length, seed: u64) -> Option<Draws> {
    let sampled = sample(model, mode, length, seed)?;
    let all: Vec<Vec<f64>> = sampled.chains.into_iter().flatten().collect();
    let kept = length.handed_on.min(all.len());
    // In single precision, as they are kept: what was kept gives the same answers to the last digit.
    let point = |at: usize| all[at * all.len() / kept].iter().map(|value| f64::from(*value as f32)).collect();
    let points = (0..kept).map(point).collect();
    Some(Draws { points, effective: sampled.effective })
}

impl Draws {
    /// The species' own needs in each draw: no lot, treatment or container added.
    #[must_use]
    pub fn needs(&self, space: &super::Space) -> Vec<Needs> {
        self.points.iter().filter_map(|point| space.needs(point)).collect()
    }
}
