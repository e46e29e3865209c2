//! How the bench stands and what needs doing.

use std::collections::BTreeMap;

use chrono::Duration;

use crate::civil::{Time, time_from_micros};
use crate::diagnosis::{BenchStatus, MachineState};
use crate::quality::stale_after_us;
use crate::store::{Store, StoreError};

/// Unreadable lines of so many hours are told.
const UNREAD_HOURS: i64 = 24;

/// A probe's own spacing is that of so many readings, its last.
const SPACING_OF: usize = 12;

/// How the bench stands as of `now`; `machine` where that is the present.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn status(store: &Store, now: Time, machine: Option<MachineState>) -> Result<BenchStatus, StoreError> {
    let bench = store.bench()?.as_of(now);
    let mut last_readings = BTreeMap::new();
    for probe in &bench.probes {
        let times_us = store.last_times(probe, now, SPACING_OF)?;
        let last = times_us.last().and_then(|last_us| time_from_micros(*last_us));
        let stale_after = stale_after_us(&times_us).map(Duration::microseconds);
        last_readings.extend(last.map(|last| (probe.clone(), (last, stale_after))));
    }
    let unread = store.unread_lines(now - Duration::hours(UNREAD_HOURS), now)?;
    Ok(BenchStatus::of(&bench, now, &last_readings, unread, machine))
}
