//! A whole bench taken in from a folder, or written out into one; readings out of any table.

use std::borrow::Cow;
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::{Outcome, bench_zone, counted, note, refusal, say};
use crate::answers::{Shared, write_folder};
use crate::bench::rules::Conflict;
use crate::bench::{Degrees, Name};
use crate::changes::{self, ChangeError, brought_words};
use crate::civil::Zone;
use crate::clock::{Clock, SystemClock};
use crate::exchange::{Column, Dates, Document, ExportError, Folder, OtherTable, TableForm, Told, documents_in};
use crate::store::{Store, StoreError};

/// Take a bench folder in, or a table of temperatures, all or nothing
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Import {
    /// The folder: containers.csv, checks.csv, probes.csv and, where there are any, spots.csv, moves.csv, lots.csv, doubts.csv, limits.csv,
    /// bench.csv, readings.csv and readings-*.csv
    #[arg(required_unless_present = "readings")]
    folder: Option<PathBuf>,
    /// Where other values are on record, let these take their place; the old ones are kept beside
    #[arg(long)]
    replace: bool,
    /// It is the bench of this friend: kept apart, its sowings teach
    #[arg(long, value_name = "NAME", value_parser = Name::new)]
    from: Option<Name>,
    /// A table of temperatures of any kind, in place of a folder
    #[arg(long, value_name = "FILE", conflicts_with_all = ["folder", "from"])]
    readings: Option<PathBuf>,
    #[command(flatten)]
    columns: Columns,
}

/// Which columns of a table are which; told once, it is remembered for tables with the same header.
#[derive(Debug, clap::Args)]
#[command(next_help_heading = "Columns of a table of temperatures (by number or header; remembered)")]
struct Columns {
    /// The time, or the time of day
    #[arg(long, value_name = "N", requires = "readings")]
    time_column: Option<String>,
    /// The date, where it stands apart
    #[arg(long, value_name = "N", requires = "readings")]
    date_column: Option<String>,
    /// The temperature
    #[arg(long, value_name = "N", requires = "readings")]
    temp_column: Option<String>,
    /// The probe of each row
    #[arg(long, value_name = "N", requires = "readings", conflicts_with = "probe")]
    probe_column: Option<String>,
    /// The one probe that all rows are of
    #[arg(long, value_name = "NAME", requires = "readings", value_parser = Name::new)]
    probe: Option<Name>,
    /// Its degrees: celsius or fahrenheit. For a folder whose temperatures seem too warm: they are as they stand
    #[arg(long, value_name = "WORD", value_parser = degrees)]
    units: Option<Degrees>,
    /// How dates such as 3/4/2026 are meant: day-first or month-first
    #[arg(long, value_name = "WORD", requires = "readings", value_parser = dates)]
    dates: Option<Dates>,
}

fn degrees(text: &str) -> Result<Degrees, String> {
    Degrees::from_word(text).ok_or_else(|| "write celsius or fahrenheit".to_owned())
}

fn dates(text: &str) -> Result<Dates, String> {
    match text {
        "day-first" => Ok(Dates::DayFirst),
        "month-first" => Ok(Dates::MonthFirst),
        _ => Err("write day-first or month-first".to_owned()),
    }
}

impl Columns {
    fn told(self) -> Told {
        let column = |text: Option<String>| text.map(|text| Column::told(&text));
        Told {
            time: column(self.time_column),
            date: column(self.date_column),
            temperature: column(self.temp_column),
            probe_column: column(self.probe_column),
            probe: self.probe,
            degrees: self.units,
            dates: self.dates,
        }
    }
}

impl Import {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let zone = bench_zone(bench)?;
        let conflict = if self.replace { Conflict::Replaced } else { Conflict::Refused };
        let believed = self.columns.units.is_some();
        let mut folder = match (self.readings, self.folder) {
            (Some(file), _) => table_of_readings(&file, self.columns.told(), bench, zone)?,
            (None, Some(folder)) => {
                let documents =
                    documents_in(&folder).with_context(|| format!("cannot read the bench folder {}", folder.display()))?;
                let folder = Folder::read(&documents, zone);
                match &self.from {
                    Some(friend) => folder.of_friend(friend),
                    None => folder,
                }
            }
            (None, None) => anyhow::bail!("name a folder, or a table with --readings"),
        };
        if believed {
            folder.believe_degrees();
        }
        let now = SystemClock.now();
        let begin = folder.zone.unwrap_or(zone);
        let imported = changes::open_or_begin(bench, begin, |empty| changes::examine_folder(empty, &folder, conflict, now))
            .and_then(|mut store| changes::import_folder(&mut store, &folder, conflict, now))
            .map_err(|error| refusal(error, "imported"))?;
        note(&folder.notes);
        say(&format!("imported {}", brought_words(&imported)));
        Ok(Outcome::Done)
    }
}

/// A table of temperatures that another program wrote, as a folder with nothing but readings.
fn table_of_readings(file: &Path, told: Told, bench: &Path, zone: Zone) -> anyhow::Result<Folder> {
    let bytes = std::fs::read(file).with_context(|| format!("cannot read the table {}", file.display()))?;
    let name = file.file_name().unwrap_or(file.as_os_str()).to_string_lossy().into_owned();
    let document = Document { name, bytes: Cow::Owned(bytes) };
    let refused = |fault| refusal(ChangeError::Faults(vec![fault]), "imported");
    let table = OtherTable::open(&document).map_err(refused)?;
    let (remembered, units) = match Store::open_read_only(bench) {
        Ok(store) => (store.form(&table.header())?, store.bench()?.units),
        Err(StoreError::Missing(_)) => (None, None),
        Err(error) => return Err(error.into()),
    };
    let form = TableForm::settle(table.columns(), &told, remembered.as_deref(), units)
        .map_err(|unclear| refused(table.header_fault(unclear)))?;
    let mut folder = table.read(&form, zone);
    folder.notes.insert(0, table.said(&form));
    Ok(folder)
}

/// Write the bench out as a bench folder
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Export {
    /// The folder: new, empty, or an earlier export, which is replaced
    folder: PathBuf,
    /// To hand on: without collecting places, notes and photographs, and without what friends entrusted to you
    #[arg(long)]
    share: bool,
}

impl Export {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let store = Store::open_read_only(bench)?;
        let shared = if self.share { Shared::ToHandOn } else { Shared::Everything };
        let written = write_folder(&store, shared, &self.folder).map_err(|error| match error {
            ExportError::Source(error) => anyhow::Error::new(error),
            other => anyhow::Error::new(other),
        })?;
        say(&format!("wrote {} to {}", written.join(", "), self.folder.display()));
        let undated: usize = store.undated_starts()?.iter().map(|start| start.readings).sum();
        if undated > 0 {
            note(&[format!(
                "{} without dates stay behind, as a bench folder has no place for them; a copy of the bench's file has them\n  \
                 next: `seedclock undated` lists them",
                counted(undated, "reading", "readings")
            )]);
        }
        Ok(Outcome::Done)
    }
}
