//! A container's looks as the terms of its likelihood.

use super::distribution::Sides;
use super::{Distribution, Evidence, RemovedRule};

/// What was seen of one container, each seed known only to have sprouted between two looks, as terms over the places of its looks.
/// Place 0 stands before the first look, place k at look k; z at a place is (ln Θ − ln Θ½)/s.
///
/// # Formula
/// ```text
/// L = Πₖ [π (F(zₖ) − F(zₖ₋₁))]^nₖ · Πₖ Aₖ^mₖ · Πₖ (1 − π F(zₖ))^lₖ · (1 − π F(z_K))^u
/// nₖ new sprouts at look k, mₖ removed unsprouted (A by the rule for removed seeds), lₖ lost, u left at the end;
/// seeds not counted: Πₖ [(F(zₖ) − F(zₖ₋₁)) / (F(z_K) − F(z₀))]^nₖ
/// seeds that came unsprouted out of another container with Θ₀ behind them: L / (1 − π F(z₀))^N
/// ```
/// Multinomial constant left out. Interval-censored time-to-event likelihood with a germinable fraction: Onofri, Mesgaran, Tei &
/// Cousens 2011, Weed Research 51:516–524; Onofri, Mesgaran & Ritz 2022, Weed Science ("A unified framework …").
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Looks {
    between: Vec<Between>,
    /// (place, seeds) known not to have sprouted by a place; below 0 where the likelihood is conditional on it.
    unsprouted: Vec<(usize, f64)>,
    /// Sprouts, 0 where the seeds were not counted.
    sprouted: f64,
    /// Seeds that could never have sprouted.
    dead: f64,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Between {
    from: usize,
    to: usize,
    seeds: f64,
}

/// The likelihood with its first and second slopes in a common shift of all z, and in the logit of the fraction.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct Bend {
    pub(super) value: f64,
    pub(super) shift: f64,
    pub(super) logit: f64,
    pub(super) shift_twice: f64,
    pub(super) logit_twice: f64,
    pub(super) both: f64,
}

/// What does not depend on the fraction, worked out once for several of them.
#[derive(Debug, Clone, Default)]
pub(super) struct Shares {
    sides: Vec<Sides>,
    /// Slopes of ln of the share of each interval with sprouts, with z at its end and (turned round) at its beginning.
    pulls: Vec<(f64, f64)>,
    /// Σ seeds × ln of the share of the interval with sprouts.
    between: f64,
    /// 1 − F at each place of `unsprouted`.
    rests: Vec<f64>,
}

impl Looks {
    pub(super) fn new(evidence: &Evidence, removed: RemovedRule) -> Self {
        let mut looks = Self { between: Vec::new(), unsprouted: Vec::new(), sprouted: 0.0, dead: 0.0 };
        let counted = evidence.seeds.is_some();
        let mut unsprouted = vec![0.0; evidence.segments.len() + 1];
        for (at, segment) in evidence.segments.iter().enumerate() {
            if segment.sprouted > 0 {
                looks.between.push(Between { from: at, to: at + 1, seeds: f64::from(segment.sprouted) });
            }
            match removed {
                RemovedRule::Dead => looks.dead += f64::from(segment.removed),
                RemovedRule::Censored => unsprouted[at + 1] += f64::from(segment.removed),
                RemovedRule::Rotted => unsprouted[at] += f64::from(segment.removed),
            }
            unsprouted[at + 1] += f64::from(segment.lost);
        }
        let sprouted = f64::from(evidence.sprouted());
        let last = evidence.segments.len();
        unsprouted[last] += f64::from(evidence.left.unwrap_or(0));
        unsprouted[0] -= f64::from(evidence.seeds.unwrap_or(0));
        if counted {
            looks.sprouted = sprouted;
            looks.unsprouted = unsprouted.into_iter().enumerate().filter(|(_, seeds)| *seeds != 0.0).collect();
        } else {
            looks.dead = 0.0;
            if sprouted > 0.0 {
                looks.between.push(Between { from: 0, to: last, seeds: -sprouted });
            }
        }
        looks
    }

