//! Tables of temperatures that other programs wrote: any columns, any of the usual separators and ways to write a time.

use std::borrow::Cow;
use std::collections::BTreeMap;
use std::sync::Arc;

use chrono::NaiveDateTime;
use csv::StringRecord;

use super::cells;
use super::folder::{Document, Folder};
use super::readings::{Series, Twice, Warmth};
use super::table::{Findings, Lines};
use super::table_form::{Dates, ProbeOf, TableForm};
use crate::bench::rules::{Fault, Origin};
use crate::bench::{Degrees, Name, Proof, Reading};
use crate::civil::{Reckoned, Time, TimeFault, Zone, read_time, reckon, rfc3339, time_from_micros};

/// A title or two may stand above the header: it is looked for in so many lines.
const ABOVE_HEADER: usize = 20;

/// Such a table, its header found.
#[derive(Debug)]
pub struct OtherTable<'a> {
    file: Arc<str>,
    text: Cow<'a, str>,
    separator: u8,
    header_line: u64,
    /// Where the rows begin.
    rows_from: usize,
    columns: Vec<String>,
}

impl<'a> OtherTable<'a> {
    /// Finds the header: the first line that has as many cells as the rows have.
    ///
    /// # Errors
    /// Where the file is no table of text.
    pub fn open(document: &'a Document<'_>) -> Result<Self, Fault> {
        let file: Arc<str> = Arc::from(document.name.as_str());
        let whole = |what: &str| Fault::new(&Origin::File { file: Arc::clone(&file), line: None }, what);
        let bytes = document.bytes.strip_prefix(b"\xEF\xBB\xBF").unwrap_or(&document.bytes);
        if bytes.contains(&0) {
            return Err(whole("this is no plain text: save the table as CSV in UTF-8"));
        }
        // Degree signs of older programs are of Latin-1, whose bytes are the first letters of Unicode.
        let text = match std::str::from_utf8(bytes) {
            Ok(text) => Cow::Borrowed(text),
            Err(_) => Cow::Owned(bytes.iter().map(|byte| char::from(*byte)).collect()),
        };
        let separators = [b',', b';', b'\t'];
        let cells = |line: &str, separator: u8| line.bytes().filter(|byte| *byte == separator).count();
        let beginning = || text.lines().take(ABOVE_HEADER);
        let most = separators.into_iter().max_by_key(|separator| {
            let most = beginning().map(|line| cells(line, *separator)).max().unwrap_or(0);
            // Semicolons and tabs go before the commas that may stand in numbers.
            (most.min(1), usize::from(*separator != b','), most)
        });
        let separator = most.unwrap_or(b',');
        let widest = beginning().map(|line| cells(line, separator)).max().unwrap_or(0);
        if widest == 0 {
            return Err(whole("this is no table: its lines have only one cell each"));
        }
        let mut from = 0;
        for (at, line) in text.split_inclusive('\n').take(ABOVE_HEADER).enumerate() {
            if cells(line, separator) >= widest.min(1) && cells(line, separator) * 2 >= widest {
                let mut reader = csv::ReaderBuilder::new().has_headers(false).delimiter(separator).from_reader(line.as_bytes());
                let mut record = StringRecord::new();
                let read = reader.read_record(&mut record);
                read.map_err(|error| whole(&error.to_string()))?;
                let columns = record.iter().map(|column| column.trim().to_owned()).collect();
                let (header_line, rows_from) = (at as u64 + 1, from + line.len());
                return Ok(Self { file, text, separator, header_line, rows_from, columns });
            }
            from += line.len();
        }
        Err(whole("this is no table: no line names its columns"))
    }

    /// The header, column by column.
    #[must_use]
    pub fn columns(&self) -> &[String] {
        &self.columns
    }

    /// The header line, by which the form of its table is remembered.
    #[must_use]
    pub fn header(&self) -> String {
        self.columns.join("|")
    }

    /// A fault of the header.
    #[must_use]
    pub fn header_fault(&self, (what, next): (String, String)) -> Fault {
        Fault { origin: self.origin(self.header_line), what, next: Some(next), about: None }
    }

    /// What is read from where, for the grower to see.
    #[must_use]
    pub fn said(&self, form: &TableForm) -> String {
        let column = |at: usize| format!("'{}'", self.columns.get(at).map_or("", String::as_str));
        let time = match form.date {
            Some(date) => format!("{} and {}", column(date), column(form.time)),
            None => column(form.time),
        };
        let probe = match &form.probe {
            ProbeOf::Column(at) => format!("probe from {}", column(*at)),
            ProbeOf::All(name) => format!("all of probe '{name}'"),
        };
        format!(
            "{}: time from {time}, temperature from {} in {}, {probe}",
            self.file,
            column(form.temperature),
            form.degrees.sign()
        )
    }

