//! The whole model: what was seen of all containers, with lots, treatments, containers and probes told apart.

use super::ladder::Ladder;
use super::layout::Places;
use super::looks::{Looks, Shares};
use super::prior::LEAST_RISE_C;
use super::quadrature::{Centre, Nodes, Pull, Standing};
use super::search::Density;
use super::space::Added;
use super::{Coordinate, Evidence, Layout, Needs, Passage, Prior, RemovedRule};
use crate::stats::{logistic, parallel_map};
use crate::thermal::{Rate, Slopes};

/// Parts that containers are shared out in.
const PARTS: usize = 4;

/// ln posterior density of a species' containers, their own effects integrated out.
///
/// # Formula
/// ```text
/// logit π = α + lot + treatment + k (mean °C − centre) + σπ w       w ~ N(0, 1), each container's own
/// ln Θ½   = μ + lot + treatment + σs e                              e ~ N(0, 1)
/// Tb      = β + treatment,   temperature = as recorded + the offset of its probe, or of what is given
/// ln posterior = Σ over containers ln ∫∫ L φ(e) φ(w) de dw + ln prior
/// ```
#[derive(Debug)]
pub struct Model {
    /// Its coordinates.
    pub layout: Layout,
    /// What is assumed.
    pub prior: Prior,
    cases: Vec<Case>,
    at: Places,
    middle_c: Option<f64>,
}

/// One container, ready to be asked many times.
#[derive(Debug)]
struct Case {
    looks: Looks,
    /// The places of its looks.
    places: usize,
    /// The warmth that leads up to them.
    ladders: Vec<Ladder>,
    lot: Option<usize>,
    treatment: Option<usize>,
    /// Mean temperature above the centre, °C.
    warmth: f64,
}

/// What one container stands on at a point.
struct Ground {
    needs: Needs,
    logit: f64,
    speed_sd: f64,
    fraction_sd: f64,
}

/// Room to work in, so that nothing is allocated container by container.
#[derive(Debug, Default)]
pub(super) struct Room {
    z: Vec<f64>,
    reached: Vec<f64>,
    /// For each place the slope with the warmth that leads up to it from the place before.
    weights: Vec<f64>,
    pull: Pull,
    shares: Shares,
    nodes: Nodes,
}

impl Model {
    /// A model of containers that differ as `layout` says.
    #[must_use]
    pub fn new(evidence: &[Evidence], layout: Layout, removed: RemovedRule, prior: Prior) -> Self {
        let offset_of = |passage: &Passage| layout.offsets.iter().position(|(level, _)| *level == passage.level);
        let cases = evidence
            .iter()
            .map(|evidence| {
                let (looks, places) = Looks::new(evidence, removed).on_places_that_matter(evidence.before.is_empty());
                Case {
                    looks,
                    ladders: Ladder::leading_up_to(evidence, &places, offset_of),
                    places: places.len(),
                    lot: layout.lot(evidence.lot.as_ref()),
                    treatment: layout.treatment(evidence.treatment.as_ref()),
                    warmth: layout.centre_c.and_then(|centre| Some(evidence.mean_c()? - centre)).unwrap_or(0.0),
                }
            })
            .collect();
        let at = Places::of(&layout);
        let means: Vec<f64> = evidence.iter().filter_map(Evidence::mean_c).collect();
        let middle_c = (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64);
        Self { layout, prior, cases, at, middle_c }
    }

    /// Mean of the containers' mean temperatures, °C.
    pub(super) fn middle_c(&self) -> Option<f64> {
        self.middle_c
    }

    /// Containers that are alike, on the species' coordinates alone.
    #[must_use]
    pub fn plain(evidence: &[Evidence], space: super::Space, removed: RemovedRule, prior: Prior) -> Self {
        Self::new(evidence, Layout::plain(space), removed, prior)
    }

    /// ln of the likelihood, containers' own effects integrated out; −∞ where the point means nothing or what was seen could not have
    /// happened.
    #[must_use]
    pub fn ln_likelihood(&self, point: &[f64]) -> f64 {
        self.summed(point, None).unwrap_or(f64::NEG_INFINITY)
    }

