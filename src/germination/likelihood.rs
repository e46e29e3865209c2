//! The likelihood of what was seen, seed by seed, each known only to have sprouted between two looks.

use super::{Coordinate, Distribution, Evidence, Needs, RemovedRule, Space};
use crate::thermal::{Rate, Slopes};

/// ln L of containers, taken to be alike.
///
/// # Formula
/// ```text
/// L = Π over containers  Πₖ [π (F(Θₖ) − F(Θₖ₋₁))]^nₖ · Πₖ Aₖ^mₖ · Πₖ (1 − π F(Θₖ))^lₖ · (1 − π F(Θ_K))^u
/// nₖ new sprouts at look k, mₖ removed unsprouted (A by the rule for removed seeds), lₖ lost, u left at the end;
/// seeds not counted: Πₖ [(F(Θₖ) − F(Θₖ₋₁)) / (F(Θ_K) − F(Θ₀))]^nₖ
/// seeds that came unsprouted out of another container with Θ₀ behind them: L / (1 − π F(Θ₀))^N
/// ```
/// Multinomial constant left out. Interval-censored time-to-event likelihood with a germinable fraction: Onofri, Mesgaran, Tei &
/// Cousens 2011, Weed Research 51:516–524; Onofri, Mesgaran & Ritz 2022, Weed Science ("A unified framework …").
#[derive(Debug, Clone, Copy)]
pub struct Likelihood<'a> {
    /// The containers.
    pub evidence: &'a [Evidence],
    /// Parameters and what they mean.
    pub space: Space,
    /// What a removed seed says.
    pub removed: RemovedRule,
}

/// Slopes of ln L with the parameters' natural pieces.
#[derive(Debug, Clone, Copy, Default)]
struct LnSlopes {
    rate: Slopes,
    ln_half: f64,
    ln_spread: f64,
    logit: f64,
}

/// A container's counts against thermal times already worked out: for asking many times with other requirement or fraction.
#[derive(Debug, Clone, Copy)]
pub struct Counts<'a> {
    /// The container.
    pub evidence: &'a Evidence,
    /// Thermal time at the end of each segment.
    pub reached: &'a [f64],
    /// Thermal time before the first.
    pub before: f64,
    /// What a removed seed says.
    pub removed: RemovedRule,
}

