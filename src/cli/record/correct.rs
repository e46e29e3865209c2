//! Entries that were typed wrong, put right.

use std::path::Path;

use super::amended::OrNone;
use super::placed::Placed;
use super::{Outcome, event, existing, fault, optional_time, refusal, say, trial};
use crate::bench::rules::{Counted, Entry, Fault, Key};
use crate::bench::{Bench, Event, Name};
use crate::changes::{Corrected, correct};
use crate::civil::Time;
use crate::store::Store;
use crate::wording::{corrected_words, new_spots_words};

/// Put an entry right; what is not said stays as it was, and the old values are kept beside
#[derive(Debug, clap::Subcommand)]
pub(in crate::cli) enum Correct {
    /// A look at a box: the last, or the one at a time
    Check(Look),
    /// What was said of a box when it was sown
    Box(Sowing),
    /// A move of a box: the last, or the one at a time
    Move(Moved),
    /// Where a probe was put: the last time, or the one since a time
    Probe(Placed),
}

/// A look at a box, put right
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Look {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// Which look: the one on record for this time [default: the last]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Sprouts new since the look before
    #[arg(long, value_name = "N")]
    sprouted: Option<u32>,
    /// Unsprouted seeds taken out mouldy or rotten
    #[arg(long, value_name = "N")]
    removed: Option<u32>,
    /// Unsprouted seeds lost or taken
    #[arg(long, value_name = "N")]
    lost: Option<u32>,
    /// Sprouts taken out to grow on
    #[arg(long, value_name = "N")]
    potted_on: Option<u32>,
    /// Sprouts that died
    #[arg(long, value_name = "N")]
    died: Option<u32>,
    /// How the box looked, or none
    #[arg(long, value_name = "WORD", value_parser = OrNone::<String>::text)]
    condition: Option<OrNone<String>>,
    /// A note, or none
    #[arg(long, value_name = "TEXT", value_parser = OrNone::<String>::text)]
    note: Option<OrNone<String>>,
    /// When it really was
    #[arg(long, value_name = "TIME")]
    time: Option<String>,
}

/// What was said of a box when it was sown, put right
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Sowing {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// The plant
    #[arg(long, value_parser = Name::new)]
    species: Option<Name>,
    /// How many seeds, or none: not counted
    #[arg(long, value_name = "N", value_parser = OrNone::<u32>::count)]
    seeds: Option<OrNone<u32>>,
    /// At least so many, or none
    #[arg(long, value_name = "N", value_parser = OrNone::<u32>::count)]
    seeds_low: Option<OrNone<u32>>,
    /// At most so many, or none
    #[arg(long, value_name = "N", value_parser = OrNone::<u32>::count)]
    seeds_high: Option<OrNone<u32>>,
    /// Where it stood first
    #[arg(long, value_parser = Name::new)]
    spot: Option<Name>,
    /// The boxes it is watched with
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// Which seeds, or none
    #[arg(long, value_parser = OrNone::<Name>::name)]
    lot: Option<OrNone<Name>>,
    /// What they went through before sowing, or none
    #[arg(long, value_parser = OrNone::<Name>::name)]
    treatment: Option<OrNone<Name>>,
    /// What counts as sprouted: radicle or emergence
    #[arg(long, value_parser = event)]
    event: Option<Event>,
    /// How deep the seeds lie, in millimetres, or none
    #[arg(long, value_name = "MM", value_parser = OrNone::<f64>::number)]
    depth: Option<OrNone<f64>>,
    /// The box that the seeds came out of, or none
    #[arg(long, value_name = "BOX", value_parser = OrNone::<Name>::name)]
    from: Option<OrNone<Name>>,
    /// The lid's own name, or none
    #[arg(long = "box", value_name = "LID", value_parser = OrNone::<Name>::name)]
    lid: Option<OrNone<Name>>,
    /// When it was sown
    #[arg(long, value_name = "TIME")]
    sown: Option<String>,
    /// When it was closed, or none
    #[arg(long, value_name = "TIME", value_parser = OrNone::<String>::word)]
    closed: Option<OrNone<String>>,
}

/// A move of a box, put right
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Moved {
    /// The box
    #[arg(value_name = "BOX", value_parser = Name::new)]
    container: Name,
    /// Which move: the one on record for this time [default: the last]
    #[arg(long, value_name = "TIME")]
    at: Option<String>,
    /// Where to
    #[arg(long, value_parser = Name::new)]
    spot: Option<Name>,
    /// When it really was
    #[arg(long, value_name = "TIME")]
    time: Option<String>,
}

