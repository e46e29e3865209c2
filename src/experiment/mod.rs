//! Comparing treatments, lots, spots or batches: what is shown, what is not, and what it would take.

mod answer;
mod compare;
mod curve;
mod factor;
mod group;
mod indices;
mod odd;
mod overall;
mod pair;
mod remark;
mod sizes;
mod standing;
#[cfg(test)]
mod tests;
mod verdict;
mod watched;

pub use answer::{CompareAnswer, LeftOut, NoComparison, WarmthFrom, Wish};
pub use compare::{Asked, Comparison, Without, compare};
pub use curve::{Curve, curve};
pub use factor::{Along, Factor, Group, along, groups};
pub use group::{CurvePoint, GroupAnswer};
pub use indices::{Index, indices};
pub use odd::{Odd, Side, odd_ones};
pub use overall::Overall;
pub use pair::{PairAnswer, Ranked, Shuffles, Unit};
pub use remark::{Remark, remarks};
pub use sizes::{Needed, Plan, needed, smallest_shown};
pub use standing::{Standing, standing};
pub use verdict::{ASSUMED, BoxesDiffer, FEWEST_SPROUTS, Reckoned, ShareDiffers, SpeedDiffers, Verdict, WRONG, Why};
pub use watched::{Clock, Reached, Seeds, Seen, Tally, Watched};