impl Likelihood<'_> {
    /// ln L at a point; −∞ where the point means nothing or what was seen could not have happened.
    #[must_use]
    pub fn at(&self, point: &[f64]) -> f64 {
        let Some(needs) = self.space.needs(point) else { return f64::NEG_INFINITY };
        let mut sum = 0.0;
        for evidence in self.evidence {
            let reached = evidence.thermal_times(&needs.rate);
            let before = evidence.thermal_before(&needs.rate);
            let counts = Counts { evidence, reached: &reached, before, removed: self.removed };
            sum += counts.ln_likelihood(self.space.distribution, needs.ln_half, needs.spread, needs.germinable);
            if sum == f64::NEG_INFINITY {
                break;
            }
        }
        sum
    }

    /// ln L and its gradient at a point where it is finite; none elsewhere.
    #[must_use]
    pub fn with_gradient(&self, point: &[f64]) -> Option<(f64, Vec<f64>)> {
        let needs = self.space.needs(point)?;
        let mut sum = 0.0;
        let mut slopes = LnSlopes::default();
        for evidence in self.evidence {
            sum += self.add_container(evidence, &needs, &mut slopes);
        }
        let gradient = self.space.coordinates().iter().map(|coordinate| match (coordinate, needs.rate) {
            (Coordinate::Base, _) => slopes.rate.base,
            // The ceiling moves with the optimum, since the fall between them is the coordinate.
            (Coordinate::Optimum, _) => slopes.rate.optimum + slopes.rate.ceiling,
            (Coordinate::LnFall, Rate::Tent { optimum, ceiling, .. }) => slopes.rate.ceiling * (ceiling - optimum),
            (Coordinate::LnFall, _) => 0.0,
            (Coordinate::LnHalf, _) => slopes.ln_half,
            (Coordinate::LnSpread, _) => slopes.ln_spread,
            (Coordinate::LogitGerminable, _) => slopes.logit,
        });
        sum.is_finite().then(|| (sum, gradient.collect()))
    }

    fn add_container(&self, evidence: &Evidence, needs: &Needs, total: &mut LnSlopes) -> f64 {
        let family = self.space.distribution;
        let (pi, spread) = (needs.germinable, needs.spread);
        let mut sum = 0.0;
        // Where the look before stands: thermal time, its slopes, z.
        let (mut reached, mut reached_slopes) = evidence.before.gained_with_slopes(&needs.rate);
        let mut z_before = (reached.ln() - needs.ln_half) / spread;
        let z_first = z_before;
        // Adds weight · ∂z of the present (or former) place to the slopes.
        let push = |total: &mut LnSlopes, weight: f64, z: f64, reached: f64, slopes: &Slopes| {
            if weight == 0.0 || z == f64::NEG_INFINITY {
                return;
            }
            let per_thermal = weight / (reached * spread);
            total.rate = total.rate.plus(&Slopes {
                base: per_thermal * slopes.base,
                optimum: per_thermal * slopes.optimum,
                ceiling: per_thermal * slopes.ceiling,
            });
            total.ln_half -= weight / spread;
            total.ln_spread -= weight * z;
        };
        // ln(1 − πF(z)) for `seeds` seeds.
        let unsprouted = |total: &mut LnSlopes, seeds: f64, z: f64, reached: f64, slopes: &Slopes| {
            let left = (1.0 - pi) + pi * rest_at(family, z);
            let density = if z == f64::NEG_INFINITY { 0.0 } else { family.ln_density(z).exp() };
            push(total, -seeds * pi * density / left, z, reached, slopes);
            total.logit -= seeds * pi * (1.0 - pi) * (1.0 - rest_at(family, z)) / left;
            seeds * left.ln()
        };
        if let Some(seeds) = evidence.seeds.filter(|_| z_first > f64::NEG_INFINITY) {
            sum += unsprouted(total, -f64::from(seeds), z_first, reached, &reached_slopes);
        }
        let (first, first_slopes) = (reached, reached_slopes);
        for segment in &evidence.segments {
            let (gain, gain_slopes) = segment.stretch.gained_with_slopes(&needs.rate);
            let (before, before_slopes) = (reached, reached_slopes);
            reached += gain;
            reached_slopes = reached_slopes.plus(&gain_slopes);
            let z = (reached.ln() - needs.ln_half) / spread;
            if segment.sprouted > 0 {
                let seeds = f64::from(segment.sprouted);
                let ln_between = family.ln_between(z_before, z);
                if ln_between == f64::NEG_INFINITY {
                    return f64::NEG_INFINITY;
                }
                sum += seeds * ln_between;
                push(total, seeds * (family.ln_density(z) - ln_between).exp(), z, reached, &reached_slopes);
                if z_before > f64::NEG_INFINITY {
                    push(total, -seeds * (family.ln_density(z_before) - ln_between).exp(), z_before, before, &before_slopes);
                }
                if evidence.seeds.is_some() {
                    sum += seeds * pi.ln();
                    total.logit += seeds * (1.0 - pi);
                }
            }
            if evidence.seeds.is_some() {
                if segment.removed > 0 {
                    sum += match self.removed {
                        RemovedRule::Dead => {
                            total.logit -= f64::from(segment.removed) * pi;
                            f64::from(segment.removed) * (1.0 - pi).ln()
                        }
                        RemovedRule::Censored => unsprouted(total, f64::from(segment.removed), z, reached, &reached_slopes),
                        RemovedRule::Rotted => unsprouted(total, f64::from(segment.removed), z_before, before, &before_slopes),
                    };
                }
                if segment.lost > 0 {
                    sum += unsprouted(total, f64::from(segment.lost), z, reached, &reached_slopes);
                }
            }
            z_before = z;
        }
        match evidence.left {
            Some(left) if left > 0 => sum += unsprouted(total, f64::from(left), z_before, reached, &reached_slopes),
            Some(_) => {}
            None => {
                let seeds = f64::from(evidence.sprouted());
                if seeds > 0.0 {
                    let ln_share = family.ln_between(z_first, z_before);
                    sum -= seeds * ln_share;
                    push(total, -seeds * (family.ln_density(z_before) - ln_share).exp(), z_before, reached, &reached_slopes);
                    if z_first > f64::NEG_INFINITY {
                        push(total, seeds * (family.ln_density(z_first) - ln_share).exp(), z_first, first, &first_slopes);
                    }
                }
            }
        }
        sum
    }
}

