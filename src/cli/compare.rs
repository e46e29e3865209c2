//! The command that compares boxes.

use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::ValueEnum;

use super::Outcome;
use super::ask::{Asking, not_enough, said};
use crate::answers::{Concerning, compare};
use crate::bench::{Degrees, Name};
use crate::charts::{Look, Size, compared};
use crate::exchange::{compare_json, png};
use crate::experiment::{CompareAnswer, Factor, NoComparison, Wish};
use crate::store::Keepsakes;
use crate::wording::{Also, Detail, compare_text, no_comparison_words, nothing_concluded, one_group_words};

/// Whether treatments, lots, spots or batches differ, in how many seeds sprout and in how fast
#[derive(Debug, clap::Args)]
pub(super) struct Compare {
    /// What to compare [default: treatment]
    #[arg(long, value_enum)]
    by: Option<By>,
    /// Boxes of one batch only [default: all batches in which something differs]
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// Boxes of one plant only [default: the plant sown last of which something differs]
    #[arg(long, value_parser = Name::new)]
    species: Option<Name>,
    /// The difference that you wish to be shown, in points of 100: for it the seeds needed are told
    #[arg(long, value_name = "POINTS", default_value_t = 20, value_parser = clap::value_parser!(u8).range(1..=95))]
    difference: u8,
    /// Print all the numbers
    #[arg(long)]
    detail: bool,
    /// Print the indices in common use as well, each with its formula
    #[arg(long)]
    indices: bool,
    /// Write the figures into this folder, as SVG and PNG
    #[arg(long, value_name = "FOLDER")]
    pictures: Option<PathBuf>,
    #[command(flatten)]
    asking: Asking,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum By {
    Treatment,
    Lot,
    Spot,
    Batch,
}

impl Compare {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let mut desk = self.asking.desk(bench)?;
        let known = desk.known(Concerning::All)?;
        let (zone, degrees) = (known.bench.zone, known.bench.units.unwrap_or_default());
        let factor = self.by.map(|by| match by {
            By::Treatment => Factor::Treatment,
            By::Lot => Factor::Lot,
            By::Spot => Factor::Spot,
            By::Batch => Factor::Batch,
        });
        let wish = Wish { factor, batch: self.batch.clone(), species: self.species.clone() };
        let mut shelf = desk.shelf();
        let answer = compare(&known, &wish, f64::from(self.difference) / 100.0, &mut shelf);
        let fresh = shelf.into_fresh();
        let answer = match answer {
            Ok(answer) => answer,
            Err(why) => {
                let (what, next) = no_comparison_words(&why);
                return match why {
                    NoComparison::NoBox => not_enough(&what, &next),
                    NoComparison::NoSuchSpecies(..) | NoComparison::NoSuchBatch(..) => anyhow::bail!("{what}\n  next: {next}"),
                };
            }
        };
        let detail = if self.detail { Detail::All } else { Detail::Short };
        let also = if self.indices { Also::Indices } else { Also::Nothing };
        self.asking.print(&if self.asking.json {
            compare_json(&answer, degrees)
        } else {
            compare_text(&answer, zone, degrees, detail, also)
        })?;
        if let Some(folder) = &self.pictures {
            draw(&answer, degrees, folder)?;
        }
        // Made again next time where they cannot be kept.
        let _ = desk.keep(&Keepsakes { stretches: Some(known.unkept()), fits: &fresh, ..Keepsakes::default() });
        if answer.comparison.groups.len() < 2 {
            let (what, next) = one_group_words(&answer);
            return not_enough(&what, &next);
        }
        Ok(if nothing_concluded(&answer) { Outcome::NotEnough } else { Outcome::Done })
    }
}

/// Pixels for each unit of a figure: 1920 across.
const PIXELS: f32 = 1.5;

/// Writes each figure twice: to be looked at anywhere, and to be enlarged.
fn draw(answer: &CompareAnswer, degrees: Degrees, folder: &Path) -> anyhow::Result<()> {
    std::fs::create_dir_all(folder).with_context(|| format!("cannot make the folder {}", folder.display()))?;
    for (name, figure) in compared(answer, degrees) {
        let svg = figure.svg(Look::Light, Size::Wide);
        let picture = png(&svg, PIXELS)?;
        for (ending, bytes) in [("svg", svg.as_bytes()), ("png", &picture)] {
            let path = folder.join(format!("{name}.{ending}"));
            std::fs::write(&path, bytes).with_context(|| format!("cannot write {}", path.display()))?;
            said(&format!("drawn: {}", path.display()));
        }
    }
    Ok(())
}
