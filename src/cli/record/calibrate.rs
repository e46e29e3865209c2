//! What a probe shows where the truth is known: typed, or watched while it settles.

use std::path::Path;
use std::time::Duration;

use super::watch::{Watched, agreed, interrupted, watch};
use super::{Outcome, existing, fault, fault_with, make, say, say_made, time};
use crate::bench::rules::{Entry, Fault};
use crate::bench::{Bench, Calibration, Degrees, Name, Placement};
use crate::changes::{TypedDegrees, Wish, placed};
use crate::civil::local_time;
use crate::quality::settled;
use crate::wording::{calibrated_words, calibration_words, degrees_words, difference_words};

/// Off by more than this in ice, a probe is likely to be off by another amount where seeds stand: copies of the usual sensor were
/// seen 0.5 to 3.5 °C off in ice and less when warm.
const ASK_SECOND_C: f64 = 0.5;
/// Two points closer together than this give no factor.
const LEAST_APART_C: f64 = 5.0;

/// Say what a probe shows where the truth is known
#[derive(Debug, clap::Args)]
#[command(group(clap::ArgGroup::new("truth").required(true).multiple(true).args(["ice", "points", "beside"])))]
pub(in crate::cli) struct Calibrate {
    /// The probe
    #[arg(value_parser = Name::new)]
    probe: Name,
    /// What it shows in a stirred slush of crushed ice and water, which is at 0 °C; without a number it is watched while it settles
    #[arg(long, value_name = "SHOWN", num_args = 0..=1, allow_negative_numbers = true, value_parser = TypedDegrees::read)]
    ice: Option<Option<TypedDegrees>>,
    /// What a good thermometer beside it shows: the probe is watched while it settles
    #[arg(long, value_name = "TRUE", allow_negative_numbers = true, value_parser = TypedDegrees::read, conflicts_with_all = ["ice", "points"])]
    beside: Option<TypedDegrees>,
    /// What it shows, and what is true, as in 25.4=25.0; two such points give the factor too
    #[arg(long = "point", value_name = "SHOWN=TRUE", allow_hyphen_values = true, value_parser = point)]
    points: Vec<(TypedDegrees, TypedDegrees)>,
    /// From when on [default: now]
    #[arg(long, value_name = "TIME")]
    since: Option<String>,
    /// Watched: record without asking
    #[arg(long)]
    yes: bool,
    /// Watched: for so many seconds it has to be steady
    #[arg(long, value_name = "SECONDS", default_value_t = 180, value_parser = clap::value_parser!(u32).range(1..=3600))]
    steady_for: u32,
    /// Watched: how many minutes before giving up
    #[arg(long, value_name = "MINUTES", default_value_t = 30, value_parser = clap::value_parser!(u64).range(1..=240))]
    give_up: u64,
}

fn point(text: &str) -> Result<(TypedDegrees, TypedDegrees), String> {
    let (shown, truth) = text.split_once('=').ok_or_else(|| "write what it shows = what is true, as in 25.4=25.0".to_owned())?;
    Ok((TypedDegrees::read(shown)?, TypedDegrees::read(truth)?))
}

