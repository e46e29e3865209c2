//! What it takes to show a difference, and what a trial could have shown.

use super::BoxesDiffer;
use super::verdict::WRONG;
use crate::stats::seeds_for_difference_counted;

/// Four times in five, and nine in ten.
const POWERS: [f64; 2] = [0.8, 0.9];
/// Shares nearer to none or all than this are not planned for.
const EDGE: f64 = 0.02;

/// Seeds and boxes a group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// How often the difference is then shown, if it is there.
    pub power: f64,
    /// Seeds a group.
    pub seeds: u32,
    /// Boxes a group, of as many seeds as those compared had on the average.
    pub boxes: u32,
    /// Seeds a group, were boxes alike.
    pub seeds_if_alike: u32,
}

/// What it takes to show a wished difference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Needed {
    /// The difference, 0 to 1.
    pub difference: f64,
    /// For four times in five and for nine in ten.
    pub plans: [Plan; 2],
}

/// Two shares a difference apart around a middle, neither beyond the edges.
fn around(share: f64, difference: f64) -> (f64, f64) {
    let half = 0.5 * difference;
    let middle = share.clamp((EDGE + half).min(0.5), (1.0 - EDGE - half).max(0.5));
    ((middle - half).max(0.0), (middle + half).min(1.0))
}

/// What it takes to show a difference of shares around `share` with boxes of `per_box` seeds, by the rule that verdicts go by.
///
/// # Formula
/// ```text
/// n = D · n₀,  n₀ of the two-sided comparison of two shares at 1 in 40 with continuity correction,  D = 1 + (m − 1) ρ
/// ```
#[must_use]
pub fn needed(difference: f64, share: f64, per_box: f64, boxes_differ: &BoxesDiffer) -> Needed {
    let (low, high) = around(share, difference);
    let plan = |power: f64| {
        let alike = seeds_for_difference_counted(low, high, WRONG, power);
        let seeds = alike * boxes_differ.inflation(per_box, share);
        let boxes = (seeds / per_box).ceil();
        Plan { power, seeds: seeds.ceil() as u32, boxes: boxes as u32, seeds_if_alike: alike.ceil() as u32 }
    };
    Needed { difference, plans: POWERS.map(plan) }
}

/// The smallest difference that two groups of so many independent seeds each show four times in five, by whole points; none where not even
/// all against none is enough.
#[must_use]
pub fn smallest_shown(share: f64, (first, second): (f64, f64)) -> Option<f64> {
    // Two groups of unlike size tell as much as two of their harmonic mean.
    let seeds = 2.0 / (1.0 / first + 1.0 / second);
    let enough = |points: &u32| {
        let (low, high) = around(share, f64::from(*points) / 100.0);
        seeds_for_difference_counted(low, high, WRONG, POWERS[0]) <= seeds
    };
    (1..=100).find(enough).map(|points| f64::from(points) / 100.0)
}
