//! What is assumed before any trial.

use super::{Coordinate, RateShape, Space};
use crate::stats::logit;
use crate::thermal::Rate;

/// An optimum less than this above the base is not considered, °C.
pub(super) const LEAST_RISE_C: f64 = 5.0;
/// A published base is trusted to this, °C: papers on one species differ by three or four degrees (lambsquarters 6.0 and 3.4,
/// pigweed 10.0 and 13.9: Wiese & Binning 1987, Weed Sci. 35:177–179; Šoštarčić et al. 2021, Agronomy 11:292).
const PUBLISHED_BASE_SD_C: f64 = 3.5;
/// And a published time to this, in ln days.
const PUBLISHED_LN_DAYS_SD: f64 = 0.4;
/// A packet's times are never taken as surer than this, in ln days.
const LEAST_PACKET_SD: f64 = 0.3;

/// Which assumptions go in.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Prior {
    /// None: plain maximum likelihood.
    None,
    /// Seeds in general, of garden and wild plants of temperate climates.
    #[default]
    General,
    /// A published table's base, and its days at a temperature.
    Published(Published),
    /// What the seed packet says of days at a temperature; its base from a published table, else general.
    Packet(Packet, Option<Published>),
}

/// A species' row of a published table. Base and time come from the same source: the two go together.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Published {
    /// Base, °C.
    pub base_c: f64,
    /// The source's own temperature, °C.
    pub at_c: f64,
    /// Days to half of the sprouts at it.
    pub days: f64,
    /// Author, year, title.
    pub source: &'static str,
}

/// "10–14 days at 21 °C, 80 % germination".
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Packet {
    /// Fewest days, to emergence.
    pub days_low: f64,
    /// Most days.
    pub days_high: f64,
    /// At this temperature, °C.
    pub at_c: f64,
    /// Share that is promised, 0 to 1; none where the packet does not say.
    pub fraction: Option<f64>,
}

/// A time known at one temperature: ln days ± sd.
#[derive(Debug, Clone, Copy)]
struct KnownTime {
    at_c: f64,
    ln_days: f64,
    sd: f64,
}

impl Prior {
    /// Nothing is assumed.
    #[must_use]
    pub fn is_none(&self) -> bool {
        *self == Self::None
    }

    /// Mean and standard deviation assumed for a coordinate (all normal); none: nothing assumed. For a half requirement given by
    /// a time at a temperature it is what that time makes of it around the assumed base.
    ///
    /// Base 6 ± 4 °C and optimum 27 ± 3 °C cover the spread of published base temperatures (−2 to 15 °C) and optima; half
    /// requirement e^(4.6 ± 1) = 100 °C·d within a factor of 2.7 (10 d on days alone: the same at 10 °C above the base); standard
    /// deviation of ln Θ 0.25 within a factor of 1.5; germinable fraction logit 0.8 ± 1.2 (about 0.4 to 0.9).
    #[must_use]
    pub fn normal(&self, space: &Space, which: Coordinate) -> Option<(f64, f64)> {
        if self.is_none() {
            return None;
        }
        Some(match which {
            Coordinate::Base => self.base(),
            Coordinate::Optimum => (27.0, 3.0),
            Coordinate::LnFall => (11f64.ln(), 0.3),
            Coordinate::LnHalf => match self.known_time() {
                Some(known) if space.shape == RateShape::Days => (known.ln_days, known.sd),
                Some(known) => {
                    let (base, sd) = self.base();
                    let rise = (known.at_c - base).max(1.0);
                    (known.ln_days + rise.ln(), known.sd.hypot(sd / rise))
                }
                None if space.shape == RateShape::Days => (10f64.ln(), 1.0),
                None => (4.6, 1.0),
            },
            Coordinate::LnSpread => ((0.25 * space.distribution.scale_of_unit_sd()).ln(), 0.4),
            Coordinate::LogitGerminable => match self {
                // A packet's share is of fresh seed in a laboratory: believed, but not narrowly.
                Self::Packet(Packet { fraction: Some(fraction), .. }, _) => (logit(fraction.clamp(0.05, 0.98)), 1.0),
                _ => (0.8, 1.2),
            },
            _ => return None,
        })
    }

    fn base(&self) -> (f64, f64) {
        match self {
            Self::Published(published) | Self::Packet(_, Some(published)) => (published.base_c, PUBLISHED_BASE_SD_C),
            _ => (6.0, 4.0),
        }
    }

    fn known_time(&self) -> Option<KnownTime> {
        match self {
            Self::None | Self::General => None,
            Self::Published(published) => {
                Some(KnownTime { at_c: published.at_c, ln_days: published.days.ln(), sd: PUBLISHED_LN_DAYS_SD })
            }
            Self::Packet(packet, _) => Some(KnownTime {
                at_c: packet.at_c,
                ln_days: 0.5 * (packet.days_low * packet.days_high).ln(),
                sd: LEAST_PACKET_SD.max(0.5 * (packet.days_high / packet.days_low).ln()),
            }),
        }
    }

