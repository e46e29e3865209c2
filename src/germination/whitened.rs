//! Coordinates in which a posterior is nearly a standard normal.

use nalgebra::{DMatrix, DVector, Matrix2, SymmetricEigen, Vector2};

use super::search::Density;
use super::{Coordinate, Model, model};
use crate::stats::{logistic, softplus};

/// The base and the half requirement as a chain walks in them: what a time at one temperature tells is days there, so in place of ln Θ½
/// stands ln Θ½ − ln(T − Tb), which goes with the base far less. (Where T nears Tb, T − Tb bends off to stay above 0; the volume
/// is the same in either.)
#[derive(Debug, Clone, Copy)]
struct Days {
    base: usize,
    ln_half: usize,
    at_c: f64,
}

impl Days {
    fn of(model: &Model) -> Option<Self> {
        let place = |which| model.layout.place_of(which);
        Some(Self { base: place(Coordinate::Base)?, ln_half: place(Coordinate::LnHalf)?, at_c: model.middle_c()? })
    }

    fn ln_rise(&self, base: f64) -> f64 {
        softplus(self.at_c - base).ln()
    }

    fn slope(&self, base: f64) -> f64 {
        -logistic(self.at_c - base) / softplus(self.at_c - base)
    }
}

/// The containers' own effects and the other coordinates, taken apart by the curvature around the mode.
///
/// # Formula
/// ```text
/// x_own = x₀ − K (x_rest − x₀) + R ζ_own,   x_rest = x₀ + M ζ_rest      ζ nearly N(0, I)
/// H = −∂² ln p at x₀ in blocks:  R Rᵀ = H_own⁻¹ (2 × 2 a container),  K = H_own⁻¹ H_own,rest,
/// M Mᵀ = (H_rest − H_rest,own K)⁻¹
/// ```
pub(super) struct Whitened<'m> {
    pub(super) model: &'m Model,
    days: Option<Days>,
    centre: Vec<f64>,
    /// How many coordinates are not containers' own effects.
    pub(super) rest: usize,
    spread: DMatrix<f64>,
    own: Vec<OwnBlock>,
}

struct OwnBlock {
    root: Matrix2<f64>,
    follows: DMatrix<f64>,
}

impl OwnBlock {
    /// Columns of `follows`: what the speed and the fraction follow a coordinate by.
    fn columns(&self) -> &[[f64; 2]] {
        self.follows.as_slice().as_chunks().0
    }
}

impl<'m> Whitened<'m> {
    /// Around a mode, own effects not among its coordinates; none where the density is not finite there.
    pub(super) fn new(model: &'m Model, mode: &[f64]) -> Option<Self> {
        let rest = mode.len();
        let size = model.joint_size();
        let mut centre = mode.to_vec();
        if size > rest {
            centre.extend(model.centres(mode)?.iter().flat_map(|centre| [centre.speed, centre.fraction]));
        }
        let days = Days::of(model);
        walked(days, &mut centre);
        let scales = model.scales();
        let gradient_at = |walked: &[f64]| {
            let (mut point, mut gradient) = (walked.to_vec(), vec![0.0; size]);
            density(model, days, &mut point, &mut gradient, &mut model::Room::default()).map(|_| gradient)
        };
        // Second derivatives by central differences of the gradient; where one end is impossible, by the other end alone.
        let here = gradient_at(&centre)?;
        let column = |places: &[usize], step: f64| {
            let moved = |by: f64| {
                let mut point = centre.clone();
                places.iter().for_each(|at| point[*at] += by);
                gradient_at(&point)
            };
            let (up, down) = (moved(step), moved(-step));
            let wide = if up.is_some() && down.is_some() { 2.0 * step } else { step };
            let (up, down) = (up.unwrap_or_else(|| here.clone()), down.unwrap_or_else(|| here.clone()));
            up.iter().zip(&down).map(|(up, down)| (down - up) / wide).collect::<Vec<f64>>()
        };
        let containers = (size - rest) / 2;
        // No container's own effects touch another's: all are moved at once.
        let own_columns: Vec<Vec<f64>> = if containers > 0 {
            [0, 1].map(|which| column(&(0..containers).map(|at| rest + 2 * at + which).collect::<Vec<_>>(), 1e-4)).into()
        } else {
            Vec::new()
        };
        let columns: Vec<Vec<f64>> = (0..rest).map(|at| column(&[at], 1e-4 * scales[at])).collect();
        let mut schur = DMatrix::from_fn(rest, rest, |row, at| 0.5 * (columns[at][row] + columns[row][at]));
        let own = (0..containers)
            .map(|container| {
                let first = rest + 2 * container;
                let block = Matrix2::from_fn(|row, at| 0.5 * (own_columns[at][first + row] + own_columns[row][first + at]));
                // The prior alone curves by 1.
                let eigen = block.symmetric_eigen();
                let inverse = eigen.eigenvectors
                    * Matrix2::from_diagonal(&eigen.eigenvalues.map(|value| 1.0 / value.max(0.5)))
                    * eigen.eigenvectors.transpose();
                let across = DMatrix::from_fn(2, rest, |row, at| columns[at][first + row]);
                let inverse_wide = DMatrix::from_fn(2, 2, |row, at| inverse[(row, at)]);
                let follows = &inverse_wide * &across;
                schur -= across.transpose() * &follows;
                let root = inverse.cholesky().map_or_else(Matrix2::identity, |cholesky| cholesky.l());
                OwnBlock { root, follows }
            })
            .collect();
        let spread = root_of_inverse(schur, &prior_widths(model));
        Some(Self { model, days, centre, rest, spread, own })
    }