    /// ln of what is assumed, up to a constant that does not depend on the point; −∞ where it excludes the point, as where the optimum is
    /// less than 5 °C above any treatment's base.
    #[must_use]
    pub fn ln_prior(&self, point: &[f64]) -> f64 {
        if self.prior.is_none() {
            return 0.0;
        }
        if let (Some(base), Some(optimum)) = (self.at.base, self.at.optimum) {
            let raised = |treatment: usize| point[self.at.treatments + self.at.treatment_width * treatment + 2];
            let bases = (0..self.layout.treatments.len()).map(|treatment| point[base] + raised(treatment));
            if bases.into_iter().any(|base| point[optimum] < base + LEAST_RISE_C) {
                return f64::NEG_INFINITY;
            }
        }
        let beside: f64 = self.beside(point).map(|(_, at, mean, sd)| -0.5 * ((at - mean) / sd).powi(2)).sum();
        beside + self.prior.ln_density(&self.layout.space, point)
    }

    /// The coordinates beside the species' own, with their values and what is assumed of them.
    fn beside<'p>(&'p self, point: &'p [f64]) -> impl Iterator<Item = (usize, f64, f64, f64)> + 'p {
        let own = self.layout.space.coordinates().len();
        self.layout.coordinates().iter().zip(point).enumerate().skip(own).filter_map(|(place, (which, at))| {
            let (mean, sd) = self.layout.normal(*which)?;
            Some((place, *at, mean, sd))
        })
    }

    fn add_prior_gradient(&self, point: &[f64], gradient: &mut [f64]) {
        if self.prior.is_none() {
            return;
        }
        self.prior.gradient(&self.layout.space, point).into_iter().zip(gradient.iter_mut()).for_each(|(more, at)| *at += more);
        for (place, at, mean, sd) in self.beside(point) {
            gradient[place] += (mean - at) / (sd * sd);
        }
    }

    /// What a container stands on, from what the species needs; none where the point means nothing to it.
    fn ground(&self, case: &Case, mut needs: Needs, point: &[f64]) -> Option<Ground> {
        let at = &self.at;
        let mut share = point[at.logit];
        if let Some(lot) = case.lot {
            share += point[at.lots + 2 * lot];
            needs.ln_half += point[at.lots + 2 * lot + 1];
        }
        if let Some(treatment) = case.treatment {
            let first = at.treatments + at.treatment_width * treatment;
            share += point[first];
            needs.ln_half += point[first + 1];
            if at.treatment_width == 3 {
                needs.rate = needs.rate.with_base_raised(point[first + 2])?;
            }
        }
        if let Some(slope) = at.slope {
            share += point[slope] * case.warmth;
        }
        let (speed_sd, fraction_sd) = at.sds.map_or((0.0, 0.0), |at| (point[at].exp(), point[at + 1].exp()));
        needs.germinable = logistic(share);
        Some(Ground { needs, logit: share, speed_sd, fraction_sd })
    }

    /// A ladder's rate: that of its container as its level's offset leaves it.
    fn rate(&self, ladder: &Ladder, ground: &Ground, point: &[f64]) -> Rate {
        let rate = &ground.needs.rate;
        ladder.offset.map_or(*rate, |offset| rate.shifted(-point[self.at.offsets + offset]))
    }

    /// Thermal time at the container's places and z there.
    fn reach(&self, case: &Case, ground: &Ground, point: &[f64], room: &mut Room) {
        let Room { z, reached, .. } = room;
        reached.clear();
        reached.resize(case.places, 0.0);
        case.ladders.iter().for_each(|ladder| ladder.add_gained(&self.rate(ladder, ground, point), reached));
        let mut sum = 0.0;
        for at in reached.iter_mut() {
            sum += *at;
            *at = sum;
        }
        z.clear();
        z.extend(reached.iter().map(|reached| (reached.ln() - ground.needs.ln_half) / ground.needs.spread));
    }

    fn standing<'s>(&self, case: &'s Case, ground: &Ground, z: &'s [f64]) -> Standing<'s> {
        Standing {
            looks: &case.looks,
            family: self.layout.space.distribution,
            z,
            spread: ground.needs.spread,
            logit: ground.logit,
            speed_sd: ground.speed_sd,
            fraction_sd: ground.fraction_sd,
        }
    }

