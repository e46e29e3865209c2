//! Thermal time at all of a container's looks at once.

use super::{Evidence, Passage};
use crate::thermal::{Profile, Rate, Slopes};

/// A ladder grows over more looks as long as it stays below so many times its stretches' own numbers: where each look has temperatures
/// of its own, one ladder for all would be mostly repetition.
const MOST_REPEATED: usize = 8;
/// Numbers that no looks are too few for: short ladders cost more in steps than in numbers.
const ALWAYS: usize = 4096;

/// Stretches of one level that follow each other, one a look, over the temperatures that any of them has. A temperature is looked up
/// once for all of them, and what is found stands side by side.
///
/// # Formula
/// ```text
/// A(x) = time spent above x, S(x) = Σ days × °C above x;  H(x) = S(x) − x A(x), as in a profile
/// ```
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Ladder {
    /// The place among the offsets of their level; none where nothing is added.
    pub(super) offset: Option<usize>,
    /// The look of the first.
    pub(super) first: usize,
    /// How many looks.
    wide: usize,
    /// Distinct temperatures, °C, hottest first.
    values: Vec<f64>,
    /// Row i: time at the i hottest, look by look, days.
    days: Vec<f64>,
    /// Row i: Σ days × °C likewise.
    sums: Vec<f64>,
}

/// What one temperature finds.
struct Step<'a> {
    x: f64,
    days: &'a [f64],
    sums: &'a [f64],
}

impl Step<'_> {
    fn thermal(&self, at: usize) -> f64 {
        (self.sums[at] - self.x * self.days[at]).max(0.0)
    }
}

impl Ladder {
    /// The warmth that leads up to each of a container's places, level by level.
    pub(super) fn leading_up_to(evidence: &Evidence, places: &[usize], offset_of: impl Fn(&Passage) -> Option<usize>) -> Vec<Self> {
        let lists = std::iter::once(&evidence.before).chain(evidence.segments.iter().map(|segment| &segment.passages));
        // Each place's passages since the one before; those after the last place matter to nothing.
        let mut at_place: Vec<Vec<(Option<usize>, &Passage)>> = vec![Vec::new(); places.len()];
        for (look, passages) in lists.enumerate() {
            let place = places.partition_point(|place| *place < look);
            if let Some(list) = at_place.get_mut(place) {
                list.extend(passages.iter().map(|passage| (offset_of(passage), passage)));
            }
        }
        let mut levels: Vec<Option<usize>> = at_place.iter().flatten().map(|(offset, _)| *offset).collect();
        levels.sort_unstable();
        levels.dedup();
        let of_level = |level: &Option<usize>| {
            let there = |list: &Vec<(Option<usize>, &Passage)>| list.iter().any(|(offset, _)| offset == level);
            let (Some(first), Some(last)) = (at_place.iter().position(there), at_place.iter().rposition(there)) else {
                return Vec::new();
            };
            let profile = |list: &Vec<(Option<usize>, &Passage)>| {
                let stretches = list.iter().filter(|(offset, _)| offset == level).map(|(_, passage)| &passage.stretch);
                Profile::new(stretches.flat_map(|stretch| stretch.known.pairs().chain(stretch.guessed.pairs())))
            };
            let profiles: Vec<Profile> = at_place[first..=last].iter().map(profile).collect();
            Self::cut(*level, first, &profiles)
        };
        levels.iter().flat_map(of_level).collect()
    }

    /// Ladders of one level's profiles, look by look from `first`.
    fn cut(offset: Option<usize>, first: usize, profiles: &[Profile]) -> Vec<Self> {
        let mut ladders = Vec::new();
        let (mut from, mut own, mut values) = (0, 0, Vec::<f64>::new());
        for (at, profile) in profiles.iter().enumerate() {
            let joined = merged(&values, profile.columns()[0]);
            let more = profile.columns()[0].len();
            let numbers = joined.len() * (at + 1 - from);
            if at > from && numbers > ALWAYS && numbers > MOST_REPEATED * (own + more) {
                ladders.push(Self::new(offset, first + from, std::mem::take(&mut values), &profiles[from..at]));
                (from, own, values) = (at, more, profile.columns()[0].to_vec());
            } else {
                (own, values) = (own + more, joined);
            }
        }
        if from < profiles.len() {
            ladders.push(Self::new(offset, first + from, values, &profiles[from..]));
        }
        ladders
    }

    fn new(offset: Option<usize>, first: usize, values: Vec<f64>, profiles: &[Profile]) -> Self {
        let wide = profiles.len();
        let (mut days, mut sums) = (vec![0.0; wide * (values.len() + 1)], vec![0.0; wide * (values.len() + 1)]);
        for (at, profile) in profiles.iter().enumerate() {
            let [own, own_days, own_sums] = profile.columns();
            let mut reached = 0;
            for (row, value) in values.iter().enumerate() {
                if own.get(reached) == Some(value) {
                    reached += 1;
                }
                if let Some(last) = reached.checked_sub(1) {
                    days[(row + 1) * wide + at] = own_days[last];
                    sums[(row + 1) * wide + at] = own_sums[last];
                }
            }
        }
        Self { offset, first, wide, values, days, sums }
    }

