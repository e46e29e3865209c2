//! A bench folder read whole: its wishes, its readings, and all that is wrong with it.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::io;
use std::path::Path;
use std::sync::Arc;

use chrono::Duration;

use super::entries;
use super::readings::{READINGS, Series, TOO_WARM_C};
use super::table::{Findings, Form};
use super::tables::{self, AWAY, BENCH, CHECKS, CONTAINERS, DOUBTS, LIMITS, LOTS, MOVES, PROBES, SMALL, SPOTS};
use crate::bench::rules::{BenchSetting, Entry, Fault, Origin};
use crate::bench::{Bench, Name};
use crate::civil::{Time, Zone};
use crate::units::MICROS_PER_SECOND;

/// A file in memory.
#[derive(Debug, Clone)]
pub struct Document<'a> {
    /// Its name, without folders.
    pub name: String,
    /// What it holds.
    pub bytes: Cow<'a, [u8]>,
}

/// The CSV files that stand in a folder; other files there are none of ours.
///
/// # Errors
/// Where the folder or one of the files cannot be read.
pub fn documents_in(folder: &Path) -> io::Result<Vec<Document<'static>>> {
    let mut documents = Vec::new();
    for entry in std::fs::read_dir(folder)? {
        let entry = entry?;
        let name = entry.file_name().to_string_lossy().into_owned();
        if is_csv(&name) && entry.path().is_file() {
            let bytes = std::fs::read(entry.path()).map_err(|error| io::Error::new(error.kind(), format!("{name}: {error}")))?;
            documents.push(Document { name, bytes: Cow::Owned(bytes) });
        }
    }
    documents.sort_by(|a, b| a.name.cmp(&b.name));
    Ok(documents)
}

/// Whether a file belongs to the tables of a folder; names with a leading dot are an editor's or the system's own.
pub(super) fn is_csv(name: &str) -> bool {
    !name.starts_with('.') && name.rsplit_once('.').is_some_and(|(_, ending)| ending.eq_ignore_ascii_case("csv"))
}

/// A bench folder that has been read.
#[derive(Debug, Clone, PartialEq)]
pub struct Folder {
    /// The zone that the folder names, if it does.
    pub zone: Option<Zone>,
    /// What is remembered of the columns of a table that another program wrote, with its header line.
    pub form: Option<(String, String)>,
    zone_origin: Option<Origin>,
    /// Tables of temperatures that no seeds could have.
    too_warm: Vec<Fault>,
    /// Everything but the readings, as wishes, each with its line.
    pub entries: Vec<(Origin, Entry)>,
    /// The readings.
    pub series: Series,
    /// What cannot be read. Wishes that a faulty file would have had to explain are left out of `entries`.
    pub faults: Vec<Fault>,
    /// Worth knowing, but no fault.
    pub notes: Vec<String>,
}

