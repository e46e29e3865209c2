//! A sprout far from all others of its group: how surprising it is, never a reason to leave it out.

use super::{Curve, Tally, curve};
use crate::stats::Dice;

/// Draws of the curve's numbers that a surprise is averaged over.
const DRAWS: usize = 400;
/// With fewer sprouts there is no telling what is far from them.
const FEWEST: f64 = 5.0;
/// Said from here on: one group in fifty has such a sprout by luck, on either side.
const SURPRISING: f64 = 0.02;

/// Which end a sprout is at.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Side {
    /// The first one.
    Early,
    /// The last one.
    Late,
}

/// A sprout that the others' curve did not lead one to expect.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Odd {
    /// Which end.
    pub side: Side,
    /// It came after this time on the clock …
    pub after: f64,
    /// … and by this one.
    pub until: f64,
    /// Chance that the first (or last) of so many sprouts comes so early (or late) by the curve of all the others.
    pub chance: f64,
    /// Where it stands among the tally's windows.
    pub window: usize,
}

/// The first and the last sprout, where they surprise.
///
/// # Formula
/// ```text
/// late:  P = 1 − F(after)ᴺ        early:  P = 1 − (1 − F(until))ᴺ        N sprouts, F by the curve of the N − 1 others,
/// averaged over the uncertainty of its ln half and ln spread
/// ```
#[must_use]
pub fn odd_ones(tally: &Tally, seed: u64) -> Vec<Odd> {
    let sprouts = tally.sprouts();
    if sprouts < FEWEST {
        return Vec::new();
    }
    let places = || 0..tally.sprouted.len();
    let first = places().min_by(|a, b| tally.sprouted[*a].1.total_cmp(&tally.sprouted[*b].1));
    let last = places().max_by(|a, b| tally.sprouted[*a].0.total_cmp(&tally.sprouted[*b].0));
    let ends = [(Side::Early, first), (Side::Late, last)];
    let one = |(side, window): (Side, Option<usize>)| {
        let window = window?;
        let (after, until, _) = tally.sprouted[window];
        let others = curve(&tally.without(window))?;
        let chance = surprise(&others, side, after, until, sprouts, seed);
        (chance < SURPRISING).then_some(Odd { side, after, until, chance, window })
    };
    ends.into_iter().filter_map(one).collect()
}

fn surprise(others: &Curve, side: Side, after: f64, until: f64, sprouts: f64, seed: u64) -> f64 {
    let mut dice = Dice::new(seed);
    let drawn = (0..DRAWS).map(|_| {
        let one = Curve {
            ln_half: others.ln_half + others.ln_half_se * dice.normal(),
            ln_spread: others.ln_spread + others.ln_spread_se * dice.normal(),
            ..*others
        };
        match side {
            Side::Late => 1.0 - one.share(after).powf(sprouts),
            Side::Early => 1.0 - (1.0 - one.share(until)).powf(sprouts),
        }
    });
    drawn.sum::<f64>() / DRAWS as f64
}

#[cfg(test)]
mod tests {
    use super::*;

    fn days(sprouts: &[(u32, u32)]) -> Tally {
        let window = |(day, seeds): &(u32, u32)| (f64::from(day - 1), f64::from(*day), f64::from(*seeds));
        Tally { sprouted: sprouts.iter().map(window).collect(), open: vec![(45.0, 5.0)], last: 45.0, ..Tally::default() }
    }

    #[test]
    fn a_straggler_and_a_forerunner_surprise_and_ends_of_a_common_row_do_not() {
        assert_eq!(odd_ones(&days(&[(7, 2), (8, 4), (9, 5), (10, 3), (12, 1)]), 1), []);
        let late = odd_ones(&days(&[(7, 2), (8, 4), (9, 5), (10, 3), (40, 1)]), 1);
        assert_eq!(late.iter().map(|odd| (odd.side, odd.after, odd.until)).collect::<Vec<_>>(), [(Side::Late, 39.0, 40.0)]);
        assert!(late[0].chance < 0.005, "{late:?}");
        let early = odd_ones(&days(&[(3, 1), (17, 2), (18, 4), (19, 5), (20, 3)]), 1);
        assert_eq!(early.iter().map(|odd| odd.side).collect::<Vec<_>>(), [Side::Early]);
        assert_eq!(odd_ones(&days(&[(7, 3), (40, 1)]), 1), [], "too few to tell");
    }
}
