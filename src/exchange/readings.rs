//! The readings files: many rows, so names are looked up once and nothing is kept a row but numbers.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use super::cells;
use super::table::{Findings, Form, Row, Table};
use crate::bench::rules::{Fault, Origin};
use crate::bench::{Degrees, Name, Proof, Reading, TENTHS_OF_MILLI};
use crate::civil::{Zone, read_time, time_from_micros};

pub(super) const READINGS: Form = Form {
    file: "readings.csv",
    required: &["time", "probe"],
    optional: &["celsius", "fahrenheit", "proof"],
    either: Some(["celsius", "", "fahrenheit"]),
};
/// No place for seeds is so warm, in °C, and most are warmer in °F.
pub(super) const TOO_WARM_C: f64 = 45.0;
/// The value that a sensor shows before its first conversion, which says nothing of the degrees meant.
const POWER_ON_E4: i64 = 850_000;

/// A reading and the line that brought it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct ReadAt {
    /// The reading.
    pub reading: Reading,
    /// Which of the folder's readings files.
    file: u16,
    line: u32,
}

/// All readings of a folder.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Series {
    /// By probe, ascending in time, no time twice.
    pub probes: BTreeMap<Name, Vec<ReadAt>>,
    files: Vec<Arc<str>>,
}

impl Series {
    /// The line that a reading came from.
    #[must_use]
    pub fn origin(&self, read: &ReadAt) -> Origin {
        let file = self.files.get(usize::from(read.file)).map_or_else(|| Arc::from(READINGS.file), Arc::clone);
        Origin::File { file, line: Some(u64::from(read.line)) }
    }

    /// Adds the rows of one file, not yet in order; the probes `hot` may be warmer than seeds bear.
    pub(super) fn read(&mut self, name: &str, bytes: &[u8], hot: &BTreeSet<Name>, findings: &mut Findings) {
        let Some(mut table) = Table::open(name, bytes, &READINGS, findings) else { return };
        let Ok(file) = u16::try_from(self.files.len()) else {
            findings.faults.push(Fault::new(&table.origin_of_header(), "more than 65535 readings files"));
            return;
        };
        self.files.push(Arc::from(name));
        let degrees = if table.column("fahrenheit").is_some() { Degrees::Fahrenheit } else { Degrees::Celsius };
        let Some((probe, temperature)) = table.column("probe").zip(table.column(degrees.word())) else { return };
        let places = Places { temperature, degrees, proof: table.column("proof") };
        let mut known: HashMap<String, usize> = HashMap::new();
        let mut rows: Vec<(Name, Vec<ReadAt>)> = Vec::new();
        let (mut twice, mut warmth) = (Twice::default(), Warmth::default());
        while let Some(mut row) = table.next(findings) {
            let at = match row.at(probe).and_then(|text| known.get(text)) {
                Some(at) => *at,
                None => {
                    let Some(name) = row.name("probe") else { continue };
                    known.insert(row.at(probe).unwrap_or_default().to_owned(), rows.len());
                    rows.push((name, Vec::new()));
                    rows.len() - 1
                }
            };
            let line = u32::try_from(row.line()).unwrap_or(u32::MAX);
            let before = rows[at].1.last().map(|read| read.reading.time_us);
            if let Some(reading) = reading(&mut row, &places, before, &mut twice) {
                if !hot.contains(&rows[at].0) {
                    warmth.take(&reading);
                }
                rows[at].1.push(ReadAt { reading, file, line });
            }
        }
        twice.note(name, findings);
        if let Some(what) = warmth.fault().filter(|_| degrees == Degrees::Celsius) {
            let next = Some("name the column fahrenheit if they are, else import with --units celsius".to_owned());
            findings.too_warm.push(Fault { origin: table.origin_of_header(), what: format!("celsius: {what}"), next, about: None });
        }
        for (name, read) in rows {
            self.probes.entry(name).or_default().extend(read);
        }
    }

    /// Adds the readings of one file of another form.
    pub(super) fn add(&mut self, file: &str, probe: Name, readings: impl Iterator<Item = (u64, Reading)>) {
        let at = self.files.iter().position(|known| **known == *file).unwrap_or(self.files.len());
        if at == self.files.len() {
            self.files.push(Arc::from(file));
        }
        let file = u16::try_from(at).unwrap_or(u16::MAX);
        let readings = readings.map(|(line, reading)| ReadAt { reading, file, line: u32::try_from(line).unwrap_or(u32::MAX) });
        self.probes.entry(probe).or_default().extend(readings);
    }

    /// Gives every probe another name.
    pub(super) fn rename(&mut self, mut name: impl FnMut(&Name) -> Option<Name>) {
        let named = std::mem::take(&mut self.probes);
        self.probes = named.into_iter().filter_map(|(probe, read)| Some((name(&probe)?, read))).collect();
    }

