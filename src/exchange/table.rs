//! One table of a bench folder: its header held against the columns it may have, its rows cell by cell.

use std::sync::Arc;

use csv::StringRecord;

use super::cells;
use crate::bench::Name;
use crate::bench::rules::{Fault, Origin};
use crate::civil::{Time, Zone, read_time};

/// The columns of a file.
pub(super) struct Form {
    pub(super) file: &'static str,
    pub(super) required: &'static [&'static str],
    pub(super) optional: &'static [&'static str],
    /// Two of the optional columns of which one must be there, and not both, with a word on the first.
    pub(super) either: Option<[&'static str; 3]>,
}

/// What reading a folder gathers on the way.
pub(super) struct Findings {
    pub(super) zone: Zone,
    pub(super) faults: Vec<Fault>,
    /// Tables of temperatures that no seeds could have: faults, unless it is said that the degrees are right.
    pub(super) too_warm: Vec<Fault>,
    pub(super) notes: Vec<String>,
}

impl Findings {
    pub(super) fn none_yet(zone: Zone) -> Self {
        Self { zone, faults: Vec::new(), too_warm: Vec::new(), notes: Vec::new() }
    }
}

/// A file whose header is in order.
pub(super) struct Table<'a> {
    file: Arc<str>,
    text: &'a str,
    rows: csv::Reader<&'a [u8]>,
    record: StringRecord,
    /// Column names in the order of the file.
    columns: Vec<String>,
    counted: Lines,
}

impl<'a> Table<'a> {
    /// Checks text and header; none where a fault made reading on senseless.
    pub(super) fn open(name: &str, bytes: &'a [u8], form: &Form, findings: &mut Findings) -> Option<Self> {
        let file: Arc<str> = Arc::from(name);
        let mut fault = |line: u64, what: String| {
            findings.faults.push(Fault::new(&Origin::File { file: Arc::clone(&file), line: Some(line) }, what));
        };
        let bytes = bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(bytes);
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => text,
            Err(error) => {
                let good = error.valid_up_to();
                let line = 1 + bytes[..good].iter().filter(|byte| **byte == b'\n').count() as u64;
                fault(line, format!("byte {:02X} (hexadecimal) is not text: bench folders are written in UTF-8", bytes[good]));
                return None;
            }
        };
        if text.trim().is_empty() {
            fault(1, format!("the file is empty: its first line names the columns {}", form.required.join(", ")));
            return None;
        }
        if let Some(separator) = other_separator(text) {
            fault(1, format!("its cells are separated by {separator}: the tables of a bench folder have commas between cells"));
            return None;
        }
        let mut rows = csv::ReaderBuilder::new().has_headers(false).flexible(true).from_reader(text.as_bytes());
        let mut record = StringRecord::new();
        if let Err(error) = rows.read_record(&mut record) {
            fault(1, error.to_string());
            return None;
        }
        let columns: Vec<String> = record.iter().map(|column| column.trim().to_owned()).collect();
        let wrong = wrong_columns(&columns, form);
        if !wrong.is_empty() {
            wrong.into_iter().for_each(|what| fault(1, what));
            return None;
        }
        Some(Self { file, text, rows, record, columns, counted: Lines::default() })
    }

    /// Where a column stands.
    pub(super) fn column(&self, name: &str) -> Option<usize> {
        self.columns.iter().position(|column| column == name)
    }

    /// The fault, or note, of the whole file.
    pub(super) fn origin_of_header(&self) -> Origin {
        Origin::File { file: Arc::clone(&self.file), line: Some(1) }
    }

    /// The next row that has as many cells as the header.
    pub(super) fn next<'t>(&'t mut self, findings: &'t mut Findings) -> Option<Row<'t>> {
        loop {
            match self.rows.read_record(&mut self.record) {
                Ok(true) => {}
                Ok(false) => return None,
                Err(error) => {
                    findings.faults.push(Fault::new(&self.origin_of_header(), error.to_string()));
                    return None;
                }
            }
            let start = self.record.position().map_or(0, csv::Position::byte);
            let line = self.counted.line_of_record(self.text, start as usize);
            let (cells, columns) = (self.record.len(), self.columns.len());
            if cells == columns {
                break;
            }
            let mut what = format!("{cells} cell{} where the header names {columns} columns", if cells == 1 { "" } else { "s" });
            if cells > columns && halves_of_a_number(&self.record) {
                what.push_str("; a decimal comma makes two cells of one number: write numbers with a decimal point");
            }
            findings.faults.push(Fault::new(&Origin::File { file: Arc::clone(&self.file), line: Some(line) }, what));
        }
        Some(Row { file: &self.file, line: self.counted.line, columns: &self.columns, record: &self.record, findings })
    }
}

fn wrong_columns(columns: &[String], form: &Form) -> Vec<String> {
    let known = || form.required.iter().chain(form.optional);
    let list = |columns: Vec<&str>| columns.join(", ");
    let mut wrong = Vec::new();
    for (at, column) in columns.iter().enumerate() {
        if columns[..at].contains(column) {
            wrong.push(format!("the column '{column}' stands there twice"));
        } else if !known().any(|name| name == column) {
            let columns = list(known().copied().collect());
            wrong.push(format!("unknown column '{column}': the columns of {} are {columns}", form.file));
        }
    }
    let missing: Vec<&str> = form.required.iter().copied().filter(|name| !columns.iter().any(|column| column == name)).collect();
    if !missing.is_empty() {
        let plural = if missing.len() == 1 { "column is" } else { "columns are" };
        wrong.push(format!("the {plural} missing: {}", list(missing)));
    }
    if let Some([one, word, other]) = form.either {
        let there = |name: &str| columns.iter().any(|column| column == name);
        if wrong.is_empty() && there(one) == there(other) {
            wrong.push(format!("a column '{one}'{word} or '{other}' must be there, and not both"));
        }
    }
    wrong
}

