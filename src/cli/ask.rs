//! Commands that ask: fit, forecast, diagnose.

use std::io::Write as _;
use std::path::Path;

use clap::ValueEnum;

use super::Outcome;
use crate::answers::{Assumption, FitWish, Known, Present, diagnose, fit_all, forecast, forecast_assuming};
use crate::bench::Name;
use crate::civil::{Time, read_time};
use crate::clock::{Clock, SystemClock};
use crate::exchange::{diagnosis_json, fit_json, forecast_json};
use crate::germination::{self, Question, RateShape, RemovedRule};
use crate::store::Store;
use crate::wording::{Cautions, diagnosis_text, fit_text, forecast_text};

/// What every asking command takes.
#[derive(Debug, clap::Args)]
struct Asking {
    /// Answer as JSON, for other programs
    #[arg(long)]
    json: bool,
    /// Use nothing that happened later than this [default: now]
    #[arg(long, value_name = "TIME")]
    as_of: Option<String>,
}

/// What the seeds need, learnt from past sowings
#[derive(Debug, clap::Args)]
pub(super) struct Fit {
    /// One plant only
    #[arg(long, value_parser = Name::new)]
    species: Option<Name>,
    /// Sowings of one batch only
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
    /// How needs differ from seed to seed
    #[arg(long, value_enum, default_value_t = Distribution::LogLogistic)]
    distribution: Distribution,
    /// How speed answers to temperature: threshold rises for ever, tent falls again above the best temperature
    #[arg(long, value_enum)]
    rate: Option<Rate>,
    /// What is assumed of seeds beforehand
    #[arg(long, value_enum, default_value_t = Prior::Published)]
    prior: Prior,
    /// What a seed removed mouldy says: dead, it could never have sprouted; censored, it was sound when taken out; rotted, it was
    /// sound at the look before
    #[arg(long, value_enum, default_value_t = Removed::Dead)]
    removed: Removed,
    /// Let boxes of one lot and treatment differ from each other [default: on, off with --prior none]
    #[arg(long, value_enum)]
    container_effect: Option<ContainerEffect>,
    /// Count warmth, or days alone
    #[arg(long, value_enum, default_value_t = ClockOf::Thermal)]
    clock: ClockOf,
    #[command(flatten)]
    asking: Asking,
}

/// When the present boxes will sprout
#[derive(Debug, clap::Args)]
pub(super) struct Forecast {
    /// How many days ahead
    #[arg(long, default_value_t = 60, value_parser = clap::value_parser!(u16).range(1..=366))]
    days: u16,
    /// What a spot's temperature will be, in place of what its readings lead one to expect: 21, 70F, 21±2 (unsure by about 2), or
    /// another spot whose temperatures it will have; once for each spot
    #[arg(long, value_name = "SPOT=21|SPOT=OTHER")]
    assume: Vec<String>,
    #[command(flatten)]
    asking: Asking,
}

