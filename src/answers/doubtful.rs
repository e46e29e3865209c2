//! Which readings beside a box are not to be trusted.

use super::warmth::Sources;
use crate::bench::{Bench, Trial};
use crate::civil::Time;
use crate::store::{Store, StoreError};

/// The doubtful readings of the probes beside a box, while it stood there: when, in microseconds, and true temperature in °C; in order
/// of time. What was no temperature at all is left out.
///
/// # Errors
/// The store's, when it cannot be read.
pub fn doubtful_readings(store: &Store, bench: &Bench, trial: &Trial, now: Time) -> Result<Vec<(i64, f64)>, StoreError> {
    let sources = Sources::new(store, bench, now)?;
    let mut doubtful = Vec::new();
    for stay in trial.stays(trial.container.sown, now) {
        for (placement, left) in bench.stands_at(stay.spot) {
            let from = stay.from.max(placement.since);
            let until = left.map_or(stay.until, |left| left.min(stay.until));
            if from < until {
                let readings = sources.doubtful(&placement.probe, from.timestamp_micros(), until.timestamp_micros())?;
                doubtful.extend(readings.into_iter().map(|(time_us, raw_c)| (time_us, placement.true_celsius(raw_c))));
            }
        }
    }
    doubtful.sort_unstable_by_key(|reading| reading.0);
    Ok(doubtful)
}

#[cfg(test)]
mod tests {
    use chrono::Duration;

    use super::*;
    use crate::bench::{Container, Name, Placement, Proof, Reading, Siting};
    use crate::civil::Zone;
    use crate::store::BenchKind;

    #[test]
    fn only_what_is_doubtful_beside_a_box_while_it_stood_there_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let mut store = Store::create(&folder.path().join("b.db"), Zone::UTC, BenchKind::Own).unwrap();
        let name = |text: &str| Name::new(text).unwrap();
        let sown = Time::UNIX_EPOCH + Duration::days(20_000);
        let probe = name("p");
        // A probe that jumps by 7 degrees for one reading, before the box stood there and after; then a failure.
        let reading = |minutes: i64| {
            let raw_c = match minutes {
                -600 | 600 => 25.0,
                900 => -127.0,
                _ => 18.0 + 0.1 * (minutes as f64 / 60.0).sin(),
            };
            let time_us = (sown + Duration::minutes(minutes)).timestamp_micros();
            Reading { time_us, raw_c_e4: Some((raw_c * 1e4).round() as i64), proof: Proof::Plain }
        };
        let readings: Vec<Reading> = (-720..1440).step_by(5).map(reading).collect();
        let mut change = store.change().unwrap();
        change.add_readings(&probe, readings.iter(), sown, |_, _| crate::bench::rules::Conflict::Refused).unwrap();
        change.commit().unwrap();
        let container = Container::new(name("A1"), name("b"), name("leek"), name("sill"), sown);
        let since = sown - Duration::days(1);
        let placement = Placement { probe, spot: name("sill"), since, calibration: None, siting: Siting::Beside };
        let bench = Bench { placements: vec![placement], ..Bench::empty(Zone::UTC) };
        let trial = Trial::new(container);
        let told = doubtful_readings(&store, &bench, &trial, sown + Duration::days(1)).unwrap();
        let at: Vec<i64> = told.iter().map(|(time_us, _)| (time_us - sown.timestamp_micros()) / 60_000_000).collect();
        assert!(at.contains(&600) && !at.contains(&-600) && !at.contains(&900), "{at:?}");
        assert!(at.iter().all(|minutes| (590..=610).contains(minutes)), "{at:?}");
    }
}