    /// ln L over all containers, with its gradient where wanted; none where it is not finite.
    fn summed(&self, point: &[f64], gradient: Option<&mut [f64]>) -> Option<f64> {
        let needs = self.layout.space.needs(point)?;
        if self.at.sds.is_none() || self.cases.len() < PARTS {
            return self.summed_over(&self.cases, needs, point, gradient);
        }
        // Integrating takes long enough to be shared out; always in the same parts, for the same last digits.
        let parts: Vec<&[Case]> = self.cases.chunks(self.cases.len().div_ceil(PARTS)).collect();
        let wanted = gradient.as_ref().map_or(0, |gradient| gradient.len());
        let summed = parallel_map(&parts, |part| {
            let mut own = vec![0.0; wanted];
            let value = self.summed_over(part, needs, point, (wanted > 0).then_some(&mut own[..]))?;
            Some((value, own))
        });
        let mut sum = 0.0;
        let gradient = gradient.unwrap_or_default();
        for part in summed {
            let (value, own) = part?;
            sum += value;
            gradient.iter_mut().zip(own).for_each(|(slope, own)| *slope += own);
        }
        Some(sum)
    }

    fn summed_over(&self, cases: &[Case], needs: Needs, point: &[f64], mut gradient: Option<&mut [f64]>) -> Option<f64> {
        let mut room = Room::default();
        let mut sum = 0.0;
        for case in cases {
            let ground = self.ground(case, needs, point)?;
            self.reach(case, &ground, point, &mut room);
            let value = if self.at.sds.is_some() {
                let z = std::mem::take(&mut room.z);
                let pull = gradient.is_some().then_some(&mut room.pull);
                let value = self.standing(case, &ground, &z).integrated(&mut room.nodes, pull);
                room.z = z;
                value
            } else {
                self.alike(case, &ground, gradient.is_some(), &mut room)
            };
            if !value.is_finite() {
                return None;
            }
            sum += value;
            if let Some(gradient) = gradient.as_deref_mut() {
                self.push(case, &ground, point, &mut room, gradient);
            }
        }
        Some(sum)
    }

    /// A container without own effects.
    fn alike(&self, case: &Case, ground: &Ground, with_slopes: bool, room: &mut Room) -> f64 {
        let family = self.layout.space.distribution;
        let Room { z, pull, shares, .. } = room;
        case.looks.share(family, z, 0.0, shares);
        let value = case.looks.at_fraction(shares, ground.needs.germinable);
        if with_slopes && value.is_finite() {
            pull.z.clear();
            pull.z.resize(z.len(), 0.0);
            case.looks.add_sprouted_slopes(shares, 1.0, &mut pull.z);
            case.looks.add_unsprouted_slopes(shares, &[(1.0, ground.needs.germinable)], &mut pull.z);
            pull.ln_spread = -z.iter().zip(&pull.z).filter(|(_, slope)| **slope != 0.0).map(|(z, slope)| z * slope).sum::<f64>();
            pull.logit = case.looks.logit_slope(shares, ground.needs.germinable);
            (pull.ln_speed_sd, pull.ln_fraction_sd) = (0.0, 0.0);
        }
        value
    }

    /// Adds a container's slopes to the gradient of the coordinates.
    fn push(&self, case: &Case, ground: &Ground, point: &[f64], room: &mut Room, gradient: &mut [f64]) {
        let (at, spread) = (&self.at, ground.needs.spread);
        let Room { reached, weights, pull, .. } = room;
        let ln_half = -pull.z.iter().sum::<f64>() / spread;
        // Warmth moves all places after it.
        weights.clear();
        weights.resize(case.places, 0.0);
        let mut after = 0.0;
        for ((weight, slope), reached) in weights.iter_mut().zip(&pull.z).zip(reached.iter()).rev() {
            after += if *slope == 0.0 { 0.0 } else { slope / (reached * spread) };
            *weight = after;
        }
        let mut rate = Slopes::default();
        for ladder in &case.ladders {
            let slopes = ladder.slopes(&self.rate(ladder, ground, point), weights);
            rate = rate.plus(&slopes);
            if let Some(offset) = ladder.offset {
                gradient[at.offsets + offset] -= slopes.base + slopes.optimum + slopes.ceiling;
            }
        }
        gradient[at.ln_half] += ln_half;
        gradient[at.ln_spread] += pull.ln_spread;
        gradient[at.logit] += pull.logit;
        if let Some(place) = at.base {
            gradient[place] += rate.base;
        }
        if let (Some(optimum), Some(ln_fall), Rate::Tent { optimum: best, ceiling, .. }) =
            (at.optimum, at.ln_fall, ground.needs.rate)
        {
            // The ceiling moves with the optimum, since the fall between them is the coordinate.
            gradient[optimum] += rate.optimum + rate.ceiling;
            gradient[ln_fall] += rate.ceiling * (ceiling - best);
        }
        if let Some(sds) = at.sds {
            gradient[sds] += pull.ln_speed_sd;
            gradient[sds + 1] += pull.ln_fraction_sd;
        }
        if let Some(slope) = at.slope {
            gradient[slope] += pull.logit * case.warmth;
        }
        if let Some(lot) = case.lot {
            gradient[at.lots + 2 * lot] += pull.logit;
            gradient[at.lots + 2 * lot + 1] += ln_half;
        }
        if let Some(treatment) = case.treatment {
            let first = at.treatments + at.treatment_width * treatment;
            gradient[first] += pull.logit;
            gradient[first + 1] += ln_half;
            if at.treatment_width == 3 {
                gradient[first + 2] += rate.base;
            }
        }
    }

