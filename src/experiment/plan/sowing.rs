//! Seeds of one lot at one spot: how many plants come of how many seeds sown on which day.

use crate::germination::{Distribution, Needs};
use crate::stats::{Dice, at_least};

/// More seeds than this are not planned.
pub const MOST_SEEDS: u32 = 100_000;
/// A sowing is as late as it can be while it takes no more seeds than so many times what it would take with all the time there is.
const SPARE: f64 = 1.2;
/// "Nearly all" of the seeds that can sprout: of these the latest day of sowing is told, draw by draw.
const NEARLY_ALL: f64 = 0.9;

/// What is likely of seeds sown at one spot, draw by draw.
#[derive(Debug, Clone, Copy)]
pub struct Sowing<'a> {
    /// The family that requirements follow.
    pub family: Distribution,
    /// What the seeds of each box need, box by box, one a draw: seeds are shared out evenly.
    pub boxes: &'a [Vec<Needs>],
    /// Thermal time gained at the spot by the end of each day from now on, one course a draw; the first value is that of now, 0.
    pub courses: &'a [Vec<f64>],
    /// Share of the sprouts that live, one a draw.
    pub survival: &'a [f64],
}

impl Sowing<'_> {
    /// How many draws there are.
    #[must_use]
    pub fn draws(&self) -> usize {
        self.boxes.iter().map(Vec::len).min().unwrap_or(0).min(self.courses.len()).min(self.survival.len())
    }

    /// Days that the courses reach.
    #[must_use]
    pub fn horizon(&self) -> usize {
        self.courses.iter().map(Vec::len).min().unwrap_or(0).saturating_sub(1)
    }

    /// Share of the seeds sown that are up between two days, in a draw; none for all the time there is.
    fn up(&self, draw: usize, between: Option<(usize, usize)>) -> f64 {
        let gained = between.map(|(from, until)| self.gained(draw, from, until));
        let of = |needs: &Needs| match gained {
            None => needs.germinable,
            Some(gained) if gained > 0.0 => needs.germinable * self.family.share((gained.ln() - needs.ln_half) / needs.spread),
            Some(_) => 0.0,
        };
        self.boxes.iter().map(|needs| of(&needs[draw])).sum::<f64>() / self.boxes.len().max(1) as f64
    }

    fn gained(&self, draw: usize, from: usize, until: usize) -> f64 {
        let course = &self.courses[draw];
        let at = |day: usize| course.get(day).or(course.last()).copied().unwrap_or(0.0);
        at(until) - at(from)
    }

    /// Chance of at least `plants` living sprouts on day `until` from `seeds` sown on day `from`; with all the time there is where
    /// no days are given.
    ///
    /// # Formula
    /// ```text
    /// P = mean over draws of P(X ≥ plants),   X ~ Binomial(seeds, s π F(Θ(from, until)))
    /// ```
    /// π and F of a new box of the lot and treatment, s the share of sprouts that live.
    #[must_use]
    pub fn chance(&self, plants: u32, seeds: u32, between: Option<(usize, usize)>) -> f64 {
        let draws = self.draws();
        let of = |draw: usize| at_least(plants, seeds, self.up(draw, between) * self.survival[draw]);
        (0..draws).map(of).sum::<f64>() / draws.max(1) as f64
    }

    /// The fewest seeds with which there are `plants` with `confidence`; none where [`MOST_SEEDS`] are not enough.
    #[must_use]
    pub fn seeds(&self, plants: u32, confidence: f64, between: Option<(usize, usize)>) -> Option<u32> {
        if self.draws() == 0 {
            return None;
        }
        let enough = |seeds: u32| self.chance(plants, seeds, between) >= confidence;
        // Twice as many until it is enough, then halving.
        let mut high = plants.max(1);
        while !enough(high) {
            if high >= MOST_SEEDS {
                return None;
            }
            high = high.saturating_mul(2).min(MOST_SEEDS);
        }
        let mut low = plants.saturating_sub(1);
        while high - low > 1 {
            let middle = low + (high - low) / 2;
            if enough(middle) { high = middle } else { low = middle }
        }
        Some(high)
    }

    /// The most seeds that a plan may take, from the fewest with all the time there is.
    #[must_use]
    pub fn with_spare(fewest: u32) -> u32 {
        ((f64::from(fewest) * SPARE).ceil() as u32).max(fewest + 1)
    }

    /// The last day, not before `earliest`, on which to sow `seeds` so that there are `plants` on day `until` with `confidence`.
    #[must_use]
    pub fn latest(&self, plants: u32, seeds: u32, confidence: f64, earliest: usize, until: usize) -> Option<usize> {
        let enough = |from: usize| self.chance(plants, seeds, Some((from, until))) >= confidence;
        // Sown later there are never more of them by then.
        (earliest <= until && enough(earliest)).then(|| last_true(earliest, until, enough))
    }

    /// The first day by which there are `plants` from `seeds` sown on day `from`, with `confidence`; none within the horizon.
    #[must_use]
    pub fn ready(&self, plants: u32, seeds: u32, confidence: f64, from: usize) -> Option<usize> {
        let late = |until: usize| self.chance(plants, seeds, Some((from, until))) < confidence;
        let horizon = self.horizon();
        if from > horizon || late(horizon) {
            return None;
        }
        Some(if late(from) { last_true(from, horizon, late) + 1 } else { from })
    }

    /// The last day to sow for nine in ten of the seeds that can sprout to be up on day `until`, one a draw, in days from now;
    /// negative infinity where that is past.
    #[must_use]
    pub fn latest_days(&self, until: usize) -> Vec<f64> {
        let z = self.family.at_share(NEARLY_ALL);
        (0..self.draws())
            .map(|draw| {
                let course = &self.courses[draw];
                let reached = course.get(until).or(course.last()).copied().unwrap_or(0.0);
                let wanted = self.mean_of_boxes(draw, |needs| needs.ln_half + needs.spread * z).exp();
                day_at(&course[..course.len().min(until + 1)], reached - wanted).unwrap_or(f64::NEG_INFINITY)
            })
            .collect()
    }

    /// Days from now on which three things happen to `seeds` sown on day `from`: the first is up, half of those that can sprout are,
    /// and enough for `plants`; one of each a draw, infinite for never within the horizon.
    #[must_use]
    pub fn events(&self, plants: u32, seeds: u32, from: usize, seed: u64) -> [Vec<f64>; 3] {
        let mut dice = Dice::new(seed);
        let mut events = [Vec::new(), Vec::new(), Vec::new()];
        for draw in 0..self.draws() {
            let sound = (f64::from(seeds) * self.up(draw, None)).max(1.0);
            // The smallest of so many uniform numbers.
            let first = 1.0 - (1.0 - dice.uniform()).powf(1.0 / sound);
            let enough = f64::from(plants) / (sound * self.survival[draw].max(1e-9));
            for (event, place) in events.iter_mut().zip([first, 0.5, enough]) {
                let day = if place < 1.0 {
                    let z = self.family.at_share(place.max(1e-12));
                    let wanted = self.mean_of_boxes(draw, |needs| needs.ln_half + needs.spread * z).exp();
                    let course = &self.courses[draw];
                    let begun = course.get(from).copied().unwrap_or(f64::INFINITY);
                    first_day_at(course, begun + wanted)
                } else {
                    f64::INFINITY
                };
                event.push(day);
            }
        }
        events
    }

    /// Thermal time gained in the `days` before day `until`, draw by draw.
    #[must_use]
    pub fn gained_before(&self, until: usize, days: usize) -> Vec<f64> {
        (0..self.draws()).map(|draw| self.gained(draw, until.saturating_sub(days), until.max(days))).collect()
    }

    fn mean_of_boxes(&self, draw: usize, of: impl Fn(&Needs) -> f64) -> f64 {
        self.boxes.iter().map(|needs| of(&needs[draw])).sum::<f64>() / self.boxes.len().max(1) as f64
    }
}