impl Calibrate {
    pub(in crate::cli) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let (mut store, zone, now) = existing(bench)?;
        let usual = store.bench()?.units.unwrap_or_default();
        let mut points: Vec<(f64, f64)> = self.ice.flatten().map(|shown| (shown.celsius(usual), 0.0)).into_iter().collect();
        points.extend(self.points.iter().map(|(shown, truth)| (shown.celsius(usual), truth.celsius(usual))));
        let watched_c = match (self.ice, self.beside) {
            (Some(None), _) => Some(0.0),
            (_, Some(truth)) => Some(truth.celsius(usual)),
            _ => None,
        };
        // That it stands somewhere is asked before anybody waits.
        self.stands(&store.bench()?, time(self.since.as_deref(), zone, now)?)
            .map_err(|faults| super::refusal(crate::changes::ChangeError::Faults(faults), "recorded"))?;
        if let Some(truth_c) = watched_c {
            let shown_c = match self.watched(bench, &mut store, truth_c, usual)? {
                Watched::Interrupted => return Ok(interrupted()),
                Watched::Found(shown_c) => shown_c,
            };
            points.push((shown_c, truth_c));
        }
        let (mut store, _, now) = existing(bench)?;
        let since = time(self.since.as_deref(), zone, now)?;
        let proposed = |bench: &Bench| -> Result<Placement, Vec<Fault>> {
            let stands = self.stands(bench, since)?;
            let mut points = points.clone();
            if self.beside.is_some() {
                points.extend(ice_point(stands));
            }
            Ok(Placement { since, calibration: Some(line_through(&points)?), ..stands.clone() })
        };
        if watched_c.is_some() {
            let bench = store.bench()?;
            let placement =
                proposed(&bench).map_err(|faults| super::refusal(crate::changes::ChangeError::Faults(faults), "recorded"))?;
            let before = self.stands(&bench, since).ok().and_then(|stands| stands.calibration);
            let before = before.map_or_else(|| "not calibrated".to_owned(), calibration_words);
            let now_words = placement.calibration.map(calibration_words).unwrap_or_default();
            say(&format!(
                "proposed from {} on: {now_words} (so far: {before}); what was read before stays as it was",
                local_time(since, zone)
            ));
            if let Some(ended) = agreed(self.yes, "record it?")? {
                return Ok(ended);
            }
        }
        let mut calibrated = None;
        let made = make(&mut store, now, |bench| {
            let placement = proposed(bench)?;
            calibrated = Some(placement.clone());
            Ok(vec![Wish::to_record(vec![Entry::Placement(placement)])])
        })?;
        if let Some(placement) = calibrated {
            let (on, words) = (local_time(since, zone), calibrated_words(&placement));
            say_made(&made, &format!("probe {}: {words} from {on} on, at '{}'", placement.probe, placement.spot));
            self.ask_second(&placement, usual);
        }
        Ok(Outcome::Done)
    }

    fn stands<'a>(&self, bench: &'a Bench, since: crate::civil::Time) -> Result<&'a Placement, Vec<Fault>> {
        let probe = &self.probe;
        placed(bench, probe, since).ok_or_else(|| {
            let next = format!("`seedclock probe place {} SPOT`", probe.as_typed());
            fault_with(format!("probe '{probe}' stands nowhere on {}", local_time(since, bench.zone)), next)
        })
    }

    /// What it shows at rest, °C.
    fn watched(&self, bench: &Path, store: &mut crate::store::Store, truth_c: f64, usual: Degrees) -> anyhow::Result<Watched<f64>> {
        say(if self.beside.is_some() {
            "put probe and thermometer side by side in water of 20 to 30 °C, their tips together, and stir; Ctrl-C stops"
        } else {
            "crush ice, fill a tall cup with it, and pour cold water on until it is slush; put the probe deep into its middle, not at the \
             wall or the bottom, stir, and pour melt water off, so that ice stays around the tip; Ctrl-C stops"
        });
        let mut told = 0;
        let steady_us = i64::from(self.steady_for) * crate::units::MICROS_PER_SECOND;
        let found = watch(bench, store, Some(&self.probe), Duration::from_secs(60 * self.give_up), |seen| {
            let points = seen.get(&self.probe).map(Vec::as_slice).unwrap_or_default();
            for (_, shown_c) in points.get(told..).unwrap_or_default() {
                say(&format!("  {}", degrees_words(*shown_c, usual)));
            }
            told = told.max(points.len());
            settled(points, steady_us)
        })?;
        Ok(match found {
            Watched::Interrupted => Watched::Interrupted,
            Watched::Found(rest) => {
                say(&format!(
                    "at rest: {} of {} readings, where {} is true",
                    degrees_words(rest.mean_c, usual),
                    rest.readings,
                    degrees_words(truth_c, usual)
                ));
                Watched::Found((rest.mean_c * 1000.0).round() / 1000.0)
            }
        })
    }

    /// Where a probe is far off in ice, one point is not enough.
    fn ask_second(&self, placement: &Placement, usual: Degrees) {
        let Some(calibration) = placement.calibration.filter(|line| line.gain == 1.0) else { return };
        if self.ice.is_some() && calibration.offset_c.abs() > ASK_SECOND_C {
            say(&format!(
                "it is {} off in ice; probes so far off are often less so when warm: `seedclock probe calibrate {} --beside TRUE`, beside \
                 a good thermometer at 20 to 30 °C, gives a second point",
                difference_words(calibration.offset_c.abs(), usual),
                self.probe.as_typed()
            ));
        }
    }
}

/// The ice point of a probe that so far was calibrated by one point alone.
fn ice_point(stands: &Placement) -> Option<(f64, f64)> {
    stands.calibration.filter(|line| line.gain == 1.0).map(|line| (-line.offset_c, 0.0))
}

/// The straight line through what was seen.
///
/// # Formula
/// ```text
/// one point:   gain = 1,                                     offset = true − shown
/// two points:  gain = (true₂ − true₁) / (shown₂ − shown₁),   offset = true₁ − gain · shown₁
/// ```
fn line_through(points: &[(f64, f64)]) -> Result<Calibration, Vec<Fault>> {
    match points[..] {
        [(shown, truth)] => Ok(Calibration { offset_c: truth - shown, gain: 1.0 }),
        [(shown, truth), (other_shown, other_truth)] if (shown - other_shown).abs() >= LEAST_APART_C => {
            let gain = (other_truth - truth) / (other_shown - shown);
            Ok(Calibration { offset_c: truth - gain * shown, gain })
        }
        [_, _] => Err(fault("the two points lie less than 5 °C apart: a factor worked out from them would be chance")),
        _ => Err(fault(format!("{} points are given: one gives the offset, two give the factor too", points.len()))),
    }
}