impl Counts<'_> {
    /// ln L of this container for a requirement and a fraction.
    #[must_use]
    pub fn ln_likelihood(&self, family: Distribution, ln_half: f64, spread: f64, germinable: f64) -> f64 {
        self.by_fraction(family, ln_half, spread, &[germinable])[0]
    }

    /// The same for several fractions at once: the shares F, which cost most, are worked out once.
    #[must_use]
    pub fn by_fraction(&self, family: Distribution, ln_half: f64, spread: f64, germinable: &[f64]) -> Vec<f64> {
        let mut sums = vec![0.0; germinable.len()];
        let mut add = |value: &dyn Fn(f64) -> f64| sums.iter_mut().zip(germinable).for_each(|(sum, pi)| *sum += value(*pi));
        let unsprouted = |seeds: f64, z: f64| {
            let rest = rest_at(family, z);
            move |pi: f64| seeds * ((1.0 - pi) + pi * rest).ln()
        };
        let counted = self.evidence.seeds.is_some();
        let first = (self.before.ln() - ln_half) / spread;
        let mut before = first;
        if let Some(seeds) = self.evidence.seeds.filter(|_| first > f64::NEG_INFINITY) {
            add(&unsprouted(-f64::from(seeds), first));
        }
        for (segment, reached) in self.evidence.segments.iter().zip(self.reached) {
            let z = (reached.ln() - ln_half) / spread;
            if segment.sprouted > 0 {
                let seeds = f64::from(segment.sprouted);
                let ln_between = family.ln_between(before, z);
                add(&|pi| seeds * (ln_between + if counted { pi.ln() } else { 0.0 }));
            }
            if counted && segment.removed > 0 {
                match self.removed {
                    RemovedRule::Dead => add(&|pi| f64::from(segment.removed) * (1.0 - pi).ln()),
                    RemovedRule::Censored => add(&unsprouted(f64::from(segment.removed), z)),
                    RemovedRule::Rotted => add(&unsprouted(f64::from(segment.removed), before)),
                }
            }
            if counted && segment.lost > 0 {
                add(&unsprouted(f64::from(segment.lost), z));
            }
            before = z;
        }
        match self.evidence.left {
            Some(0) => {}
            Some(left) => add(&unsprouted(f64::from(left), before)),
            None => {
                let seeds = f64::from(self.evidence.sprouted());
                if seeds > 0.0 {
                    let ln_share = family.ln_between(first, before);
                    add(&|_| -seeds * ln_share);
                }
            }
        }
        sums
    }
}

