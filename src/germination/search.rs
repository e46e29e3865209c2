//! Finding the highest point of a log density: the only file that knows `argmin`.

use std::cell::RefCell;

use argmin::core::{CostFunction, Error, Executor, Gradient};
use argmin::solver::linesearch::BacktrackingLineSearch;
use argmin::solver::linesearch::condition::ArmijoCondition;
use argmin::solver::neldermead::NelderMead;
use argmin::solver::quasinewton::LBFGS;
use nalgebra::{DMatrix, DVector};

use crate::stats::parallel_map;

/// Two starts have found the same peak when their heights differ by less than this (in ln L).
const SAME_HEIGHT: f64 = 1e-3;
/// Steps of the quasi-Newton search; met searches end far below (30 to 80).
const MOST_STEPS: u64 = 300;
/// In many coordinates the search ends when a step gains less than this: far less than what draws can tell.
const LAST_GAIN: f64 = 1e-9;
/// A slope below this, in ln L a scaled step, is level.
const LEVEL: f64 = 1e-5;
/// A simplex in more coordinates than this creeps.
const SIMPLEX_REACHES: usize = 8;
/// Relative step of central differences of the gradient: the cube root of the rounding error, in scaled coordinates.
const DIFFERENCE: f64 = 1e-5;

/// A log density to climb.
pub trait Density: Sync {
    /// ln of the density up to a constant; −∞ where impossible.
    fn at(&self, point: &[f64]) -> f64;
    /// The same with its gradient; none where it is not finite.
    fn with_gradient(&self, point: &[f64]) -> Option<(f64, Vec<f64>)>;
    /// A step in each coordinate that matters about equally.
    fn scales(&self) -> Vec<f64>;
}

/// The highest point found.
#[derive(Debug, Clone, PartialEq)]
pub struct Peak {
    /// Where.
    pub point: Vec<f64>,
    /// ln density there.
    pub value: f64,
    /// From how many starts it was reached.
    pub reached_from: usize,
    /// Of how many that could be climbed from.
    pub starts: usize,
}

/// The target in the free coordinates, scaled, turned upside down: what a minimiser wants.
struct Downhill<'a> {
    target: &'a dyn Density,
    /// Where the held coordinates stand.
    anchor: Vec<f64>,
    free: Vec<usize>,
    scales: Vec<f64>,
    /// The gradient at the point asked about last: a search asks for both.
    slope: RefCell<Option<(Vec<f64>, Vec<f64>)>>,
    /// The highest point asked about and its cost: kept here, since a search that breaks off gives nothing back.
    lowest: RefCell<Option<(f64, Vec<f64>)>>,
}

impl Downhill<'_> {
    fn point(&self, scaled: &[f64]) -> Vec<f64> {
        let mut point = self.anchor.clone();
        for (at, value) in self.free.iter().zip(scaled) {
            point[*at] = value * self.scales[*at];
        }
        point
    }

    /// The curvature in the free coordinates.
    fn curved(&self, point: &[f64]) -> Option<DMatrix<f64>> {
        let curvature = curvature(self.target, point)?;
        let free = &self.free;
        Some(DMatrix::from_fn(free.len(), free.len(), |row, column| curvature[(free[row], free[column])]))
    }

    fn scaled(&self, point: &[f64]) -> Vec<f64> {
        self.free.iter().map(|at| point[*at] / self.scales[*at]).collect()
    }
}

impl CostFunction for &Downhill<'_> {
    type Param = Vec<f64>;
    type Output = f64;

    fn cost(&self, scaled: &Vec<f64>) -> Result<f64, Error> {
        // Where a step has shrunk to nothing before an edge, the next direction is 0/0, and the line search would halve it for
        // ever. (Met with a container that sprouted at 0 °C: the base climbs to just below that.)
        if scaled.iter().any(|value| !value.is_finite()) {
            return Err(Error::msg("the search has lost its direction"));
        }
        let point = self.point(scaled);
        let found = self.target.with_gradient(&point);
        let value = found.as_ref().map_or_else(|| self.target.at(&point), |(value, _)| *value);
        *self.slope.borrow_mut() = found.map(|(_, gradient)| (point.clone(), gradient));
        // Infinity outside the space is what the solvers here bear; not-a-number is not.
        let cost = if value.is_nan() { f64::INFINITY } else { -value };
        let mut lowest = self.lowest.borrow_mut();
        if lowest.as_ref().is_none_or(|(least, _)| cost < *least) {
            *lowest = Some((cost, point));
        }
        Ok(cost)
    }
}

impl Gradient for &Downhill<'_> {
    type Param = Vec<f64>;
    type Gradient = Vec<f64>;

    fn gradient(&self, scaled: &Vec<f64>) -> Result<Vec<f64>, Error> {
        let point = self.point(scaled);
        let kept = self.slope.borrow_mut().take().filter(|(at, _)| *at == point).map(|(_, gradient)| gradient);
        let gradient = kept.or_else(|| self.target.with_gradient(&point).map(|(_, gradient)| gradient));
        let gradient = gradient.unwrap_or_else(|| vec![0.0; self.anchor.len()]);
        Ok(self.free.iter().map(|at| -gradient[*at] * self.scales[*at]).collect())
    }
}