impl Correct {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let time = |typed: &Option<String>| optional_time(typed.as_deref(), zone, now);
        match self {
            Self::Check(look) => {
                let (at, to) = (time(&look.at)?, time(&look.time)?);
                put_right(&mut store, now, |bench| look.right(bench, at, to))
            }
            Self::Box(sowing) => {
                let sown = time(&sowing.sown)?;
                let closed = match &sowing.closed {
                    None => None,
                    Some(OrNone(closed)) => Some(OrNone(time(closed)?)),
                };
                put_right(&mut store, now, |bench| sowing.right(bench, sown, closed))
            }
            Self::Move(moved) => {
                let (at, to) = (time(&moved.at)?, time(&moved.time)?);
                put_right(&mut store, now, |bench| moved.right(bench, at, to))
            }
            Self::Probe(placed) => {
                let (since, to) = (time(&placed.since)?, time(&placed.time)?);
                put_right(&mut store, now, |bench| placed.right(bench, since, to))
            }
        }
    }
}

/// An entry on record, and what it should be.
pub(super) type Pair = (Entry, Entry);

/// Puts the second of a pair in the place of the first, and says in what they differ.
fn put_right(store: &mut Store, now: Time, pair: impl FnOnce(&Bench) -> Result<Pair, Vec<Fault>>) -> anyhow::Result<Outcome> {
    let Corrected { made, was, is } = correct(store, now, pair).map_err(|error| refusal(error, "recorded"))?;
    say(&(corrected_words(&was, &is, &made.after) + &new_spots_words(&made.named_spots)));
    Ok(Outcome::Done)
}

/// What is on record under the key, or that there is nothing.
pub(super) fn on_record(bench: &Bench, key: &Key, what: impl FnOnce() -> String) -> Result<Entry, Vec<Fault>> {
    bench.entry(key).ok_or_else(|| fault(format!("there is nothing to correct: {}", what())))
}

pub(super) fn said(time: Time, bench: &Bench) -> String {
    crate::civil::local_time(time, bench.zone)
}

impl Look {
    fn right(self, bench: &Bench, at: Option<Time>, to: Option<Time>) -> Result<Pair, Vec<Fault>> {
        let name = &self.container;
        let last = trial(bench, name)?.checks.last().map(|check| check.time);
        let none = || fault(format!("nobody has looked at box '{name}' yet: there is no look to correct"));
        let time = at.or(last).ok_or_else(none)?;
        let key = Key::Check(name.clone(), time);
        let was = on_record(bench, &key, || format!("there is no check of box '{name}' on {}", said(time, bench)))?;
        let Entry::Check(mut look, _) = was.clone() else { return Err(fault("no look is on record")) };
        look.time = to.unwrap_or(time);
        let counts = [
            (&mut look.sprouted, self.sprouted),
            (&mut look.removed, self.removed),
            (&mut look.lost, self.lost),
            (&mut look.potted_on, self.potted_on),
            (&mut look.died, self.died),
        ];
        for (there, given) in counts {
            *there = given.unwrap_or(*there);
        }
        look.condition = OrNone::over(self.condition, look.condition);
        look.note = OrNone::over(self.note, look.note);
        Ok((was, Entry::Check(look, Counted::SinceLast)))
    }
}

impl Sowing {
    fn right(self, bench: &Bench, sown: Option<Time>, closed: Option<OrNone<Time>>) -> Result<Pair, Vec<Fault>> {
        let was = trial(bench, &self.container)?.container.clone();
        let mut is = was.clone();
        is.species = self.species.unwrap_or(is.species);
        is.seeds = OrNone::over(self.seeds, is.seeds);
        is.seeds_low = OrNone::over(self.seeds_low, is.seeds_low);
        is.seeds_high = OrNone::over(self.seeds_high, is.seeds_high);
        is.spot = self.spot.unwrap_or(is.spot);
        is.batch = self.batch.unwrap_or(is.batch);
        is.lot = OrNone::over(self.lot, is.lot);
        is.treatment = OrNone::over(self.treatment, is.treatment);
        is.event = self.event.unwrap_or(is.event);
        is.depth_mm = OrNone::over(self.depth, is.depth_mm);
        is.from = OrNone::over(self.from, is.from);
        is.lid = OrNone::over(self.lid, is.lid);
        is.sown = sown.unwrap_or(is.sown);
        is.ended = OrNone::over(closed, is.ended);
        Ok((Entry::Container(was), Entry::Container(is)))
    }
}

impl Moved {
    fn right(self, bench: &Bench, at: Option<Time>, to: Option<Time>) -> Result<Pair, Vec<Fault>> {
        let name = &self.container;
        let last = trial(bench, name)?.moves.last().map(|moved| moved.time);
        let time = at.or(last).ok_or_else(|| fault(format!("box '{name}' was never moved: there is no move to correct")))?;
        let key = Key::Move(name.clone(), time);
        let was = on_record(bench, &key, || format!("there is no move of box '{name}' on {}", said(time, bench)))?;
        let Entry::Move(mut moved) = was.clone() else { return Err(fault("no move is on record")) };
        moved.time = to.unwrap_or(time);
        moved.spot = self.spot.unwrap_or(moved.spot);
        Ok((was, Entry::Move(moved)))
    }
}
