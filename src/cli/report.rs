//! The command that writes a report.

use std::path::{Path, PathBuf};

use anyhow::Context;

use super::Outcome;
use super::ask::{Asking, not_enough, said};
use crate::answers::Known;
use crate::bench::Name;
use crate::report::{Private, Reported, report_of};

/// One file to show to others: figures, numbers, methods and cautions
#[derive(Debug, clap::Args)]
pub(super) struct Report {
    /// The file to write, such as report.html
    file: PathBuf,
    /// Boxes of one batch only
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// Boxes of one plant only
    #[arg(long, value_parser = Name::new)]
    species: Option<Name>,
    /// Say where lots were collected or bought, and when
    #[arg(long)]
    with_places: bool,
    /// Print the notes and conditions that were written down at looks
    #[arg(long)]
    with_notes: bool,
    /// Overwrite the file if it is there
    #[arg(long)]
    replace: bool,
    #[command(flatten)]
    asking: Asking,
}

impl Report {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        if self.file.exists() && !self.replace {
            anyhow::bail!("{} is there already\n  nothing was written; next: another name, or --replace", self.file.display());
        }
        let desk = self.asking.desk(bench)?;
        let known = Known::as_of(&desk.store, desk.now)?;
        let private = Private { places: self.with_places, notes: self.with_notes };
        let wish = Reported { batch: self.batch.clone(), species: self.species.clone(), private };
        let html = report_of(&known, &wish, &mut desk.shelf()).context("cannot make the report")?;
        let Some(html) = html else {
            return not_enough("there is no box to report on", "seedclock sow, or --batch or --species with boxes on record");
        };
        std::fs::write(&self.file, &html).with_context(|| format!("cannot write {}", self.file.display()))?;
        said(&format!(
            "written: {} ({} kB); it holds {} and nothing from elsewhere",
            self.file.display(),
            html.len().div_ceil(1000),
            match (self.with_places, self.with_notes) {
                (false, false) => "no collecting places and no notes",
                (true, false) => "collecting places but no notes",
                (false, true) => "notes but no collecting places",
                (true, true) => "collecting places and notes",
            }
        ));
        Ok(Outcome::Done)
    }
}
