//! Whether a group's story is over, so that something may be concluded from it.

use super::{Clock, Curve, Tally, Watched, curve};

/// A box given up before this multiple of the time that half of the sprouts took may have held slow seeds still.
const EARLY: f64 = 1.5;
/// A group still watched may be judged when fewer sprouts than this are to be expected of all its seeds: hardly one in ten.
const HARDLY_ANY: f64 = 0.1;
/// And when its last look lies at this multiple of the time that half took.
const WATCHED_LONG: f64 = 2.0;

/// How a group stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Standing {
    /// Its boxes have ended, or hardly a sprout is to be expected any more.
    Finished,
    /// Seeds are still watched of which some may sprout.
    StillWatched,
    /// It was given up before slow seeds could have sprouted.
    GivenUpEarly,
    /// Nobody has looked yet.
    NotLooked,
}

/// How a group stands; `all` is the curve of all groups together, for one in which nothing has sprouted.
#[must_use]
pub fn standing(boxes: &[&Watched], all: Option<&Curve>) -> Standing {
    if boxes.iter().all(|one| one.looks.is_empty()) {
        return Standing::NotLooked;
    }
    let own = Tally::of(boxes.iter().copied(), Clock::Days).and_then(|tally| curve(&tally));
    let half = own.as_ref().or(all).map(|curve| curve.ln_half.exp());
    let mut to_come = 0.0;
    let mut standing = Standing::Finished;
    for one in boxes {
        let left = left(one);
        let last = one.last().days;
        if left == Some(0) {
            continue;
        }
        if one.ended {
            if half.is_some_and(|half| last < EARLY * half) && standing == Standing::Finished {
                standing = Standing::GivenUpEarly;
            }
            continue;
        }
        match (&own, left) {
            (Some(own), Some(left)) if last >= WATCHED_LONG * own.ln_half.exp() => to_come += f64::from(left) * own.to_come(last),
            _ => return Standing::StillWatched,
        }
    }
    if to_come > HARDLY_ANY { Standing::StillWatched } else { standing }
}

/// Sound unsprouted seeds in a box; none where they were not counted.
fn left(one: &Watched) -> Option<u32> {
    let removed: u32 = one.looks.iter().map(|look| look.removed).sum();
    Some(one.seeds.number()?.saturating_sub(one.sprouted() + removed))
}
