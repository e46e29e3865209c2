//! `plan trial`: which box goes where.

use std::path::{Path, PathBuf};

use anyhow::{Context, bail, ensure};

use super::{percent, replace_own};
use crate::answers::{Concerning, room_at, trial};
use crate::bench::Name;
use crate::cli::Outcome;
use crate::cli::ask::{Asking, not_enough};
use crate::exchange::{layout_csv, trial_json};
use crate::experiment::plan::{Factor, TrialNote, TrialWish};
use crate::store::Keepsakes;
use crate::units::Bounds;
use crate::wording::trial_text;

/// A difference in the share of sprouts, in points of percent.
const DIFFERENCE: Bounds = Bounds { what: "the difference to be seen", low: 1.0, high: 95.0, unit: "points" };
/// Boxes in one trial.
const MOST_BOXES: u64 = 2_000;
/// Orders are numbered up to here where none is named: short enough to be copied by hand.
const ORDERS: i64 = 1_000_000;
/// The first line of a layout's file, by which it is known again.
const HEADING: &str = "spot,position,round,container,species,lot,treatment,seeds";

/// Lay a trial out: which box goes where, shuffled, and what it can show
#[derive(Debug, clap::Args)]
pub(super) struct Trial {
    /// What is compared: treatments (none: as they are), or lots with --by lot; two to twenty
    #[arg(value_name = "GROUP", value_parser = Name::new, num_args = 2..=20, required = true)]
    groups: Vec<Name>,
    /// The plant
    #[arg(long, value_parser = Name::new)]
    species: Name,
    /// Whether the groups are treatments or lots
    #[arg(long, value_enum, default_value_t = By::Treatment)]
    by: By,
    /// The lot, where treatments are compared
    #[arg(long, value_parser = Name::new, conflicts_with = "treatment")]
    lot: Option<Name>,
    /// The treatment, where lots are compared
    #[arg(long, value_parser = Name::new)]
    treatment: Option<Name>,
    /// Seeds in each box
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(1..=10_000))]
    seeds: u32,
    /// Boxes of each group at each spot
    #[arg(long, value_name = "N", default_value_t = 1, value_parser = clap::value_parser!(u32).range(1..=200))]
    boxes: u32,
    /// A spot; once for each: every group stands at every spot
    #[arg(long, value_parser = Name::new, required = true)]
    spot: Vec<Name>,
    /// A group that can stand only at this spot; once for each
    #[arg(long, value_name = "GROUP=SPOT")]
    only: Vec<String>,
    /// The difference in the share of sprouts that is to be seen, in points of percent
    #[arg(long, value_name = "POINTS", default_value = "20", value_parser = |text: &str| percent(text, &DIFFERENCE))]
    difference: f64,
    /// The number that the order is shuffled by; the same one gives the same order [default: another one each time]
    #[arg(long, value_name = "N")]
    shuffle: Option<u64>,
    /// How the boxes' names begin
    #[arg(long, value_name = "LETTERS", default_value = "T")]
    names: String,
    /// Write the list into a file as CSV
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    #[command(flatten)]
    asking: Asking,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
enum By {
    Treatment,
    Lot,
}

impl Trial {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        for (at, group) in self.groups.iter().enumerate() {
            ensure!(!self.groups[..at].contains(group), "'{group}' is named twice: a group is compared with others");
        }
        let boxes = self.groups.len() as u64 * self.spot.len() as u64 * u64::from(self.boxes);
        ensure!(boxes <= MOST_BOXES, "{boxes} boxes are too many for one trial: at most {MOST_BOXES}");
        ensure!(Name::new(&self.names).is_ok() && self.names.len() <= 20, "--names '{}': 1 to 20 letters", self.names);
        let factor = if self.by == By::Lot { Factor::Lot } else { Factor::Treatment };
        let with = match (factor, &self.lot, &self.treatment) {
            (Factor::Lot, Some(_), _) => bail!("--lot names one lot, and lots are what is compared: leave it out"),
            (Factor::Treatment, _, Some(_)) => {
                bail!("--treatment names one treatment, and treatments are what is compared: leave it out")
            }
            (Factor::Treatment, lot, None) => lot.clone(),
            (Factor::Lot, None, treatment) => treatment.clone(),
        };
        let mut desk = self.asking.desk(bench)?;
        let known = desk.known(Concerning::All)?;
        let mut spots: Vec<Name> = Vec::new();
        for spot in &self.spot {
            ensure!(
                known.bench.spots.contains_key(spot),
                "there is no spot '{spot}' on this bench; it has {}",
                names(known.bench.spots.keys())
            );
            ensure!(!spots.contains(spot), "the spot '{spot}' is named twice");
            spots.push(spot.clone());
        }
        let wish = TrialWish {
            species: self.species.clone(),
            with,
            factor,
            groups: self.groups.clone(),
            seeds: self.seeds,
            boxes: self.boxes,
            only: self.only.iter().map(|text| self.bound(text, &spots)).collect::<anyhow::Result<_>>()?,
            spots: spots.into_iter().map(|spot| (spot.clone(), room_at(&known, &spot))).collect(),
            difference: self.difference / 100.0,
            shuffle: self.shuffle.unwrap_or_else(|| desk.now.timestamp_micros().rem_euclid(ORDERS) as u64),
        };
        let mut shelf = desk.shelf();
        let plan = trial(&known, wish, &self.names, &mut shelf);
        let fresh = shelf.into_fresh();
        self.asking.print(&if self.asking.json { trial_json(&plan) } else { trial_text(&plan) })?;
        // Made again next time where they cannot be kept.
        let _ = desk.keep(&Keepsakes { stretches: Some(known.unkept()), fits: &fresh, ..Keepsakes::default() });
        if let Some(path) = &self.csv {
            let text = layout_csv(&plan).context("cannot make the list")?;
            replace_own(path, &text, "list", |before| before.starts_with(HEADING))?;
        }
        let cannot =
            |note: &TrialNote| !matches!(note, TrialNote::FewBoxes { .. } | TrialNote::NoRoom { .. } | TrialNote::OneWarmth);
        if plan.notes.iter().any(cannot) {
            return not_enough("laid out so, this trial cannot answer its question", "the lines above say what it would take");
        }
        Ok(Outcome::Done)
    }

    /// "A=sill".
    fn bound(&self, text: &str, spots: &[Name]) -> anyhow::Result<(Name, Name)> {
        let named = |text: &str, known: &[Name]| known.iter().find(|name| name.as_str() == text.trim()).cloned();
        let found =
            text.match_indices('=').find_map(|(at, _)| Some((named(&text[..at], &self.groups)?, named(&text[at + 1..], spots)?)));
        found.with_context(|| {
            format!(
                "--only '{text}': write GROUP=SPOT, a group ({}) and a spot of this trial ({})",
                names(&self.groups),
                names(spots)
            )
        })
    }
}

fn names<'a>(names: impl IntoIterator<Item = &'a Name>) -> String {
    let names: Vec<String> = names.into_iter().map(|name| format!("'{name}'")).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}
