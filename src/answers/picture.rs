//! Everything that a page tells, worked out at once.

use std::collections::BTreeMap;

use super::diagnose::middle;
use super::{Known, Present, Shelf, diagnose, forecast};
use crate::bench::{Event, Name};
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::Diagnosis;
use crate::forecast::ForecastAnswer;
use crate::germination::Needs;
use crate::store::{Keepsakes, KeptFit, Store, StoreError};

/// Days that are forecast.
const DAYS: usize = 60;
/// A temperature older than this is not called the present one, microseconds: six hours.
const PRESENT_US: i64 = 6 * 3_600_000_000;

/// What is known of the present and what follows from it, as of one moment.
#[derive(Debug, Clone)]
pub struct Picture {
    /// As of when.
    pub as_of: Time,
    /// The bench and its temperatures.
    pub known: Known,
    /// When the present boxes will sprout.
    pub forecast: ForecastAnswer,
    /// Which are slow, and why.
    pub diagnosis: Diagnosis,
    /// What each kind of seed needs, by the middle of the estimates.
    pub needs: BTreeMap<(Name, Event), Needs>,
    /// The last temperature known at each spot and when, where that is not long ago.
    pub temperatures: BTreeMap<Name, (f64, Time)>,
}

/// Works it out as of `now`; gives the fits that were made anew beside it, to be kept.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn picture(store: &Store, now: Time) -> Result<(Picture, Vec<KeptFit>), StoreError> {
    let known = Known::as_of(store, now)?;
    let mut shelf = Shelf::of(store);
    let present = Present::with(&known, &mut shelf);
    let fresh = shelf.into_fresh();
    let (forecast, diagnosis) = (forecast(&known, &present, DAYS), diagnose(&known, &present));
    let needs = present.fits.iter().map(|((name, event), fit)| (((*name).clone(), *event), middle(fit))).collect();
    let temperatures = known.warmth.keys().filter_map(|spot| Some((spot.clone(), last_temperature(&known, spot)?))).collect();
    drop(present);
    Ok((Picture { as_of: now, known, forecast, diagnosis, needs, temperatures }, fresh))
}

/// Keeps fits, so that the next picture takes less time.
///
/// # Errors
/// [`StoreError`].
pub fn keep_fits(store: &mut Store, fits: &[KeptFit], now: Time) -> Result<(), StoreError> {
    store.keep(&Keepsakes { fits, ..Keepsakes::default() }, now)
}

/// The temperature at a spot over the last of its record that was not guessed.
fn last_temperature(known: &Known, spot: &Name) -> Option<(f64, Time)> {
    let now_us = known.now.timestamp_micros();
    let measured = known.record(spot).within(now_us - PRESENT_US, now_us + 1).filter(|step| step.guess.is_none());
    let mut last: Option<(i64, f64, f64)> = None;
    for step in measured {
        let celsius = step.celsius * step.share;
        last = match last {
            Some((until_us, sum, share)) if until_us == step.until_us => Some((until_us, sum + celsius, share + step.share)),
            _ => Some((step.until_us, celsius, step.share)),
        };
    }
    let (until_us, sum, share) = last?;
    Some((sum / share, time_from_micros(until_us.min(now_us))?))
}
