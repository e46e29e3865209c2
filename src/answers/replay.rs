//! A season forecast again, as of each of its mornings.

use chrono::{Days, NaiveTime};

use super::ledger::stories;
use super::{Keeping, Known, Present, forecast, to_keep};
use crate::civil::{Time, local_date, reckon};
use crate::forecast::{Comparison, Ledger, by_days_ahead, compare};
use crate::store::{Store, StoreError};

/// The hour of a morning's forecast, local time.
const MORNING: NaiveTime = match NaiveTime::from_hms_opt(8, 0, 0) {
    Some(time) => time,
    None => NaiveTime::MIN,
};

/// How the forecasts of a season's mornings would have done.
#[derive(Debug, Clone, PartialEq)]
pub struct Replay {
    /// As of when the season was looked back on.
    pub as_of: Time,
    /// The first morning.
    pub from: Option<Time>,
    /// How many mornings.
    pub mornings: usize,
    /// How they did.
    pub ledger: Ledger,
    /// The same by days ahead: from, until, how they did.
    pub by_days_ahead: Vec<(usize, Option<usize>, Ledger)>,
}

/// Forecasts the batches present at `now` as of each local morning since they were sown, `days` ahead, using nothing later than that
/// morning, and holds that against the looks up to `now`. `progress` is told how many mornings of how many are done.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn replay(store: &Store, now: Time, days: usize, progress: &mut dyn FnMut(usize, usize)) -> Result<Replay, StoreError> {
    let known = Known::as_of(store, now)?;
    let present = known.bench.present_batches(now);
    let batches: Vec<_> = present.keys().copied().collect();
    let first = present.values().flatten().map(|trial| trial.container.sown).min();
    let mornings = first.map_or_else(Vec::new, |first| mornings(first, now, known.bench.zone));
    let mut kept = Vec::new();
    for (done, morning) in mornings.iter().enumerate() {
        progress(done, mornings.len());
        let then = Known::as_of(store, *morning)?;
        let present = Present::new(&then);
        let mut answer = forecast(&then, &present, days);
        answer.boxes.retain(|one| batches.contains(&&one.trial.container.batch));
        kept.extend(to_keep(&then, &present, &answer, *morning, Keeping::FirstOfDay));
    }
    progress(mornings.len(), mornings.len());
    let (scored, comparisons): (usize, Vec<Comparison>) = compare(&kept, &stories(&known));
    Ok(Replay {
        as_of: now,
        from: mornings.first().copied(),
        mornings: mornings.len(),
        ledger: Ledger::of(kept.len(), scored, &comparisons),
        by_days_ahead: by_days_ahead(&comparisons),
    })
}

/// The local mornings after `first` and up to `now`.
fn mornings(first: Time, now: Time, zone: crate::civil::Zone) -> Vec<Time> {
    let mut day = local_date(first, zone);
    let mut mornings = Vec::new();
    loop {
        // A morning that the clocks leave out is skipped.
        if let Ok(morning) = reckon(day.and_time(MORNING), zone, "") {
            if morning.time > now {
                break;
            }
            if morning.time > first {
                mornings.push(morning.time);
            }
        }
        let Some(next) = day.checked_add_days(Days::new(1)) else { break };
        day = next;
    }
    mornings
}