    /// The same with the moments that draws have shown in place of the curvature at the mode, which a ridge that bends leaves behind.
    /// What stood before counts as so many draws as there are coordinates.
    pub(super) fn relearnt(&self, draws: &[&Vec<f64>]) -> Option<Self> {
        let (rest, before) = (self.rest, 2.0 * self.rest as f64);
        let count = draws.len() as f64;
        let draws: Vec<Vec<f64>> = draws
            .iter()
            .map(|draw| {
                let mut draw = (*draw).clone();
                walked(self.days, &mut draw);
                draw
            })
            .collect();
        let size = self.centre.len();
        let centre: Vec<f64> = (0..size).map(|at| draws.iter().map(|draw| draw[at]).sum::<f64>() / count).collect();
        let apart = DMatrix::from_fn(draws.len(), size, |row, at| draws[row][at] - centre[at]);
        let of_rest = apart.columns(0, rest);
        let was = &self.spread * self.spread.transpose();
        let covariance = (of_rest.tr_mul(&of_rest) + &was * before) / (count + before);
        let cholesky = covariance.clone().cholesky()?;
        let own = self.own.iter().enumerate().map(|(at, block)| {
            let mine = apart.columns(rest + 2 * at, 2);
            // x_own follows x_rest by −K: least squares on the draws and on what stood before.
            let across = (mine.tr_mul(&of_rest) - &block.follows * &was * before) / (count + before);
            let follows = -cholesky.solve(&across.transpose()).transpose();
            let left = mine + of_rest * follows.transpose();
            let root = block.root * block.root.transpose();
            let residual = left.tr_mul(&left);
            let scatter =
                Matrix2::from_fn(|row, column| (residual[(row, column)] + before * root[(row, column)]) / (count + before));
            OwnBlock { root: scatter.cholesky().map_or(block.root, |cholesky| cholesky.l()), follows }
        });
        Some(Self { model: self.model, days: self.days, centre, rest, spread: cholesky.l(), own: own.collect() })
    }

    /// Columns of `spread`.
    fn columns(&self) -> impl Iterator<Item = &[f64]> {
        self.spread.as_slice().chunks_exact(self.rest.max(1))
    }

    /// ζ of a point.
    pub(super) fn zeta(&self, point: &[f64]) -> Option<Vec<f64>> {
        let mut point = point.to_vec();
        walked(self.days, &mut point);
        let apart = DVector::from_fn(self.rest, |at, _| point[at] - self.centre[at]);
        let mut zeta: Vec<f64> = self.spread.clone().lu().solve(&apart)?.iter().copied().collect();
        for (at, block) in self.own.iter().enumerate() {
            let first = self.rest + 2 * at;
            let follows = &block.follows * &apart;
            let left = Vector2::from_fn(|row, _| point[first + row] - self.centre[first + row] + follows[row]);
            zeta.extend(block.root.solve_lower_triangular(&left)?.iter());
        }
        Some(zeta)
    }

