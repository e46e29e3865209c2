//! What the made-up seeds truly do.

use super::random::Stream;

/// One species: a tent-shaped rate and a log-logistic requirement.
///
/// # Formula
/// ```text
/// rate(T) = 0                                  T <= base or T >= ceiling           °C·d per day
///         = T - base                           base < T <= optimum
///         = (optimum - base) (ceiling - T) / (ceiling - optimum)   above
/// requirement of the seed at quantile u = half_requirement (u / (1 - u))^spread    °C·d
/// ```
#[derive(Debug, Clone, Copy, PartialEq)]
pub(crate) struct Species {
    pub(crate) name: &'static str,
    /// °C.
    pub(crate) base_c: f64,
    /// °C.
    pub(crate) optimum_c: f64,
    /// °C.
    pub(crate) ceiling_c: f64,
    /// °C·d that half of the germinable seeds need.
    pub(crate) half_requirement: f64,
    /// Logistic scale of the logarithm of the requirement.
    pub(crate) spread: f64,
    /// Share of seeds that would ever sprout.
    pub(crate) germinable: f64,
}

/// °C·d gathered per day at a temperature, by the formula of [`Species`].
pub(crate) fn tent(base_c: f64, optimum_c: f64, ceiling_c: f64, celsius: f64) -> f64 {
    if celsius <= base_c || celsius >= ceiling_c {
        0.0
    } else if celsius <= optimum_c {
        celsius - base_c
    } else {
        (optimum_c - base_c) * (ceiling_c - celsius) / (ceiling_c - optimum_c)
    }
}

impl Species {
    /// °C·d gathered per day at a temperature.
    pub(crate) fn rate(&self, celsius: f64) -> f64 {
        tent(self.base_c, self.optimum_c, self.ceiling_c, celsius)
    }

    /// The seeds of one box, each with the thermal time it needs; none for a seed that never sprouts. `slowness` is the box's
    /// own effect on the logarithm of the requirement, `soundness` the lot's on the logit of the germinable share.
    pub(crate) fn seeds(&self, count: u32, slowness: f64, soundness: f64, random: &mut Stream) -> Vec<Option<f64>> {
        let odds = self.germinable / (1.0 - self.germinable) * soundness.exp();
        (0..count)
            .map(|_| {
                let germinable = random.chance(odds / (1.0 + odds));
                let u = random.uniform();
                germinable.then(|| self.half_requirement * (u / (1.0 - u)).powf(self.spread) * slowness.exp())
            })
            .collect()
    }
}
