//! What boxes are compared by, and what else differs along with it.

use std::collections::BTreeSet;

use super::Watched;
use crate::bench::Name;

/// Groups are this much warmer or colder than each other where it is said, °C. Probes beside boxes are unsure by about half of it.
const APART_C: f64 = 1.0;

/// What boxes are compared by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Factor {
    /// What a lot went through before sowing.
    Treatment,
    /// Seeds collected or bought together.
    Lot,
    /// Where boxes stood.
    Spot,
    /// Boxes watched together.
    Batch,
}

/// Boxes of one level of a factor.
#[derive(Debug, Clone, PartialEq)]
pub struct Group<'a> {
    /// The level: a treatment, a lot …; none: untreated, or of no named lot.
    pub level: Option<Name>,
    /// Its boxes, by name.
    pub boxes: Vec<&'a Watched>,
}

/// What cannot be told apart from what is compared, for two groups.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Along {
    /// Other factors of which the two groups have no level in common.
    pub factors: Vec<Factor>,
    /// Mean temperatures of the two, °C, where they lie apart.
    pub celsius: Option<(f64, f64)>,
}

impl Factor {
    /// All of them, in the order in which one would ask.
    pub const ALL: [Self; 4] = [Self::Treatment, Self::Lot, Self::Spot, Self::Batch];

    /// The level that a box has.
    #[must_use]
    pub fn of(self, one: &Watched) -> Option<&Name> {
        match self {
            Self::Treatment => one.treatment.as_ref(),
            Self::Lot => one.lot.as_ref(),
            Self::Spot => Some(&one.spot),
            Self::Batch => Some(&one.batch),
        }
    }

    /// Whether boxes have more than one level of it.
    #[must_use]
    pub fn differs(self, boxes: &[&Watched]) -> bool {
        levels(self, boxes).len() > 1
    }
}

fn levels<'a>(factor: Factor, boxes: &[&'a Watched]) -> BTreeSet<Option<&'a Name>> {
    boxes.iter().map(|one| factor.of(one)).collect()
}

/// Boxes by their level, the group sown first before the others, those sown together by name.
#[must_use]
pub fn groups<'a>(boxes: &[&'a Watched], factor: Factor) -> Vec<Group<'a>> {
    let mut groups: Vec<Group<'a>> = Vec::new();
    for level in levels(factor, boxes) {
        let mut own: Vec<&Watched> = boxes.iter().copied().filter(|one| factor.of(one) == level).collect();
        own.sort_by(|a, b| a.container.cmp(&b.container));
        groups.push(Group { level: level.cloned(), boxes: own });
    }
    groups.sort_by_key(|group| (group.boxes.iter().map(|one| one.sown).min(), group.level.clone()));
    groups
}

impl Group<'_> {
    /// Mean of its boxes' mean temperatures, °C; none where one of them is not known.
    #[must_use]
    pub fn mean_c(&self) -> Option<f64> {
        let means = self.boxes.iter().map(|one| one.mean_c).collect::<Option<Vec<f64>>>()?;
        (!means.is_empty()).then(|| means.iter().sum::<f64>() / means.len() as f64)
    }
}

/// What differs between two groups along with the factor that they are compared by.
#[must_use]
pub fn along(a: &Group<'_>, b: &Group<'_>, factor: Factor) -> Along {
    let apart = |other: &Factor| levels(*other, &a.boxes).is_disjoint(&levels(*other, &b.boxes));
    let factors = Factor::ALL.into_iter().filter(|other| *other != factor).filter(apart).collect();
    let celsius = a.mean_c().zip(b.mean_c()).filter(|(a, b)| (a - b).abs() >= APART_C);
    Along { factors, celsius }
}
