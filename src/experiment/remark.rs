//! What has to be said beside the numbers of a comparison.

use super::{
    Along, Clock, CompareAnswer, Factor, LeftOut, PairAnswer, ShareDiffers, SpeedDiffers, Standing, Verdict, WarmthFrom, Why,
    Without,
};
use crate::bench::Name;

/// Days between looks while seeds sprouted: beyond this the days of sprouts are rough.
const LONG_GAP_DAYS: f64 = 4.0;

/// Something the reader of a comparison must know. Groups by their place.
#[derive(Debug, Clone, PartialEq)]
pub enum Remark {
    /// Two groups stood at different temperatures, °C.
    UnlikeWarmth {
        /// The groups.
        pair: (usize, usize),
        /// Their mean temperatures.
        celsius: (f64, f64),
    },
    /// The groups of some pairs have no level of another factor in common, so the two cannot be told apart.
    Along {
        /// That factor.
        factor: Factor,
        /// The pairs; all of them where it holds of all.
        pairs: Vec<(usize, usize)>,
        /// Whether it holds of all pairs.
        all: bool,
    },
    /// Groups still watched.
    StillWatched(Vec<usize>),
    /// Groups given up before slow seeds could have sprouted.
    GivenUpEarly(Vec<usize>),
    /// Groups in which nothing sprouted.
    NoneSprouted(Vec<usize>),
    /// Boxes whose seeds were not counted: they tell when, not how many.
    NotCounted(Vec<Name>),
    /// Boxes whose seeds were counted roughly; the middle is taken.
    CountedRoughly(Vec<Name>),
    /// Seeds lost while others still sprouted are left out of the counts.
    LostSeeds(u32),
    /// Boxes that stood apart, at temperatures that are not known.
    NoTemperatures,
    /// Days between looks while seeds sprouted.
    RareLooks {
        /// The group.
        group: usize,
        /// The longest such time, days.
        days: f64,
    },
    /// A sprout far from all others of its group.
    OddSprout(Without),
    /// Groups with one box only: what the box did is known only as far as boxes are assumed to differ.
    OneBox(Vec<usize>),
    /// How far boxes differ is assumed.
    BoxesAssumed {
        /// Correlation of seeds of one box; none where known from one's own.
        share: Option<f64>,
        /// Standard deviation of ln time between boxes; none where known from one's own.
        speed: Option<f64>,
    },
    /// Where seeds start, by which warmth is counted, is mostly assumed, °C.
    BaseAssumed(f64),
    /// Boxes left out.
    LeftOut(LeftOut, Vec<Name>),
    /// Batches left out, since in them nothing differs.
    OtherBatches(Vec<Name>),
    /// Plants of which the same could be compared.
    OtherSpecies(Vec<Name>),
}

/// All that has to be said, what matters most first.
#[must_use]
pub fn remarks(answer: &CompareAnswer) -> Vec<Remark> {
    let comparison = &answer.comparison;
    let (groups, pairs) = (&comparison.groups, &comparison.pairs);
    let mut remarks = Vec::new();
    let warm = pairs.iter().filter_map(|pair| Some(Remark::UnlikeWarmth { pair: (pair.a, pair.b), celsius: pair.along.celsius? }));
    // Of many pairs the one furthest apart speaks for all.
    remarks.extend(warm.max_by(|a, b| apart(a).total_cmp(&apart(b))));
    remarks.extend(Factor::ALL.into_iter().filter_map(|factor| along(pairs, factor)));
    let which = |wanted: &dyn Fn(usize) -> bool| (0..groups.len()).filter(|at| wanted(*at)).collect::<Vec<usize>>();
    let standing = |wanted: &[Standing]| which(&|at| wanted.contains(&groups[at].standing));
    let lists = [
        Remark::StillWatched(standing(&[Standing::StillWatched, Standing::NotLooked])),
        Remark::GivenUpEarly(standing(&[Standing::GivenUpEarly])),
        Remark::NoneSprouted(which(&|at| groups[at].sprouted == 0 && groups[at].standing == Standing::Finished)),
    ];
    remarks.extend(lists.into_iter().filter(|remark| !is_empty(remark)));
    let names = |of: fn(&super::GroupAnswer) -> &Vec<Name>| groups.iter().flat_map(of).cloned().collect::<Vec<Name>>();
    remarks.push(Remark::NotCounted(names(|group| &group.uncounted)));
    remarks.push(Remark::CountedRoughly(names(|group| &group.rough)));
    let lost: u32 = groups.iter().map(|group| group.left_out).sum();
    remarks.extend((lost > 0).then_some(Remark::LostSeeds(lost)));
    if pairs.iter().any(|pair| pair.speed == Verdict::CannotTell(Why::NoTemperatures)) {
        remarks.push(Remark::NoTemperatures);
    }
    remarks.extend(comparison.without.iter().cloned().map(Remark::OddSprout));
    let rare = (0..groups.len()).filter(|at| groups[*at].longest_gap_days > LONG_GAP_DAYS);
    let rarest = rare.max_by(|a, b| groups[*a].longest_gap_days.total_cmp(&groups[*b].longest_gap_days));
    remarks.extend(rarest.map(|group| Remark::RareLooks { group, days: groups[group].longest_gap_days }));
    remarks.push(Remark::OneBox(which(&|at| groups[at].containers.len() == 1)));
    let differ = comparison.asked.boxes_differ;
    let share = if let ShareDiffers::Assumed(rho) = differ.share { Some(rho) } else { None };
    let speed = if let SpeedDiffers::Assumed(sd) = differ.speed { Some(sd) } else { None };
    if share.is_some() || speed.is_some() {
        remarks.push(Remark::BoxesAssumed { share, speed });
    }
    match answer.warmth {
        WarmthFrom::Assumed(base) if pairs.iter().any(|pair| pair.along.celsius.is_some() && pair.speed_on == Clock::Warmth) => {
            remarks.push(Remark::BaseAssumed(base));
        }
        _ => {}
    }
    for why in [LeftOut::InTheCold, LeftOut::NeverLooked] {
        let names = answer.left_out.iter().filter(|(_, other)| *other == why).map(|(name, _)| name.clone());
        remarks.push(Remark::LeftOut(why, names.collect()));
    }
    remarks.push(Remark::OtherBatches(answer.other_batches.clone()));
    remarks.push(Remark::OtherSpecies(answer.other_species.clone()));
    remarks.retain(|remark| !is_empty(remark));
    remarks
}

fn apart(remark: &Remark) -> f64 {
    if let Remark::UnlikeWarmth { celsius, .. } = remark { (celsius.0 - celsius.1).abs() } else { 0.0 }
}

fn along(pairs: &[PairAnswer], factor: Factor) -> Option<Remark> {
    let apart = |along: &Along| along.factors.contains(&factor);
    let coincide: Vec<(usize, usize)> = pairs.iter().filter(|pair| apart(&pair.along)).map(|pair| (pair.a, pair.b)).collect();
    let all = coincide.len() == pairs.len();
    (!coincide.is_empty()).then_some(Remark::Along { factor, pairs: coincide, all })
}

fn is_empty(remark: &Remark) -> bool {
    match remark {
        Remark::StillWatched(groups) | Remark::GivenUpEarly(groups) | Remark::NoneSprouted(groups) | Remark::OneBox(groups) => {
            groups.is_empty()
        }
        Remark::NotCounted(names)
        | Remark::CountedRoughly(names)
        | Remark::LeftOut(_, names)
        | Remark::OtherBatches(names)
        | Remark::OtherSpecies(names) => names.is_empty(),
        _ => false,
    }
}
