//! Profile likelihood intervals: asymmetric where the evidence is.

use super::search::{Density, highest};
use crate::stats::normal_quantile;

/// How far from the peak an end is looked for, in units that double: beyond it the interval is open.
const MOST_DOUBLINGS: usize = 12;
/// An end is found when its height is within this of the cut, in ln L.
const CLOSE: f64 = 1e-6;

/// The ends of the profile likelihood interval of coordinate `at` at `level` (for example 0.9), searched for from the `peak` by
/// steps that begin at `first_step`; none on a side where the likelihood
/// never falls by the cut, so that the evidence sets no bound.
///
/// # Formula
/// ```text
/// all x with 2 (ln L(peak) − max over the other coordinates ln L(x, ·)) ≤ χ²₁(level)
/// ```
/// Likelihood ratio interval: Venzon & Moolgavkar 1988, Applied Statistics 37:87–94, https://doi.org/10.2307/2347496.
#[must_use]
pub fn profile_interval(target: &dyn Density, peak: &[f64], at: usize, first_step: f64, level: f64) -> (Option<f64>, Option<f64>) {
    let cut = 0.5 * normal_quantile(0.5 + 0.5 * level).powi(2);
    let top = target.at(peak);
    let side = |direction: f64| {
        let mut inside = peak.to_vec();
        let mut step = direction * first_step;
        for _ in 0..MOST_DOUBLINGS {
            let mut start = inside.clone();
            start[at] += step;
            match highest(target, &[start.clone()], &[at]).filter(|found| top - found.value <= cut) {
                Some(found) => inside = found.point,
                None => return Some(narrow(target, &inside, start[at], at, top - cut)),
            }
            step *= 2.0;
        }
        None
    };
    (side(-1.0), side(1.0))
}

/// Bisects between a point inside the interval and a value outside it.
fn narrow(target: &dyn Density, inside: &[f64], outside: f64, at: usize, height: f64) -> f64 {
    let (mut inside, mut outside) = (inside.to_vec(), outside);
    while (outside - inside[at]).abs() > 1e-7 * (1.0 + outside.abs()) {
        let middle = 0.5 * (inside[at] + outside);
        let mut start = inside.clone();
        start[at] = middle;
        match highest(target, &[start], &[at]).filter(|found| found.value >= height) {
            Some(found) => {
                let close = found.value - height < CLOSE;
                inside = found.point;
                if close {
                    break;
                }
            }
            None => outside = middle,
        }
    }
    inside[at]
}
