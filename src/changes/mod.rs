//! Changes of a bench: a wish, the bench's rules, one transaction.

mod bench_file;
mod brought;
mod grid;
mod looks;
mod names;
mod pairing;
mod photos;
mod sowing;
mod standing;
mod temperature;
mod typed;

pub use bench_file::BenchFile;
pub use brought::brought_words;
pub use grid::{Gridded, record_grid};
pub use looks::{Answer, Round, Rounded, answer_waiting, look_wishes, record_round, standing, take_looks_back};
pub use names::{in_order, names, next_name};
pub use pairing::{CODE_MINUTES, LetIn, May, Secret, device_of, device_seen, devices, offer_pairing, pair, shut_out};
pub use photos::{PHOTOS_A_BOX, drop_photo, keep_photo};
pub use sowing::{Sowing, box_named};
pub use standing::{Corrected, Moving, NotEnded, Placing, closing, correct, place, placed, reopening};
pub use temperature::{TypedDegrees, USUAL_SD_C};
pub use typed::{
    Made, TakenBack, Undoable, Wish, examine, last_command, make, name_probe, take_back, undo_command, undo_last, undo_of,
};

use std::path::Path;

use thiserror::Error;

use crate::bench::rules::{Admitted, Conflict, Fault, admit, latest_credible};
use crate::bench::{Bench, Name};
use crate::civil::{Time, Zone, local_time, time_from_micros};
use crate::exchange::Folder;
use crate::store::{Appended, Change, Store, StoreError, Why};

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

/// Takes a bench folder in, all or nothing.
///
/// # Errors
/// [`ChangeError`].
pub fn import_folder(store: &mut Store, folder: &Folder, conflict: Conflict, now: Time) -> Result<Imported, ChangeError> {
    let mut change = store.change()?;
    let imported = put_folder(&mut change, folder, conflict, now)?;
    change.commit()?;
    Ok(imported)
}

/// What an import would bring, with all that speaks against it; nothing is put on record.
///
/// # Errors
/// [`ChangeError`].
pub fn rehearse_folder(store: &mut Store, folder: &Folder, conflict: Conflict, now: Time) -> Result<Imported, ChangeError> {
    // Before anything is locked.
    examine_folder(&store.bench()?, folder, conflict, now)?;
    // A change that is not committed never was.
    put_folder(&mut store.change()?, folder, conflict, now)
}

fn put_folder(change: &mut Change<'_>, folder: &Folder, conflict: Conflict, now: Time) -> Result<Imported, ChangeError> {
    let admitted = examine_folder(&change.bench()?, folder, conflict, now)?;
    change.record(&admitted, Why::Replaced, now)?;
    let mut readings = Appended::default();
    let mut faults = Vec::new();
    for (probe, read) in &folder.series.probes {
        let taken = change.add_readings(probe, read.iter().map(|read| &read.reading), now, |at, on_record| {
            if conflict == Conflict::Refused {
                faults.push(folder.series.contradicts(probe, &read[at], &on_record));
            }
            conflict
        })?;
        readings.stored += taken.stored;
        readings.repeated += taken.repeated;
        readings.replaced += taken.replaced;
    }
    if !faults.is_empty() {
        return Err(ChangeError::Faults(faults));
    }
    if let Some((header, columns)) = &folder.form {
        change.remember_form(header, columns)?;
    }
    Ok(Imported { admitted, readings })
}

/// Opens a bench to change it, or begins an own one of `zone` where there is none: that only if `admissible` finds nothing
/// wrong with the first wish, so that a slip leaves no bench behind.
///
/// # Errors
/// [`ChangeError`].
pub fn open_or_begin<T>(
    path: &Path,
    zone: Zone,
    admissible: impl FnOnce(&Bench) -> Result<T, ChangeError>,
) -> Result<Store, ChangeError> {
    match Store::open(path) {
        Err(StoreError::Missing(_)) => {
            admissible(&Bench::empty(zone))?;
            Ok(Store::open_or_create(path, zone)?)
        }
        opened => Ok(opened?),
    }
}

/// Holds a folder against a bench without recording it; its readings only against the calendar.
///
/// # Errors
/// [`ChangeError::Faults`]: those of reading the folder and those of the rules.
pub fn examine_folder(bench: &Bench, folder: &Folder, conflict: Conflict, now: Time) -> Result<Admitted, ChangeError> {
    let mut faults = folder.all_faults();
    if let Some(fault) = folder.zone_fault(bench).filter(|_| conflict == Conflict::Refused) {
        // Its local times would all seem to be other ones, and each would be one more fault.
        faults.push(fault);
        return Err(ChangeError::Faults(faults));
    }
    let mut bench = bench.clone();
    bench.probes.extend(folder.series.probes.keys().cloned());
    let entries = folder.zone_wish(&bench).into_iter().chain(folder.entries.iter().cloned()).collect();
    let latest_us = latest_credible(now).timestamp_micros();
    for (probe, read) in &folder.series.probes {
        // In order of time, so one that is too late is the last.
        if let Some(read) = read.last().filter(|read| read.reading.time_us > latest_us) {
            let time = time_from_micros(read.reading.time_us).map(|time| local_time(time, bench.zone)).unwrap_or_default();
            let what = format!("the last reading of probe '{probe}', {time}, lies in the future");
            faults.push(Fault::new(&folder.series.origin(read), what));
        }
    }
    match admit(&bench, entries, conflict, now) {
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