    /// The most likely own effects of each container at a point, in standard deviations; none where they cannot be found or there are
    /// none.
    pub(super) fn centres(&self, point: &[f64]) -> Option<Vec<Centre>> {
        let mut room = Room::default();
        self.at.sds?;
        let needs = self.layout.space.needs(point)?;
        let centre = |case: &Case| {
            let ground = self.ground(case, needs, point)?;
            self.reach(case, &ground, point, &mut room);
            self.standing(case, &ground, &room.z).centre(&mut room.shares)
        };
        self.cases.iter().map(centre).collect()
    }

    /// How many coordinates there are when the containers' own effects are among them: two a container after the others.
    pub(super) fn joint_size(&self) -> usize {
        self.layout.coordinates().len() + if self.at.sds.is_some() { 2 * self.cases.len() } else { 0 }
    }

    /// ln density of coordinates and own effects together, with its gradient; none where it is not finite.
    pub(super) fn joint(&self, point: &[f64], gradient: &mut [f64], room: &mut Room) -> Option<f64> {
        let own_from = self.layout.coordinates().len();
        let assumed = self.ln_prior(&point[..own_from]);
        if assumed == f64::NEG_INFINITY {
            return None;
        }
        gradient.fill(0.0);
        self.add_prior_gradient(&point[..own_from], &mut gradient[..own_from]);
        let mut sum = assumed;
        let needs = self.layout.space.needs(&point[..own_from])?;
        for (index, case) in self.cases.iter().enumerate() {
            let mut ground = self.ground(case, needs, point)?;
            let own = self.at.sds.map(|_| own_from + 2 * index);
            let (speed, fraction) = own.map_or((0.0, 0.0), |at| (point[at], point[at + 1]));
            ground.needs.ln_half += ground.speed_sd * speed;
            ground.logit += ground.fraction_sd * fraction;
            ground.needs.germinable = logistic(ground.logit);
            self.reach(case, &ground, point, room);
            let value = self.alike(case, &ground, true, room);
            if !value.is_finite() {
                return None;
            }
            sum += value - 0.5 * (speed * speed + fraction * fraction);
            let shift: f64 = -room.pull.z.iter().sum::<f64>() / ground.needs.spread;
            let (by_speed, by_fraction) = (shift * ground.speed_sd, room.pull.logit * ground.fraction_sd);
            (room.pull.ln_speed_sd, room.pull.ln_fraction_sd) = (by_speed * speed, by_fraction * fraction);
            self.push(case, &ground, point, room, gradient);
            if let Some(at) = own {
                gradient[at] = by_speed - speed;
                gradient[at + 1] = by_fraction - fraction;
            }
        }
        sum.is_finite().then_some(sum)
    }
}

impl Density for Model {
    fn at(&self, point: &[f64]) -> f64 {
        let assumed = self.ln_prior(point);
        if assumed == f64::NEG_INFINITY { assumed } else { assumed + self.ln_likelihood(point) }
    }