/// The last of `from..=until` for which it is true; it is so for `from`, and once false stays so.
fn last_true(from: usize, until: usize, is: impl Fn(usize) -> bool) -> usize {
    let (mut low, mut high) = (from, until + 1);
    while high - low > 1 {
        let middle = low + (high - low) / 2;
        if is(middle) { low = middle } else { high = middle }
    }
    low
}

/// The last day on which no more than `thermal` has been gained, with its part of the next; none where it is less than nothing.
fn day_at(course: &[f64], thermal: f64) -> Option<f64> {
    let day = course.partition_point(|sum| *sum <= thermal).checked_sub(1)?;
    let next = course.get(day + 1).map_or(0.0, |next| (thermal - course[day]) / (next - course[day]));
    Some(day as f64 + next)
}

/// The first day by which `thermal` has been gained, with the part of it; infinite where it never is.
fn first_day_at(course: &[f64], thermal: f64) -> f64 {
    let day = course.partition_point(|sum| *sum < thermal);
    match (course.get(day), day.checked_sub(1).map(|before| course[before])) {
        (None, _) => f64::INFINITY,
        (Some(_), None) => 0.0,
        (Some(sum), Some(before)) => day as f64 - (sum - thermal) / (sum - before),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thermal::Rate;
    use proptest::prelude::*;

    fn needs(germinable: f64) -> Needs {
        Needs { rate: Rate::Threshold { base: 10.0 }, ln_half: 80f64.ln(), spread: 0.1, germinable }
    }

    /// So many °C·d every day.
    fn steady(per_day: f64, days: usize) -> Vec<f64> {
        (0..=days).map(|day| day as f64 * per_day).collect()
    }

    struct Case {
        boxes: Vec<Vec<Needs>>,
        courses: Vec<Vec<f64>>,
        survival: Vec<f64>,
    }

    impl Case {
        fn of(draws: &[(f64, f64, f64)]) -> Self {
            Self {
                boxes: vec![draws.iter().map(|draw| needs(draw.0)).collect()],
                courses: draws.iter().map(|draw| steady(draw.1, 100)).collect(),
                survival: draws.iter().map(|draw| draw.2).collect(),
            }
        }

        fn sowing(&self) -> Sowing<'_> {
            let Self { boxes, courses, survival } = self;
            Sowing { family: Distribution::LogLogistic, boxes, courses, survival }
        }
    }

    /// Half are up after 8 days at 10 °C·d a day; F = 1/(1 + (80/Θ)^10): after 10 days 0.903, after 11 days 0.960.
    #[test]
    fn at_a_steady_warmth_the_days_are_those_of_the_formula() {
        let case = Case::of(&[(0.8, 10.0, 1.0); 3]);
        let sowing = case.sowing();
        let [first, half, enough] = sowing.events(10, 25, 5, 1);
        assert!(half.iter().all(|day| (day - 13.0).abs() < 1e-9), "{half:?}");
        // 10 of 20: half again. The first of 20: at a place of about 1/20, ln 19/10 below.
        assert!(
            enough.iter().all(|day| (day - 13.0).abs() < 1e-9) && first.iter().all(|day| (8.0..13.0).contains(day)),
            "{first:?}"
        );
        let latest = sowing.latest_days(40);
        let nearly_all = 8.0 * 9f64.powf(0.1);
        assert!(latest.iter().all(|day| (day - (40.0 - nearly_all)).abs() < 1e-9), "{latest:?}");
        assert_eq!(sowing.latest_days(5), [f64::NEG_INFINITY; 3]);
    }

    /// scipy 1.17, `nbinom.ppf(c, 12, .8 * .9) + 12` with all the time there is: 19 at 80 %, 20 at 90 %.
    #[test]
    fn seeds_to_sow_are_those_of_the_negative_binomial() {
        let case = Case::of(&[(0.8, 10.0, 0.9); 2]);
        assert_eq!([0.8, 0.9].map(|confidence| case.sowing().seeds(12, confidence, None)), [Some(19), Some(20)]);
        assert_eq!(Sowing::with_spare(19), 23);
        assert_eq!(Sowing::with_spare(1), 2);
    }

    #[test]
    fn the_last_day_is_enough_and_the_day_after_is_not_and_the_other_way_round() {
        let case = Case::of(&[(0.8, 10.0, 0.9), (0.7, 8.0, 0.8), (0.85, 12.0, 0.95)]);
        let sowing = case.sowing();
        let seeds = Sowing::with_spare(sowing.seeds(12, 0.9, None).unwrap());
        let from = sowing.latest(12, seeds, 0.9, 0, 50).unwrap();
        assert!(sowing.chance(12, seeds, Some((from, 50))) >= 0.9 && sowing.chance(12, seeds, Some((from + 1, 50))) < 0.9);
        assert_eq!(sowing.ready(12, seeds, 0.9, from), Some(50));
        assert_eq!(sowing.latest(12, seeds, 0.9, 45, 50), None, "too near");
        assert_eq!(sowing.ready(12, seeds, 0.9, 99), None);
    }

    #[test]
    fn nothing_gained_is_no_plant() {
        let case = Case::of(&[(0.8, 0.0, 0.9); 2]);
        let sowing = case.sowing();
        assert_eq!(sowing.seeds(3, 0.8, Some((0, 90))), None);
        assert_eq!(sowing.latest(3, 99, 0.8, 0, 90), None);
        assert!(sowing.events(3, 9, 0, 1)[1].iter().all(|day| day.is_infinite()));
        assert!(sowing.gained_before(60, 30).iter().all(|gained| *gained == 0.0));
        let none = Case::of(&[]);
        assert_eq!(none.sowing().seeds(3, 0.8, None), None);
    }

    proptest! {
        #[test]
        fn more_confidence_or_plants_or_less_time_never_take_fewer_seeds(
            shares in prop::collection::vec((0.2..0.95f64, 3.0..15.0f64, 0.4..1.0f64), 1..12),
            plants in 1u32..60, confidence in 0.5..0.9f64, until in 12usize..80,
        ) {
            let case = Case::of(&shares);
            let sowing = case.sowing();
            let of = |plants, confidence, between| sowing.seeds(plants, confidence, between).unwrap_or(u32::MAX);
            let seeds = of(plants, confidence, None);
            prop_assert!(seeds <= of(plants, confidence + 0.09, None));
            prop_assert!(seeds <= of(plants + 1, confidence, None));
            prop_assert!(seeds <= of(plants, confidence, Some((0, until))));
            prop_assert!(of(plants, confidence, Some((0, until))) <= of(plants, confidence, Some((1, until))));
            prop_assert!(sowing.chance(plants, seeds, None) >= confidence);
            prop_assert!(seeds == plants || sowing.chance(plants, seeds - 1, None) < confidence);
        }

        #[test]
        fn a_warmer_spot_below_the_optimum_is_never_sown_earlier(
            shares in prop::collection::vec((0.2..0.95f64, 3.0..15.0f64, 0.4..1.0f64), 1..12), warmer in 0.0..5.0f64,
        ) {
            let case = Case::of(&shares);
            let warm = Case::of(&shares.iter().map(|(share, rate, lives)| (*share, rate + warmer, *lives)).collect::<Vec<_>>());
            let seeds = Sowing::with_spare(case.sowing().seeds(12, 0.8, None).unwrap());
            let of = |case: &Case| case.sowing().latest(12, seeds, 0.8, 0, 60);
            prop_assert!(of(&case) <= of(&warm));
            let (cold, warm) = (case.sowing().latest_days(60), warm.sowing().latest_days(60));
            prop_assert!(cold.iter().zip(&warm).all(|(cold, warm)| *cold <= warm + 1e-9));
        }
    }
}
