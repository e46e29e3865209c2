//! The made-up bench inside the program, moved to today.

use std::collections::BTreeMap;

use anyhow::Context;
use chrono::Duration;
use include_dir::{Dir, include_dir};

use crate::bench::rules::Conflict;
use crate::bench::{Name, Reading, TENTHS_OF_MILLI, Trial};
use crate::changes::{self, ChangeError};
use crate::civil::{Time, Zone, local_date, time_from_micros};
use crate::exchange::{Document, Folder};
use crate::store::Store;

/// The last minutes are not loaded but played.
pub(super) const PLAYED_MINUTES: i64 = 5;
/// Each probe prints a line this often, in the story's seconds.
const LINE_EVERY_SECONDS: i64 = 10;
/// What a probe's reading is a whole number of, in 1/10 000 °C: a sixteenth of a degree.
const STEP_C_E4: i64 = 625;

static DEMO_DATA: Dir<'_> = include_dir!("$CARGO_MANIFEST_DIR/demo-data");

/// The bench folder as it stands at the moment from which its probes are played.
pub(super) struct Story {
    /// The zone its dates are said in.
    pub(super) zone: Zone,
    /// The moment from which the probes are played.
    pub(super) played_from: Time,
    folder: Folder,
    lines: Vec<(Time, String)>,
}

impl Story {
    /// The story moved by whole days so that its last local date is the date of `now`, and cut off [`PLAYED_MINUTES`] before.
    pub(super) fn ending_today(now: Time) -> anyhow::Result<Self> {
        let documents: Vec<Document<'_>> = DEMO_DATA
            .files()
            .map(|file| Document { name: file.path().to_string_lossy().into_owned(), bytes: file.contents().into() })
            .collect();
        let mut folder = Folder::read(&documents, Zone::UTC);
        if let Some(fault) = folder.faults.first() {
            anyhow::bail!("the demo's own data cannot be read: {fault}");
        }
        let zone = folder.zone.context("the demo's own data name no zone")?;
        let last_us = folder.series.probes.values().flatten().map(|read| read.reading.time_us).max();
        let last = last_us.and_then(time_from_micros).context("the demo's own data hold no readings")?;
        folder.shift_days((local_date(now, zone) - local_date(last, zone)).num_days());
        let played_from = now - Duration::minutes(PLAYED_MINUTES);
        let lines = lines_between(&readings(&folder), played_from, now);
        folder.until(played_from);
        Ok(Self { zone, played_from, folder, lines })
    }

    /// Takes the story into a new bench; gives a box of it that has not all sprouted yet.
    pub(super) fn load_into(&self, store: &mut Store) -> anyhow::Result<Option<Name>> {
        match changes::import_folder(store, &self.folder, Conflict::Refused, self.played_from) {
            Err(ChangeError::Faults(faults)) => {
                let first = faults.first().map(ToString::to_string).unwrap_or_default();
                anyhow::bail!("the demo's own data break the rules of a bench: {first}")
            }
            imported => imported?,
        };
        let bench = store.bench()?;
        let present = bench.present_batches(self.played_from);
        let waiting = |trial: &&&Trial| trial.ended_at(self.played_from).is_none() && trial.left() > Some(2);
        Ok(present.values().flatten().find(waiting).map(|trial| trial.container.name.clone()))
    }

    /// What the probes print from [`Story::played_from`] on, in order of time.
    pub(super) fn lines(&self) -> Vec<(Time, String)> {
        self.lines.clone()
    }
}

fn readings(folder: &Folder) -> BTreeMap<&Name, Vec<Reading>> {
    let of = |(probe, series): (_, &Vec<crate::exchange::ReadAt>)| (probe, series.iter().map(|read| read.reading).collect());
    folder.series.probes.iter().map(of).collect()
}