    fn point(&self, zeta: &[f64], apart: &mut Vec<f64>, into: &mut Vec<f64>) {
        apart.clear();
        apart.resize(self.rest, 0.0);
        for (column, zeta) in self.columns().zip(zeta) {
            apart.iter_mut().zip(column).for_each(|(apart, spread)| *apart += spread * zeta);
        }
        into.clear();
        into.extend(self.centre[..self.rest].iter().zip(apart.iter()).map(|(centre, apart)| centre + apart));
        for (at, block) in self.own.iter().enumerate() {
            let first = self.rest + 2 * at;
            let own = block.root * Vector2::new(zeta[first], zeta[first + 1]);
            let (mut speed, mut fraction) = (0.0, 0.0);
            for (follows, apart) in block.columns().iter().zip(apart.iter()) {
                speed += follows[0] * apart;
                fraction += follows[1] * apart;
            }
            into.push(self.centre[first] - speed + own[0]);
            into.push(self.centre[first + 1] - fraction + own[1]);
        }
    }

    /// ln density at ζ, its point and its gradient in ζ.
    pub(super) fn at(&self, zeta: &[f64], room: &mut Room) -> Option<f64> {
        self.point(zeta, &mut room.rest, &mut room.point);
        room.raw.resize(room.point.len(), 0.0);
        let value = density(self.model, self.days, &mut room.point, &mut room.raw, &mut room.model)?;
        let rest = &mut room.rest;
        rest.copy_from_slice(&room.raw[..self.rest]);
        room.gradient.clear();
        room.gradient.resize(room.point.len(), 0.0);
        for (at, block) in self.own.iter().enumerate() {
            let first = self.rest + 2 * at;
            let pull = Vector2::new(room.raw[first], room.raw[first + 1]);
            for (rest, follows) in rest.iter_mut().zip(block.columns()) {
                *rest -= follows[0] * pull[0] + follows[1] * pull[1];
            }
            let own = block.root.transpose() * pull;
            room.gradient[first] = own[0];
            room.gradient[first + 1] = own[1];
        }
        for (slope, column) in room.gradient.iter_mut().zip(self.columns()) {
            *slope = column.iter().zip(rest.iter()).map(|(spread, rest)| spread * rest).sum();
        }
        room.gradient.iter().all(|slope| slope.is_finite()).then_some(value)
    }
}

/// A point of the model as a chain walks it.
fn walked(days: Option<Days>, point: &mut [f64]) {
    if let Some(days) = days {
        point[days.ln_half] -= days.ln_rise(point[days.base]);
    }
}

/// The joint density at a point as a chain walks it, which becomes the model's own, with the gradient in what the chain walks in.
fn density(model: &Model, days: Option<Days>, point: &mut [f64], gradient: &mut [f64], room: &mut model::Room) -> Option<f64> {
    if let Some(days) = days {
        point[days.ln_half] += days.ln_rise(point[days.base]);
    }
    let value = model.joint(point, gradient, room)?;
    if let Some(days) = days {
        gradient[days.base] += gradient[days.ln_half] * days.slope(point[days.base]);
    }
    Some(value)
}

/// The width that the prior gives each coordinate.
fn prior_widths(model: &Model) -> Vec<f64> {
    let layout = &model.layout;
    let width = |which: &super::Coordinate| {
        let species = || model.prior.normal(&layout.space, *which);
        layout.normal(*which).or_else(species).map_or(1.0, |(_, sd)| sd)
    };
    layout.coordinates().iter().map(width).collect()
}

/// M with M Mᵀ = H⁻¹. In units of the prior's width a curvature below 1 is a kink, or a shape that is far from a normal there: it is
/// taken as one half.
fn root_of_inverse(curvature: DMatrix<f64>, widths: &[f64]) -> DMatrix<f64> {
    let unit = DMatrix::from_diagonal(&DVector::from_column_slice(widths));
    let eigen = SymmetricEigen::new(&unit * curvature * &unit);
    let scale = eigen.eigenvalues.map(|value| 1.0 / if value.is_finite() { value.max(0.5).sqrt() } else { 1.0 });
    unit * eigen.eigenvectors * DMatrix::from_diagonal(&scale)
}

/// A point, and what was worked out there.
#[derive(Default)]
pub(super) struct Room {
    pub(super) point: Vec<f64>,
    raw: Vec<f64>,
    /// In ζ.
    pub(super) gradient: Vec<f64>,
    rest: Vec<f64>,
    model: model::Room,
}