/// Climbs from each start and returns the highest point; `held` coordinates keep the value they have in the start. None where
/// no start has a finite density.
#[must_use]
pub fn highest(target: &dyn Density, starts: &[Vec<f64>], held: &[usize]) -> Option<Peak> {
    let starts: Vec<&Vec<f64>> = starts.iter().filter(|start| target.at(start).is_finite()).collect();
    let peaks: Vec<(f64, Vec<f64>)> = parallel_map(&starts, |start| {
        let point = climb(target, start, held);
        (target.at(&point), point)
    });
    let (value, point) = peaks.iter().max_by(|a, b| a.0.total_cmp(&b.0))?.clone();
    let reached_from = peaks.iter().filter(|peak| value - peak.0 < SAME_HEIGHT).count();
    Some(Peak { point, value, reached_from, starts: peaks.len() })
}

/// One climb: quasi-Newton steps, a simplex where they stop (the density has kinks where a recorded temperature is crossed),
/// quasi-Newton and Newton steps again for the last digits.
fn climb(target: &dyn Density, start: &[f64], held: &[usize]) -> Vec<f64> {
    let free = (0..start.len()).filter(|at| !held.contains(at)).collect();
    let downhill = Downhill {
        target,
        anchor: start.to_vec(),
        free,
        scales: target.scales(),
        slope: RefCell::default(),
        lowest: RefCell::default(),
    };
    let mut best = start.to_vec();
    if downhill.free.is_empty() {
        return best;
    }
    if downhill.free.len() > SIMPLEX_REACHES {
        // In so many coordinates only a prior makes a climb worth while, and it leaves nothing flat for a simplex to creep over.
        return higher(target, quasi_newton(&downhill, &best), best);
    }
    for round in 0..3 {
        let before = target.at(&best);
        for step in [quasi_newton, newton] {
            best = higher(target, step(&downhill, &best), best);
        }
        if level(&downhill, &best) || (round > 0 && target.at(&best) - before < 1e-9) {
            break;
        }
        best = higher(target, simplex(&downhill, &best), best);
    }
    best
}

/// The density is level at a point and curves down around it: a top that a simplex cannot better.
fn level(downhill: &Downhill<'_>, point: &[f64]) -> bool {
    let Some((_, gradient)) = downhill.target.with_gradient(point) else { return false };
    let steepest = downhill.free.iter().map(|at| (gradient[*at] * downhill.scales[*at]).abs()).fold(0.0, f64::max);
    steepest < LEVEL && downhill.curved(point).is_some_and(|matrix| matrix.cholesky().is_some())
}

fn higher(target: &dyn Density, found: Option<Vec<f64>>, best: Vec<f64>) -> Vec<f64> {
    found.filter(|found| target.at(found) > target.at(&best)).unwrap_or(best)
}

fn quasi_newton(downhill: &Downhill<'_>, from: &[f64]) -> Option<Vec<f64>> {
    let halving = BacktrackingLineSearch::new(ArmijoCondition::new(1e-4).ok()?).rho(0.5).ok()?;
    let last_gain = if downhill.free.len() > SIMPLEX_REACHES { LAST_GAIN } else { 1e-13 };
    let solver = LBFGS::new(halving, 7).with_tolerance_grad(1e-9).ok()?.with_tolerance_cost(last_gain).ok()?;
    let executor = Executor::new(downhill, solver).configure(|state| state.param(downhill.scaled(from)).max_iters(MOST_STEPS));
    // However it ended, what it found on the way counts.
    let _ = executor.run();
    downhill.lowest.take().map(|(_, point)| point)
}

fn simplex(downhill: &Downhill<'_>, from: &[f64]) -> Option<Vec<f64>> {
    let from = downhill.scaled(from);
    let mut corners = vec![from.clone()];
    for at in 0..from.len() {
        let mut corner = from.clone();
        corner[at] += 0.25;
        corners.push(corner);
    }
    let solver = NelderMead::new(corners).with_sd_tolerance(1e-9).ok()?;
    let steps = 120 * from.len() as u64;
    let _ = Executor::new(downhill, solver).configure(|state| state.max_iters(steps)).run();
    downhill.lowest.take().map(|(_, point)| point)
}

/// A few Newton steps, each taken only as far as it climbs.
fn newton(downhill: &Downhill<'_>, from: &[f64]) -> Option<Vec<f64>> {
    let target = downhill.target;
    let mut point = from.to_vec();
    for _ in 0..4 {
        let (value, gradient) = target.with_gradient(&point)?;
        let free = &downhill.free;
        let matrix = downhill.curved(&point)?;
        let slope = DVector::from_iterator(free.len(), free.iter().map(|at| gradient[*at]));
        let step = matrix.cholesky()?.solve(&slope);
        let mut next = point.clone();
        free.iter().zip(step.iter()).for_each(|(at, step)| next[*at] += step);
        if target.at(&next) <= value {
            break;
        }
        point = next;
    }
    Some(point)
}

/// The curvature (minus the matrix of second derivatives) at a point, by central differences of the gradient; none where the
/// density is not finite around it.
#[must_use]
pub fn curvature(target: &dyn Density, point: &[f64]) -> Option<DMatrix<f64>> {
    let scales = target.scales();
    let mut matrix = DMatrix::zeros(point.len(), point.len());
    for column in 0..point.len() {
        let step = DIFFERENCE * scales[column];
        let shifted = |by: f64| {
            let mut shifted = point.to_vec();
            shifted[column] += by;
            target.with_gradient(&shifted).map(|(_, gradient)| gradient)
        };
        let (up, down) = (shifted(step)?, shifted(-step)?);
        for row in 0..point.len() {
            matrix[(row, column)] = (down[row] - up[row]) / (2.0 * step);
        }
    }
    Some((&matrix + matrix.transpose()) * 0.5)
}
