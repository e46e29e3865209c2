//! Several groups together: whether any of them differ.

use super::group::Sized;
use super::pair::Rules;
use super::verdict::WRONG;
use super::{Standing, Verdict, Why};
use crate::stats::chi_squared_above;

/// Whether any of several groups differ, boxes allowed to differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Overall {
    /// In how many sprout.
    pub fraction: Verdict,
    /// In how fast.
    pub speed: Verdict,
    /// Chance of so much difference in shares among all groups where there is none; none where nothing can be concluded.
    pub fraction_p: Option<f64>,
    /// The same of speed.
    pub speed_p: Option<f64>,
}

/// Groups that have not finished are left out; two at least must be left.
///
/// # Formula
/// ```text
/// shares:  Q = Σ (x_g − n_g p)² / (n_g p (1 − p) D_g)  against χ² with one degree of freedom less than groups
/// speed:   the smallest of the pairs' chances, adjusted for how many pairs there are: each allows for what the rate at a temperature may be
/// ```
pub(super) fn overall(groups: &[Sized<'_>], speed: &[Option<f64>], rules: &Rules<'_>) -> Overall {
    let finished: Vec<&Sized<'_>> = groups.iter().filter(|one| one.answer.standing == Standing::Finished).collect();
    if finished.len() < 2 {
        let why = Verdict::CannotTell(Why::StillWatched);
        return Overall { fraction: why, speed: why, fraction_p: None, speed_p: None };
    }
    let (fraction_p, speed_p) = (shares(&finished, rules), speed.iter().flatten().copied().reduce(f64::min));
    let verdict = |p: Option<f64>, otherwise: Why| match p {
        Some(p) if p <= WRONG => Verdict::Shown,
        Some(_) => Verdict::NotShown,
        None => Verdict::CannotTell(otherwise),
    };
    Overall { fraction: verdict(fraction_p, Why::NotCounted), speed: verdict(speed_p, Why::TooFewSprouts), fraction_p, speed_p }
}

fn shares(groups: &[&Sized<'_>], rules: &Rules<'_>) -> Option<f64> {
    let counted = groups.iter().filter_map(|one| Some((one, f64::from(one.answer.seeds?), f64::from(one.answer.counted_sprouts))));
    let counted: Vec<_> = counted.collect();
    let (seeds, sprouts) = counted.iter().fold((0.0, 0.0), |sum, (_, seeds, sprouts)| (sum.0 + seeds, sum.1 + sprouts));
    if counted.len() < 2 {
        return None;
    }
    let share = sprouts / seeds;
    if share <= 0.0 || share >= 1.0 {
        return Some(1.0);
    }
    let q = counted.iter().map(|(one, seeds, sprouts)| {
        let d = rules.boxes_differ.design_effect(&one.group.boxes, share);
        (sprouts - seeds * share).powi(2) / (seeds * share * (1.0 - share) * d)
    });
    Some(chi_squared_above(q.sum(), (counted.len() - 1) as f64))
}
