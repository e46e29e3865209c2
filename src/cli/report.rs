//! The command that writes a report.

use std::path::{Path, PathBuf};

use anyhow::Context;

use super::Outcome;
use super::ask::{Asking, not_enough, said};
use crate::answers::{Known, Present, compare, diagnose, forecast};
use crate::bench::{Name, Trial};
use crate::experiment::Wish;
use crate::report::{Contents, Private, report_html};

/// Days ahead that a report tells of.
const DAYS: usize = 60;
/// Plants of which comparisons are shown, at most.
const COMPARED: usize = 6;
/// The difference that the sizes needed are told for, as a share.
const WISHED: f64 = 0.2;

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
        let mut shelf = desk.shelf();
        let present = Present::with(&known, &mut shelf);
        let mut ahead = forecast(&known, &present, DAYS);
        let mut slow = diagnose(&known, &present);
        let meant = |trial: &Trial| {
            let container = &trial.container;
            container.owner.is_none()
                && self.batch.as_ref().is_none_or(|batch| *batch == container.batch)
                && self.species.as_ref().is_none_or(|species| *species == container.species)
        };
        ahead.boxes.retain(|one| meant(&one.trial));
        slow.boxes.retain(|one| meant(&one.trial));
        let mut compared = Vec::new();
        let mut wish = Wish { factor: None, batch: self.batch.clone(), species: self.species.clone() };
        if let Ok(answer) = compare(&known, &wish, WISHED, &mut shelf) {
            let others = answer.other_species.clone();
            compared.push(answer);
            for species in others.into_iter().take(COMPARED - 1) {
                wish.species = Some(species);
                compared.extend(compare(&known, &wish, WISHED, &mut shelf).ok());
            }
        }
        compared.retain(|answer| answer.comparison.groups.len() > 1);
        // What is compared, else what stands there now.
        let shown = |trial: &&Trial| {
            let container = &trial.container;
            let in_comparison = |answer: &crate::experiment::CompareAnswer| {
                answer.comparison.groups.iter().any(|group| group.containers.contains(&container.name))
            };
            meant(trial) && (self.batch.is_some() || trial.ended_at(known.now).is_none() || compared.iter().any(in_comparison))
        };
        let boxes: Vec<&Trial> = known.bench.trials.values().filter(shown).collect();
        if boxes.is_empty() {
            return not_enough("there is no box to report on", "seedclock sow, or --batch or --species with boxes on record");
        }
        let mut fits = present.needs();
        fits.retain(|fit| boxes.iter().any(|trial| trial.container.species == fit.species));
        let contents = Contents {
            bench: &known.bench,
            as_of: known.now,
            boxes: &boxes,
            forecast: Some(&ahead),
            diagnosis: Some(&slow),
            fits: &fits,
            compared: &compared,
            private: Private { places: self.with_places, notes: self.with_notes },
        };
        let html = report_html(&contents).context("cannot make the report")?;
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
