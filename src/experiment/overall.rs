//! Several groups together: whether any of them differ.

use super::group::Sized;
use super::pair::Rules;
use super::verdict::WRONG;
use super::{Clock, FEWEST_SPROUTS, Standing, Verdict, Why};
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
/// shares:  Q = Σ (x_g − n_g p)² / (n_g p (1 − p) D_g)
/// speed:   Q = Σ w_g (y_g − ȳ)²,  y = ln half,  1/w_g = se_g² + τ²/k_g,  ȳ the mean weighted by w
/// ```
/// each against χ² with one degree of freedom less than groups. In warmth only where it is known of all; what the rate at a temperature may be
/// is left out here, so the pairs, which have it, decide.
pub(super) fn overall(groups: &[Sized<'_>], rules: &Rules<'_>) -> Overall {
    let finished: Vec<&Sized<'_>> = groups.iter().filter(|one| one.answer.standing == Standing::Finished).collect();
    if finished.len() < 2 {
        let why = Verdict::CannotTell(Why::StillWatched);
        return Overall { fraction: why, speed: why, fraction_p: None, speed_p: None };
    }
    let (fraction_p, speed_p) = (shares(&finished, rules), speeds(&finished, rules));
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

fn speeds(groups: &[&Sized<'_>], rules: &Rules<'_>) -> Option<f64> {
    let clock = if groups.iter().all(|one| one.warmth.is_some()) { Clock::Warmth } else { Clock::Days };
    let told = groups.iter().filter(|one| one.answer.sprouted >= FEWEST_SPROUTS).filter_map(|one| {
        let curve = one.on(clock)?.curve?;
        let boxes = rules.boxes_differ.speed_sd().powi(2) / one.boxes_with_sprouts();
        Some((curve.ln_half, 1.0 / (curve.ln_half_se.powi(2) + boxes)))
    });
    let told: Vec<(f64, f64)> = told.collect();
    if told.len() < 2 {
        return None;
    }
    let weights: f64 = told.iter().map(|(_, weight)| weight).sum();
    let mean = told.iter().map(|(ln, weight)| ln * weight).sum::<f64>() / weights;
    Some(chi_squared_above(told.iter().map(|(ln, weight)| weight * (ln - mean).powi(2)).sum(), (told.len() - 1) as f64))
}
