//! A trial laid out: which box stands where, so that place and treatment can be told apart.

use crate::bench::Name;
use crate::stats::{Dice, seed_of};

/// A box of a trial.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Place {
    /// The box's name.
    pub container: Name,
    /// Which spot, by its place among the spots.
    pub spot: usize,
    /// The position at the spot, from 1 on: in a row, or row by row.
    pub position: u32,
    /// Which round of boxes at the spot, from 1 on: each holds every group that stands there once.
    pub round: u32,
    /// What is sown in it, by its place among the groups.
    pub group: usize,
}

/// Randomised complete blocks: every group `rounds` times at every spot where it may stand, in an order that chance makes, anew in each
/// round. The same number `shuffle` gives the same layout. Boxes are named in the order in which they stand, so that a name tells
/// nothing of what is in it: `prefix` and a number, those that are `taken` left out.
///
/// `may_stand` says of a group and a spot whether the group may stand there.
#[must_use]
pub fn laid_out(
    groups: usize,
    spots: &[Name],
    rounds: u32,
    may_stand: impl Fn(usize, usize) -> bool,
    shuffle: u64,
    prefix: &str,
    taken: impl Fn(&Name) -> bool,
) -> Vec<Place> {
    let mut names = (1u32..).filter_map(|at| Name::new(&format!("{prefix}{at}")).ok()).filter(|name| !taken(name));
    let mut places = Vec::new();
    for (at, spot) in spots.iter().enumerate() {
        // A spot's order is its own, whichever others take part.
        let mut dice = Dice::new(shuffle ^ seed_of(spot.as_str()));
        let mut position = 0;
        for round in 1..=rounds {
            let mut order: Vec<usize> = (0..groups).filter(|group| may_stand(*group, at)).collect();
            dice.shuffle(&mut order);
            for group in order {
                position += 1;
                let Some(container) = names.next() else { return places };
                places.push(Place { container, spot: at, position, round, group });
            }
        }
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn spots(count: usize) -> Vec<Name> {
        (0..count).map(|at| Name::new(&format!("spot {at}")).unwrap()).collect()
    }

    proptest! {
        #[test]
        fn every_round_holds_every_group_once_and_the_same_number_gives_the_same(
            groups in 2usize..6, at in 1usize..5, rounds in 1u32..6, shuffle: u64,
        ) {
            let lay = |shuffle| laid_out(groups, &spots(at), rounds, |_, _| true, shuffle, "T", |name| name.as_str() == "T2");
            let places = lay(shuffle);
            prop_assert_eq!(&places, &lay(shuffle));
            prop_assert_eq!(places.len(), groups * at * rounds as usize);
            for spot in 0..at {
                for round in 1..=rounds {
                    let mut there: Vec<usize> =
                        places.iter().filter(|place| (place.spot, place.round) == (spot, round)).map(|place| place.group).collect();
                    there.sort_unstable();
                    prop_assert_eq!(there, (0..groups).collect::<Vec<_>>());
                }
            }
            let mut names: Vec<&str> = places.iter().map(|place| place.container.as_str()).collect();
            prop_assert!(!names.contains(&"T2"));
            names.sort_unstable();
            names.dedup();
            prop_assert_eq!(names.len(), places.len());
        }
    }

    /// Of 6000 shuffles each of three groups stands first in a third: within 4 standard errors.
    #[test]
    fn every_order_is_as_likely() {
        let mut first = [0u32; 3];
        for shuffle in 0..6000 {
            first[laid_out(3, &spots(1), 1, |_, _| true, shuffle, "T", |_| false)[0].group] += 1;
        }
        let error = (6000.0f64 * 1.0 / 3.0 * 2.0 / 3.0).sqrt();
        assert!(first.iter().all(|count| (f64::from(*count) - 2000.0).abs() < 4.0 * error), "{first:?}");
    }

    #[test]
    fn a_group_stands_only_where_it_may() {
        let places = laid_out(2, &spots(2), 2, |group, spot| group == spot, 1, "T", |_| false);
        assert!(places.len() == 4 && places.iter().all(|place| place.group == place.spot));
    }
}
