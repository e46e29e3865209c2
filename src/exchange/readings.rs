//! The readings files: many rows, so names are looked up once and nothing is kept a row but numbers.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use super::cells;
use super::table::{Findings, Form, Row, Table};
use crate::bench::rules::{Fault, Origin};
use crate::bench::{Name, Proof, Reading};

pub(super) const READINGS: Form =
    Form { file: "readings.csv", required: &["time", "probe", "celsius"], optional: &["proof"], later: &["fahrenheit"] };

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

    /// Adds the rows of one file, not yet in order.
    pub(super) fn read(&mut self, name: &str, bytes: &[u8], findings: &mut Findings) {
        let Some(mut table) = Table::open(name, bytes, &READINGS, findings) else { return };
        let Ok(file) = u16::try_from(self.files.len()) else {
            findings.faults.push(Fault::new(&table.origin_of_header(), "more than 65535 readings files"));
            return;
        };
        self.files.push(Arc::from(name));
        let (Some(probe), Some(celsius)) = (table.column("probe"), table.column("celsius")) else { return };
        let places = Places { celsius, proof: table.column("proof") };
        let mut known: HashMap<String, usize> = HashMap::new();
        let mut rows: Vec<(Name, Vec<ReadAt>)> = Vec::new();
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
            if let Some(reading) = reading(&mut row, &places) {
                rows[at].1.push(ReadAt { reading, file, line });
            }
        }
        for (name, read) in rows {
            self.probes.entry(name).or_default().extend(read);
        }
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
    celsius: usize,
    proof: Option<usize>,
}

fn reading(row: &mut Row<'_>, places: &Places) -> Option<Reading> {
    let time_us = row.time("time")?.timestamp_micros();
    let proof = match places.proof.and_then(|place| row.at(place)) {
        None => Proof::Plain,
        Some(_) => row.word("proof", Proof::from_word, "power-on, disconnected, not-a-number")?.unwrap_or_default(),
    };
    match (row.at(places.celsius).map(cells::raw_c_e4), proof) {
        (Some(Ok(raw)), Proof::Plain | Proof::PowerOn | Proof::Disconnected) => {
            Some(Reading { time_us, raw_c_e4: Some(raw), proof })
        }
        (None, Proof::NotANumber) => Some(Reading { time_us, raw_c_e4: None, proof }),
        (Some(Err(rule)), _) => {
            row.fault(format!("celsius: {rule}"));
            None
        }
        (Some(Ok(_)), Proof::NotANumber) => {
            row.fault("celsius holds a number, and proof says that there was none");
            None
        }
        (None, _) => {
            row.fault("celsius is empty");
            None
        }
    }
}