/// One line a probe every [`LINE_EVERY_SECONDS`] after `from` until `until`, between its readings of that time on a straight
/// line, in the steps that a probe has.
fn lines_between(probes: &BTreeMap<&Name, Vec<Reading>>, from: Time, until: Time) -> Vec<(Time, String)> {
    let mut lines = Vec::new();
    let mut time = from + Duration::seconds(LINE_EVERY_SECONDS);
    while time <= until {
        for (probe, readings) in probes {
            if let Some(raw) = raw_at(readings, time.timestamp_micros()) {
                lines.push((time, format!("{probe},{:.4}", raw as f64 / TENTHS_OF_MILLI)));
            }
        }
        time += Duration::seconds(LINE_EVERY_SECONDS);
    }
    lines
}

/// A probe's raw temperature at a time, or the nearest one before its first or after its last reading.
fn raw_at(readings: &[Reading], time_us: i64) -> Option<i64> {
    let sound = |reading: &Reading| reading.raw_c_e4.map(|raw| (reading.time_us, raw));
    let after = readings.partition_point(|reading| reading.time_us < time_us);
    let before = readings.get(..after)?.iter().rev().find_map(sound);
    let next = readings.get(after..)?.iter().find_map(sound);
    let raw = match (before, next) {
        (Some((t0, x0)), Some((t1, x1))) if t1 > t0 => x0 as f64 + (x1 - x0) as f64 * ((time_us - t0) as f64 / (t1 - t0) as f64),
        (Some((_, raw)), _) | (None, Some((_, raw))) => raw as f64,
        (None, None) => return None,
    };
    Some((raw / STEP_C_E4 as f64).round() as i64 * STEP_C_E4)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;

    fn reading(second: i64, raw: Option<i64>) -> Reading {
        Reading { time_us: second * 1_000_000, raw_c_e4: raw, proof: Proof::Plain }
    }

    fn at(second: i64) -> Time {
        Time::UNIX_EPOCH + Duration::seconds(second)
    }

    #[test]
    fn lines_lie_between_the_readings_in_a_probes_steps_and_in_order() {
        let (red, blue) = (Name::new("red").unwrap(), Name::new("blue").unwrap());
        let readings = vec![reading(0, Some(200_000)), reading(10, None), reading(20, Some(201_250))];
        let probes = BTreeMap::from([(&red, readings), (&blue, vec![reading(15, Some(-10_000))])]);
        let lines: Vec<String> =
            lines_between(&probes, at(0), at(30)).into_iter().map(|(time, line)| format!("{} {line}", time.timestamp())).collect();
        let expected =
            ["10 blue,-1.0000", "10 red,20.0625", "20 blue,-1.0000", "20 red,20.1250", "30 blue,-1.0000", "30 red,20.1250"];
        assert_eq!(lines, expected);
    }

    #[test]
    fn a_probe_without_any_number_prints_nothing() {
        let red = Name::new("red").unwrap();
        assert!(lines_between(&BTreeMap::from([(&red, vec![reading(0, None)])]), at(0), at(60)).is_empty());
    }

    /// At any time of day the story ends on that day, and nothing of it lies after the moment it is played from.
    #[test]
    fn the_story_ends_today() {
        for now in ["2026-03-14T00:07:00Z", "2026-07-01T12:00:00Z", "2027-01-05T23:58:00Z"] {
            let now = chrono::DateTime::parse_from_rfc3339(now).unwrap().with_timezone(&chrono::Utc);
            let story = Story::ending_today(now).unwrap();
            assert_eq!(story.played_from, now - Duration::minutes(5));
            let last =
                readings(&story.folder).values().flatten().map(|reading| reading.time_us).max().and_then(time_from_micros).unwrap();
            assert!(last <= story.played_from && last > now - Duration::hours(1), "{now}: the last reading loaded is of {last}");
            assert_eq!(story.lines.len() % 30, 0, "30 lines of each probe");
            assert!(!story.lines.is_empty() && story.lines.iter().all(|(time, _)| *time > story.played_from && *time <= now));
        }
    }
}
