//! A whole bench taken in from a folder, or written out into one.

use std::fmt::Write as _;
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::{Outcome, bench_zone, counted, note, refusal, say};
use crate::changes;
use crate::clock::{Clock, SystemClock};
use crate::exchange::{ExportError, Folder, ProofColumn, documents_in, export};
use crate::store::{Store, StoreError};

/// Readings are exported in pieces of this many microseconds (30 days), so that a long record needs little memory.
const PIECE_US: i64 = 30 * 86_400 * 1_000_000;

/// Take a bench folder in, all or nothing
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Import {
    /// The folder: containers.csv, checks.csv, probes.csv and, where there are any, spots.csv, moves.csv, bench.csv,
    /// readings.csv and readings-*.csv
    folder: PathBuf,
}

impl Import {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let now = SystemClock.now();
        let documents =
            documents_in(&self.folder).with_context(|| format!("cannot read the bench folder {}", self.folder.display()))?;
        let zone = bench_zone(bench)?;
        let folder = Folder::read(&documents, zone);
        let imported =
            changes::open_or_begin(bench, folder.zone.unwrap_or(zone), |empty| changes::examine_folder(empty, &folder, now))
                .and_then(|mut store| changes::import_folder(&mut store, &folder, now))
                .map_err(|error| refusal(error, "imported"))?;
        note(&folder.notes);
        let new = &imported.admitted;
        let brought = [
            counted(new.containers.len(), "box", "boxes"),
            counted(new.checks.len(), "check", "checks"),
            counted(new.moves.len(), "move", "moves"),
            counted(new.spots.len(), "spot", "spots"),
            counted(new.placements.len(), "placing of a probe", "placings of probes"),
            counted(imported.readings.stored, "reading", "readings"),
        ];
        let brought: Vec<String> = brought.into_iter().filter(|count| !count.starts_with("0 ")).collect();
        let mut said = format!("imported {}", if brought.is_empty() { "nothing new".to_owned() } else { brought.join(", ") });
        let repeated = new.repeated + imported.readings.repeated;
        if repeated > 0 {
            let _ = write!(said, "; {} on record already", counted(repeated, "row was", "rows were"));
        }
        say(&said);
        Ok(Outcome::Done)
    }
}

/// Write the bench out as a bench folder
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Export {
    /// The folder: new, empty, or an earlier export, which is replaced
    folder: PathBuf,
}

impl Export {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let store = Store::open_read_only(bench)?;
        let probes = store.probes()?;
        let proofs = if store.has_proofs()? { ProofColumn::Written } else { ProofColumn::LeftOut };
        let pieces = probes.iter().flat_map(|span| {
            let (first, last) = span.first_us.zip(span.last_us).map_or((0, -1), |span| span);
            let starts = (0..).map(move |piece| first + piece * PIECE_US).take_while(move |start| *start <= last);
            let store = &store;
            starts.map(move |start| Ok((&span.probe, store.readings(&span.probe, start, start + PIECE_US)?)))
        });
        let written = export::<StoreError>(&store.bench()?, proofs, pieces, &self.folder).map_err(|error| match error {
            ExportError::Source(error) => anyhow::Error::new(error),
            other => anyhow::Error::new(other),
        })?;
        say(&format!("wrote {} to {}", written.join(", "), self.folder.display()));
        Ok(Outcome::Done)
    }
}
