//! How the bench stands and what needs doing.

use std::collections::BTreeMap;

use chrono::Duration;

use crate::civil::Time;
use crate::diagnosis::{BenchStatus, MachineState};
use crate::store::{Computer, Store, StoreError};

/// Unreadable lines of so many hours are told.
const UNREAD_HOURS: i64 = 24;

/// How the bench stands as of `now`; `machine` where that is the present.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn status(store: &Store, now: Time, machine: Option<MachineState>) -> Result<BenchStatus, StoreError> {
    let bench = store.bench()?.as_of(now);
    let mut last_readings = BTreeMap::new();
    for probe in &bench.probes {
        last_readings.extend(store.last_reading(probe, now)?.map(|last| (probe.clone(), last)));
    }
    let unread = store.unread_lines(now - Duration::hours(UNREAD_HOURS), now)?;
    let status = BenchStatus::of(&bench, now, &last_readings, unread, machine);
    // Whoever is asked about another time knows nothing of the machine then.
    Ok(if machine.is_some() { status.with_care(store.care(&Computer::here())?) } else { status })
}