    /// ln density at a point, up to a constant; −∞ where the optimum is less than 5 °C above the base, or where seeds would stand
    /// still at the temperature at which a source saw them sprout.
    ///
    /// # Formula
    /// ```text
    /// a time known at T:  ln Θ½ − ln r(T) ~ N(ln days, sd²)   (in place of a normal on ln Θ½)
    /// ```
    #[must_use]
    pub fn ln_density(&self, space: &Space, point: &[f64]) -> f64 {
        if self.is_none() {
            return 0.0;
        }
        if let (Some(base), Some(optimum)) = (space.place_of(Coordinate::Base), space.place_of(Coordinate::Optimum))
            && point[optimum] < point[base] + LEAST_RISE_C
        {
            return f64::NEG_INFINITY;
        }
        let given_time = self.time_at(space, point);
        let terms = space.coordinates().iter().zip(point).filter_map(|(which, at)| {
            if *which == Coordinate::LnHalf && given_time.is_some() {
                return None;
            }
            let (mean, sd) = self.normal(space, *which)?;
            Some(-0.5 * ((at - mean) / sd).powi(2))
        });
        let known = given_time.map_or(0.0, |(known, rate, ln_half)| {
            let per_day = rate.per_day(known.at_c);
            if per_day > 0.0 { -0.5 * ((ln_half - per_day.ln() - known.ln_days) / known.sd).powi(2) } else { f64::NEG_INFINITY }
        });
        known + terms.sum::<f64>()
    }

    /// Its gradient.
    #[must_use]
    pub fn gradient(&self, space: &Space, point: &[f64]) -> Vec<f64> {
        let by_time = self.time_at(space, point).map(|(known, rate, ln_half)| {
            let (per_day, slopes) = rate.per_day_with_slopes(known.at_c);
            let pull = -(ln_half - per_day.ln() - known.ln_days) / (known.sd * known.sd);
            (pull, pull / per_day, slopes, rate)
        });
        let slope = |(which, at): (&Coordinate, &f64)| {
            let normal = self.normal(space, *which).map_or(0.0, |(mean, sd)| (mean - at) / (sd * sd));
            let Some((pull, per_rate, slopes, rate)) = by_time else { return normal };
            match (which, rate) {
                (Coordinate::LnHalf, _) => pull,
                (Coordinate::Base, _) => normal - per_rate * slopes.base,
                (Coordinate::Optimum, _) => normal - per_rate * (slopes.optimum + slopes.ceiling),
                (Coordinate::LnFall, Rate::Tent { optimum, ceiling, .. }) => {
                    normal - per_rate * slopes.ceiling * (ceiling - optimum)
                }
                _ => normal,
            }
        };
        space.coordinates().iter().zip(point).map(slope).collect()
    }

    /// The known time with the rate and the half requirement at a point; none where no time is known.
    fn time_at(&self, space: &Space, point: &[f64]) -> Option<(KnownTime, Rate, f64)> {
        let known = self.known_time()?;
        let needs = space.needs(point)?;
        Some((known, needs.rate, needs.ln_half))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::germination::Distribution;
    use proptest::prelude::*;

    const TABLE: Published = Published { base_c: 7.5, at_c: 20.0, days: 8.0, source: "a table" };
    const PACKET: Packet = Packet { days_low: 6.0, days_high: 10.0, at_c: 33.0, fraction: Some(0.8) };

    proptest! {
        #[test]
        fn the_gradient_equals_central_differences(
            prior in prop::sample::select(vec![Prior::General, Prior::Published(TABLE), Prior::Packet(PACKET, None), Prior::Packet(PACKET, Some(TABLE))]),
            shape in prop::sample::select(vec![RateShape::Days, RateShape::Threshold, RateShape::Tent]),
            point in (0.0..12.0f64, 20.0..31.0f64, 1.5..3.0f64, 3.0..6.0f64, -3.0..0.0f64, -1.0..3.0f64),
        ) {
            let space = Space { shape, distribution: Distribution::LogLogistic };
            let tent = Space { shape: RateShape::Tent, ..space };
            let all = [point.0, point.1, point.2, point.3, point.4, point.5];
            let point: Vec<f64> = space.coordinates().iter().map(|which| all[tent.place_of(*which).unwrap()]).collect();
            prop_assume!(prior.ln_density(&space, &point).is_finite());
            // Off the edges of the tent, where the rate has kinks.
            prop_assume!(shape != RateShape::Tent || ((33.0 - all[1]).abs() > 0.01 && (all[1] + all[2].exp() - 33.0).abs() > 0.1 && (all[1] - 20.0).abs() > 0.01));
            let gradient = prior.gradient(&space, &point);
            for at in 0..point.len() {
                let moved = |by: f64| { let mut moved = point.clone(); moved[at] += by; prior.ln_density(&space, &moved) };
                let difference = (moved(1e-6) - moved(-1e-6)) / 2e-6;
                prop_assert!((gradient[at] - difference).abs() < 1e-4 * gradient[at].abs().max(1.0), "{at}: {} against {difference}", gradient[at]);
            }
        }
    }

    /// A packet's "10–14 days at 21 °C": half at √(10·14) = 11.8 d there, whatever the base.
    #[test]
    fn a_packet_speaks_of_days_at_its_own_temperature() {
        let space = Space { shape: RateShape::Threshold, distribution: Distribution::LogLogistic };
        let prior = Prior::Packet(Packet { days_low: 10.0, days_high: 14.0, at_c: 21.0, fraction: None }, None);
        let density = |base: f64, days: f64| prior.ln_density(&space, &[base, (days * (21.0 - base)).ln(), -2.0, 0.8]);
        let middle = 140f64.sqrt();
        for base in [2.0, 6.0, 10.0] {
            assert!(
                density(base, 11.0) < density(base, middle) && density(base, 12.8) < density(base, middle),
                "likeliest at any base"
            );
            let one_sd = density(base, middle * 0.3f64.exp()) - density(base, middle);
            assert!((one_sd + 0.5).abs() < 1e-9, "the least sd is a factor e^0.3");
        }
        assert_eq!(density(20.999, 0.0), f64::NEG_INFINITY);
        assert_eq!(prior.ln_density(&space, &[22.0, 3.0, -2.0, 0.8]), f64::NEG_INFINITY, "it would not sprout at 21 °C");
    }
}
