//! Whether a difference is shown: by intervals that allow for boxes that differ, never by counting seeds as if each stood alone.

use super::Watched;
use crate::stats::design_effect;

/// How far boxes of one kind differ in what share of their seeds sprouts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum ShareDiffers {
    /// As is assumed of boxes: the correlation of two seeds of one box.
    Assumed(f64),
    /// As one's own boxes did: standard deviation of the logit.
    Own(f64),
}

/// How far boxes of one kind differ in speed: standard deviation of ln time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum SpeedDiffers {
    /// As is assumed of boxes.
    Assumed(f64),
    /// As one's own boxes did.
    Own(f64),
}

/// How far boxes of one kind differ.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct BoxesDiffer {
    /// In what share sprouts.
    pub share: ShareDiffers,
    /// In speed.
    pub speed: SpeedDiffers,
}

/// What is known of a difference.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// There is one.
    Shown,
    /// There may be none.
    NotShown,
    /// Nothing can be concluded.
    CannotTell(Why),
}

/// Why nothing can be concluded.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// Seeds of a group are still watched, and more may come.
    StillWatched,
    /// A group was given up before slow seeds could have sprouted.
    GivenUpEarly,
    /// How many seeds there were is not known.
    NotCounted,
    /// So few seeds that all of one group against none of the other would not be enough.
    TooFewSeeds,
    /// Too few sprouts to speak of their speed.
    TooFewSprouts,
    /// They stood apart, and how warm it was is not known.
    NoTemperatures,
}

/// A number with its interval; none where it cannot be told.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Reckoned {
    /// The number.
    pub estimate: Option<f64>,
    /// Lower end.
    pub low: Option<f64>,
    /// Upper end.
    pub high: Option<f64>,
}

/// What is assumed of boxes where one's own say nothing: the correlation of seeds of one box, and the standard deviation of ln time between
/// boxes. Plates of one treatment in a good laboratory have .01 (M. J. Crowder 1978, "Beta-binomial anova for proportions", Applied Statistics
/// 27:34–37, <https://doi.org/10.2307/2346223>); at home it is more.
pub const ASSUMED: BoxesDiffer = BoxesDiffer { share: ShareDiffers::Assumed(0.05), speed: SpeedDiffers::Assumed(0.10) };

/// Each of the two verdicts, on how many and on how fast, is allowed to be wrong this often where nothing differs: together 1 in 20.
pub const WRONG: f64 = 0.025;
/// Fewer sprouts of a group than this say nothing of its speed.
pub const FEWEST_SPROUTS: u32 = 3;

impl BoxesDiffer {
    /// By how much seeds in boxes tell less than seeds that stand alone.
    ///
    /// # Formula
    /// ```text
    /// D = 1 + (m − 1) ρ,   m = Σ seeds² / Σ seeds over the boxes,   ρ = σ² p (1 − p) for boxes whose logits differ by σ
    /// ```
    #[must_use]
    pub fn design_effect(&self, boxes: &[&Watched], share: f64) -> f64 {
        let seeds = || boxes.iter().filter_map(|one| one.seeds.number()).map(f64::from);
        let (sum, squares) = (seeds().sum::<f64>(), seeds().map(|seeds| seeds * seeds).sum::<f64>());
        if sum > 0.0 { self.inflation(squares / sum, share) } else { 1.0 }
    }

    /// The same for boxes of `per_box` seeds each.
    #[must_use]
    pub fn inflation(&self, per_box: f64, share: f64) -> f64 {
        design_effect(per_box, self.correlation(share))
    }

    /// How alike seeds of one box are.
    #[must_use]
    pub fn correlation(&self, share: f64) -> f64 {
        match self.share {
            ShareDiffers::Assumed(rho) => rho,
            ShareDiffers::Own(sd) => (sd * sd * share * (1.0 - share)).min(1.0),
        }
    }

    /// Standard deviation of ln time between boxes.
    #[must_use]
    pub fn speed_sd(&self) -> f64 {
        match self.speed {
            SpeedDiffers::Assumed(sd) | SpeedDiffers::Own(sd) => sd,
        }
    }
}