/// Which boxes are slow, and why
#[derive(Debug, clap::Args)]
pub(super) struct Diagnose {
    /// Say the cautions in full
    #[arg(long)]
    cautions: bool,
    #[command(flatten)]
    asking: Asking,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Distribution {
    LogLogistic,
    LogNormal,
    Weibull,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Rate {
    Threshold,
    Tent,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Prior {
    /// Nothing: your sowings alone
    None,
    /// What holds of seeds in general
    General,
    /// What is published of the plant where anything is, else what holds in general
    Published,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum Removed {
    Dead,
    Censored,
    Rotted,
}

#[derive(Debug, Clone, Copy, ValueEnum)]
enum ContainerEffect {
    On,
    Off,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum ClockOf {
    Thermal,
    Days,
}

impl Fit {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let question = self.question()?;
        let known = self.asking.known(bench)?;
        let degrees = known.bench.units.unwrap_or_default();
        let assumption = match self.prior {
            Prior::None => Assumption::Nothing,
            Prior::General => Assumption::General,
            Prior::Published => Assumption::BestKnown,
        };
        let wish = FitWish { species: self.species.clone(), batch: self.batch.clone(), question, assumption };
        let fits = fit_all(&known, &wish);
        self.asking.print(&if self.asking.json { fit_json(&fits, degrees) } else { fit_text(&fits, degrees) })?;
        if fits.is_empty() {
            let asked = match (&self.species, &self.batch) {
                (None, None) => "no box on this bench has been looked at yet".to_owned(),
                (species, batch) => {
                    let of = species.as_ref().map_or(String::new(), |species| format!(" of {species}"));
                    let within = batch.as_ref().map_or(String::new(), |batch| format!(" in batch {batch}"));
                    format!("no box{of}{within} has been looked at yet, or none has sprouted")
                }
            };
            return not_enough(&asked, "seedclock sow, then seedclock check after each look");
        }
        Ok(Outcome::Done)
    }

    fn question(&self) -> anyhow::Result<Question> {
        let containers = match (self.container_effect, self.prior) {
            (Some(ContainerEffect::On), _) | (None, Prior::General | Prior::Published) => germination::ContainerEffect::On,
            (Some(ContainerEffect::Off), _) | (None, Prior::None) => germination::ContainerEffect::Off,
        };
        let shape = match (self.clock, self.rate) {
            (ClockOf::Days, None) => RateShape::Days,
            (ClockOf::Days, Some(_)) => anyhow::bail!(
                "--rate says how speed answers to temperature, and --clock days leaves temperature out: give one of them"
            ),
            (ClockOf::Thermal, Some(Rate::Threshold)) => RateShape::Threshold,
            (ClockOf::Thermal, Some(Rate::Tent) | None) => RateShape::Tent,
        };
        Ok(Question {
            shape,
            distribution: match self.distribution {
                Distribution::LogLogistic => germination::Distribution::LogLogistic,
                Distribution::LogNormal => germination::Distribution::LogNormal,
                Distribution::Weibull => germination::Distribution::Weibull,
            },
            removed: match self.removed {
                Removed::Dead => RemovedRule::Dead,
                Removed::Censored => RemovedRule::Censored,
                Removed::Rotted => RemovedRule::Rotted,
            },
            containers,
            ..Question::default()
        })
    }
}

impl Forecast {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let known = self.asking.known(bench)?;
        let degrees = known.bench.units.unwrap_or_default();
        let assumed = super::assume::read(&self.assume, &known)?;
        let answer = forecast_assuming(&known, &Present::new(&known), usize::from(self.days), &assumed);
        self.asking.print(&if self.asking.json {
            forecast_json(&answer, degrees)
        } else {
            forecast_text(&answer, known.bench.zone, degrees)
        })?;
        if answer.boxes.is_empty() { none_present() } else { Ok(Outcome::Done) }
    }
}

impl Diagnose {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let known = self.asking.known(bench)?;
        let degrees = known.bench.units.unwrap_or_default();
        let answer = diagnose(&known, &Present::new(&known));
        let say = if self.cautions { Cautions::InFull } else { Cautions::Named };
        self.asking.print(&if self.asking.json {
            diagnosis_json(&answer, degrees)
        } else {
            diagnosis_text(&answer, known.bench.zone, degrees, say)
        })?;
        if answer.boxes.is_empty() { none_present() } else { Ok(Outcome::Done) }
    }
}

impl Asking {
    fn known(&self, bench: &Path) -> anyhow::Result<Known> {
        let store = Store::open_read_only(bench)?;
        let now = match self.as_of.as_deref() {
            Some(text) => read_time(text, store.bench()?.zone)?.time,
            None => SystemClock.now(),
        };
        Ok(Known::as_of(&store, now)?)
    }

    fn print(&self, text: &str) -> std::io::Result<()> {
        writeln!(std::io::stdout(), "{}", text.trim_end())
    }
}

/// Says why there is no answer, and what would make one.
#[expect(clippy::print_stderr, reason = "results go to stdout, this is not one")]
fn not_enough(what: &str, next: &str) -> anyhow::Result<Outcome> {
    eprintln!("seedclock: {what}\n  next: {next}");
    Ok(Outcome::NotEnough)
}

fn none_present() -> anyhow::Result<Outcome> {
    not_enough("no box is standing on this bench now", "seedclock sow, or --as-of a time when one was")
}

/// Prints fit, forecast and diagnosis of a bench as of `now`, in a grower's words: the last step of the demo.
pub(super) fn show_all(bench: &Path, now: Time) -> anyhow::Result<()> {
    let known = Known::as_of(&Store::open_read_only(bench)?, now)?;
    let (present, zone) = (Present::new(&known), known.bench.zone);
    let degrees = known.bench.units.unwrap_or_default();
    let mut out = std::io::stdout();
    writeln!(out, "WHAT THE SEEDS NEED\n\n{}", fit_text(&present.needs(), degrees))?;
    writeln!(out, "WHEN THEY WILL SPROUT\n\n{}", forecast_text(&forecast(&known, &present, 60), zone, degrees))?;
    Ok(writeln!(
        out,
        "WHICH ARE SLOW, AND WHY\n\n{}",
        diagnosis_text(&diagnose(&known, &present), zone, degrees, Cautions::InFull)
    )?)
}
