//! How fast seeds make progress at a temperature.

/// Thermal time gained per day at a temperature.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Rate {
    /// Days alone, whatever the temperature.
    Days,
    /// Linear above the base (Garcia-Huidobro, Monteith & Squire 1982, J. Exp. Bot. 33:288–296, eq. for T ≤ To).
    Threshold {
        /// Where progress starts, °C.
        base: f64,
    },
    /// Linear up to the optimum, then falling linearly to nothing at the ceiling (the same source: a sharp optimum in pearl
    /// millet, base and ceiling constant within the population).
    Tent {
        /// Where progress starts, °C.
        base: f64,
        /// Where it is fastest, °C.
        optimum: f64,
        /// Where it stops, °C.
        ceiling: f64,
    },
}

/// How thermal time changes with each cardinal temperature, in days.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Slopes {
    /// ∂Θ/∂base.
    pub base: f64,
    /// ∂Θ/∂optimum.
    pub optimum: f64,
    /// ∂Θ/∂ceiling.
    pub ceiling: f64,
}

impl Slopes {
    /// The sum of two.
    #[must_use]
    pub fn plus(&self, other: &Self) -> Self {
        Self { base: self.base + other.base, optimum: self.optimum + other.optimum, ceiling: self.ceiling + other.ceiling }
    }
}

impl Rate {
    /// The rate at a temperature, in °C·d per day (1 for [`Rate::Days`]).
    ///
    /// # Formula
    /// ```text
    /// threshold: r(T) = max(0, T − Tb)
    /// tent:      r(T) = T − Tb                       Tb < T ≤ To
    ///            r(T) = (To − Tb)(Tc − T)/(Tc − To)  To < T < Tc, else 0
    /// ```
    #[must_use]
    pub fn per_day(&self, celsius: f64) -> f64 {
        match *self {
            Self::Days => 1.0,
            Self::Threshold { base } => (celsius - base).max(0.0),
            Self::Tent { base, optimum, ceiling } => {
                if celsius <= optimum {
                    (celsius - base).max(0.0)
                } else {
                    ((optimum - base) * (ceiling - celsius) / (ceiling - optimum)).max(0.0)
                }
            }
        }
    }

    /// The rate with all its temperatures `by` °C higher.
    #[must_use]
    pub fn shifted(&self, by: f64) -> Self {
        match *self {
            Self::Days => Self::Days,
            Self::Threshold { base } => Self::Threshold { base: base + by },
            Self::Tent { base, optimum, ceiling } => Self::Tent { base: base + by, optimum: optimum + by, ceiling: ceiling + by },
        }
    }

    /// The rate with its base alone `by` °C higher; none where the base would reach the optimum.
    #[must_use]
    pub fn with_base_raised(&self, by: f64) -> Option<Self> {
        match *self {
            Self::Days => Some(Self::Days),
            Self::Threshold { base } => Some(Self::Threshold { base: base + by }),
            Self::Tent { base, optimum, ceiling } => {
                (base + by < optimum - 0.01).then_some(Self::Tent { base: base + by, optimum, ceiling })
            }
        }
    }

    /// The rate at a temperature with its slopes in the cardinal temperatures (°C·d per day, per °C).
    #[must_use]
    pub fn per_day_with_slopes(&self, celsius: f64) -> (f64, Slopes) {
        let slopes = match *self {
            Self::Threshold { base } | Self::Tent { base, .. } if celsius <= base => Slopes::default(),
            Self::Tent { ceiling, .. } if celsius >= ceiling => Slopes::default(),
            Self::Tent { base, optimum, ceiling } if celsius > optimum => {
                let (rise, fall, left) = (optimum - base, ceiling - optimum, ceiling - celsius);
                Slopes {
                    base: -left / fall,
                    optimum: left / fall + rise * left / (fall * fall),
                    ceiling: rise / fall - rise * left / (fall * fall),
                }
            }
            Self::Threshold { .. } | Self::Tent { .. } => Slopes { base: -1.0, ..Slopes::default() },
            Self::Days => Slopes::default(),
        };
        (self.per_day(celsius), slopes)
    }

    /// Where progress starts, °C; none on days alone.
    #[must_use]
    pub fn base(&self) -> Option<f64> {
        match *self {
            Self::Days => None,
            Self::Threshold { base } | Self::Tent { base, .. } => Some(base),
        }
    }

    /// Where progress is fastest, °C; only a tent has one.
    #[must_use]
    pub fn optimum(&self) -> Option<f64> {
        match *self {
            Self::Tent { optimum, .. } => Some(optimum),
            Self::Days | Self::Threshold { .. } => None,
        }
    }
}