/// 1 − F(z), 1 before any warmth.
fn rest_at(family: Distribution, z: f64) -> f64 {
    if z == f64::NEG_INFINITY { 1.0 } else { family.rest(z) }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Event, Name};
    use crate::germination::{Prior, RateShape, Segment, Target};
    use crate::thermal::{Profile, Stretch};
    use proptest::prelude::*;

    /// Containers with swinging temperatures, sprouts, removed and lost seeds, one of them of uncounted seeds.
    fn evidence() -> impl Strategy<Value = Vec<Evidence>> {
        let segment = (prop::collection::vec((160i32..560, 0.1..1.0f64), 1..6), 0u32..4, 0u32..2, 0u32..2);
        let container =
            (prop::collection::vec(segment, 1..6), any::<bool>(), prop::collection::vec((160i32..300, 0.1..1.0f64), 0..3));
        prop::collection::vec(container, 1..4).prop_map(|containers| {
            containers
                .into_iter()
                .map(|(segments, counted, before)| {
                    let segments: Vec<Segment> = segments
                        .into_iter()
                        .map(|(pairs, sprouted, removed, lost)| Segment {
                            stretch: Stretch {
                                known: Profile::new(pairs.into_iter().map(|(s, d)| (f64::from(s) / 16.0, d))),
                                ..Stretch::default()
                            },
                            sprouted,
                            removed,
                            lost,
                        })
                        .collect();
                    let gone: u32 = segments.iter().map(|s| s.sprouted + s.removed + s.lost).sum();
                    Evidence {
                        container: Name::new("A").unwrap(),
                        lot: None,
                        treatment: None,
                        event: Event::Radicle,
                        seeds: counted.then_some(gone + 5),
                        left: counted.then_some(5),
                        before: Stretch {
                            known: Profile::new(before.into_iter().map(|(s, d)| (f64::from(s) / 16.0, d))),
                            ..Stretch::default()
                        },
                        segments,
                    }
                })
                .collect()
        })
    }

    proptest! {
        #[test]
        fn the_gradient_equals_central_differences(
            evidence in evidence(),
            family in prop::sample::select(vec![Distribution::LogLogistic, Distribution::LogNormal, Distribution::Weibull]),
            removed in prop::sample::select(vec![RemovedRule::Dead, RemovedRule::Censored, RemovedRule::Rotted]),
            point in (2.0..6.0f64, 20.0..30.0f64, 1.5..2.5f64, 2.5..4.5f64, -1.5..0.0f64, -1.0..2.0f64),
        ) {
            let space = Space { shape: RateShape::Tent, distribution: family };
            let target = Target { likelihood: Likelihood { evidence: &evidence, space, removed }, prior: Prior::General };
            // Off the sixteenths, so that no kink lies within a step.
            let off = |x: f64| (x * 16.0).floor() / 16.0 + 0.03;
            let optimum = off(point.1);
            let ceiling = off(optimum + point.2.exp());
            let point = vec![off(point.0), optimum, (ceiling - optimum).ln(), point.3, point.4, point.5];
            let Some((value, gradient)) = target.likelihood.with_gradient(&point) else { return Ok(()) };
            let plain = target.likelihood.at(&point);
            prop_assert!((value - plain).abs() < 1e-9 * value.abs().max(1.0), "{value} against {plain}");
            for at in 0..point.len() {
                let step = 1e-6;
                let moved = |by: f64| { let mut moved = point.clone(); moved[at] += by; target.likelihood.at(&moved) };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                prop_assert!((gradient[at] - difference).abs() < 1e-4 * gradient[at].abs().max(1.0), "{at}: {} against {difference}", gradient[at]);
            }
        }
    }

    /// Seeds taken out of a bag are counted once: the bag loses them, and their new box goes on from there.
    #[test]
    fn a_bag_and_the_box_filled_from_it_say_together_what_one_box_would() {
        let warm = |days: f64| Stretch { known: Profile::new([(18.0, days)]), ..Stretch::default() };
        let segment = |days, sprouted, lost| Segment { stretch: warm(days), sprouted, removed: 0, lost };
        let evidence = |seeds, before, segments: Vec<Segment>, left| Evidence {
            container: Name::new("A").unwrap(),
            lot: None,
            treatment: None,
            event: Event::Radicle,
            seeds: Some(seeds),
            left: Some(left),
            before,
            segments,
        };
        let space = Space { shape: RateShape::Threshold, distribution: Distribution::LogLogistic };
        let point = [5.0, 4.6, -1.8, 1.0];
        let value = |evidence: &[Evidence]| Likelihood { evidence, space, removed: RemovedRule::Dead }.at(&point);
        let whole = evidence(20, Stretch::default(), vec![segment(5.0, 2, 0), segment(3.0, 6, 0), segment(4.0, 4, 0)], 8);
        let bag = evidence(20, Stretch::default(), vec![segment(5.0, 2, 10), segment(3.0, 3, 0), segment(4.0, 2, 0)], 3);
        let taken = evidence(10, warm(5.0), vec![segment(3.0, 3, 0), segment(4.0, 2, 0)], 5);
        assert!((value(&[whole]) - value(&[bag, taken])).abs() < 1e-10);
    }
}
