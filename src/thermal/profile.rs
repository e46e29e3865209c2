//! Profiles: how long it was how warm. From one, thermal time above any temperature is a binary search, so a likelihood costs
//! the same with a thousand readings as with fifty million.

use std::collections::HashMap;

use super::Rate;

/// Values closer than this are one value: 1/10 000 °C, the step in which raw readings are kept.
const STEP: f64 = 1e-4;

/// The time spent at each temperature of a stretch of a record, summed from the hot end.
///
/// # Formula
/// ```text
/// A(x) = time spent above x                      [d]
/// H(x) = ∫ from x to ∞ of A = Σ dᵢ · max(0, vᵢ − x)   [°C·d], the thermal time above x
/// dᵢ   = days at value vᵢ
/// ```
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Profile {
    /// Distinct temperatures, °C, hottest first.
    values: Vec<f64>,
    /// `days[i]`: days at `values[..=i]`.
    days: Vec<f64>,
    /// `sums[i]`: Σ days × °C over `values[..=i]`.
    sums: Vec<f64>,
}

impl Profile {
    /// The profile of (°C, days) pairs, in any order, values repeated at will.
    #[must_use]
    pub fn new(spent: impl IntoIterator<Item = (f64, f64)>) -> Self {
        let mut at: HashMap<i64, f64> = HashMap::new();
        for (celsius, days) in spent {
            *at.entry((celsius / STEP).round() as i64).or_default() += days;
        }
        let mut pairs: Vec<(i64, f64)> = at.into_iter().filter(|(_, days)| *days > 0.0).collect();
        pairs.sort_unstable_by_key(|(value, _)| std::cmp::Reverse(*value));
        let mut profile = Self::default();
        let (mut days, mut sum) = (0.0, 0.0);
        for (value, spent) in pairs {
            let celsius = value as f64 * STEP;
            days += spent;
            sum += celsius * spent;
            profile.values.push(celsius);
            profile.days.push(days);
            profile.sums.push(sum);
        }
        profile
    }

    /// The (°C, days) pairs, hottest first.
    pub fn pairs(&self) -> impl Iterator<Item = (f64, f64)> {
        let before = std::iter::once(0.0).chain(self.days.iter().copied());
        self.values.iter().zip(&self.days).zip(before).map(|((value, until), before)| (*value, until - before))
    }

    /// Its numbers as they are: values in °C, hottest first; days at each and all hotter ones; Σ days × °C likewise.
    #[must_use]
    pub fn columns(&self) -> [&[f64]; 3] {
        [&self.values, &self.days, &self.sums]
    }

    /// The profile whose numbers these are; none where they are of none.
    #[must_use]
    pub fn from_columns([values, days, sums]: [Vec<f64>; 3]) -> Option<Self> {
        let alike = values.len() == days.len() && days.len() == sums.len();
        let ordered = values.is_sorted_by(|a, b| a > b) && days.is_sorted();
        let numbers = values.iter().chain(&days).chain(&sums).all(|number| number.is_finite());
        (alike && ordered && numbers).then_some(Self { values, days, sums })
    }

    /// Days in all.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.days.last().copied().unwrap_or(0.0)
    }

    /// Mean temperature in °C; none for an empty profile.
    #[must_use]
    pub fn mean(&self) -> Option<f64> {
        self.sums.last().map(|sum| sum / self.duration())
    }

    /// Days spent strictly above `x` °C.
    #[must_use]
    pub fn days_above(&self, x: f64) -> f64 {
        self.last_above(x).map_or(0.0, |at| self.days[at])
    }

    /// Thermal time above `x` °C, in °C·d.
    #[must_use]
    pub fn thermal_above(&self, x: f64) -> f64 {
        self.last_above(x).map_or(0.0, |at| (self.sums[at] - x * self.days[at]).max(0.0))
    }

    fn last_above(&self, x: f64) -> Option<usize> {
        self.values.partition_point(|value| *value > x).checked_sub(1)
    }

    /// Thermal time by `rate` with every temperature raised by `shift` °C, in °C·d (days for [`Rate::Days`]).
    #[must_use]
    pub fn gained(&self, rate: &Rate, shift: f64) -> f64 {
        match *rate {
            Rate::Days => self.duration(),
            Rate::Threshold { base } => self.thermal_above(base - shift),
            Rate::Tent { base, optimum, ceiling } => {
                let rho = (optimum - base) / (ceiling - optimum);
                let hinge = |x: f64| self.thermal_above(x - shift);
                Self::without_crumbs(hinge(base) - (1.0 + rho) * hinge(optimum) + rho * hinge(ceiling), self.duration())
            }
        }
    }

    /// A sum of hinges that should be 0 comes out as a crumb of rounding, which would count as warmth: ln of it is finite.
    pub(crate) fn without_crumbs(thermal: f64, days: f64) -> f64 {
        if thermal > 1e-10 * days { thermal } else { 0.0 }
    }
}

