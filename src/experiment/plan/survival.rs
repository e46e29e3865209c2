//! How many of the sprouts live to be plants.

use crate::bench::Trial;
use crate::stats::{Dice, beta_quantile, design_effect};

/// So many sprouts of a species must have been potted on or have died for its own record to speak.
const ENOUGH: u32 = 5;
/// What is assumed where nothing is on record: as if of so many sprouts so many had lived, 85 in 100, 70 to 96 with 90 % confidence
/// (sprouts of garden seed pricked out with care; common practice, no source).
const ASSUMED: (f64, f64) = (17.0, 3.0);
/// Sprouts of one box share their fate, damping-off takes many at once: their correlation, as for sprouting where nothing better is
/// known.
const WITHIN_BOX: f64 = 0.05;

/// Sprouts of other kinds say no more of this one than so many of its own would.
const OTHERS_WORTH: f64 = 20.0;

/// Where a share of survivors comes from.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum SurvivalSource {
    /// Sprouts of this species on record.
    Species,
    /// Sprouts of all species on record, for want of enough of this one.
    Bench,
    /// The grower said it.
    Given,
    /// Nothing is on record: what is usual.
    Assumed,
}

/// The share of sprouts that live to be potted on, and how sure it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Survival {
    /// Where it comes from.
    pub source: SurvivalSource,
    /// Sprouts on record that were potted on.
    pub potted_on: u32,
    /// Sprouts on record that died.
    pub died: u32,
    /// Beta distribution of the share; none: given, taken as it is.
    beta: Option<(f64, f64)>,
    given: f64,
}

#[derive(Debug, Clone, Copy, Default)]
struct Fates {
    potted_on: u32,
    died: u32,
    boxes: u32,
}

impl Survival {
    /// A share that the grower says, 0 to 1.
    #[must_use]
    pub fn given(share: f64) -> Self {
        Self { source: SurvivalSource::Given, potted_on: 0, died: 0, beta: None, given: share.clamp(0.0, 1.0) }
    }

    /// From what is on record: this species' sprouts where five of them were potted on or died, else those of all boxes, else what is
    /// usual.
    ///
    /// # Formula
    /// ```text
    /// share ~ Beta(½ + p/D, ½ + d/D),   D = 1 + (m − 1) ρ,   p potted on, d died, m of them a box, ρ = .05;
    /// of other kinds D ≥ (p + d)/20
    /// ```
    /// Jeffreys' prior on counts that are worth less than they are, since sprouts of one box share their fate (the design effect: Kish
    /// 1965, Survey Sampling, 5.4).
    #[must_use]
    pub fn learnt<'a>(own: impl Iterator<Item = &'a Trial>, all: impl Iterator<Item = &'a Trial>) -> Self {
        let own = Fates::of(own);
        let (fates, source) =
            if own.known() >= ENOUGH { (own, SurvivalSource::Species) } else { (Fates::of(all), SurvivalSource::Bench) };
        if fates.known() < ENOUGH {
            return Self { source: SurvivalSource::Assumed, potted_on: 0, died: 0, beta: Some(ASSUMED), given: 0.0 };
        }
        let each = f64::from(fates.known()) / f64::from(fates.boxes.max(1));
        let least = if source == SurvivalSource::Bench { f64::from(fates.known()) / OTHERS_WORTH } else { 1.0 };
        let design = design_effect(each.max(1.0), WITHIN_BOX).max(least);
        let beta = (0.5 + f64::from(fates.potted_on) / design, 0.5 + f64::from(fates.died) / design);
        Self { source, potted_on: fates.potted_on, died: fates.died, beta: Some(beta), given: 0.0 }
    }

    /// The middle, and the ends of the 90 % interval; the same three times where it was given.
    #[must_use]
    pub fn interval(&self) -> [f64; 3] {
        self.beta.map_or([self.given; 3], |(a, b)| [0.05, 0.5, 0.95].map(|p| beta_quantile(a, b, p)))
    }

    /// Equally likely shares.
    #[must_use]
    pub fn draws(&self, count: usize, seed: u64) -> Vec<f64> {
        let Some((a, b)) = self.beta else { return vec![self.given; count] };
        // One quantile from each of so many equal parts, in any order: steadier than plain draws.
        let mut shares: Vec<f64> = (0..count).map(|at| beta_quantile(a, b, (at as f64 + 0.5) / count as f64)).collect();
        Dice::new(seed).shuffle(&mut shares);
        shares
    }
}

