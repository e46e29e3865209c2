//! Probes: where they stand, their calibration, their names, and readings that are doubted.

use std::path::Path;

use super::calibrate::Calibrate;
use super::limits::Limits;
use super::which::Which;
use super::{Outcome, existing, free_text, make, optional_time, refusal, say, say_made, siting, time};
use crate::bench::rules::Entry;
use crate::bench::{Calibration, Doubt as Doubted, Name, Siting};
use crate::changes::{self, Placing, TypedDegrees, Wish};
use crate::civil::local_time;
use crate::wording::{changed_words, placed_words};

/// Say where probes stand, how they are calibrated, and what they are called
#[derive(Debug, clap::Subcommand)]
pub(in crate::cli) enum Probe {
    /// Say where a probe stands, and from when on
    Place(Place),
    /// Say what a probe shows where the truth is known: in ice slush, or beside a good thermometer
    Calibrate(Calibrate),
    /// Say by which limits its readings are judged where the usual ones do not fit: a hot bed, an incubator, another sensor
    Limits(Limits),
    /// Give a probe a lasting name; its readings and its board's lines stay its own
    Name(Named),
    /// List the serial ports, 1-Wire sensors and temperature chips of this computer
    Ports,
    /// Hold a probe in your hand: the one that warms is named
    Which(Which),
}

/// Say where a probe stands, and from when on
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Place {
    /// The probe
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// Where it stands; a spot not known yet is made
    #[arg(value_parser = Name::new)]
    spot: Name,
    /// From when on [default: now]
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
    /// Calibrated: degrees to add to what it shows, 0 if it shows true [default: as before]
    #[arg(long, value_name = "DEGREES", allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    offset: Option<TypedDegrees>,
    /// Calibrated: the factor on what it shows
    #[arg(long, value_name = "FACTOR")]
    gain: Option<f64>,
    /// Where it is: in a box, beside the boxes, or only in the same room
    #[arg(long, value_name = "in|beside|room", value_parser = siting, default_value = "beside")]
    siting: Siting,
}

/// Give a probe a lasting name
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Named {
    /// Its name so far
    #[arg(value_name = "OLD", value_parser = Name::new)]
    was: Name,
    /// Its name from now on
    #[arg(value_name = "NEW", value_parser = Name::new)]
    name: Name,
}

/// Say that readings of a probe are not to be used: they are kept
#[derive(Debug, clap::Args)]
pub(in crate::cli) struct Doubt {
    /// The probe
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// From when
    #[arg(long, value_name = "TIME")]
    from: String,
    /// Until when [default: it goes on]
    #[arg(long, value_name = "TIME")]
    to: Option<String>,
    /// Why, in your words
    #[arg(long, value_name = "TEXT", value_parser = free_text)]
    why: Option<String>,
}

impl Probe {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        match self {
            Self::Place(place) => place.run(bench),
            Self::Calibrate(calibrate) => calibrate.run(bench),
            Self::Limits(limits) => limits.run(bench),
            Self::Name(named) => named.run(bench),
            Self::Ports => crate::cli::ports::list(),
            Self::Which(which) => which.run(bench),
        }
    }
}

/// Puts on record that a probe stands beside the boxes at a spot from now on.
pub(in crate::cli) fn place_beside(bench: &Path, probe: Name, spot: Name) -> anyhow::Result<Outcome> {
    Place { probe, spot, since: None, offset: None, gain: None, siting: Siting::Beside }.run(bench)
}

impl Place {
    fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let since = time(self.since.as_deref(), zone, now)?;
        let degrees = store.bench()?.units.unwrap_or_default();
        let calibration = (self.offset.is_some() || self.gain.is_some()).then(|| Calibration {
            offset_c: self.offset.map_or(0.0, |offset| offset.difference(degrees)),
            gain: self.gain.unwrap_or(1.0),
        });
        let placing = Placing { probe: self.probe, spot: self.spot, since, siting: self.siting, calibration };
        let (made, placement) = changes::place(&mut store, &placing, now).map_err(|error| refusal(error, "recorded"))?;
        say_made(&made, &placed_words(&placement, &made.after));
        Ok(Outcome::Done)
    }
}

impl Named {
    fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, _, now) = existing(bench)?;
        changes::name_probe(&mut store, &self.was, &self.name, now).map_err(|error| refusal(error, "recorded"))?;
        say(&format!("probe {}: called {} from now on; its readings so far and to come stay its own", self.was, self.name));
        Ok(Outcome::Done)
    }
}

impl Doubt {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let from = time(Some(&self.from), zone, now)?;
        let to = optional_time(self.to.as_deref(), zone, now)?;
        let mut before = None;
        let mut doubt = Doubted { probe: self.probe, from, to, why: self.why };
        // The same beginning again says more of the same doubt: most often when it ended.
        let made = make(&mut store, now, |bench| {
            let there = bench.doubts.iter().find(|there| there.probe == doubt.probe && there.from == from);
            if let Some(there) = there {
                doubt.to = doubt.to.or(there.to);
                doubt.why = doubt.why.take().or_else(|| there.why.clone());
                let contradicted = there.to.is_some_and(|to| doubt.to != Some(to)) || there.why.is_some() && there.why != doubt.why;
                before = contradicted.then(|| Entry::Doubt(there.clone()));
            }
            Ok(vec![Wish::to_correct(vec![Entry::Doubt(doubt.clone())])])
        })?;
        let until = doubt.to.map_or_else(|| "on".to_owned(), |to| format!("to {}", local_time(to, zone)));
        let why = doubt.why.as_ref().map(|why| format!(": {why}")).unwrap_or_default();
        let mut said = format!("probe {}: readings from {} {until} are not used{why}", doubt.probe, local_time(from, zone));
        if let Some(before) = before {
            said += &format!("; corrected: {}", changed_words(&before, &Entry::Doubt(doubt), zone));
        }
        say_made(&made, &said);
        Ok(Outcome::Done)
    }
}