    fn with_gradient(&self, point: &[f64]) -> Option<(f64, Vec<f64>)> {
        let assumed = self.ln_prior(point);
        if assumed == f64::NEG_INFINITY {
            return None;
        }
        let mut gradient = vec![0.0; self.layout.coordinates().len()];
        let value = self.summed(point, Some(&mut gradient))?;
        self.add_prior_gradient(point, &mut gradient);
        Some((assumed + value, gradient))
    }

    /// A step in each coordinate that matters about equally: 2 °C, or a fifth in logarithms.
    fn scales(&self) -> Vec<f64> {
        let scale = |which: &Coordinate| match which {
            Coordinate::Base | Coordinate::Optimum => 2.0,
            Coordinate::Lot(_, Added::Base) | Coordinate::Treatment(_, Added::Base) => 1.0,
            Coordinate::Offset(_) => 0.5,
            Coordinate::FractionSlope => 0.05,
            _ => 0.2,
        };
        self.layout.coordinates().iter().map(scale).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Event, Name};
    use crate::germination::{ContainerEffect, Distribution, RateShape, Segment, Space};
    use crate::thermal::{Profile, Stretch};
    use proptest::prelude::*;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn warm(pairs: impl IntoIterator<Item = (i32, f64)>) -> Stretch {
        Stretch { known: Profile::new(pairs.into_iter().map(|(s, d)| (f64::from(s) / 16.0, d))), ..Stretch::default() }
    }

    /// Containers at two spots with swinging temperatures, sprouts, removed and lost seeds, some of uncounted seeds, of two lots and two
    /// treatments.
    fn evidence() -> impl Strategy<Value = Vec<Evidence>> {
        let segment = (prop::collection::vec((160i32..560, 0.1..1.0f64), 1..6), 0u32..4, 0u32..2, 0u32..2);
        let container = (
            prop::collection::vec(segment, 1..6),
            any::<bool>(),
            prop::collection::vec((160i32..300, 0.1..1.0f64), 0..3),
            0usize..8,
        );
        prop::collection::vec(container, 2..5).prop_map(|containers| {
            containers
                .into_iter()
                .map(|(segments, counted, before, which)| {
                    let spot = |at: usize| name(["sill", "mat"][(which + at / 2) % 2]);
                    let segments: Vec<Segment> = segments
                        .into_iter()
                        .enumerate()
                        .map(|(at, (pairs, sprouted, removed, lost))| Segment {
                            passages: vec![Passage::given(spot(at), warm(pairs))],
                            sprouted,
                            removed,
                            lost,
                        })
                        .collect();
                    let gone: u32 = segments.iter().map(|s| s.sprouted + s.removed + s.lost).sum();
                    Evidence {
                        container: name("A"),
                        lot: (which & 2 > 0).then(|| name("bought")),
                        treatment: (which & 4 > 0).then(|| name("soaked")),
                        event: Event::Radicle,
                        seeds: counted.then_some(gone + 5),
                        left: counted.then_some(5),
                        before: vec![Passage::given(name("bag"), warm(before))],
                        segments,
                    }
                })
                .collect()
        })
    }

    fn families() -> impl Strategy<Value = Distribution> {
        prop::sample::select(vec![Distribution::LogLogistic, Distribution::LogNormal, Distribution::Weibull])
    }

    /// Off the sixteenths, so that no kink lies within a step: offsets of whole sixteenths keep it so.
    fn point(model: &Model, seed: u64) -> Vec<f64> {
        let mut dice = crate::stats::Dice::new(seed);
        let off = |x: f64| (x * 16.0).floor() / 16.0 + 0.03;
        let optimum = off(24.0 + 4.0 * dice.uniform());
        model
            .layout
            .coordinates()
            .iter()
            .map(|which| {
                let u = dice.uniform();
                match which {
                    Coordinate::Base => off(2.0 + 4.0 * u),
                    Coordinate::Optimum => optimum,
                    Coordinate::LnFall => (off(optimum + 5.0 + 6.0 * u) - optimum).ln(),
                    Coordinate::LnHalf => 2.5 + 2.0 * u,
                    Coordinate::LnSpread => -1.5 + u,
                    Coordinate::LogitGerminable => -1.0 + 3.0 * u,
                    Coordinate::LnSpeedSd => -2.5 + u,
                    Coordinate::LnFractionSd => -1.0 + u,
                    Coordinate::FractionSlope => 0.1 * (u - 0.5),
                    Coordinate::Lot(..) | Coordinate::Treatment(_, Added::Fraction | Added::Requirement) => u - 0.5,
                    Coordinate::Treatment(..) | Coordinate::Offset(_) => (16.0 * (u - 0.5)).round() / 16.0,
                }
            })
            .collect()
    }