    /// Puts each probe's readings in order of time, once each; two values at one time are a fault.
    pub(super) fn settle(&mut self, findings: &mut Findings) {
        let mut twice = Vec::new();
        for (probe, read) in &mut self.probes {
            if !read.is_sorted_by_key(|read| read.reading.time_us) {
                read.sort_by_key(|read| read.reading.time_us);
            }
            read.dedup_by(|later, kept| {
                if later.reading.time_us != kept.reading.time_us {
                    return false;
                }
                if later.reading != kept.reading {
                    twice.push((probe.clone(), *later, *kept));
                }
                true
            });
        }
        for (probe, later, kept) in twice {
            let (origin, there) = (self.origin(&later), self.origin(&kept));
            findings.faults.push(Fault::new(&origin, differs(&probe, &later.reading, &kept.reading, &format!("in {there}"))));
        }
    }
}

/// The sentence for a reading that contradicts another one of its probe and time, which stands `there`.
fn differs(probe: &Name, here: &Reading, other: &Reading, there: &str) -> String {
    let said = |reading: &Reading| match (reading.raw_c_e4, reading.proof) {
        (None, _) => "no number".to_owned(),
        (Some(_), Proof::Plain) => format!("{} °C", cells::celsius(reading)),
        (Some(_), proof) => format!("{} °C ({})", cells::celsius(reading), proof.word()),
    };
    format!("probe '{probe}' cannot read {} here and {} {there}, both at one time", said(here), said(other))
}

impl Series {
    /// The fault of a reading that contradicts one on record.
    #[must_use]
    pub fn contradicts(&self, probe: &Name, read: &ReadAt, on_record: &Reading) -> Fault {
        Fault::new(&self.origin(read), differs(probe, &read.reading, on_record, "on record"))
    }
}

struct Places {
    temperature: usize,
    degrees: Degrees,
    proof: Option<usize>,
}

/// Local times of a file that came twice: said once, since there are many in an hour.
#[derive(Default)]
pub(super) struct Twice {
    first: Option<(u64, String, Zone)>,
    count: usize,
}

impl Twice {
    pub(super) fn met(&mut self, line: u64, text: &str, zone: Zone) {
        self.count += 1;
        self.first.get_or_insert_with(|| (line, text.to_owned(), zone));
    }

    pub(super) fn note(&self, file: &str, findings: &mut Findings) {
        if let Some((line, text, zone)) = &self.first {
            let more = if self.count > 1 { format!(", as did {} further times", self.count - 1) } else { String::new() };
            findings.notes.push(format!(
                "{file}:{line}: {text} came twice in {zone}{more}; the first is taken, the second where the row above is later"
            ));
        }
    }
}

/// Whether readings can be of seeds at all, by how many are too warm.
#[derive(Default)]
pub(super) struct Warmth {
    readings: usize,
    too_warm: usize,
}

impl Warmth {
    pub(super) fn take(&mut self, reading: &Reading) {
        if let Some(raw) = reading.raw_c_e4.filter(|raw| reading.proof == Proof::Plain && *raw != POWER_ON_E4) {
            self.readings += 1;
            self.too_warm += usize::from(raw as f64 > TOO_WARM_C * TENTHS_OF_MILLI);
        }
    }

    /// What is wrong where more than half of the readings are too warm.
    pub(super) fn fault(&self) -> Option<String> {
        (self.too_warm * 2 > self.readings).then(|| {
            let (too_warm, readings) = (self.too_warm, self.readings);
            format!("{too_warm} of {readings} readings lie above {TOO_WARM_C} °C, too warm for seeds: are they in Fahrenheit?")
        })
    }
}

/// The instant of a row below one at `before_us`.
fn time_us(row: &mut Row<'_>, before_us: Option<i64>, twice: &mut Twice) -> Option<i64> {
    let zone = row.zone();
    let reckoned = row.read("time", |text| read_time(text, zone).map_err(|fault| fault.to_string()))?;
    let Some(reckoned) = reckoned else {
        row.fault("time is empty");
        return None;
    };
    if reckoned.occurred_twice {
        let text = row.cell("time").unwrap_or_default().to_owned();
        twice.met(row.line(), &text, zone);
    }
    Some(reckoned.after(before_us.and_then(time_from_micros)).timestamp_micros())
}

fn reading(row: &mut Row<'_>, places: &Places, before_us: Option<i64>, twice: &mut Twice) -> Option<Reading> {
    let time_us = time_us(row, before_us, twice)?;
    let proof = match places.proof.and_then(|place| row.at(place)) {
        None => Proof::Plain,
        Some(_) => row.word("proof", Proof::from_word, "power-on, disconnected, not-a-number")?.unwrap_or_default(),
    };
    let column = places.degrees.word();
    match (row.at(places.temperature).map(|text| cells::raw_c_e4(text, places.degrees)), proof) {
        (Some(Ok(raw)), Proof::Plain | Proof::PowerOn | Proof::Disconnected) => {
            Some(Reading { time_us, raw_c_e4: Some(raw), proof })
        }
        (None, Proof::NotANumber) => Some(Reading { time_us, raw_c_e4: None, proof }),
        (Some(Err(rule)), _) => {
            row.fault(format!("{column}: {rule}"));
            None
        }
        (Some(Ok(_)), Proof::NotANumber) => {
            row.fault(format!("{column} holds a number, and proof says that there was none"));
            None
        }
        (None, _) => {
            row.fault(format!("{column} is empty"));
            None
        }
    }
}
