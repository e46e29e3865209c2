//! What carrying a box to another spot would gain, and what speaks against it.

use super::delay::{Dates, Paths, swing};
use super::gains::SLOTS_PER_DAY;
use crate::bench::Name;
use crate::germination::{Fit, Needs, Prior, TrialSummary};
use crate::stats::{Spread, mean_of, spread_of};

/// A spot this much warmer than any where the species sprouted well is untested, °C.
const WARMER_C: f64 = 1.0;
/// A swing less than this share of the smallest known to do, and this much smaller in °C, is untested.
const STEADIER_SHARE: f64 = 0.5;
const STEADIER_C: f64 = 4.0;
/// A trial that reached this share of the germinable fraction sprouted well.
const WELL: f64 = 0.7;
/// A spot is judged by what it was like for so many days.
const LATELY_DAYS: usize = 14;
/// Hours a day above what the species likes best from which a spot is called too hot for it.
const HOT_HOURS_A_DAY: f64 = 2.0;

/// What carrying the box to a spot today would change.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveGain {
    /// Where to.
    pub spot: Name,
    /// Days sooner to half of the sprouts (below 0: later).
    pub days: Spread,
    /// More sprouts within 60 days (below 0: fewer).
    pub sprouts: Spread,
    /// Sprouts to be expected there within two weeks from now, more than where the box stands.
    pub soon: f64,
    /// What it was like there lately.
    pub lately: Lately,
    /// How many more boxes have room there; none: not said.
    pub room: Option<u32>,
}

/// What a spot was like in the last two weeks.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Lately {
    /// Mean temperature, °C.
    pub mean_c: f64,
    /// 95 % minus 5 % point, °C.
    pub swing_c: f64,
    /// Hours a day above what the species likes best, at the middle of the estimates.
    pub hot_hours_a_day: f64,
}

/// Why a move is not simply advised.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum MoveDoubt {
    /// There is no room.
    Full,
    /// It is too hot there for some hours a day.
    TooHot,
    /// It is warmer, or steadier, than any place where the species is known to sprout well.
    Untested,
    /// It is warmer or colder than the sowings that taught.
    OutsideKnown,
}

/// What a species is known to sprout well in, from one's own sowings and what is cited.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Liked {
    warmest_c: f64,
    steadiest_c: f64,
    valid_c: Option<(f64, f64)>,
    /// Sowings or a published source, not seeds in general, say where it is fastest.
    optimum_known: bool,
}

impl Liked {
    /// From the sowings behind a fit, and the packet or published row it began from.
    #[must_use]
    pub fn of(fit: &Fit, optimum_known: bool) -> Self {
        let usual = fit.estimates.germinable.estimate.unwrap_or(1.0);
        let well = |trial: &&TrialSummary| trial.fraction.is_some_and(|fraction| fraction >= WELL * usual);
        let (cited_c, cited_swing_c) = match &fit.question.prior {
            // Published times are of seeds kept at one temperature.
            Prior::Published(row) => (row.at_c, 0.0),
            Prior::Packet(packet, None) => (packet.at_c, f64::INFINITY),
            Prior::Packet(packet, Some(row)) => (packet.at_c.max(row.at_c), 0.0),
            Prior::None | Prior::General => (f64::NEG_INFINITY, f64::INFINITY),
        };
        Self {
            warmest_c: fit.trials.iter().filter(well).filter_map(|trial| trial.mean_c).fold(cited_c, f64::max),
            steadiest_c: fit.trials.iter().filter(well).map(|trial| trial.swing_c).fold(cited_swing_c, f64::min),
            valid_c: fit.valid_c,
            optimum_known,
        }
    }

    /// What speaks against a move, gravest first.
    #[must_use]
    pub fn doubts(&self, gain: &MoveGain) -> Vec<MoveDoubt> {
        let there = &gain.lately;
        let steadier = there.swing_c < STEADIER_SHARE * self.steadiest_c && there.swing_c < self.steadiest_c - STEADIER_C;
        let outside = self.valid_c.is_some_and(|(low, high)| there.mean_c < low || there.mean_c > high);
        let mut doubts = Vec::new();
        doubts.extend((gain.room == Some(0)).then_some(MoveDoubt::Full));
        doubts.extend((self.optimum_known && there.hot_hours_a_day >= HOT_HOURS_A_DAY).then_some(MoveDoubt::TooHot));
        doubts.extend((there.mean_c > self.warmest_c + WARMER_C || steadier).then_some(MoveDoubt::Untested));
        doubts.extend(outside.then_some(MoveDoubt::OutsideKnown));
        doubts
    }
}

/// Every spot but the box's own.
pub(super) fn moves(paths: &Paths<'_>, dates: &Dates, middle: &Needs) -> Vec<MoveGain> {
    let spots = paths.names.iter().zip(&dates.moved).filter(|(name, _)| **name != paths.placed.spot);
    spots
        .map(|(name, moved)| {
            let path = &paths.placed.spots[*name];
            MoveGain {
                spot: (*name).clone(),
                days: spread_of(&moved.sooner),
                sprouts: spread_of(&moved.sprouts),
                soon: mean_of(&moved.soon),
                lately: lately(&path.past_c, middle),
                room: path.room,
            }
        })
        .collect()
}

fn lately(past_c: &[f64], middle: &Needs) -> Lately {
    let last = &past_c[past_c.len().saturating_sub(LATELY_DAYS * SLOTS_PER_DAY)..];
    if last.is_empty() {
        return Lately::default();
    }
    let hot = last.iter().filter(|celsius| middle.rate.optimum().is_some_and(|optimum| **celsius > optimum)).count();
    Lately { mean_c: mean_of(last), swing_c: swing(last), hot_hours_a_day: 24.0 * hot as f64 / last.len() as f64 }
}
