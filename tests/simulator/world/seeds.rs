//! What the seeds of a made-up bench truly need.

use crate::simulator::random::Stream;
use crate::simulator::truth::tent;

/// How ln of the requirement is spread from seed to seed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Family {
    LogNormal,
    LogLogistic,
}

/// What the seeds of one box need.
///
/// # Formula
/// ```text
/// rate(T) = T - base up to the optimum, falling in a straight line to 0 at the ceiling; 0 outside        °C·d per day
/// ln requirement = ln_half + spread_sd · e, e standard normal or logistic scaled to standard deviation 1
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Needs {
    pub(crate) base_c: f64,
    pub(crate) optimum_c: f64,
    pub(crate) ceiling_c: f64,
    /// ln of the °C·d that half of the germinable seeds need.
    pub(crate) ln_half: f64,
    /// Standard deviation of ln requirement between the seeds of a box.
    pub(crate) spread_sd: f64,
    pub(crate) family: Family,
    /// logit of the share that would ever sprout.
    pub(crate) logit_germinable: f64,
}

/// What makes seeds differ from their species.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(crate) struct Differs {
    pub(crate) ln_requirement: f64,
    pub(crate) logit_fraction: f64,
    pub(crate) base_c: f64,
}

/// A kind of species by the warmth it likes.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Likes {
    Cool,
    Warm,
    Middling,
}

/// Logistic distribution: scale where the standard deviation is 1.
const LOGISTIC_SCALE: f64 = 0.551_328_895_421_792; // √3/π

pub(crate) fn logistic(x: f64) -> f64 {
    1.0 / (1.0 + (-x).exp())
}

impl Needs {
    /// A species as chance makes it.
    pub(crate) fn made_up(likes: Likes, random: &mut Stream) -> Self {
        let (base, optimum, half) = match likes {
            Likes::Cool => (2.0, 21.0, 95.0_f64),
            Likes::Middling => (6.0, 25.0, 105.0),
            Likes::Warm => (10.0, 28.5, 110.0),
        };
        let optimum_c = optimum + random.normal(1.5);
        Self {
            base_c: base + random.normal(1.3),
            optimum_c,
            ceiling_c: optimum_c + 11.0 * random.normal(0.15).exp(),
            ln_half: half.ln() + random.normal(0.3),
            spread_sd: 0.22 * random.normal(0.3).exp(),
            family: if random.chance(0.5) { Family::LogNormal } else { Family::LogLogistic },
            logit_germinable: 1.3 + random.normal(0.7),
        }
    }

    pub(crate) fn with(self, differs: Differs) -> Self {
        Self {
            base_c: self.base_c + differs.base_c,
            ln_half: self.ln_half + differs.ln_requirement,
            logit_germinable: self.logit_germinable + differs.logit_fraction,
            ..self
        }
    }

    /// °C·d gathered per day at a temperature.
    pub(crate) fn rate(&self, celsius: f64) -> f64 {
        tent(self.base_c, self.optimum_c, self.ceiling_c, celsius)
    }

    pub(crate) fn germinable(&self) -> f64 {
        logistic(self.logit_germinable)
    }

    /// Share of the germinable seeds whose requirement is met by so many °C·d.
    pub(crate) fn share(&self, thermal: f64) -> f64 {
        if thermal <= 0.0 {
            return 0.0;
        }
        let z = (thermal.ln() - self.ln_half) / self.spread_sd;
        match self.family {
            Family::LogNormal => 0.5 * libm::erfc(-z * std::f64::consts::FRAC_1_SQRT_2),
            Family::LogLogistic => logistic(z / LOGISTIC_SCALE),
        }
    }

    /// One seed's requirement, °C·d; none for one that never sprouts.
    pub(crate) fn seed(&self, random: &mut Stream) -> Option<f64> {
        let germinable = random.chance(self.germinable());
        let apart = match self.family {
            Family::LogNormal => random.normal(1.0),
            Family::LogLogistic => {
                let u = random.uniform();
                LOGISTIC_SCALE * (u / (1.0 - u)).ln()
            }
        };
        germinable.then(|| (self.ln_half + self.spread_sd * apart).exp())
    }
}
