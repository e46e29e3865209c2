//! What becomes of the seeds of a box, and what the grower sees of it.

use chrono::{DateTime, Duration, Utc};

use super::seeds::Needs;
use super::weather::{STEP_MINUTES, Track};
use super::{SeedFate, TrueBox, days};
use crate::simulator::grower::Look;
use crate::simulator::random::Stream;

/// A dead seed turns mouldy with this chance, on a day between these after it came into the warm.
const MOULDY: f64 = 0.4;
const MOULD_DAYS: (f64, f64) = (7.0, 30.0);

/// Chance that a dead seed has turned mouldy within so many days: known to nobody but the oracle.
pub(crate) fn mouldy_by(days: f64) -> f64 {
    MOULDY * ((days - MOULD_DAYS.0) / (MOULD_DAYS.1 - MOULD_DAYS.0)).clamp(0.0, 1.0)
}

/// Draws the seeds and sums their warmth half hour by half hour, as far as the tracks go; `stays`: from when on in whose warmth.
pub(crate) fn fates(
    needs: &Needs,
    seeds: u32,
    warm_from: DateTime<Utc>,
    stays: &[(DateTime<Utc>, &Track)],
    random: &mut Stream,
) -> Vec<SeedFate> {
    let wants: Vec<Option<f64>> = (0..seeds).map(|_| needs.seed(random)).collect();
    let mut fates: Vec<SeedFate> = wants
        .into_iter()
        .map(|wants| {
            let after = Duration::minutes((random.between(MOULD_DAYS.0, MOULD_DAYS.1) * 1440.0) as i64);
            let mould = (random.chance(MOULDY) && wants.is_none()).then(|| warm_from + after);
            SeedFate { wants, mould, ..SeedFate::default() }
        })
        .collect();
    let Some(end) = stays.iter().map(|(_, track)| track.start + Duration::minutes(STEP_MINUTES * track.celsius.len() as i64)).min()
    else {
        return fates;
    };
    let (mut gathered, mut time) = (0.0, warm_from);
    while time < end {
        let (next, (_, track)) =
            (stays.iter().map(|stay| stay.0).find(|from| *from > time), stays.iter().rev().find(|stay| stay.0 <= time).unwrap());
        // To the end of the half hour of the record, or until it is carried away.
        let edge = track.start + Duration::minutes(STEP_MINUTES * (track.step(time) as i64 + 1));
        let until = next.map_or(edge, |next| next.min(edge));
        let per_day = needs.rate(track.at(time));
        let by_then = gathered + per_day * days(until - time);
        for fate in fates.iter_mut().filter(|fate| fate.sprouts.is_none()) {
            if let Some(wants) = fate.wants.filter(|wants| by_then >= *wants) {
                // Within it warmth is gathered evenly.
                fate.sprouts = Some(time + Duration::seconds(((wants - gathered) / per_day * 86_400.0) as i64));
            }
        }
        (gathered, time) = (by_then, until);
    }
    fates
}

/// Looks at a box on rounds, one in sixteen passed over; `lost_on`: the look at which a seed rolls away, whichever it be.
pub(crate) fn look(one: &mut TrueBox, rounds: &[DateTime<Utc>], lost_on: Option<usize>, gives_up: bool, random: &mut Stream) {
    let (mut sprouted, mut removed, mut lost) = (0, 0, 0);
    let mut last_news = one.warm_from;
    for &round in rounds.iter().filter(|round| **round > one.warm_from + Duration::hours(10)) {
        let time = round + Duration::seconds(random.between(0.0, 420.0) as i64);
        let passed_over = random.chance(1.0 / 16.0);
        let picked = random.uniform();
        if passed_over {
            continue;
        }
        let by_now = |moment: Option<DateTime<Utc>>| moment.is_some_and(|moment| moment <= time);
        let there = |fate: &&mut SeedFate| fate.lost.is_none();
        let mut look = Look { time, ..Look::default() };
        let up = one.fates.iter_mut().filter(there).filter(|fate| by_now(fate.sprouts)).count() as u32;
        let mouldy = one.fates.iter_mut().filter(there).filter(|fate| by_now(fate.mould)).count() as u32;
        (look.sprouted, look.removed) = (up - sprouted, mouldy - removed);
        if lost_on == Some(one.looks.len()) {
            let mut left: Vec<&mut SeedFate> =
                one.fates.iter_mut().filter(there).filter(|fate| !by_now(fate.sprouts) && !by_now(fate.mould)).collect();
            let which = (picked * left.len() as f64) as usize;
            if let Some(fate) = left.get_mut(which) {
                fate.lost = Some(time);
                look.lost = 1;
            }
        }
        if look.sprouted > 0 {
            last_news = time;
        }
        if look.removed > 0 {
            look.condition = "mouldy";
        }
        (sprouted, removed, lost) = (up, mouldy, lost + look.lost);
        one.looks.push(look);
        let all_done = sprouted + removed + lost == one.seeds;
        let in_vain = sprouted > 0 && time - last_news > Duration::days(12);
        if gives_up && (all_done || in_vain) {
            break;
        }
    }
    one.given_up = gives_up;
}
