//! Draws from what follows from evidence and assumptions together.

use nalgebra::{DMatrix, DVector, SymmetricEigen};

use super::search::{Target, curvature};
use super::{Coordinate, Needs};
use crate::stats::Dice;

/// Draws handed on.
const KEPT: usize = 1000;
/// Points proposed in each round.
const ROUND: usize = 1200;
/// Rounds at the most; it stops early once enough of the points count.
const MOST_ROUNDS: usize = 6;
/// Effective points that are enough to draw from.
const ENOUGH: f64 = 1500.0;
/// Degrees of freedom of the proposals: tails heavier than those they stand for.
const DEGREES: u32 = 5;
/// Moves that each kept draw makes at the end.
const MOVES: usize = 6;

/// Draws from the posterior.
#[derive(Debug, Clone, PartialEq)]
pub struct Draws {
    /// The draws' points in the space of the fit, equally likely.
    pub points: Vec<Vec<f64>>,
    /// The same as parameters.
    pub needs: Vec<Needs>,
    /// How many independent draws the weighted points were worth before the final moves.
    pub effective: f64,
}

/// One multivariate t proposal.
struct Proposal {
    centre: DVector<f64>,
    /// Lower triangle of the scale matrix.
    root: DMatrix<f64>,
    ln_scale: f64,
}

impl Proposal {
    fn new(centre: DVector<f64>, scale: DMatrix<f64>) -> Option<Self> {
        let root = scale.cholesky()?.l();
        let ln_scale = -root.diagonal().iter().map(|value| value.ln()).sum::<f64>();
        Some(Self { centre, root, ln_scale })
    }

    fn draw(&self, dice: &mut Dice) -> Vec<f64> {
        let normal = DVector::from_fn(self.centre.len(), |_, _| dice.normal());
        let stretch = (f64::from(DEGREES) / dice.chi_square(DEGREES)).sqrt();
        (&self.centre + &self.root * normal * stretch).iter().copied().collect()
    }

    /// ln density up to a constant shared by all proposals of one size.
    fn ln_density(&self, point: &[f64]) -> f64 {
        let apart = DVector::from_column_slice(point) - &self.centre;
        let square = self.root.solve_lower_triangular(&apart).map_or(f64::INFINITY, |solved| solved.norm_squared());
        let degrees = f64::from(DEGREES);
        self.ln_scale - 0.5 * (degrees + point.len() as f64) * (square / degrees).ln_1p()
    }
}

/// Draws by adaptive importance sampling: rounds of points from a t around the peak, then around what the weighted points
/// showed, all weighted against the mixture of the rounds' proposals (Cornuet, Marin, Mira & Robert 2012, "Adaptive multiple
/// importance sampling", Scandinavian Journal of Statistics 39:798–812, https://doi.org/10.1111/j.1467-9469.2011.00756.x), resampled, and
/// moved by a few Metropolis steps so that no draw is merely a copy of another (Gilks & Berzuini 2001, "Following a moving target",
/// J. R. Statist. Soc. B 63:127–146). None where not even the peak can be proposed from.
pub(super) fn draw(target: Target<'_>, peak: &[f64], seed: u64) -> Option<Draws> {
    let mut dice = Dice::new(seed);
    let mut proposals = vec![Proposal::new(DVector::from_column_slice(peak), first_scale(target, peak))?];
    let mut points: Vec<(Vec<f64>, f64)> = Vec::new();
    let mut weights = Vec::new();
    let mut effective = 0.0;
    for round in 0..MOST_ROUNDS {
        let proposal = proposals.last()?;
        for _ in 0..ROUND {
            let point = proposal.draw(&mut dice);
            let value = target.at(&point);
            points.push((point, value));
        }
        weights = weigh(&points, &proposals);
        effective = 1.0 / weights.iter().map(|weight| weight * weight).sum::<f64>();
        if effective >= ENOUGH || round + 1 == MOST_ROUNDS {
            break;
        }
        let (centre, scale) = moments(&points, &weights);
        proposals.extend(Proposal::new(centre, scale));
    }
    let mut kept: Vec<(Vec<f64>, f64)> = resample(&weights, dice.uniform()).into_iter().map(|at| points[at].clone()).collect();
    let (_, scale) = moments(&points, &weights);
    let stride = 2.38 / (peak.len() as f64).sqrt();
    if let Some(root) = scale.cholesky().map(|cholesky| cholesky.l() * stride) {
        for (point, value) in &mut kept {
            for _ in 0..MOVES {
                let step = &root * DVector::from_fn(point.len(), |_, _| dice.normal());
                let next: Vec<f64> = point.iter().zip(step.iter()).map(|(at, step)| at + step).collect();
                let height = target.at(&next);
                if dice.uniform().ln() < height - *value {
                    (*point, *value) = (next, height);
                }
            }
        }
    }
    let points: Vec<Vec<f64>> = kept.into_iter().map(|(point, _)| point).collect();
    let needs = points.iter().filter_map(|point| target.likelihood.space.needs(point)).collect();
    Some(Draws { points, needs, effective })
}

