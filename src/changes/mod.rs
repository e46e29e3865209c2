//! Changes of a bench: a wish, the bench's rules, one transaction.

use std::path::Path;

use thiserror::Error;

use crate::bench::rules::{Admitted, Entry, Fault, Origin, admit, latest_credible};
use crate::bench::{Bench, Name};
use crate::civil::{Time, Zone, local_time, time_from_micros};
use crate::exchange::Folder;
use crate::store::{Appended, Store, StoreError};

/// Why a change was not made. Nothing of it is on record.
#[derive(Debug, Error)]
pub enum ChangeError {
    /// The wish breaks rules; all of them.
    #[error("{} things are wrong", .0.len())]
    Faults(Vec<Fault>),
    /// The bench file could not be used.
    #[error(transparent)]
    Store(#[from] StoreError),
}

/// What an import brought.
#[derive(Debug, Clone, PartialEq)]
pub struct Imported {
    /// What is new but the readings.
    pub admitted: Admitted,
    /// The readings.
    pub readings: Appended,
}

/// Records wishes typed or clicked, all or none.
///
/// # Errors
/// [`ChangeError`].
pub fn record(store: &mut Store, entries: Vec<Entry>, now: Time) -> Result<Admitted, ChangeError> {
    let mut change = store.change()?;
    let admitted = examine(&change.bench()?, entries, now)?;
    change.record(&admitted)?;
    change.commit()?;
    Ok(admitted)
}

/// Takes a bench folder in, all or nothing.
///
/// # Errors
/// [`ChangeError`].
pub fn import_folder(store: &mut Store, folder: &Folder, now: Time) -> Result<Imported, ChangeError> {
    let mut change = store.change()?;
    let admitted = examine_folder(&change.bench()?, folder, now)?;
    change.record(&admitted)?;
    let mut readings = Appended::default();
    let mut faults = Vec::new();
    for (probe, read) in &folder.series.probes {
        let taken = change.add_readings(probe, read.iter().map(|read| &read.reading), |at, on_record| {
            faults.push(folder.series.contradicts(probe, &read[at], &on_record));
        })?;
        readings.stored += taken.stored;
        readings.repeated += taken.repeated;
    }
    if !faults.is_empty() {
        return Err(ChangeError::Faults(faults));
    }
    change.commit()?;
    Ok(Imported { admitted, readings })
}

/// Opens a bench to change it, or begins an own one of `zone` where there is none: that only if `admissible` finds nothing
/// wrong with the first wish, so that a slip leaves no bench behind.
///
/// # Errors
/// [`ChangeError`].
pub fn open_or_begin(
    path: &Path,
    zone: Zone,
    admissible: impl FnOnce(&Bench) -> Result<Admitted, ChangeError>,
) -> Result<Store, ChangeError> {
    match Store::open(path) {
        Err(StoreError::Missing(_)) => {
            admissible(&Bench::empty(zone))?;
            Ok(Store::open_or_create(path, zone)?)
        }
        opened => Ok(opened?),
    }
}

/// Holds wishes against a bench without recording them.
///
/// # Errors
/// [`ChangeError::Faults`].
pub fn examine(bench: &Bench, entries: Vec<Entry>, now: Time) -> Result<Admitted, ChangeError> {
    let entries = entries.into_iter().map(|entry| (Origin::Typed, entry)).collect();
    admit(bench, entries, now).map_err(ChangeError::Faults)
}

/// Holds a folder against a bench without recording it; its readings only against the calendar.
///
/// # Errors
/// [`ChangeError::Faults`]: those of reading the folder and those of the rules.
pub fn examine_folder(bench: &Bench, folder: &Folder, now: Time) -> Result<Admitted, ChangeError> {
    let mut faults = folder.faults.clone();
    if let Some(fault) = folder.zone_fault(bench) {
        // Its local times would all seem to be other ones, and each would be one more fault.
        faults.push(fault);
        return Err(ChangeError::Faults(faults));
    }
    let latest_us = latest_credible(now).timestamp_micros();
    for (probe, read) in &folder.series.probes {
        // In order of time, so one that is too late is the last.
        if let Some(read) = read.last().filter(|read| read.reading.time_us > latest_us) {
            let time = time_from_micros(read.reading.time_us).map(|time| local_time(time, bench.zone)).unwrap_or_default();
            let what = format!("the last reading of probe '{probe}', {time}, lies in the future");
            faults.push(Fault::new(&folder.series.origin(read), what));
        }
    }
    match admit(bench, folder.entries.clone(), now) {
        Ok(admitted) if faults.is_empty() => Ok(admitted),
        Ok(_) => Err(ChangeError::Faults(faults)),
        Err(broken) => {
            faults.extend(broken);
            Err(ChangeError::Faults(faults))
        }
    }
}

/// The batch of a container for which none is named: the month it was sown in, such as "2026-11".
#[must_use]
pub fn usual_batch(sown: Time, zone: Zone) -> Option<Name> {
    Name::new(&sown.with_timezone(&zone).format("%Y-%m").to_string()).ok()
}
