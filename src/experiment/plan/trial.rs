//! A trial: its layout, and whether it can answer its question.

use std::collections::BTreeSet;

use super::{Place, laid_out};
use crate::bench::Name;
use crate::germination::{Estimate, Fit, Informant};
use crate::stats::{design_effect, fisher_power, seeds_for_difference_counted, smallest_difference_shown};

/// A verdict on shares stands on 97.5 % intervals.
const LEVEL: f64 = 0.025;
/// A difference is to be seen four times in five.
const POWER: f64 = 0.8;
/// Two seeds of a box are alike beyond their group by so much, where one's own records do not tell.
const ASSUMED_ALIKE: f64 = 0.05;
/// Where nothing is known of the share that sprouts, half: there a difference is hardest to see.
const UNKNOWN_SHARE: f64 = 0.5;
/// Shares are planned for within these.
const EDGE: f64 = 0.02;
/// With fewer boxes a group no shuffling of boxes can tell anything at 1 in 20 (four and four: 2 of 70 ways).
const ENOUGH_BOXES: u32 = 4;
/// Sums over all outcomes of two groups are made up to this many seeds each; with more, a difference is seen as with this many.
const MOST_SUMMED: f64 = 400.0;

/// What groups differ in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Factor {
    /// What the seeds went through.
    Treatment,
    /// Which seeds they are.
    Lot,
}

/// A treatment of this name is none.
const UNTREATED: &str = "none";

impl Factor {
    /// The word for it in files and options.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::Treatment => "treatment",
            Self::Lot => "lot",
        }
    }
}

impl TrialWish {
    /// The lot and the treatment of a group's boxes.
    #[must_use]
    pub fn lot_and_treatment(&self, group: usize) -> (Option<&Name>, Option<&Name>) {
        let (group, with) = (self.groups.get(group), self.with.as_ref());
        let (lot, treatment) = match self.factor {
            Factor::Treatment => (with, group),
            Factor::Lot => (group, with),
        };
        (lot, treatment.filter(|treatment| treatment.as_str() != UNTREATED))
    }
}

/// The trial wished.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialWish {
    /// The plant.
    pub species: Name,
    /// The lot, where treatments are compared; the treatment, where lots are.
    pub with: Option<Name>,
    /// What is compared.
    pub factor: Factor,
    /// The groups.
    pub groups: Vec<Name>,
    /// Seeds in each box.
    pub seeds: u32,
    /// Boxes of each group at each spot.
    pub boxes: u32,
    /// The spots, with the room left at each where that is known.
    pub spots: Vec<(Name, Option<u32>)>,
    /// Groups that may stand only at some spots: group and spot.
    pub only: Vec<(Name, Name)>,
    /// The difference in the share of sprouts that is to be seen, 0 to 1.
    pub difference: f64,
    /// The number that the order is shuffled by.
    pub shuffle: u64,
}

/// What keeps a trial from answering its question.
#[derive(Debug, Clone, PartialEq)]
pub enum TrialNote {
    /// One box of each group: what the box does and what the treatment does cannot be told apart.
    OneBoxEach,
    /// Few boxes of each group.
    FewBoxes {
        /// How many there are of the group with the fewest.
        boxes: u32,
        /// How many are wanted.
        wanted: u32,
    },
    /// Two groups never stand at the same spot.
    NeverTogether {
        /// The one.
        a: Name,
        /// The other.
        b: Name,
    },
    /// A group has no spot at all.
    Nowhere {
        /// Which.
        group: Name,
    },
    /// Too few seeds to see the wished difference.
    TooFewSeeds,
    /// All boxes stand at one spot: chilled seeds may sprout at lower temperatures, not more of them, and one warmth cannot tell.
    OneWarmth,
    /// A spot has less room than the trial takes.
    NoRoom {
        /// The spot.
        spot: Name,
        /// Boxes that are to stand there.
        boxes: u32,
        /// Boxes that find room.
        room: u32,
    },
}

/// What the trial can show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Worth {
    /// Share of the seeds that is taken to sprout in one of two groups, 0 to 1.
    pub share: f64,
    /// That share is known from one's own sowings.
    pub share_known: bool,
    /// How much two seeds of a box are alike beyond their group.
    pub alike: f64,
    /// That is known from one's own boxes.
    pub alike_known: bool,
    /// By how much seeds that share boxes are worth less than seeds apart.
    pub design_effect: f64,
    /// Seeds of the group with the fewest.
    pub seeds: u32,
    /// Chance of seeing the wished difference, if it is there.
    pub chance: f64,
    /// The smallest difference seen four times in five; none: not even all against none.
    pub could_show: Option<f64>,
    /// Seeds a group with which the wished difference is seen four times in five, in boxes of so many as here.
    pub seeds_wanted: u32,
}

/// The trial planned.
#[derive(Debug, Clone, PartialEq)]
pub struct TrialPlan {
    /// What was wished.
    pub wish: TrialWish,
    /// Box by box, in the order in which they stand.
    pub places: Vec<Place>,
    /// What it can show; none where some group has no box.
    pub worth: Option<Worth>,
    /// What keeps it from answering.
    pub notes: Vec<TrialNote>,
}

