//! How the bench stands and what needs doing.

use std::collections::BTreeMap;

use chrono::Duration;

use crate::bench::ClockStatus;
use crate::civil::Time;
use crate::clock::Clock;
use crate::diagnosis::{BenchStatus, MachineState};
use crate::store::{Store, StoreError};

/// Unreadable lines of so many hours are told.
const UNREAD_HOURS: i64 = 24;
/// That the clock was set is told for so many days.
const STEP_DAYS: i64 = 7;

/// How the bench stands as of `now`; `machine` and `clock` where that is the present.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn status(
    store: &Store,
    now: Time,
    machine: Option<MachineState>,
    clock: Option<&dyn Clock>,
) -> Result<BenchStatus, StoreError> {
    let bench = store.bench()?.as_of(now);
    let mut last_readings = BTreeMap::new();
    for probe in &bench.probes {
        last_readings.extend(store.last_reading(probe, now)?.map(|last| (probe.clone(), last)));
    }
    let unread = store.unread_lines(now - Duration::hours(UNREAD_HOURS), now)?;
    let status = BenchStatus::of(&bench, now, &last_readings, unread, machine);
    Ok(status.with_clock(clock_status(store, now, clock)?))
}

/// What is on record of the clock, and how it stands now.
fn clock_status(store: &Store, now: Time, clock: Option<&dyn Clock>) -> Result<ClockStatus, StoreError> {
    let from = now - Duration::days(STEP_DAYS);
    let Some(clock) = clock else { return Ok(ClockStatus { steps: store.clock_steps(from, now)?, ..ClockStatus::default() }) };
    // A clock that was set back wrongly lies before that itself.
    let steps = store.clock_steps(from, Time::MAX_UTC)?;
    let start = clock.start_id();
    let dated = store.start_is_dated(&start)?;
    let undated = store.undated_starts()?;
    Ok(ClockStatus { standing: Some(clock.standing()), dated, start: Some(start), undated, steps })
}