    /// The same over no more places than its terms stand on, with where those stood before: most looks find nothing new. Where nothing
    /// went before the first look, nobody asks about it.
    pub(super) fn on_places_that_matter(mut self, nothing_before: bool) -> (Self, Vec<usize>) {
        if nothing_before {
            self.unsprouted.retain(|(at, _)| *at > 0);
        }
        let mut places: Vec<usize> =
            self.between.iter().flat_map(|term| [term.from, term.to]).chain(self.unsprouted.iter().map(|(at, _)| *at)).collect();
        places.sort_unstable();
        places.dedup();
        let now_at = |place: usize| places.partition_point(|other| *other < place);
        for term in &mut self.between {
            (term.from, term.to) = (now_at(term.from), now_at(term.to));
        }
        self.unsprouted.iter_mut().for_each(|(at, _)| *at = now_at(*at));
        (self, places)
    }

    /// The part of ln L that does not depend on the fraction, at the places' z lowered by `shift`.
    pub(super) fn share(&self, family: Distribution, z: &[f64], shift: f64, shares: &mut Shares) {
        shares.sides.clear();
        shares.sides.extend(z.iter().map(|z| family.sides(z - shift)));
        shares.pulls.clear();
        shares.between = 0.0;
        for term in &self.between {
            let (ln_between, up, down) = family.between(&shares.sides[term.from], &shares.sides[term.to]);
            if ln_between == f64::NEG_INFINITY {
                shares.between = f64::NEG_INFINITY;
                return;
            }
            shares.pulls.push((up, down));
            shares.between += term.seeds * ln_between;
        }
        shares.rests.clear();
        shares.rests.extend(self.unsprouted.iter().map(|(at, _)| shares.sides[*at].rest));
    }

    /// ln L at a fraction, from shares worked out before.
    pub(super) fn at_fraction(&self, shares: &Shares, germinable: f64) -> f64 {
        if shares.between == f64::NEG_INFINITY {
            return f64::NEG_INFINITY;
        }
        let mut sum = shares.between;
        if self.sprouted > 0.0 {
            sum += self.sprouted * germinable.ln();
        }
        if self.dead > 0.0 {
            sum += self.dead * (1.0 - germinable).ln();
        }
        for ((_, seeds), rest) in self.unsprouted.iter().zip(&shares.rests) {
            sum += seeds * (1.0 - germinable + germinable * rest).ln();
        }
        sum
    }

    /// Adds `weight` times the slopes of ln L with z at each place to `slopes`, for the sprouts alone: they do not depend on the
    /// fraction.
    pub(super) fn add_sprouted_slopes(&self, shares: &Shares, weight: f64, slopes: &mut [f64]) {
        for (term, (up, down)) in self.between.iter().zip(&shares.pulls) {
            let seeds = weight * term.seeds;
            slopes[term.to] += seeds * up;
            slopes[term.from] -= seeds * down;
        }
    }

    /// The same for the unsprouted, at several fractions with their weights: Σ weight ∂ ln(1 − π F)/∂z.
    pub(super) fn add_unsprouted_slopes(&self, shares: &Shares, fractions: &[(f64, f64)], slopes: &mut [f64]) {
        for ((at, seeds), rest) in self.unsprouted.iter().zip(&shares.rests) {
            let pull: f64 = fractions.iter().map(|(weight, pi)| weight * pi / (1.0 - pi + pi * rest)).sum();
            slopes[*at] -= seeds * shares.sides[*at].density * pull;
        }
    }

    /// z at a place, as the shares were worked out.
    pub(super) fn z(shares: &Shares, place: usize) -> f64 {
        shares.sides[place].z
    }

    /// The slope of ln L with the logit of the fraction.
    pub(super) fn logit_slope(&self, shares: &Shares, germinable: f64) -> f64 {
        let rest = 1.0 - germinable;
        let unsprouted = self.unsprouted.iter().zip(&shares.rests);
        let unsprouted: f64 =
            unsprouted.map(|((_, seeds), above)| seeds * germinable * rest * (above - 1.0) / (rest + germinable * above)).sum();
        self.sprouted * rest - self.dead * germinable + unsprouted
    }

