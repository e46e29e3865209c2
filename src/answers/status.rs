//! How the bench stands and what needs doing.

use std::collections::BTreeMap;

use chrono::Duration;

use super::chilling::chilling_now;
use crate::bench::ClockStatus;
use crate::civil::{Time, time_from_micros};
use crate::clock::Clock;
use crate::diagnosis::alarms::AlarmState;
use crate::diagnosis::{AlarmsPresent, BenchStatus, LoggerState, MachineState};
use crate::quality::stale_after_us;
use crate::store::{Computer, Store, StoreError};

/// Unreadable lines of so many hours are told.
const UNREAD_HOURS: i64 = 24;
/// That the clock was set is told for so many days.
const STEP_DAYS: i64 = 7;

/// A probe's own spacing is that of so many readings, its last.
const SPACING_OF: usize = 12;

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
        let times_us = store.last_times(probe, now, SPACING_OF)?;
        let last = times_us.last().and_then(|last_us| time_from_micros(*last_us));
        let stale_after = stale_after_us(&times_us).map(Duration::microseconds);
        last_readings.extend(last.map(|last| (probe.clone(), (last, stale_after))));
    }
    let unread = store.unread_lines(now - Duration::hours(UNREAD_HOURS), now)?;
    let status = BenchStatus::of(&bench, now, &last_readings, unread, machine);
    let status = status.with_chilling(chilling_now(store, &bench, now)?);
    let status = status.with_clock(clock_status(store, now, clock)?);
    // Whoever is asked about another time knows nothing of the machine then.
    let Some(machine) = machine else { return Ok(status) };
    let status = match machine.logger {
        LoggerState::Runs(_) => {
            let mut states = store.alarms()?;
            states.retain(AlarmState::is_present);
            status.with_alarms(AlarmsPresent { bench, states, deliveries: store.deliveries()? })
        }
        // What was put on record by one that ran before says nothing of now.
        LoggerState::Stopped => status,
    };
    let sources = match machine.logger {
        LoggerState::Runs(_) => store.sources_read_now()?,
        LoggerState::Stopped => Vec::new(),
    };
    Ok(status.with_care(store.care(&Computer::here())?).with_sources(sources))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Name, Proof, Reading, Stamp, Standing, WhyDoubted};
    use crate::civil::{Zone, read_time};
    use crate::clock::StoppedClock;
    use crate::diagnosis::{LoggerState, Todo};
    use crate::store::{BenchKind, Logged};
    use crate::wording::status_text;

    #[test]
    fn fault_38_a_clock_not_known_to_be_right_is_told_with_what_to_do_until_readings_have_their_dates() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let clock = StoppedClock::new(read_time("2026-03-14 12:00", Zone::UTC).unwrap().time);
        clock.stand(Standing::Doubted(WhyDoubted::NotSetYet));
        let (probe, start_id) = (Name::new("p1").unwrap(), clock.start_id());
        let reading = Reading { time_us: 9_000_000, raw_c_e4: Some(195_000), proof: Proof::Plain };
        let readings = [(probe.clone(), reading, Stamp::Undated)];
        let logged = Logged { start_id: &start_id, anchor: None, steps: &[], readings: &readings, again: false };
        store.append_logged(&logged).unwrap();
        let machine = MachineState { logger: LoggerState::Runs(Some(7)), free_bytes: None };
        let status_now = |store: &Store| status(store, clock.now(), Some(machine), Some(&clock)).unwrap();
        let told = status_now(&store);
        assert!(matches!(told.todo[..], [Todo::BelieveClock { why: WhyDoubted::NotSetYet }]), "{:?}", told.todo);
        assert_eq!(told.clock.undated[0].probes, [probe]);
        assert_eq!(
            status_text(&told, Zone::UTC).lines().skip(2).take(3).map(str::trim).collect::<Vec<_>>().join(" "),
            "- The clock of this computer is not known to be right: it has no battery that kept it, and the network has not set it \
             since it was started. Readings are kept without dates until then. next: connect it to the network, or set its clock \
             and begin again with `seedclock log --clock trusted`"
        );
        // Vouched for by whoever began the logger, for all that the machine shows.
        let anchor = Some(crate::bench::Anchor { began_us: 0, by: crate::bench::AnchoredBy::Vouched });
        store.append_logged(&Logged { anchor, readings: &[], ..logged }).unwrap();
        assert!(status_now(&store).todo.iter().all(|todo| matches!(todo, Todo::Place { .. })));
    }
}