/// A stretch of a container's life: what was measured (or set) and what had to be guessed.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Stretch {
    /// Temperatures from usable readings or a setting.
    pub known: Profile,
    /// The middle guess where there were none.
    pub guessed: Profile,
    /// How far below the middle guess the truth may lie, °C, averaged over the guessed time.
    pub guess_below_c: f64,
    /// How far above.
    pub guess_above_c: f64,
    /// Days for which nothing could even be guessed.
    pub unknown_days: f64,
}

impl Stretch {
    /// Days in all, unknown ones left out.
    #[must_use]
    pub fn duration(&self) -> f64 {
        self.known.duration() + self.guessed.duration()
    }

    /// Thermal time when known temperatures are `shift` °C higher and the guesses stand at `guess` between their bounds
    /// (−1 the lowest, 0 the middle, 1 the highest).
    #[must_use]
    pub fn gained(&self, rate: &Rate, shift: f64, guess: f64) -> f64 {
        let known = self.known.gained(rate, shift);
        if self.guessed.values.is_empty() {
            return known;
        }
        let reach = if guess < 0.0 { self.guess_below_c } else { self.guess_above_c };
        known + self.guessed.gained(rate, shift + guess * reach)
    }

    /// This stretch and another as one.
    #[must_use]
    pub fn joined(&self, other: &Self) -> Self {
        let weights = (self.guessed.duration(), other.guessed.duration());
        let mean = |a: f64, b: f64| {
            let days = weights.0 + weights.1;
            if days > 0.0 { (a * weights.0 + b * weights.1) / days } else { 0.0 }
        };
        Self {
            known: Profile::new(self.known.pairs().chain(other.known.pairs())),
            guessed: Profile::new(self.guessed.pairs().chain(other.guessed.pairs())),
            guess_below_c: mean(self.guess_below_c, other.guess_below_c),
            guess_above_c: mean(self.guess_above_c, other.guess_above_c),
            unknown_days: self.unknown_days + other.unknown_days,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn temperatures() -> impl Strategy<Value = Vec<(f64, f64)>> {
        prop::collection::vec((-160i32..720, 0.0..3.0f64), 1..200)
            .prop_map(|pairs| pairs.into_iter().map(|(sixteenths, days)| (f64::from(sixteenths) / 16.0, days)).collect())
    }

    fn rates() -> impl Strategy<Value = Rate> {
        (-5.0..15.0f64, 5.0..20.0f64, 2.0..20.0f64).prop_flat_map(|(base, rise, fall)| {
            prop_oneof![
                Just(Rate::Threshold { base }),
                Just(Rate::Tent { base, optimum: base + rise, ceiling: base + rise + fall }),
                Just(Rate::Days),
            ]
        })
    }

    proptest! {
        /// The stated error: 1e-9 · max(Θ, 1 °C × duration) against direct summation.
        #[test]
        fn thermal_time_equals_direct_summation(pairs in temperatures(), rate in rates(), shift in -2.0..2.0f64) {
            let direct: f64 = pairs.iter().map(|(celsius, days)| rate.per_day(celsius + shift) * days).sum();
            let duration: f64 = pairs.iter().map(|(_, days)| days).sum();
            let fast = Profile::new(pairs).gained(&rate, shift);
            prop_assert!((fast - direct).abs() <= 1e-9 * direct.max(duration), "{fast} against {direct}");
        }

        #[test]
        fn profiles_add(pairs in temperatures(), cut in 0usize..200, rate in rates()) {
            let (first, second) = pairs.split_at(cut.min(pairs.len()));
            let stretch = |pairs: &[(f64, f64)]| Stretch { known: Profile::new(pairs.iter().copied()), ..Stretch::default() };
            let (whole, parts) = (stretch(&pairs), [stretch(first), stretch(second)]);
            let sum: f64 = parts.iter().map(|part| part.gained(&rate, 0.0, 0.0)).sum();
            let joined = parts[0].joined(&parts[1]);
            for total in [whole.gained(&rate, 0.0, 0.0), joined.gained(&rate, 0.0, 0.0)] {
                prop_assert!((total - sum).abs() <= 1e-9 * sum.max(whole.duration()));
            }
        }
    }
}
