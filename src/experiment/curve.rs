//! When the seeds of one group sprouted, as a curve with as many numbers as a small trial can bear.

use super::Tally;
use crate::germination::{Density, curvature, highest};
use crate::stats::{ln_one_minus_exp, logistic, softplus};

/// Where the spread is looked for first: the scale of ln time for a standard deviation of a quarter (log-logistic: × √3/π), what
/// holds of seeds in general.
const USUAL_SPREAD: f64 = 0.138;
/// How loosely the spread is held to that, in ln: by a factor of e either way for two groups in three. A handful of sprouts found at one look
/// would otherwise have no spread at all.
const SPREAD_LN_SD: f64 = 1.0;
/// How loosely the logit of the fraction is held to 0: 2 in 100 to 98 in 100 are nothing unusual.
const LOGIT_SD: f64 = 2.5;
/// How loosely ln of the time is held to the middle of the sprouts: not at all, for what is met.
const LN_TIME_SD: f64 = 3.0;

/// A log-logistic curve with a share of seeds that never sprout, fitted to looks.
///
/// # Formula
/// ```text
/// sprouted by t:  π / (1 + e^−z),  z = (ln t − ln t½)/s
/// ln L = Σ n ln π(F(tₖ) − F(tₖ₋₁)) + m ln(1 − π) + Σ u ln(1 − π F(t))     n new sprouts, m rotten, u left or lost at t
/// boxes of uncounted seeds: Σ n ln(F(tₖ) − F(tₖ₋₁)) − N ln F(t_last)
/// ```
/// Interval-censored maximum likelihood with weak assumptions on s and π. A. Onofri, M. B. Mesgaran & C. Ritz 2022, "A unified framework for
/// the analysis of germination, emergence, and other time-to-event data in weed science", Weed Science 70:259–271,
/// <https://doi.org/10.1017/wsc.2022.8>.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Curve {
    /// ln of the time by which half of the seeds that will ever sprout have done so.
    pub ln_half: f64,
    /// Its standard error, seeds taken as independent.
    pub ln_half_se: f64,
    /// ln of the scale s.
    pub ln_spread: f64,
    /// Its standard error.
    pub ln_spread_se: f64,
    /// Share that will ever sprout.
    pub germinable: f64,
}

struct Target<'a> {
    tally: &'a Tally,
    middle: f64,
}

/// Fits the curve; none without a sprout, or where the looks contradict each other.
#[must_use]
pub fn curve(tally: &Tally) -> Option<Curve> {
    let sprouts = tally.sprouts();
    if sprouts <= 0.0 {
        return None;
    }
    // A window that begins at 0 has no middle on the scale of logarithms.
    let middle = |after: f64, until: f64| if after > 0.0 { 0.5 * (after.ln() + until.ln()) } else { (0.7 * until).ln() };
    let mean = tally.sprouted.iter().map(|(after, until, seeds)| seeds * middle(*after, *until)).sum::<f64>() / sprouts;
    let target = Target { tally, middle: mean };
    let unsprouted = tally.open.iter().map(|(_, seeds)| seeds).sum::<f64>() + tally.dead;
    let share = (sprouts + 0.5) / (sprouts + unsprouted + 1.0);
    let start = |spread: f64| vec![mean, spread.ln(), (share / (1.0 - share)).ln()];
    let peak = highest(&target, &[start(USUAL_SPREAD), start(2.5 * USUAL_SPREAD)], &[])?;
    let covariance = curvature(&target, &peak.point)?.cholesky()?.inverse();
    let error = |at: usize| covariance[(at, at)].sqrt();
    let [ln_half, ln_spread, logit] = peak.point[..] else { return None };
    Some(Curve { ln_half, ln_half_se: error(0), ln_spread, ln_spread_se: error(1), germinable: logistic(logit) })
}

impl Curve {
    /// Share of the seeds that ever sprout which have done so by a time.
    #[must_use]
    pub fn share(&self, time: f64) -> f64 {
        if time <= 0.0 { 0.0 } else { logistic((time.ln() - self.ln_half) / self.ln_spread.exp()) }
    }

    /// Chance that a seed not sprouted by a time does so yet.
    #[must_use]
    pub fn to_come(&self, time: f64) -> f64 {
        let by_then = self.germinable * self.share(time);
        (self.germinable - by_then) / (1.0 - by_then)
    }
}

/// ln F with its slope in z, and ln(1 − F) likewise.
fn sides(z: f64) -> [(f64, f64); 2] {
    [(-softplus(-z), logistic(-z)), (-softplus(z), -logistic(z))]
}