    fn origin(&self, line: u64) -> Origin {
        Origin::File { file: Arc::clone(&self.file), line: Some(line) }
    }

    /// Reads the rows by `form`; local times are of `zone`.
    #[must_use]
    pub fn read(&self, form: &TableForm, zone: Zone) -> Folder {
        let mut findings = Findings::none_yet(zone);
        let rows = self.rows(&mut findings);
        let clock = |row: &StringRecord| {
            let cell = |at: usize| row.get(at).unwrap_or_default().trim();
            form.date.map_or_else(|| cell(form.time).to_owned(), |date| format!("{} {}", cell(date), cell(form.time)))
        };
        let dates = match self.dates(form, rows.iter().map(|(_, row)| clock(row))) {
            Ok(dates) => dates,
            Err(fault) => {
                findings.faults.push(fault);
                return Folder::of_readings(Series::default(), (self.header(), form.to_text()), findings);
            }
        };
        let mut read: BTreeMap<Name, Vec<(u64, Reading)>> = BTreeMap::new();
        let (mut twice, mut warmth, mut no_number) = (Twice::default(), Warmth::default(), NoNumber::default());
        for (line, row) in &rows {
            let fault = |what: String| Fault::new(&self.origin(*line), what);
            let probe = match &form.probe {
                ProbeOf::All(name) => Ok(name.clone()),
                ProbeOf::Column(at) => Name::new(row.get(*at).unwrap_or_default()).map_err(|fault| fault.to_string()),
            };
            let text = clock(row);
            let (probe, reckoned) = match (probe, instant(&text, dates, zone)) {
                (Ok(probe), Ok(reckoned)) => (probe, reckoned),
                (probe, reckoned) => {
                    findings.faults.extend(probe.err().into_iter().chain(reckoned.err()).map(fault));
                    continue;
                }
            };
            if reckoned.occurred_twice {
                twice.met(*line, &text, zone);
            }
            let before = read.get(&probe).and_then(|read| read.last()).and_then(|(_, last)| time_from_micros(last.time_us));
            let time_us = reckoned.after(before).timestamp_micros();
            let cell = row.get(form.temperature).unwrap_or_default().trim();
            let reading = match self.temperature(cell, form.degrees) {
                Some(raw) => Reading { time_us, raw_c_e4: Some(raw), proof: Proof::Plain },
                None => {
                    no_number.met(*line, cell);
                    Reading { time_us, raw_c_e4: None, proof: Proof::NotANumber }
                }
            };
            warmth.take(&reading);
            read.entry(probe).or_default().push((*line, reading));
        }
        twice.note(&self.file, &mut findings);
        let column = self.columns.get(form.temperature).map_or("", String::as_str);
        match no_number.said(rows.len(), column) {
            Some((true, what)) => findings.faults.push(Fault::new(&self.origin(self.header_line), what)),
            Some((false, what)) => findings.notes.push(format!("{}: {what}; they are kept as that", self.file)),
            None => {}
        }
        if let Some(what) = warmth.fault().filter(|_| form.degrees == Degrees::Celsius) {
            let next = Some("add --units fahrenheit if they are, else --units celsius".to_owned());
            findings.too_warm.push(Fault { origin: self.origin(self.header_line), what, next, about: None });
        }
        let mut series = Series::default();
        for (probe, readings) in read {
            series.add(&self.file, probe, readings.into_iter());
        }
        series.settle(&mut findings);
        Folder::of_readings(series, (self.header(), form.to_text()), findings)
    }

    fn rows(&self, findings: &mut Findings) -> Vec<(u64, StringRecord)> {
        let body = &self.text[self.rows_from..];
        let mut reader =
            csv::ReaderBuilder::new().has_headers(false).flexible(true).delimiter(self.separator).from_reader(body.as_bytes());
        let mut lines = Lines::default();
        let mut rows = Vec::new();
        for record in reader.records() {
            match record {
                Ok(record) => {
                    let start = record.position().map_or(0, csv::Position::byte) as usize;
                    rows.push((self.header_line + lines.line_of_record(body, start), record));
                }
                Err(error) => findings.faults.push(Fault::new(&self.origin(self.header_line), error.to_string())),
            }
        }
        rows
    }

    fn temperature(&self, cell: &str, degrees: Degrees) -> Option<i64> {
        let sign = degrees.sign();
        let bare = cell.strip_suffix(sign).or_else(|| cell.strip_suffix(&sign[sign.len() - 1..])).unwrap_or(cell).trim();
        let pointed = if self.separator == b',' { Cow::Borrowed(bare) } else { Cow::Owned(bare.replace(',', ".")) };
        cells::raw_c_e4(&pointed, degrees).ok()
    }