impl Folder {
    /// Reads the files of a folder; local times are of the zone it names, else of `zone`.
    #[must_use]
    pub fn read(documents: &[Document<'_>], zone: Zone) -> Self {
        let mut findings = Findings { faults: file_faults(documents), ..Findings::none_yet(zone) };
        let bytes = |form: &Form| documents.iter().find(|document| document.name == form.file).map(|document| &*document.bytes);
        let tables::Settings { zone: named, entries: settings } =
            bytes(&BENCH).map(|bytes| tables::settings(bytes, &mut findings)).unwrap_or_default();
        let (zone_origin, named) = named.unzip();
        findings.zone = named.unwrap_or(zone);

        let mut faulty: BTreeSet<&str> = BTreeSet::new();
        let mut read = |form: &Form, row: fn(&mut super::table::Row<'_>) -> Option<Entry>| {
            let before = findings.faults.len();
            let entries = bytes(form).map(|bytes| tables::entries(form, bytes, &mut findings, row)).unwrap_or_default();
            let missing = form.file == CONTAINERS.file && bytes(form).is_none();
            if findings.faults.len() > before || missing {
                faulty.insert(form.file);
            }
            entries
        };
        let lots = read(&LOTS, entries::lot);
        let spots = read(&SPOTS, entries::spot);
        let containers = read(&CONTAINERS, entries::container);
        let placements = read(&PROBES, entries::placement);
        let doubts = read(&DOUBTS, entries::doubt);
        let limits = read(&LIMITS, entries::limits);
        let aways = read(&AWAY, entries::away);
        let checks = read(&CHECKS, entries::check);
        let moves = read(&MOVES, entries::moved);
        let mut series = Series::default();
        let hot = hot_places(&limits);
        let before = findings.faults.len();
        for document in documents.iter().filter(|document| is_readings(&document.name)) {
            series.read(&document.name, &document.bytes, &hot, &mut findings);
        }
        if findings.faults.len() > before {
            faulty.insert(READINGS.file);
        }
        series.settle(&mut findings);
        // A check of a container whose own row could not be read is no further fault, and so on.
        let sound = |files: &[&Form]| files.iter().all(|form| !faulty.contains(form.file));
        let mut entries = [settings, aways, lots, spots, placements].concat();
        // What came out of a container whose row could not be read would lack it.
        if sound(&[&CONTAINERS]) {
            entries.extend(containers);
        } else {
            let out_of_none = |entry: &Entry| matches!(entry, Entry::Container(container) if container.from.is_none());
            entries.extend(containers.into_iter().filter(|(_, entry)| out_of_none(entry)));
        }
        if sound(&[&PROBES, &READINGS, &DOUBTS]) {
            entries.extend(doubts);
        }
        if sound(&[&PROBES, &READINGS, &LIMITS]) {
            entries.extend(limits);
        }
        if sound(&[&CONTAINERS, &CHECKS]) {
            entries.extend(checks);
        }
        if sound(&[&CONTAINERS, &SPOTS, &PROBES, &MOVES]) {
            entries.extend(moves);
        }
        let Findings { faults, too_warm, notes, .. } = findings;
        Self { zone: named, form: None, zone_origin, too_warm, entries, series, faults, notes }
    }

    /// A folder that is nothing but readings, out of a table with other columns, and what is to be remembered of those.
    pub(super) fn of_readings(series: Series, form: (String, String), findings: Findings) -> Self {
        let Findings { faults, too_warm, notes, .. } = findings;
        Self { zone: None, form: Some(form), zone_origin: None, too_warm, entries: Vec::new(), series, faults, notes }
    }

    /// All that is wrong, with the tables that are too warm for seeds.
    #[must_use]
    pub fn all_faults(&self) -> Vec<Fault> {
        self.faults.iter().chain(&self.too_warm).cloned().collect()
    }

    /// Takes the degrees of its readings as they stand, though no seeds could be so warm.
    pub fn believe_degrees(&mut self) {
        self.too_warm.clear();
    }

    /// Makes it a friend's: every name but those of species and treatments is put under the friend's, so that nothing of it ever
    /// meets what is one's own; its settings are left out.
    #[must_use]
    pub fn of_friend(mut self, friend: &Name) -> Self {
        let mut faults = Vec::new();
        let mut entries = Vec::new();
        for (origin, mut entry) in std::mem::take(&mut self.entries) {
            if matches!(entry, Entry::Bench(_) | Entry::Away(_)) {
                continue;
            }
            for name in names(&mut entry) {
                match name.of(friend) {
                    Ok(theirs) => *name = theirs,
                    Err(fault) => faults.push(Fault::new(&origin, fault.to_string())),
                }
            }
            if let Entry::Container(container) = &mut entry {
                container.owner = Some(friend.clone());
            }
            entries.push((origin, entry));
        }
        self.entries = entries;
        let origin = Origin::File { file: Arc::from(READINGS.file), line: None };
        self.series.rename(|probe| probe.of(friend).map_err(|fault| faults.push(Fault::new(&origin, fault.to_string()))).ok());
        self.faults.extend(faults);
        (self.zone, self.zone_origin) = (None, None);
        self
    }

    /// Moves everything by whole days of 24 hours, forwards or back.
    pub fn shift_days(&mut self, days: i64) {
        let by = Duration::days(days);
        for (_, entry) in &mut self.entries {
            match entry {
                Entry::Bench(_) | Entry::Lot(_) | Entry::Limits(_) => {}
                Entry::Away(away) => {
                    away.from += by;
                    away.until += by;
                }
                Entry::Spot(_, setting) => {
                    setting.since = setting.since.map(|since| since + by);
                    setting.changed = setting.changed.map(|changed| changed + by);
                }
                Entry::Doubt(doubt) => {
                    doubt.from += by;
                    doubt.to = doubt.to.map(|to| to + by);
                }
                Entry::Placement(placement) => placement.since += by,
                Entry::Container(container) => {
                    container.sown += by;
                    container.ended = container.ended.map(|ended| ended + by);
                }
                Entry::Check(check, _) => check.time += by,
                Entry::Move(moved) | Entry::Plan(moved) => moved.time += by,
            }
        }
        let by_us = days * 86_400 * MICROS_PER_SECOND;
        for read in self.series.probes.values_mut().flatten() {
            read.reading.time_us += by_us;
        }
    }

    /// Leaves out what happened after `time`.
    pub fn until(&mut self, time: Time) {
        self.entries.retain_mut(|(_, entry)| match entry {
            Entry::Bench(_) | Entry::Away(_) | Entry::Lot(_) | Entry::Limits(_) | Entry::Plan(_) => true,
            Entry::Spot(_, setting) => {
                setting.changed = setting.changed.filter(|changed| *changed <= time);
                setting.since.is_none_or(|since| since <= time)
            }
            Entry::Doubt(doubt) => doubt.from <= time,
            Entry::Placement(placement) => placement.since <= time,
            Entry::Container(container) => {
                container.ended = container.ended.filter(|ended| *ended <= time);
                container.sown <= time
            }
            Entry::Check(check, _) => check.time <= time,
            Entry::Move(moved) => moved.time <= time,
        });
        let until_us = time.timestamp_micros();
        for series in self.series.probes.values_mut() {
            series.retain(|read| read.reading.time_us <= until_us);
        }
    }

    /// The fault of a folder that is of another zone than the bench, if it is.
    #[must_use]
    pub fn zone_fault(&self, bench: &Bench) -> Option<Fault> {
        let (origin, zone) = self.other_zone(bench)?;
        Some(Fault::new(&origin, format!("the zone {zone} is not that of the bench, which is {}", bench.zone)))
    }

    /// The wish that the bench take the folder's zone, where that is another.
    #[must_use]
    pub fn zone_wish(&self, bench: &Bench) -> Option<(Origin, Entry)> {
        self.other_zone(bench).map(|(origin, zone)| (origin, Entry::Bench(BenchSetting::Zone(zone))))
    }

    fn other_zone(&self, bench: &Bench) -> Option<(Origin, Zone)> {
        self.zone_origin.clone().zip(self.zone.filter(|zone| *zone != bench.zone))
    }
}

/// The names within an entry that would meet those of another bench.
fn names(entry: &mut Entry) -> Vec<&mut Name> {
    match entry {
        Entry::Bench(_) | Entry::Away(_) => vec![],
        Entry::Lot(lot) => vec![&mut lot.name],
        Entry::Spot(spot, _) => vec![spot],
        Entry::Placement(placement) => vec![&mut placement.probe, &mut placement.spot],
        Entry::Doubt(doubt) => vec![&mut doubt.probe],
        Entry::Limits(limits) => vec![&mut limits.probe],
        Entry::Container(container) => {
            let mut names = vec![&mut container.name, &mut container.batch, &mut container.spot];
            names.extend([&mut container.lot, &mut container.from, &mut container.lid].into_iter().flatten());
            names
        }
        Entry::Check(check, _) => vec![&mut check.container],
        Entry::Move(moved) | Entry::Plan(moved) => vec![&mut moved.container, &mut moved.spot],
    }
}

/// The probes whose places may be warmer than seeds bear: their readings say nothing of the degrees meant.
fn hot_places(limits: &[(Origin, Entry)]) -> BTreeSet<Name> {
    let hot = |entry: &Entry| match entry {
        Entry::Limits(limits) if limits.place.high > Some(TOO_WARM_C) => Some(limits.probe.clone()),
        _ => None,
    };
    limits.iter().filter_map(|(_, entry)| hot(entry)).collect()
}

pub(super) fn is_readings(name: &str) -> bool {
    name == READINGS.file || (name.starts_with("readings-") && name.ends_with(".csv"))
}

/// Files that are missing, and tables that no bench folder has.
fn file_faults(documents: &[Document<'_>]) -> Vec<Fault> {
    let known = SMALL.map(|form| form.file);
    let fault = |name: &str, what: String| Fault::new(&Origin::File { file: Arc::from(name), line: None }, what);
    let missing = [&CONTAINERS, &CHECKS, &PROBES]
        .into_iter()
        .filter(|form| !documents.iter().any(|document| document.name == form.file))
        .map(|form| {
            fault(form.file, "the file is missing: a bench folder has containers.csv, checks.csv and probes.csv".to_owned())
        });
    let unknown = documents.iter().filter(|document| is_csv(&document.name)).filter_map(|document| {
        let name = document.name.as_str();
        if known.contains(&name) || is_readings(name) {
            None
        } else {
            let list = known.join(", ");
            Some(fault(name, format!("unknown file: the tables of a bench folder are {list}, readings.csv and readings-*.csv")))
        }
    });
    missing.chain(unknown).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::civil::rfc3339;

    #[test]
    fn a_folder_moves_by_whole_days_and_ends_where_it_is_cut() {
        let files = [
            (
                "containers.csv",
                "container,batch,species,lot,treatment,seeds,sown,spot,ended\n\
                 A1,b,leek,,,20,2026-03-01T08:00:00Z,sill,2026-03-20T08:00:00Z\n\
                 A2,b,leek,,,20,2026-03-15T08:00:00Z,sill,\n",
            ),
            ("checks.csv", "container,time,sprouted\nA1,2026-03-10T08:00:00Z,0\nA1,2026-03-11T08:00:00Z,0\n"),
            ("probes.csv", "probe,spot,since\np1,sill,2026-03-01T00:00:00Z\n"),
            ("readings.csv", "time,probe,celsius\n2026-03-10T08:00:00Z,p1,18\n2026-03-10T08:00:01Z,p1,18\n"),
        ];
        let documents = files.map(|(name, text)| Document { name: name.to_owned(), bytes: Cow::Borrowed(text.as_bytes()) });
        let mut folder = Folder::read(&documents, Zone::UTC);
        assert_eq!(folder.faults, []);
        folder.shift_days(-2);
        let end = "2026-03-08T08:00:00Z";
        folder.until(end.parse().unwrap());
        let times: Vec<(String, Option<Time>)> = folder
            .entries
            .iter()
            .filter_map(|(_, entry)| match entry {
                Entry::Container(container) => Some((rfc3339(container.sown), container.ended)),
                Entry::Check(check, _) => Some((rfc3339(check.time), None)),
                _ => None,
            })
            .collect();
        assert_eq!(times, [("2026-02-27T08:00:00Z".to_owned(), None), (end.to_owned(), None)], "A2 is not sown yet, A1 not ended");
        let readings: Vec<i64> = folder.series.probes.values().flatten().map(|read| read.reading.time_us).collect();
        assert_eq!(readings, [end.parse::<Time>().unwrap().timestamp_micros()]);
    }
}