    fn close(found: f64, difference: f64, tolerance: f64) -> bool {
        (found - difference).abs() < tolerance * difference.abs().max(1.0)
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(64), ..ProptestConfig::with_cases(64) })]

        #[test]
        fn the_gradient_equals_central_differences(
            evidence in evidence(),
            family in families(),
            removed in prop::sample::select(vec![RemovedRule::Dead, RemovedRule::Censored, RemovedRule::Rotted]),
            containers in prop::sample::select(vec![ContainerEffect::On, ContainerEffect::Off]),
            seed in any::<u64>(),
        ) {
            let space = Space { shape: RateShape::Tent, distribution: family };
            let layout = Layout::new(space, containers, &Prior::General, &evidence, |_| 0.5);
            let model = Model::new(&evidence, layout, removed, Prior::General);
            let point = point(&model, seed);
            let Some((value, gradient)) = model.with_gradient(&point) else { return Ok(()) };
            let plain = Density::at(&model, &point);
            prop_assert!((value - plain).abs() < 1e-9 * value.abs().max(1.0), "{value} against {plain}");
            // Quadrature and its slopes are each as good as its nodes: close, not equal.
            let tolerance = if containers == ContainerEffect::On { 0.02 } else { 1e-4 };
            for at in 0..point.len() {
                let step = 1e-5;
                let moved = |by: f64| { let mut moved = point.clone(); moved[at] += by; Density::at(&model, &moved) };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                prop_assert!(close(gradient[at], difference, tolerance), "{:?}: {} against {difference}", model.layout.coordinates()[at], gradient[at]);
            }
        }

        #[test]
        fn the_joint_gradient_equals_central_differences(evidence in evidence(), family in families(), seed in any::<u64>()) {
            let space = Space { shape: RateShape::Tent, distribution: family };
            let layout = Layout::new(space, ContainerEffect::On, &Prior::General, &evidence, |_| 0.5);
            let model = Model::new(&evidence, layout, RemovedRule::Dead, Prior::General);
            let mut point = point(&model, seed);
            let mut dice = crate::stats::Dice::new(seed);
            point.extend((0..2 * evidence.len()).map(|_| dice.normal()));
            let mut gradient = vec![0.0; point.len()];
            let Some(value) = model.joint(&point, &mut gradient, &mut Room::default()) else { return Ok(()) };
            let mut unused = vec![0.0; point.len()];
            for at in 0..point.len() {
                let step = 1e-5;
                let mut moved = |by: f64| { let mut moved = point.clone(); moved[at] += by; model.joint(&moved, &mut unused, &mut Room::default()).unwrap_or(value) };
                let difference = (moved(step) - moved(-step)) / (2.0 * step);
                prop_assert!(close(gradient[at], difference, 1e-3), "{at}: {} against {difference}", gradient[at]);
            }
        }
    }

    /// Seeds taken out of a bag are counted once: the bag loses them, and their new box goes on from there.
    #[test]
    fn a_bag_and_the_box_filled_from_it_say_together_what_one_box_would() {
        let passages = |days: f64| vec![Passage::given(name("sill"), warm([(288, days)]))];
        let segment = |days, sprouted, lost| Segment { passages: passages(days), sprouted, removed: 0, lost };
        let evidence = |seeds, before, segments: Vec<Segment>, left| Evidence {
            container: name("A"),
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
        let value = |evidence: &[Evidence]| Model::plain(evidence, space, RemovedRule::Dead, Prior::None).ln_likelihood(&point);
        let whole = evidence(20, Vec::new(), vec![segment(5.0, 2, 0), segment(3.0, 6, 0), segment(4.0, 4, 0)], 8);
        let bag = evidence(20, Vec::new(), vec![segment(5.0, 2, 10), segment(3.0, 3, 0), segment(4.0, 2, 0)], 3);
        let taken = evidence(10, passages(5.0), vec![segment(3.0, 3, 0), segment(4.0, 2, 0)], 5);
        assert!((value(&[whole]) - value(&[bag, taken])).abs() < 1e-10);
    }
}