    /// Which of day and month goes first in dates with strokes: as told, or as one of them proves.
    fn dates(&self, form: &TableForm, times: impl Iterator<Item = String>) -> Result<Option<Dates>, Fault> {
        if form.dates.is_some() {
            return Ok(form.dates);
        }
        let mut either = false;
        for text in times {
            let mut parts = text.split('/').map(|part| part.trim().parse::<u32>().ok());
            if let (Some(Some(first)), Some(Some(second))) = (parts.next(), parts.next())
                && first <= 31
            {
                match (first, second) {
                    (13.., _) => return Ok(Some(Dates::DayFirst)),
                    (_, 13..) => return Ok(Some(Dates::MonthFirst)),
                    _ => either = true,
                }
            }
        }
        if !either {
            return Ok(None);
        }
        let what = "its dates do not tell whether the day or the month goes first".to_owned();
        Err(self.header_fault((what, "add --dates day-first or --dates month-first".to_owned())))
    }
}

/// Rows that hold no number.
#[derive(Default)]
struct NoNumber {
    count: usize,
    first: Option<(u64, String)>,
}

impl NoNumber {
    fn met(&mut self, line: u64, cell: &str) {
        self.count += 1;
        self.first.get_or_insert_with(|| (line, cell.chars().take(20).collect()));
    }

    /// What is to be said, and whether it is a fault: most rows are such.
    fn said(&self, rows: usize, column: &str) -> Option<(bool, String)> {
        let (line, cell) = self.first.as_ref()?;
        let what = format!("{} of {rows} rows hold no temperature in '{column}', the first '{cell}' in line {line}", self.count);
        Some((self.count * 2 > rows, what))
    }
}

/// The instant that a text means, written in one of the usual ways.
fn instant(text: &str, dates: Option<Dates>, zone: Zone) -> Result<Reckoned, String> {
    let unreadable = match read_time(text, zone) {
        Ok(reckoned) => return Ok(reckoned),
        Err(TimeFault::Unreadable(text)) => format!("'{text}' is not a time that is known here: write 2026-03-14 07:30"),
        Err(fault) => return Err(fault.to_string()),
    };
    if let Some(time) = seconds_since_1970(text) {
        return read_time(&rfc3339(time), zone).map_err(|fault| fault.to_string());
    }
    let slashed: &[&str] = match dates {
        Some(Dates::DayFirst) => &["%d/%m/%y", "%d/%m/%Y"],
        Some(Dates::MonthFirst) => &["%m/%d/%y", "%m/%d/%Y"],
        None => &[],
    };
    let days = ["%d.%m.%y", "%d.%m.%Y", "%Y/%m/%d"].iter().chain(slashed);
    let tidy = text.replace(',', " ").split_whitespace().collect::<Vec<_>>().join(" ");
    for day in days {
        for clock in ["%H:%M:%S%.f", "%H:%M", "%I:%M:%S %p", "%I:%M %p"] {
            if let Ok(local) = NaiveDateTime::parse_from_str(&tidy, &format!("{day} {clock}")) {
                return reckon(local, zone, text).map_err(|fault| fault.to_string());
            }
        }
    }
    Err(unreadable)
}