/// The inverse of the curvature at the peak, widened a little; a direction that is flat or even curves upwards there (a kink, or
/// evidence that says nothing) is given the width of the prior, or 1 in its own unit without one.
fn first_scale(target: Target<'_>, peak: &[f64]) -> DMatrix<f64> {
    let space = target.likelihood.space;
    let widths: Vec<f64> = space
        .coordinates()
        .iter()
        .map(|which| {
            let fallback = if matches!(which, Coordinate::Base | Coordinate::Optimum) { 4.0 } else { 1.0 };
            target.prior.normal(&space, *which).map_or(fallback, |(_, sd)| sd)
        })
        .collect();
    let unit = DMatrix::from_diagonal(&DVector::from_column_slice(&widths));
    // In units of the prior's width a curvature below 1 cannot be: the prior alone gives 1.
    let scaled = curvature(target, peak).map_or_else(|| DMatrix::identity(peak.len(), peak.len()), |matrix| &unit * matrix * &unit);
    let eigen = SymmetricEigen::new(scaled);
    let inverse =
        DMatrix::from_diagonal(&eigen.eigenvalues.map(|value| 1.2 / if value.is_finite() { value.max(0.5) } else { 1.0 }));
    let covariance = &eigen.eigenvectors * inverse * eigen.eigenvectors.transpose();
    &unit * covariance * &unit
}

/// Normalised weights of points against the equal mixture of the proposals.
fn weigh(points: &[(Vec<f64>, f64)], proposals: &[Proposal]) -> Vec<f64> {
    let ln_weights: Vec<f64> = points
        .iter()
        .map(|(point, value)| {
            if *value == f64::NEG_INFINITY {
                return *value;
            }
            let terms: Vec<f64> = proposals.iter().map(|proposal| proposal.ln_density(point)).collect();
            let most = terms.iter().copied().fold(f64::NEG_INFINITY, f64::max);
            value - most - terms.iter().map(|term| (term - most).exp()).sum::<f64>().ln()
        })
        .collect();
    let most = ln_weights.iter().copied().fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = ln_weights.iter().map(|ln_weight| (ln_weight - most).exp()).collect();
    let sum: f64 = weights.iter().sum();
    weights.into_iter().map(|weight| weight / sum).collect()
}

/// Weighted mean and covariance; a little is added to the diagonal so that it can always be factored.
fn moments(points: &[(Vec<f64>, f64)], weights: &[f64]) -> (DVector<f64>, DMatrix<f64>) {
    let size = points.first().map_or(0, |(point, _)| point.len());
    let mut centre = DVector::zeros(size);
    for ((point, _), weight) in points.iter().zip(weights) {
        centre += DVector::from_column_slice(point) * *weight;
    }
    let mut scale = DMatrix::from_diagonal_element(size, size, 1e-8);
    for ((point, _), weight) in points.iter().zip(weights).filter(|(_, weight)| **weight > 0.0) {
        let apart = DVector::from_column_slice(point) - &centre;
        scale += &apart * apart.transpose() * *weight;
    }
    (centre, scale)
}

/// Systematic resampling: which points are kept, each about as often as its weight says.
fn resample(weights: &[f64], offset: f64) -> Vec<usize> {
    let mut kept = Vec::with_capacity(KEPT);
    let (mut at, mut reached) = (0, weights.first().copied().unwrap_or(0.0));
    for draw in 0..KEPT {
        let wanted = (draw as f64 + offset) / KEPT as f64;
        while reached < wanted && at + 1 < weights.len() {
            at += 1;
            reached += weights[at];
        }
        kept.push(at);
    }
    kept
}
