//! The command that writes what hangs beside the boxes.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};

use anyhow::Context;
use chrono::NaiveDate;

use super::Outcome;
use super::ask::{not_enough, said};
use super::page::PORT;
use crate::bench::{Bench, Name, Trial};
use crate::charts::Paper;
use crate::civil::{Time, local_date};
use crate::clock::{Clock, SystemClock};
use crate::page::own_address;
use crate::report::{DAYS, Tally, by_spot, labels, labels_html, page_address, tally_html};
use crate::store::Store;

/// Write labels for boxes and lids, with codes that open them on the page, or a tally sheet: one file, to print from a browser
#[derive(Debug, clap::Args)]
pub(super) struct Labels {
    /// Boxes, also ended ones [default: all that are present]
    #[arg(value_name = "BOX", value_parser = Name::new)]
    boxes: Vec<Name>,
    /// Boxes at one spot only
    #[arg(long, value_parser = Name::new)]
    spot: Option<Name>,
    /// Boxes of one batch only
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// The page's address as telephones reach it [default: this computer's address on the local network]
    #[arg(long, value_name = "URL", value_parser = page_address)]
    url: Option<String>,
    /// The paper: a4 or letter
    #[arg(long, value_name = "a4|letter", value_parser = paper, default_value = "a4")]
    paper: Paper,
    /// A sheet with a row a box and a column a day instead, to tick on beside the boxes
    #[arg(long, conflicts_with = "boxes")]
    sheet: bool,
    /// Its days
    #[arg(long, value_name = "7|14", requires = "sheet", value_parser = days, default_value = "7")]
    days: usize,
    /// Its first day, as 2026-03-14 [default: today]
    #[arg(long, value_name = "DATE", requires = "sheet")]
    from: Option<NaiveDate>,
    /// The file to write [default: labels.html, or tally.html with --sheet]
    #[arg(long, value_name = "FILE")]
    output: Option<PathBuf>,
    /// Overwrite the file if it is there
    #[arg(long)]
    replace: bool,
}

fn paper(text: &str) -> Result<Paper, String> {
    Paper::from_word(text).ok_or_else(|| format!("'{text}' is no paper known here: a4 or letter"))
}

fn days(text: &str) -> Result<usize, String> {
    text.parse().ok().filter(|days| DAYS.contains(days)).ok_or_else(|| format!("'{text}' days: a sheet has 7 or 14"))
}

impl Labels {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let file = self.output.clone().unwrap_or_else(|| PathBuf::from(if self.sheet { "tally.html" } else { "labels.html" }));
        if file.exists() && !self.replace {
            anyhow::bail!(
                "{} is there already\n  nothing was written; next: another name by --output, or --replace",
                file.display()
            );
        }
        let now = SystemClock.now();
        let bench = Store::open_read_only(bench)?.bench()?.as_of(now);
        let address = self.url.clone().unwrap_or_else(|| format!("http://{}", SocketAddr::from((own_address(), PORT))));
        let (html, told) = if self.sheet { self.tally(&bench, &address, now)? } else { self.labels(&bench, &address, now)? };
        let Some(html) = html else {
            return not_enough(
                "there is no such box on this bench now",
                "seedclock sow, or name other boxes, another spot or batch",
            );
        };
        std::fs::write(&file, &html).with_context(|| format!("cannot write {}", file.display()))?;
        said(&format!(
            "written: {}: {told}; open it in a browser and print it at 100 %\n  its codes lead to {address}",
            file.display()
        ));
        Ok(Outcome::Done)
    }

    /// Whether a box is of the spot and batch that are asked for.
    fn means(&self, trial: &Trial, now: Time) -> bool {
        self.spot.as_ref().is_none_or(|spot| trial.spot_at(now) == spot)
            && self.batch.as_ref().is_none_or(|batch| *batch == trial.container.batch)
    }

    /// The file, none where no box is meant, and what it holds.
    fn labels(&self, bench: &Bench, address: &str, now: Time) -> anyhow::Result<(Option<String>, String)> {
        let mut boxes = Vec::new();
        for name in &self.boxes {
            let trial =
                bench.trials.get(name).with_context(|| format!("there is no box '{name}' on this bench\n  nothing was written"))?;
            boxes.push(trial);
        }
        if self.boxes.is_empty() {
            let present = |trial: &&Trial| trial.container.owner.is_none() && trial.ended_at(now).is_none();
            boxes.extend(bench.trials.values().filter(present));
        }
        boxes.retain(|trial| self.means(trial, now));
        let made = labels(&boxes, address, bench.zone);
        if made.is_empty() {
            return Ok((None, String::new()));
        }
        let html = labels_html(&made, self.paper).context("cannot make the labels")?;
        let without = made.iter().filter(|label| !label.has_code()).count();
        let mut told = if made.len() == 1 { "1 label".to_owned() } else { format!("{} labels", made.len()) };
        if without > 0 {
            told += &format!(", {without} without a code, since their names are too long for one that a telephone reads");
        }
        Ok((Some(html), told))
    }

    fn tally(&self, bench: &Bench, address: &str, now: Time) -> anyhow::Result<(Option<String>, String)> {
        let from = self.from.unwrap_or_else(|| local_date(now, bench.zone));
        let mut spots = by_spot(bench, from, self.days, now);
        for (spot, here) in &mut spots {
            here.retain(|trial| {
                self.spot.as_ref().is_none_or(|wanted| wanted == *spot)
                    && self.batch.as_ref().is_none_or(|batch| *batch == trial.container.batch)
            });
        }
        spots.retain(|(_, here)| !here.is_empty());
        if spots.is_empty() {
            return Ok((None, String::new()));
        }
        let boxes: usize = spots.iter().map(|(_, here)| here.len()).sum();
        let tally = Tally { from, days: self.days, paper: self.paper, address: address.to_owned() };
        let html = tally_html(bench, &spots, &tally).context("cannot make the sheet")?;
        let boxes = if boxes == 1 { "1 box".to_owned() } else { format!("{boxes} boxes") };
        Ok((Some(html), format!("a tally sheet of {boxes} for {} days from {from} on", self.days)))
    }
}