/// Lays a trial out. `fit` is what is known of the plant; `taken` says whether a box's name is in use; `about_cold` whether chilling
/// is what is compared.
#[must_use]
pub fn plan_trial(wish: TrialWish, fit: Option<&Fit>, prefix: &str, taken: impl Fn(&Name) -> bool, about_cold: bool) -> TrialPlan {
    let spots: Vec<Name> = wish.spots.iter().map(|(spot, _)| spot.clone()).collect();
    let may_stand = |group: usize, spot: usize| {
        let mut bound = wish.only.iter().filter(|(of, _)| *of == wish.groups[group]).peekable();
        bound.peek().is_none() || bound.any(|(_, at)| *at == spots[spot])
    };
    let places = laid_out(wish.groups.len(), &spots, wish.boxes, may_stand, wish.shuffle, prefix, taken);
    let of = |group: usize| places.iter().filter(|place| place.group == group).count() as u32;
    let counts: Vec<u32> = (0..wish.groups.len()).map(of).collect();
    let fewest = counts.iter().copied().min().unwrap_or(0);
    let mut notes = Vec::new();
    for (group, _) in counts.iter().enumerate().filter(|(_, boxes)| **boxes == 0) {
        notes.push(TrialNote::Nowhere { group: wish.groups[group].clone() });
    }
    if fewest == 1 {
        notes.push(TrialNote::OneBoxEach);
    } else if (2..ENOUGH_BOXES).contains(&fewest) {
        notes.push(TrialNote::FewBoxes { boxes: fewest, wanted: ENOUGH_BOXES });
    }
    let spots_of =
        |group: usize| places.iter().filter(|place| place.group == group).map(|place| place.spot).collect::<BTreeSet<_>>();
    for a in 0..wish.groups.len() {
        for b in a + 1..wish.groups.len() {
            let (at_a, at_b) = (spots_of(a), spots_of(b));
            if !at_a.is_empty() && !at_b.is_empty() && at_a.is_disjoint(&at_b) {
                notes.push(TrialNote::NeverTogether { a: wish.groups[a].clone(), b: wish.groups[b].clone() });
            }
        }
    }
    let worth = (fewest > 0).then(|| worth(&wish, fewest, fit));
    if worth.is_some_and(|worth| worth.chance < POWER) {
        notes.push(TrialNote::TooFewSeeds);
    }
    if about_cold && spots.len() == 1 {
        notes.push(TrialNote::OneWarmth);
    }
    for (at, (spot, room)) in wish.spots.iter().enumerate() {
        let boxes = places.iter().filter(|place| place.spot == at).count() as u32;
        notes.extend(room.filter(|room| boxes > *room).map(|room| TrialNote::NoRoom { spot: spot.clone(), boxes, room }));
    }
    TrialPlan { wish, places, worth, notes }
}

/// What two groups of `boxes` boxes each can show.
///
/// # Formula
/// ```text
/// n = m k / D,   D = 1 + (m − 1) ρ,   ρ = σ² p (1 − p)
/// ```
/// m seeds a box, k boxes, σ the standard deviation of logit p between boxes: a small change of logit p moves p by p(1 − p) of it, and ρ is
/// the variance of p between boxes over p(1 − p).
fn worth(wish: &TrialWish, boxes: u32, fit: Option<&Fit>) -> Worth {
    let learnt = |of: &Estimate| of.estimate.filter(|_| matches!(of.informed_by, Some(Informant::Both | Informant::Trials)));
    let share = fit.and_then(|fit| learnt(&fit.estimates.germinable));
    let sd = fit.and_then(|fit| learnt(&fit.estimates.fraction_sd));
    let share_known = share.is_some();
    let share = share.unwrap_or(UNKNOWN_SHARE).clamp(EDGE, 1.0 - EDGE);
    let alike = sd.map_or(ASSUMED_ALIKE, |sd| (sd * sd * share * (1.0 - share)).min(1.0));
    let design = design_effect(f64::from(wish.seeds), alike);
    let seeds = wish.seeds.saturating_mul(boxes);
    let apart = (f64::from(seeds) / design).clamp(1.0, MOST_SUMMED).round() as u64;
    // Towards the side where there is room for the difference; seen from the other side it is the same sum.
    let low = share.min(1.0 - share);
    let high = (low + wish.difference).min(1.0);
    let wanted = seeds_for_difference_counted(low, high, LEVEL, POWER) * design;
    Worth {
        share,
        share_known,
        alike,
        alike_known: sd.is_some(),
        design_effect: design,
        seeds,
        chance: fisher_power(high, low, apart, apart, LEVEL),
        could_show: smallest_difference_shown(low, apart, apart, LEVEL, POWER).map(|share| share - low),
        seeds_wanted: if wanted.is_finite() { wanted.ceil() as u32 } else { u32::MAX },
    }
}