/// Seconds or milliseconds since 1970, as many devices write them.
fn seconds_since_1970(text: &str) -> Option<Time> {
    let whole = text.split('.').next()?;
    let digits = whole.len();
    let value: f64 = text.parse().ok().filter(|_| whole.bytes().all(|byte| byte.is_ascii_digit()))?;
    match digits {
        9..=10 => time_from_micros((value * 1e6).round() as i64),
        12..=13 => time_from_micros((value * 1e3).round() as i64),
        _ => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::exchange::Told;

    const BERLIN: Zone = Zone::Europe__Berlin;

    fn read(text: &[u8], told: &Told) -> Folder {
        let document = Document { name: "log.csv".to_owned(), bytes: Cow::Borrowed(text) };
        let table = OtherTable::open(&document).unwrap();
        let form = TableForm::settle(table.columns(), told, None, None).unwrap();
        table.read(&form, BERLIN)
    }

    fn rows(folder: &Folder) -> Vec<(String, String, Option<i64>)> {
        let of = |probe: &Name, reading: &Reading| {
            (probe.to_string(), rfc3339(time_from_micros(reading.time_us).unwrap()), reading.raw_c_e4)
        };
        folder.series.probes.iter().flat_map(|(probe, read)| read.iter().map(move |read| of(probe, &read.reading))).collect()
    }

    fn row(probe: &str, time: &str, raw: Option<i64>) -> (String, String, Option<i64>) {
        (probe.to_owned(), time.to_owned(), raw)
    }

    #[test]
    fn a_table_with_a_title_semicolons_decimal_commas_and_old_letters_is_read() {
        let text = b"Greenhouse\r\nSerial 77\r\nDate;Time;Sensor;Temp (\xB0C);RH\r\n14.03.2026;07:30;a;21,5;60\r\n14.03.2026;07:40;a;---;61\r\n\
                     14.03.26;07:50:30;b;-0,25 \xB0C;61\r\n";
        let folder = read(text, &Told::default());
        assert_eq!(folder.faults, []);
        assert_eq!(
            rows(&folder),
            [
                row("a", "2026-03-14T06:30:00Z", Some(215_000)),
                row("a", "2026-03-14T06:40:00Z", None),
                row("b", "2026-03-14T06:50:30Z", Some(-2_500))
            ]
        );
        assert_eq!(
            folder.notes,
            ["log.csv: 1 of 3 rows hold no temperature in 'Temp (°C)', the first '---' in line 5; they are kept as that"]
        );
    }

    #[test]
    fn dates_with_strokes_are_proved_by_one_of_them_or_asked_for() {
        let yard = Told { probe: Some(Name::new("yard").unwrap()), ..Told::default() };
        let text = b"Timestamp,Temperature F\n3/4/2026 7:30 PM,70.7\n3/14/2026 7:30 PM,70.7\n";
        assert_eq!(
            rows(&read(text, &yard)),
            [row("yard", "2026-03-04T18:30:00Z", Some(215_000)), row("yard", "2026-03-14T18:30:00Z", Some(215_000))]
        );
        let text = b"Timestamp,Temperature F\n3/4/2026 19:30,70.7\n";
        let folder = read(text, &yard);
        assert_eq!(folder.faults.len(), 1);
        assert_eq!(folder.faults[0].to_string(), "log.csv:1: its dates do not tell whether the day or the month goes first");
        let told = Told { dates: Some(Dates::DayFirst), ..yard };
        assert_eq!(rows(&read(text, &told)), [row("yard", "2026-04-03T17:30:00Z", Some(215_000))]);
    }

    /// Germany's clocks went back from 03:00 to 02:00 on 2025-10-26 (IANA tz database).
    #[test]
    fn the_hour_that_came_twice_goes_on_in_time() {
        let text = b"time,probe,temp\n2025-10-26 02:30,a,18\n2025-10-26 02:45,a,18\n2025-10-26 02:30,a,17\n1761447600,a,16\n";
        let folder = read(text, &Told::default());
        assert_eq!(folder.faults, []);
        let times: Vec<String> = rows(&folder).into_iter().map(|row| row.1).collect();
        assert_eq!(times, ["2025-10-26T00:30:00Z", "2025-10-26T00:45:00Z", "2025-10-26T01:30:00Z", "2025-10-26T03:00:00Z"]);
    }

    #[test]
    fn a_column_without_temperatures_is_a_fault_and_so_is_one_in_other_degrees() {
        let faults = |text: &[u8]| read(text, &Told::default()).all_faults().iter().map(ToString::to_string).collect::<Vec<_>>();
        assert_eq!(
            faults(b"time,probe,temp\n2026-03-14 07:30,a,warm\n2026-03-14 07:40,a,warm\n2026-03-14 07:50,a,18\n"),
            ["log.csv:1: 2 of 3 rows hold no temperature in 'temp', the first 'warm' in line 2"]
        );
        assert_eq!(
            faults(b"time,probe,temp\n2026-03-14 07:30,a,68\nyesterday,a,68\n"),
            [
                "log.csv:3: 'yesterday' is not a time that is known here: write 2026-03-14 07:30",
                "log.csv:1: 1 of 1 readings lie above 45 °C, too warm for seeds: are they in Fahrenheit?"
            ]
        );
    }

    #[test]
    fn what_is_no_table_is_told() {
        let fault = |bytes: &[u8]| {
            let document = Document { name: "log.csv".to_owned(), bytes: Cow::Borrowed(bytes) };
            OtherTable::open(&document).unwrap_err().to_string()
        };
        assert_eq!(fault(b""), "log.csv: this is no table: its lines have only one cell each");
        assert_eq!(fault(b"a\nb\n"), "log.csv: this is no table: its lines have only one cell each");
        assert_eq!(fault(b"\xFF\xFEa\0,\0"), "log.csv: this is no plain text: save the table as CSV in UTF-8");
    }
}