    fn step(&self, x: f64) -> Step<'_> {
        let row = self.values.partition_point(|value| *value > x);
        let row = row * self.wide..(row + 1) * self.wide;
        Step { x, days: &self.days[row.clone()], sums: &self.sums[row] }
    }

    fn durations(&self) -> &[f64] {
        &self.days[self.values.len() * self.wide..]
    }

    /// Adds the thermal time of each stretch to its look's place in `gained`.
    pub(super) fn add_gained(&self, rate: &Rate, gained: &mut [f64]) {
        let gained = &mut gained[self.first..self.first + self.wide];
        match *rate {
            Rate::Days => gained.iter_mut().zip(self.durations()).for_each(|(gained, days)| *gained += days),
            Rate::Threshold { base } => {
                let base = self.step(base);
                gained.iter_mut().enumerate().for_each(|(at, gained)| *gained += base.thermal(at));
            }
            Rate::Tent { base, optimum, ceiling } => {
                let rho = (optimum - base) / (ceiling - optimum);
                let (base, optimum, ceiling) = (self.step(base), self.step(optimum), self.step(ceiling));
                for (at, (gained, days)) in gained.iter_mut().zip(self.durations()).enumerate() {
                    let thermal = base.thermal(at) - (1.0 + rho) * optimum.thermal(at) + rho * ceiling.thermal(at);
                    *gained += Profile::without_crumbs(thermal, *days);
                }
            }
        }
    }

    /// Σ over the looks of weight × slope of its stretch's thermal time Θ.
    ///
    /// # Formula
    /// ```text
    /// D = (H(To) − H(Tc)) / (Tc − To),  ρ = (To − Tb) / (Tc − To)
    /// ∂Θ/∂Tb = D − A(Tb),  ∂Θ/∂To = (1 + ρ)(A(To) − D),  ∂Θ/∂Tc = ρ (D − A(Tc))
    /// ```
    /// One-sided where a temperature of the record is met exactly.
    pub(super) fn slopes(&self, rate: &Rate, weights: &[f64]) -> Slopes {
        let weights = &weights[self.first..self.first + self.wide];
        let days = |step: &Step<'_>| weights.iter().zip(step.days).map(|(weight, days)| weight * days).sum::<f64>();
        let thermal = |step: &Step<'_>| weights.iter().enumerate().map(|(at, weight)| weight * step.thermal(at)).sum::<f64>();
        match *rate {
            Rate::Days => Slopes::default(),
            Rate::Threshold { base } => Slopes { base: -days(&self.step(base)), ..Slopes::default() },
            Rate::Tent { base, optimum, ceiling } => {
                let rho = (optimum - base) / (ceiling - optimum);
                let (at_base, at_optimum, at_ceiling) = (self.step(base), self.step(optimum), self.step(ceiling));
                let lost = (thermal(&at_optimum) - thermal(&at_ceiling)) / (ceiling - optimum);
                Slopes {
                    base: lost - days(&at_base),
                    optimum: (1.0 + rho) * (days(&at_optimum) - lost),
                    ceiling: rho * (lost - days(&at_ceiling)),
                }
            }
        }
    }
}

/// Two lists, hottest first, as one, each value once.
fn merged(a: &[f64], b: &[f64]) -> Vec<f64> {
    let mut values: Vec<f64> = a.iter().chain(b).copied().collect();
    values.sort_unstable_by(|a, b| b.total_cmp(a));
    values.dedup();
    values
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        /// Against each stretch's own profile, and slopes against a sum over its temperatures, whether one ladder holds them or many.
        #[test]
        fn a_ladder_says_what_its_profiles_say(
            looks in prop::collection::vec(prop::collection::vec((-160i32..720, 0.01..2.0f64), 0..20), 1..12),
            scattered in any::<bool>(),
            base in -5.0..15.0f64, rise in 5.0..20.0f64, fall in 2.0..20.0f64,
        ) {
            // Many temperatures of each look's own, so that there have to be several ladders.
            let more = |look: usize| (0..if scattered { 900 } else { 0 }).map(move |at| (0.01 * f64::from(at) + 0.001 * look as f64, 0.001));
            let profiles: Vec<Profile> = looks
                .iter()
                .enumerate()
                .map(|(look, pairs)| Profile::new(pairs.iter().map(|(s, days)| (f64::from(*s) / 16.0, *days)).chain(more(look))))
                .collect();
            let ladders = Ladder::cut(None, 2, &profiles);
            prop_assert!(!scattered || profiles.len() < 10 || ladders.len() > 1);
            let tent = Rate::Tent { base, optimum: base + rise, ceiling: base + rise + fall };
            for rate in [Rate::Days, Rate::Threshold { base }, tent] {
                let mut gained = vec![0.0; profiles.len() + 3];
                ladders.iter().for_each(|ladder| ladder.add_gained(&rate, &mut gained));
                let weights: Vec<f64> = (0..gained.len()).map(|at| 1.0 - 0.3 * at as f64).collect();
                let slopes = ladders.iter().fold(Slopes::default(), |sum, ladder| sum.plus(&ladder.slopes(&rate, &weights)));
                let mut expected = Slopes::default();
                for (at, profile) in profiles.iter().enumerate() {
                    let own = profile.gained(&rate, 0.0);
                    let slopes = profile.pairs().fold(Slopes::default(), |sum, (celsius, days)| {
                        let (_, slopes) = rate.per_day_with_slopes(celsius);
                        sum.plus(&Slopes { base: days * slopes.base, optimum: days * slopes.optimum, ceiling: days * slopes.ceiling })
                    });
                    prop_assert!((gained[2 + at] - own).abs() <= 1e-9 * own.max(1.0), "{} against {own}", gained[2 + at]);
                    let weight = weights[2 + at];
                    expected.base += weight * slopes.base;
                    expected.optimum += weight * slopes.optimum;
                    expected.ceiling += weight * slopes.ceiling;
                }
                prop_assert_eq!([gained[0], gained[1], gained[gained.len() - 1]], [0.0; 3]);
                for (found, expected) in [(slopes.base, expected.base), (slopes.optimum, expected.optimum), (slopes.ceiling, expected.ceiling)] {
                    prop_assert!((found - expected).abs() <= 1e-8 * expected.abs().max(1.0), "{found} against {expected}");
                }
            }
        }
    }
}
