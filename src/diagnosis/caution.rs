//! Which advice goes with which of the usual cautions. Every match here names all kinds, so that a new one is decided on or does not
//! compile; what the cautions say, and on whose word, stands in one table with the wording.

use super::{Advice, ColdAdvice};

/// A usual caution.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Caution {
    /// Adding warmth with mats or lamps.
    Heat,
    /// Handling mould.
    Mould,
    /// Handling what seeds are treated with.
    Chemicals,
    /// Chilling moist seed.
    Cold,
    /// Seed dressed by who sold it.
    Treated,
    /// Plants whose sap or seed harms.
    Saps,
    /// Bags of potting mix.
    Mix,
}

impl Caution {
    /// All of them.
    pub const ALL: [Self; 7] = [Self::Heat, Self::Mould, Self::Chemicals, Self::Cold, Self::Treated, Self::Saps, Self::Mix];
}

/// Parts of a treatment's name that tell of something to be handled with care: acids, bleach, peroxide, gibberellin, saltpetre, caustics.
const CHEMICALS: [&str; 14] = [
    "acid",
    "bleach",
    "peroxide",
    "h2o2",
    "ga3",
    "gibberell",
    "kno3",
    "nitrate",
    "h2so4",
    "sulphuric",
    "sulfuric",
    "hypochlorite",
    "lye",
    "ethephon",
];
/// Words in a lot's note or treatment by which seed is known to be treated.
const TREATED: [&str; 6] = ["treated with", "treated seed", "fungicide", "dressed", "thiram", "captan"];
/// Beginnings of words in the names of plants whose sap or seed is known to irritate or poison.
const HARMFUL: [&str; 16] = [
    "milkweed",
    "asclepias",
    "euphorbia",
    "spurge",
    "castor",
    "ricinus",
    "jequirity",
    "abrus",
    "foxglove",
    "digitalis",
    "datura",
    "brugmansia",
    "thornapple",
    "chilli",
    "chili",
    "capsicum",
];

/// What the words of a treatment or a note call for.
#[must_use]
pub fn cautions_in_words(words: &str) -> Vec<Caution> {
    let words = words.to_lowercase();
    let chemical = words.split(|c: char| !c.is_alphanumeric()).any(|word| CHEMICALS.iter().any(|part| word.starts_with(part)));
    let treated = TREATED.iter().any(|part| words.contains(part));
    chemical.then_some(Caution::Chemicals).into_iter().chain(treated.then_some(Caution::Treated)).collect()
}

/// What a plant's name calls for where its seeds or sprouts are handled.
#[must_use]
pub fn caution_of_plant(name: &str) -> Option<Caution> {
    let name = name.to_lowercase();
    let mut words = name.split(|c: char| !c.is_alphanumeric());
    words.any(|word| HARMFUL.iter().any(|part| word.starts_with(part))).then_some(Caution::Saps)
}

impl Advice {
    /// The caution that goes with it, for a box that has stood at `here_c` on average, °C: only a move towards warmth adds any.
    #[must_use]
    pub fn caution(&self, here_c: Option<f64>) -> Option<Caution> {
        match self {
            Self::MoveTo(gain) | Self::TryOne(gain) | Self::MakeRoom(gain) => {
                here_c.is_none_or(|here_c| gain.lately.mean_c > here_c).then_some(Caution::Heat)
            }
            Self::LookInside(_) | Self::Tend => Some(Caution::Mould),
            Self::Cold(advice) => advice.caution(),
            Self::LeaveIt | Self::Calibrate(_) | Self::SeeTo(_) | Self::LearnMore => None,
        }
    }

    /// Whoever follows it handles seeds or sprouts, not just the box.
    #[must_use]
    pub fn touches_seeds(&self) -> bool {
        match self {
            Self::LookInside(_) | Self::Tend => true,
            Self::Cold(advice) => advice.touches_seeds(),
            Self::MoveTo(_)
            | Self::TryOne(_)
            | Self::MakeRoom(_)
            | Self::LeaveIt
            | Self::Calibrate(_)
            | Self::SeeTo(_)
            | Self::LearnMore => false,
        }
    }
}

impl ColdAdvice {
    /// The caution that goes with it.
    #[must_use]
    pub fn caution(self) -> Option<Caution> {
        match self {
            Self::PutBack { .. } | Self::PutProbeIn | Self::SetWarmer | Self::SetColder | Self::Wet => Some(Caution::Cold),
            Self::TakeSproutsOut => Some(Caution::Mix),
            Self::LeaveInWarm | Self::TakeOutWhenDone | Self::GoOrHold => None,
        }
    }

    /// Whoever follows it handles seeds or sprouts.
    #[must_use]
    pub fn touches_seeds(self) -> bool {
        match self {
            Self::PutBack { .. } | Self::TakeSproutsOut | Self::TakeOutWhenDone | Self::GoOrHold | Self::Wet => true,
            Self::LeaveInWarm | Self::PutProbeIn | Self::SetWarmer | Self::SetColder => false,
        }
    }
}