    /// ln L with first and second slopes, for Newton steps over a container's own effects; `shares` as worked out for it.
    pub(super) fn bend(&self, family: Distribution, shares: &Shares, germinable: f64) -> Bend {
        let mut bend = Bend { value: self.at_fraction(shares, germinable), ..Bend::default() };
        if bend.value == f64::NEG_INFINITY {
            return bend;
        }
        let (pi, q) = (germinable, germinable * (1.0 - germinable));
        let twice = |density: f64, sides: &Sides| if density == 0.0 { 0.0 } else { density * family.ln_density_slope(sides.z) };
        for (term, (up, down)) in self.between.iter().zip(&shares.pulls) {
            let (to, from, up, down) = (&shares.sides[term.to], &shares.sides[term.from], *up, *down);
            let slope = up - down;
            bend.shift += term.seeds * slope;
            bend.shift_twice += term.seeds * (twice(up, to) - twice(down, from) - slope * slope);
        }
        bend.logit = self.logit_slope(shares, pi);
        bend.logit_twice = -(self.sprouted + self.dead) * q;
        for ((at, seeds), rest) in self.unsprouted.iter().zip(&shares.rests) {
            let density = shares.sides[*at].density;
            let left = 1.0 - pi + pi * rest;
            let (shift, logit) = (-pi * density / left, q * (rest - 1.0) / left);
            bend.shift += seeds * shift;
            bend.shift_twice += seeds * (twice(shift, &shares.sides[*at]) - shift * shift);
            bend.logit_twice += seeds * (logit * (1.0 - 2.0 * pi) - logit * logit);
            bend.both -= seeds * density * q / (left * left);
        }
        bend
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn looks() -> impl Strategy<Value = Looks> {
        (prop::collection::vec((0u32..4, 0u32..3), 1..6), 0u32..4).prop_map(|(segments, dead)| {
            let between = segments.iter().enumerate().filter(|(_, s)| s.0 > 0);
            Looks {
                between: between.map(|(at, s)| Between { from: at, to: at + 1, seeds: f64::from(s.0) }).collect(),
                unsprouted: segments.iter().enumerate().map(|(at, s)| (at + 1, f64::from(s.1))).collect(),
                sprouted: segments.iter().map(|s| f64::from(s.0)).sum(),
                dead: f64::from(dead),
            }
        })
    }

    impl Looks {
        fn ln_likelihood(&self, family: Distribution, z: &[f64], germinable: f64) -> f64 {
            let mut shares = Shares::default();
            self.share(family, z, 0.0, &mut shares);
            self.at_fraction(&shares, germinable)
        }
    }

    proptest! {
        #[test]
        fn slopes_and_bends_equal_central_differences(looks in looks(), start in -4.0..0.0f64, step in 0.2..1.5f64, logit in -2.0..3.0f64) {
            for family in [Distribution::LogLogistic, Distribution::LogNormal, Distribution::Weibull] {
                let z = |shift: f64| (0..8).map(|at| if at == 0 { f64::NEG_INFINITY } else { (start + step * f64::from(at)).min(4.0 + 0.2 * f64::from(at)) + shift }).collect::<Vec<_>>();
                let value = |shift: f64, more: f64| looks.ln_likelihood(family, &z(shift), crate::stats::logistic(logit + more));
                let mut shares = Shares::default();
                looks.share(family, &z(0.0), 0.0, &mut shares);
                let bend = looks.bend(family, &shares, crate::stats::logistic(logit));
                let h = 1e-4;
                let close = |a: f64, b: f64| (a - b).abs() < 1e-4 * b.abs().max(1.0);
                prop_assert!(close(bend.value, value(0.0, 0.0)));
                prop_assert!(close(bend.shift, (value(h, 0.0) - value(-h, 0.0)) / (2.0 * h)), "{family:?}");
                prop_assert!(close(bend.logit, (value(0.0, h) - value(0.0, -h)) / (2.0 * h)), "{family:?}");
                prop_assert!(close(bend.shift_twice, (value(h, 0.0) - 2.0 * value(0.0, 0.0) + value(-h, 0.0)) / (h * h)), "{family:?} {bend:?}");
                prop_assert!(close(bend.logit_twice, (value(0.0, h) - 2.0 * value(0.0, 0.0) + value(0.0, -h)) / (h * h)), "{family:?}");
                prop_assert!(close(bend.both, (value(h, h) - value(h, -h) - value(-h, h) + value(-h, -h)) / (4.0 * h * h)), "{family:?}");
            }
        }
    }
}