/// What separates the cells of a header that has no commas, where it is plainly something else.
fn other_separator(text: &str) -> Option<&'static str> {
    let header = text.lines().find(|line| !line.trim().is_empty()).unwrap_or_default();
    match header {
        header if header.contains(',') => None,
        header if header.contains(';') => Some("semicolons"),
        header if header.contains('\t') => Some("tabs"),
        _ => None,
    }
}

/// Whether two neighbouring cells look like the halves of a number with a decimal comma.
fn halves_of_a_number(record: &StringRecord) -> bool {
    let digits = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    let cells: Vec<&str> = record.iter().map(str::trim).collect();
    cells.windows(2).any(|pair| digits(pair[0].strip_prefix('-').unwrap_or(pair[0])) && digits(pair[1]))
}

/// Lines counted along a text, since a cell in quotes may hold line breaks and blank lines make no row.
#[derive(Default)]
pub(super) struct Lines {
    line: u64,
    counted_to: usize,
}

impl Lines {
    /// The line of the record that the reader says starts at `start`: where its first cell stands, past line ends that still
    /// belong to what came before.
    pub(super) fn line_of_record(&mut self, text: &str, start: usize) -> u64 {
        let bytes = text.as_bytes();
        let blank = bytes[start..].iter().take_while(|byte| matches!(byte, b'\r' | b'\n')).count();
        let breaks = bytes[self.counted_to..start + blank].iter().filter(|byte| **byte == b'\n').count();
        self.line = self.line.max(1) + breaks as u64;
        self.counted_to = start + blank;
        self.line
    }
}

/// A row being read. Each cell that is wrong becomes a fault, and its value none.
pub(super) struct Row<'t> {
    file: &'t Arc<str>,
    line: u64,
    columns: &'t [String],
    record: &'t StringRecord,
    findings: &'t mut Findings,
}

impl Row<'_> {
    pub(super) fn origin(&self) -> Origin {
        Origin::File { file: Arc::clone(self.file), line: Some(self.line) }
    }

    pub(super) fn line(&self) -> u64 {
        self.line
    }

    pub(super) fn zone(&self) -> Zone {
        self.findings.zone
    }

    pub(super) fn fault(&mut self, what: impl Into<String>) {
        let fault = Fault::new(&self.origin(), what);
        self.findings.faults.push(fault);
    }

    pub(super) fn note(&mut self, what: &str) {
        self.findings.notes.push(format!("{}: {what}", self.origin()));
    }

    /// The trimmed text of a cell by its place; none where empty.
    pub(super) fn at(&self, place: usize) -> Option<&str> {
        self.record.get(place).map(str::trim).filter(|text| !text.is_empty())
    }

    /// The trimmed text of a cell; none where it is empty or has no column.
    pub(super) fn cell(&self, column: &str) -> Option<&str> {
        self.at(self.columns.iter().position(|name| name == column)?)
    }

    /// A cell's text with formulas armed again.
    pub(super) fn text(&self, column: &str) -> Option<String> {
        self.cell(column).map(|text| cells::armed(text).to_owned())
    }

    /// A name that may be missing; outer none: it is wrong.
    pub(super) fn optional_name(&mut self, column: &str) -> Option<Option<Name>> {
        match self.cell(column).map(|text| Name::new(cells::armed(text))) {
            None => Some(None),
            Some(Ok(name)) => Some(Some(name)),
            Some(Err(fault)) => {
                self.fault(format!("{column}: {fault}"));
                None
            }
        }
    }

    /// A name that must be there.
    pub(super) fn name(&mut self, column: &str) -> Option<Name> {
        let name = self.optional_name(column)?;
        if name.is_none() {
            self.fault(format!("{column} is empty"));
        }
        name
    }

    /// A cell read by `read`, which gives the broken rule; outer none: it is wrong.
    pub(super) fn read<T>(&mut self, column: &str, read: impl FnOnce(&str) -> Result<T, String>) -> Option<Option<T>> {
        match self.cell(column).map(read) {
            None => Some(None),
            Some(Ok(value)) => Some(Some(value)),
            Some(Err(rule)) => {
                self.fault(format!("{column}: {rule}"));
                None
            }
        }
    }

    /// A number that may be missing; outer none: it is wrong.
    pub(super) fn number(&mut self, column: &str) -> Option<Option<f64>> {
        self.read(column, cells::number)
    }

    /// One of a few words; outer none: it is another.
    pub(super) fn word<T>(&mut self, column: &str, meaning: impl FnOnce(&str) -> Option<T>, words: &str) -> Option<Option<T>> {
        self.read(column, |word| meaning(word).ok_or_else(|| format!("'{word}' is none of {words}")))
    }

    /// A time that may be missing; outer none: it is wrong. Of a local time that came twice the first is taken, and noted.
    pub(super) fn optional_time(&mut self, column: &str) -> Option<Option<Time>> {
        let zone = self.zone();
        let reckoned = self.read(column, |text| read_time(text, zone).map_err(|fault| fault.to_string()))?;
        if reckoned.is_some_and(|reckoned| reckoned.occurred_twice) {
            let text = self.cell(column).unwrap_or_default().to_owned();
            self.note(&format!("{text} came twice in {zone}; the first is taken"));
        }
        Some(reckoned.map(|reckoned| reckoned.time))
    }

    /// A time that must be there.
    pub(super) fn time(&mut self, column: &str) -> Option<Time> {
        let time = self.optional_time(column)?;
        if time.is_none() {
            self.fault(format!("{column} is empty"));
        }
        time
    }
}
