//! Which boxes should change places, so that most seeds sprout soon: an assignment of boxes to places.

use std::collections::BTreeMap;

use pathfinding::kuhn_munkres::kuhn_munkres;
use pathfinding::matrix::Matrix;

use super::moves::MoveDoubt;
use super::{BoxDiagnosis, MoveGain};
use crate::bench::Name;

/// What carrying a box must bring to be worth it, in sprouts.
const WORTH_CARRYING: f64 = 0.25;
/// Together the moves must bring so many.
const WORTH_SAYING: f64 = 1.0;
/// The assignment is made over whole numbers: thousandths of a sprout.
const UNITS: f64 = 1000.0;
/// More than any number of sprouts may outweigh.
const FORBIDDEN: i64 = -1_000_000_000_000;

/// Boxes that should be carried elsewhere, all of them together.
#[derive(Debug, Clone, PartialEq)]
pub struct Swaps {
    /// Box, where it stands, where to.
    pub moves: Vec<(Name, Name, Name)>,
    /// So many more sprouts are to be expected within two weeks.
    pub more: f64,
}

/// The best of all ways to share `places` (how many of these boxes each spot can hold; spots without a number hold all) among the
/// boxes. No box goes where its species is not known to do well. None where nothing is gained, or where no spot has a number: then
/// each box's own advice says all.
#[must_use]
pub fn swaps(boxes: &[BoxDiagnosis], places: &BTreeMap<&Name, u32>) -> Option<Swaps> {
    let movable: Vec<&BoxDiagnosis> = boxes.iter().filter(|one| !one.ended && one.delay.is_some()).collect();
    let standing = |spot: &Name| movable.iter().filter(|one| one.spot == *spot).count();
    let mut spots: Vec<&Name> =
        movable.iter().flat_map(|one| moves(one).iter().map(|gain| &gain.spot).chain([&one.spot])).collect();
    spots.sort();
    spots.dedup();
    if !spots.iter().any(|spot| places.contains_key(*spot)) {
        return None;
    }
    let hold = |spot: &Name| places.get(spot).map_or(movable.len(), |places| (*places as usize).max(standing(spot)));
    let columns: Vec<&Name> = spots.iter().flat_map(|spot| std::iter::repeat_n(*spot, hold(spot).min(movable.len()))).collect();
    if movable.is_empty() || columns.len() < movable.len() {
        return None;
    }
    let weights = movable.iter().map(|one| columns.iter().map(|spot| weight(one, spot)).collect::<Vec<i64>>());
    let matrix = Matrix::from_rows(weights).ok()?;
    let (_, taken) = kuhn_munkres(&matrix);
    let mut found = Swaps { moves: Vec::new(), more: 0.0 };
    for (one, column) in movable.iter().zip(taken) {
        let spot = columns[column];
        if let Some(gain) = moves(one).iter().find(|gain| gain.spot == *spot) {
            found.more += gain.soon;
            found.moves.push((one.trial.container.name.clone(), one.spot.clone(), spot.clone()));
        }
    }
    (found.more >= WORTH_SAYING).then_some(found)
}

fn moves(one: &BoxDiagnosis) -> &[MoveGain] {
    one.delay.as_ref().map_or(&[], |delay| &delay.moves)
}

fn weight(one: &BoxDiagnosis, spot: &Name) -> i64 {
    if one.spot == *spot {
        return 0;
    }
    let Some(gain) = moves(one).iter().find(|gain| gain.spot == *spot) else { return FORBIDDEN };
    let doubted = one
        .liked
        .as_ref()
        .is_none_or(|liked| liked.doubts(gain).iter().any(|doubt| matches!(doubt, MoveDoubt::TooHot | MoveDoubt::Untested)));
    if doubted || !gain.soon.is_finite() {
        return FORBIDDEN;
    }
    ((gain.soon - WORTH_CARRYING) * UNITS).round() as i64
}
