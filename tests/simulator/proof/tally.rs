//! Forecasts set against what came, and what they add up to.

use super::counts::{Levels, held, loss};

/// Whose forecasts are compared.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Who {
    /// True needs of the box, true temperatures to come.
    Oracle,
    /// True needs of the box, and how weather is made.
    WithoutTheWeather,
    /// The days that past sowings took.
    Calendar,
    /// The program under test.
    Program,
    /// The program's own parts, put together once more by plain sums.
    ProgramsParts,
    /// These, but told the true needs of species, lot and treatment, and how its probe is off.
    TrueParameters,
    /// All that can be known before a box is sown: true needs of species, lot and treatment, and the true temperatures to come; how the
    /// box itself differs is judged by its looks.
    AllButTheBox,
    /// These, but told the box's own effects.
    TrueBoxEffects,
    /// These, but told the temperatures to come.
    TrueTemperatures,
    /// These, but told all but the temperatures to come.
    TrueNeeds,
}

pub(crate) const EVERYBODY: [Who; 10] = [
    Who::Oracle,
    Who::WithoutTheWeather,
    Who::Calendar,
    Who::Program,
    Who::ProgramsParts,
    Who::TrueParameters,
    Who::AllButTheBox,
    Who::TrueBoxEffects,
    Who::TrueTemperatures,
    Who::TrueNeeds,
];

/// One box, one morning, one day ahead.
#[derive(Debug, Clone)]
pub(crate) struct Case {
    pub(crate) bench: u64,
    pub(crate) ahead: usize,
    pub(crate) seeds: u32,
    pub(crate) age_days: f64,
    /// Its spot was there in an earlier season.
    pub(crate) seen_before: bool,
    /// Its lot was sown in an earlier season.
    pub(crate) lot_known: bool,
    /// Another probe stands at its spot than in the season before.
    pub(crate) another_probe: bool,
    pub(crate) past_seasons: usize,
    pub(crate) truth: u32,
    /// In the order of [`EVERYBODY`]; none where nothing was said.
    pub(crate) said: [Option<Levels>; EVERYBODY.len()],
}

impl Case {
    pub(crate) fn said_by(&self, who: Who) -> Option<&Levels> {
        self.said[EVERYBODY.iter().position(|one| *one == who)?].as_ref()
    }

    pub(crate) fn say(&mut self, who: Who, levels: Option<Levels>) {
        if let Some(at) = EVERYBODY.iter().position(|one| *one == who) {
            self.said[at] = levels;
        }
    }

    fn loss_of(&self, who: Who) -> Option<f64> {
        Some(loss(self.said_by(who)?, self.truth, self.seeds))
    }
}

/// A ratio of sums with its standard error.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Ratio {
    pub(crate) ratio: f64,
    pub(crate) error: f64,
}

/// Σ numerator ÷ Σ denominator over (bench, numerator, denominator), with the standard error by leaving one bench out at a time
/// (the jackknife; Miller 1974, Biometrika 61:1–15, https://doi.org/10.1093/biomet/61.1.1): boxes of one bench share its weather and its
/// fits.
pub(crate) fn ratio(parts: impl Iterator<Item = (u64, f64, f64)>) -> Option<Ratio> {
    let mut benches = std::collections::BTreeMap::<u64, (f64, f64)>::new();
    for (bench, numerator, denominator) in parts {
        let sums = benches.entry(bench).or_default();
        (sums.0, sums.1) = (sums.0 + numerator, sums.1 + denominator);
    }
    let all = benches.values().fold((0.0, 0.0), |sum, part| (sum.0 + part.0, sum.1 + part.1));
    let without: Vec<f64> = benches.values().map(|part| (all.0 - part.0) / (all.1 - part.1)).collect();
    let count = without.len() as f64;
    let mean = without.iter().sum::<f64>() / count;
    let square = without.iter().map(|left_out| (left_out - mean).powi(2)).sum::<f64>();
    (all.1 > 0.0).then(|| Ratio { ratio: all.0 / all.1, error: ((count - 1.0) / count * square).sqrt() })
}

/// Mean loss of one ÷ that of the oracle, over what both said something of.
pub(crate) fn loss_ratio<'a>(cases: impl Iterator<Item = &'a Case>, who: Who) -> Option<Ratio> {
    loss_ratio_to(cases, who, Who::Oracle)
}

/// The same against another.
pub(crate) fn loss_ratio_to<'a>(cases: impl Iterator<Item = &'a Case>, who: Who, other: Who) -> Option<Ratio> {
    ratio(cases.filter_map(|case| Some((case.bench, case.loss_of(who)?, case.loss_of(other)?))))
}

/// Mean loss by seed.
pub(crate) fn mean_loss<'a>(cases: impl Iterator<Item = &'a Case>, who: Who) -> Option<Ratio> {
    ratio(cases.filter_map(|case| Some((case.bench, case.loss_of(who)?, 1.0))))
}

/// How often the 50, 80 and 90 % ranges held, in percent.
pub(crate) fn coverage<'a>(cases: impl Iterator<Item = &'a Case> + Clone, who: Who) -> [Option<Ratio>; 3] {
    [0, 1, 2].map(|range| {
        let of = |case: &Case| Some(100.0 * f64::from(u8::from(held(case.said_by(who)?, case.truth)[range])));
        ratio(cases.clone().filter_map(|case| Some((case.bench, of(case)?, 1.0))))
    })
}