impl Fates {
    fn of<'a>(trials: impl Iterator<Item = &'a Trial>) -> Self {
        trials.fold(Self::default(), |sum, trial| {
            let of = |which: fn(&crate::bench::Check) -> u32| trial.checks.iter().map(which).sum::<u32>();
            let (potted_on, died) = (of(|check| check.potted_on), of(|check| check.died));
            Self { potted_on: sum.potted_on + potted_on, died: sum.died + died, boxes: sum.boxes + u32::from(potted_on + died > 0) }
        })
    }

    fn known(self) -> u32 {
        self.potted_on + self.died
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container, Name};
    use crate::civil::Time;
    use crate::stats::mean_of;

    fn trial(potted_on: u32, died: u32) -> Trial {
        let name = |text: &str| Name::new(text).unwrap();
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), Time::UNIX_EPOCH);
        let look = Check { potted_on, died, ..Check::none_new(name("A1"), Time::UNIX_EPOCH) };
        Trial { checks: vec![look], ..Trial::new(container) }
    }

    #[test]
    fn own_records_speak_from_five_sprouts_on_then_the_benchs_then_what_is_usual() {
        let (few, many, none) = (trial(3, 1), trial(40, 5), trial(0, 0));
        let source = |own: &Trial, all: &[&Trial]| Survival::learnt([own].into_iter(), all.iter().copied()).source;
        assert_eq!(source(&many, &[]), SurvivalSource::Species);
        assert_eq!(source(&few, &[&few, &many]), SurvivalSource::Bench);
        assert_eq!(source(&few, &[&few, &none]), SurvivalSource::Assumed);
        let all_died = Survival::learnt([&trial(0, 9)].into_iter(), [].into_iter());
        assert!(all_died.source == SurvivalSource::Species && all_died.interval()[1] < 0.1);
    }

    /// scipy 1.17: `beta.ppf([.05, .5, .95], a, b)` with D = 1 + 44 · .05 = 3.2 for one box of 45 (40 lived) and 1.2 for nine of 5.
    #[test]
    fn sprouts_of_one_box_are_worth_less_than_those_of_many() {
        let one = Survival::learnt([&trial(40, 5)].into_iter(), [].into_iter());
        let boxes: Vec<Trial> = (0..9).map(|at| trial(if at < 5 { 4 } else { 5 }, u32::from(at < 5))).collect();
        let many = Survival::learnt(boxes.iter(), [].into_iter());
        assert_eq!((one.potted_on, one.died), (many.potted_on, many.died));
        let width = |survival: &Survival| survival.interval()[2] - survival.interval()[0];
        assert!(width(&one) > 1.4 * width(&many), "{} against {}", width(&one), width(&many));
        let expected = [0.698_558_5, 0.879_173_1, 0.972_232_9];
        for (found, expected) in one.interval().into_iter().zip(expected) {
            assert!((found - expected).abs() < 1e-6, "{found} against {expected}");
        }
    }

    #[test]
    fn draws_have_the_mean_and_repeat() {
        let survival = Survival::learnt([&trial(40, 5)].into_iter(), [].into_iter());
        let draws = survival.draws(1000, 7);
        assert_eq!(draws, survival.draws(1000, 7));
        let mean = (0.5 + 40.0 / 3.2) / (1.0 + 45.0 / 3.2);
        assert!((mean_of(&draws) - mean).abs() < 1e-3);
        assert_eq!(Survival::given(0.85).draws(2, 1), [0.85, 0.85]);
        assert_eq!(Survival::given(0.85).interval(), [0.85; 3]);
    }
}