impl Density for Target<'_> {
    fn at(&self, point: &[f64]) -> f64 {
        self.with_gradient(point).map_or(f64::NEG_INFINITY, |(value, _)| value)
    }

    fn with_gradient(&self, point: &[f64]) -> Option<(f64, Vec<f64>)> {
        let [ln_half, ln_spread, logit] = point[..] else { return None };
        let spread = ln_spread.exp();
        let (ln_pi, ln_rest) = (-softplus(-logit), -softplus(logit));
        let pi = logistic(logit);
        let mut value = 0.0;
        let mut slope = [0.0; 3];
        let z = |time: f64| (time.ln() - ln_half) / spread;
        // A change of z by dz moves ln half by −s dz and ln s by −dz/z.
        let mut add_z = |z: f64, pull: f64| {
            slope[0] -= pull / spread;
            slope[1] -= pull * z;
        };
        let mut counted = 0.0;
        for &(after, until, seeds) in &self.tally.sprouted {
            let high = z(until);
            let [(ln_share, pull), _] = sides(high);
            value += seeds * ln_share;
            add_z(high, seeds * pull);
            if after > 0.0 {
                let low = z(after);
                let [_, (ln_above, pull)] = sides(low);
                value += seeds * (ln_above + ln_one_minus_exp(low - high));
                let between = 1.0 / (high - low).exp_m1();
                add_z(low, seeds * (pull - between));
                add_z(high, seeds * between);
            }
            counted += seeds;
        }
        for &(last, seeds) in &self.tally.uncounted {
            let last = z(last);
            let [(ln_share, pull), _] = sides(last);
            value -= seeds * ln_share;
            add_z(last, -seeds * pull);
            counted -= seeds;
        }
        let mut logit_slope = counted * (1.0 - pi) - self.tally.dead * pi;
        value += counted * ln_pi + self.tally.dead * ln_rest;
        for &(time, seeds) in &self.tally.open {
            let at = z(time);
            let above = logistic(-at);
            // 1 − π F = 1 − π + π (1 − F).
            let rest = 1.0 - pi + pi * above;
            value += seeds * rest.ln();
            add_z(at, -seeds * pi * above * (1.0 - above) / rest);
            logit_slope += seeds * pi * (1.0 - pi) * (above - 1.0) / rest;
        }
        slope[2] = logit_slope;
        let held = [(ln_half, self.middle, LN_TIME_SD), (ln_spread, USUAL_SPREAD.ln(), SPREAD_LN_SD), (logit, 0.0, LOGIT_SD)];
        for (slope, (at, mean, sd)) in slope.iter_mut().zip(held) {
            let off = (at - mean) / sd;
            value -= 0.5 * off * off;
            *slope -= off / sd;
        }
        value.is_finite().then(|| (value, slope.to_vec()))
    }

    fn scales(&self) -> Vec<f64> {
        vec![0.1, 0.3, 0.5]
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// 30 seeds, new sprouts 10, 15, 2, 1 at days 5, 10, 15, 20, 2 left: data printed in Onofri, Mesgaran & Ritz 2022 (Weed Science
    /// 70:259, introduction). Maximum likelihood without assumptions by scipy 1.17 (minimize, Nelder–Mead): π .944, median 5.876, scale
    /// .276; the weak assumptions here move each by less than a third of its standard error.
    #[test]
    fn published_counts_give_the_curve_that_an_outside_fit_gives() {
        let sprouted = vec![(0.0, 5.0, 10.0), (5.0, 10.0, 15.0), (10.0, 15.0, 2.0), (15.0, 20.0, 1.0)];
        let tally = Tally { sprouted, open: vec![(20.0, 2.0)], last: 20.0, ..Tally::default() };
        let found = curve(&tally).unwrap();
        assert!((found.ln_half.exp() - 5.876).abs() < 0.06, "{found:?}");
        assert!((found.ln_spread - 0.276_f64.ln()).abs() < found.ln_spread_se / 3.0, "{found:?}");
        assert!((found.germinable - 0.944).abs() < 0.02, "{found:?}");
        assert!((0.05..0.15).contains(&found.ln_half_se), "{found:?}");
    }

    #[test]
    fn a_single_look_with_all_sprouts_still_has_a_spread_and_an_error() {
        let tally = Tally { sprouted: vec![(7.0, 8.0, 5.0)], open: vec![(20.0, 5.0)], last: 20.0, ..Tally::default() };
        let found = curve(&tally).unwrap();
        assert!((2.0..2.08).contains(&found.ln_half) && found.ln_half_se > 0.02 && found.ln_spread > -4.0, "{found:?}");
        assert_eq!(curve(&Tally::default()), None);
    }

    proptest! {
        #[test]
        fn slopes_equal_central_differences(
            windows in prop::collection::vec((0u32..12, 1u32..6, 1u32..5), 1..6),
            (open, dead, uncounted) in (0u32..9, 0u32..3, 0u32..2),
            point in (0.5..3.0f64, -3.0..0.0f64, -2.0..3.0f64),
        ) {
            let window = |(after, long, seeds): (u32, u32, u32)| (f64::from(after), f64::from(after + long), f64::from(seeds));
            let sprouted: Vec<_> = windows.into_iter().map(window).collect();
            let tally = Tally { sprouted, open: vec![(20.0, f64::from(open)), (6.0, 1.0)], dead: f64::from(dead),
                uncounted: vec![(20.0, f64::from(uncounted))], last: 20.0 };
            let target = Target { tally: &tally, middle: 2.0 };
            let point = [point.0, point.1, point.2];
            let (_, slope) = target.with_gradient(&point).unwrap();
            for at in 0..3 {
                let step = 1e-5;
                let moved = |by: f64| { let mut moved = point; moved[at] += by; target.at(&moved) };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                prop_assert!((slope[at] - difference).abs() < 1e-4 * difference.abs().max(1.0), "{at}: {} {difference}", slope[at]);
            }
        }
    }
}
