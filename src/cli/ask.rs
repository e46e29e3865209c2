//! Commands that ask: fit, forecast, diagnose.

use std::io::Write as _;
use std::path::Path;

use chrono::Duration;
use clap::ValueEnum;

use super::Outcome;
use super::progress::Progress;
use crate::answers::{
    Assumption, Concerning, FitWish, Keeping, Known, Present, Shelf, Tables, chill_responses, diagnose, fit_all, forecast,
    forecast_assuming, ledger, replay, to_keep,
};
use crate::bench::{Name, Trial};
use crate::civil::{Time, read_time, time_from_micros};
use crate::clock::{Clock, SystemClock};
use crate::diagnosis::{Because, Finding};
use crate::exchange::{diagnosis_json, fit_json, forecast_json, replay_json};
use crate::forecast::{BoxNote, KeptForecast, Ledger};
use crate::germination::{self, Question, RateShape, RemovedRule};
use crate::store::{Keepsakes, Store, StoreError};
use crate::wording::{Cautions, Detail, chill_responses_text, diagnosis_text, fit_text, forecast_text, later_words, replay_text};

/// What every asking command takes.
#[derive(Debug, clap::Args)]
pub(super) struct Asking {
    /// Answer as JSON, for other programs
    #[arg(long)]
    pub(super) json: bool,
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
    /// Keep this forecast to be judged later, though one of today is kept already
    #[arg(long, conflicts_with_all = ["as_of", "assume"])]
    keep: bool,
    /// Forecast the present batches again as of each morning since they were sown, and say how that did
    #[arg(long, conflicts_with_all = ["keep", "assume"])]
    replay: bool,
    #[command(flatten)]
    asking: Asking,
}

/// Which boxes are slow, and why
#[derive(Debug, clap::Args)]
pub(super) struct Diagnose {
    /// Every box with its numbers: how many days were lost to what
    #[arg(long)]
    detail: bool,
    /// Say the cautions in full
    #[arg(long)]
    cautions: bool,
    /// One batch only; one that has ended, as of its end
    #[arg(long, value_parser = Name::new)]
    batch: Option<Name>,
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
        let mut desk = self.asking.desk(bench)?;
        let known = desk.known(Concerning::All)?;
        let degrees = known.bench.units.unwrap_or_default();
        let assumption = match self.prior {
            Prior::None => Assumption::Nothing,
            Prior::General => Assumption::General,
            Prior::Published => Assumption::BestKnown,
        };
        let wish = FitWish { species: self.species.clone(), batch: self.batch.clone(), question, assumption };
        let mut shelf = desk.shelf();
        let fits = fit_all(&known, &wish, &mut shelf);
        let fresh = shelf.into_fresh();
        let chilling = chill_responses(&known, &fits);
        self.asking.print(&if self.asking.json {
            fit_json(&fits, &chilling, degrees)
        } else {
            fit_text(&fits, degrees) + &chill_responses_text(&chilling)
        })?;
        // Made again next time where they cannot be kept.
        let _ = desk.keep(&Keepsakes { stretches: Some(known.unkept()), fits: &fresh, ..Keepsakes::default() });
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
        if fits.iter().all(only_in_general) {
            let species: Vec<&str> = fits.iter().map(|fit| fit.species.as_str()).collect();
            let what = format!("of {} nothing is known yet but what holds for seeds in general", species.join(", "));
            return not_enough(
                &what,
                "a box that has sprouted where the temperature is known, or seedclock lot with what the packet says",
            );
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
        let mut desk = self.asking.desk(bench)?;
        let days = usize::from(self.days);
        if self.replay {
            return self.replay(&desk, days);
        }
        desk.note_what_is_later()?;
        let known = desk.known(Concerning::Present)?;
        let degrees = known.bench.units.unwrap_or_default();
        let assumed = super::assume::read(&self.assume, &known)?;
        let mut shelf = desk.shelf();
        let present = Present::with(&known, &mut shelf);
        let fresh = shelf.into_fresh();
        let answer = forecast_assuming(&known, &present, days, &assumed);
        let on_record = desk.store.kept_forecasts(known.now)?;
        let ledger = ledger(&known, &on_record);
        self.asking.print(&if self.asking.json {
            forecast_json(&answer, &ledger, degrees)
        } else {
            forecast_text(&answer, &ledger, known.bench.zone, degrees)
        })?;
        // What rests on an assumption is not judged later as if it were the program's own word.
        if desk.of == Of::Present && assumed.is_empty() {
            let why = if self.keep { Keeping::OnDemand } else { Keeping::FirstOfDay };
            let mut forecasts = to_keep(&known, &present, &answer, known.now, why);
            let there = |one: &KeptForecast| {
                on_record.iter().any(|kept| (&kept.container, kept.first_of) == (&one.container, one.first_of))
            };
            forecasts.retain(|one| one.first_of.is_none() || !there(one));
            let keepsakes = Keepsakes { stretches: Some(known.unkept()), fits: &fresh, forecasts: &forecasts };
            match desk.keep(&keepsakes) {
                Err(error) if !forecasts.is_empty() => note(&format!("this forecast was not kept to be judged later: {error}")),
                _ => {}
            }
        }
        if answer.boxes.is_empty() {
            return none_present();
        }
        // A box in the cold is told all there is to tell.
        let untold = |note: &BoxNote| matches!(note, BoxNote::NoTemperatures | BoxNote::NoReadings | BoxNote::SeedsNotCounted);
        let told = answer.boxes.iter().any(|one| one.forecast.more_chance.is_some());
        if !told && answer.boxes.iter().flat_map(|one| &one.forecast.notes).any(untold) {
            return not_enough("no dates can be given for any of these boxes", "the notes say what each wants");
        }
        Ok(Outcome::Done)
    }

    fn replay(&self, desk: &Desk, days: usize) -> anyhow::Result<Outcome> {
        let mut progress = Progress::of("mornings forecast again");
        let told = replay(&desk.store, desk.now, days, &mut |done, of| progress.show(done, of))?;
        drop(progress);
        let zone = desk.store.bench()?.zone;
        self.asking.print(&if self.asking.json {
            replay_json(told.as_of, told.from, told.mornings, &told.ledger, &told.by_days_ahead)
        } else {
            replay_text(told.as_of, told.from, told.mornings, &told.ledger, &told.by_days_ahead, zone)
        })?;
        if told.mornings == 0 {
            return none_present();
        }
        Ok(if told.ledger.comparisons == 0 { Outcome::NotEnough } else { Outcome::Done })
    }
}

impl Diagnose {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let mut desk = self.asking.desk(bench)?;
        if let Some(batch) = &self.batch {
            desk.go_back_to(batch)?;
        }
        desk.note_what_is_later()?;
        // All temperatures since the sowing are compared, at every spot.
        let known = Known::as_of(&desk.store, desk.now)?;
        let degrees = known.bench.units.unwrap_or_default();
        let mut shelf = desk.shelf();
        let present = Present::with(&known, &mut shelf);
        let fresh = shelf.into_fresh();
        let mut answer = diagnose(&known, &present);
        if let Some(batch) = &self.batch {
            answer.boxes.retain(|one| one.trial.container.batch == *batch);
        }
        let detail = if self.detail { Detail::All } else { Detail::Short };
        let say = if self.cautions { Cautions::InFull } else { Cautions::Named };
        self.asking.print(&if self.asking.json {
            diagnosis_json(&answer, degrees)
        } else {
            diagnosis_text(&answer, known.bench.zone, degrees, detail, say)
        })?;
        // Made again next time where they cannot be kept.
        let _ = desk.keep(&Keepsakes { fits: &fresh, ..Keepsakes::default() });
        if answer.boxes.is_empty() {
            return none_present();
        }
        let untold = |finding: &Finding| finding.because == Some(Because::NoTemperatures);
        if answer.boxes.iter().all(|one| one.delay.is_none()) && answer.boxes.iter().flat_map(|one| &one.findings).any(untold) {
            return not_enough(
                "where these boxes stand no temperature is known, so what their spots cost cannot be told",
                "seedclock status",
            );
        }
        Ok(Outcome::Done)
    }
}

/// Whether a fit says nothing of its species: no sowing has taught, and neither a packet nor anything published speaks.
fn only_in_general(fit: &germination::Fit) -> bool {
    fit.question.prior == germination::Prior::General && fit.warnings.contains(&germination::FitWarning::NothingLearnt)
}

/// Whether the present is asked about, or a time that was named.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Of {
    Present,
    NamedTime,
}

/// The bench that is asked about, and as of when.
pub(super) struct Desk {
    pub(super) store: Store,
    pub(super) now: Time,
    of: Of,
}

impl Desk {
    /// What is known: of the present from where it is kept, of another time from the readings.
    pub(super) fn known(&self, concerning: Concerning) -> anyhow::Result<Known> {
        if self.of == Of::NamedTime {
            return Ok(Known::as_of(&self.store, self.now)?);
        }
        let mut progress = Progress::of("readings gone through");
        Ok(Known::at_present(&self.store, self.now, concerning, Tables::Used, &mut |done, of| progress.show(done, of))?)
    }

    /// Of the present: says what is on record for times that have not come, since no answer uses it.
    fn note_what_is_later(&self) -> anyhow::Result<()> {
        if self.of == Of::Present {
            let (bench, newest_us) = (self.store.bench()?, self.store.newest_reading_us()?);
            if let Some(later) = bench.later_than(self.now, newest_us.and_then(time_from_micros)) {
                note(&later_words(&later, bench.zone));
            }
        }
        Ok(())
    }

    /// Asks as of the time when the last box of a batch ended, if all have.
    fn go_back_to(&mut self, batch: &Name) -> anyhow::Result<()> {
        let bench = self.store.bench()?.as_of(self.now);
        let boxes: Vec<&Trial> = bench.trials.values().filter(|trial| trial.container.batch == *batch).collect();
        if boxes.is_empty() {
            anyhow::bail!("there is no batch '{batch}' on this bench");
        }
        let ended: Option<Vec<Time>> = boxes.iter().map(|trial| trial.ended_at(self.now)).collect();
        if let Some(last) = ended.and_then(|ended| ended.into_iter().max()) {
            self.now = last - Duration::seconds(1);
            self.of = Of::NamedTime;
        }
        Ok(())
    }

    /// Fits are the same whenever they are made, so long as what goes into them is.
    pub(super) fn shelf(&self) -> Shelf<'_> {
        Shelf::of(&self.store)
    }

    pub(super) fn keep(&mut self, keepsakes: &Keepsakes<'_>) -> Result<(), StoreError> {
        self.store.keep(keepsakes, self.now)
    }
}

impl Asking {
    pub(super) fn desk(&self, bench: &Path) -> anyhow::Result<Desk> {
        let store = Store::open_read_only(bench)?;
        Ok(match self.as_of.as_deref() {
            Some(text) => Desk { now: read_time(text, store.bench()?.zone)?.time, store, of: Of::NamedTime },
            None => Desk { now: SystemClock.now(), store, of: Of::Present },
        })
    }

    pub(super) fn print(&self, text: &str) -> std::io::Result<()> {
        writeln!(std::io::stdout(), "{}", text.trim_end())
    }
}

/// Says something beside the answer.
pub(super) fn note(what: &str) {
    said(&format!("seedclock: note: {what}"));
}

/// Says what was done beside answering.
#[expect(clippy::print_stderr, reason = "results go to stdout, this is not one")]
pub(super) fn said(what: &str) {
    eprintln!("{what}");
}

/// Says why there is no answer, and what would make one.
#[expect(clippy::print_stderr, reason = "results go to stdout, this is not one")]
pub(super) fn not_enough(what: &str, next: &str) -> anyhow::Result<Outcome> {
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
    writeln!(
        out,
        "WHEN THEY WILL SPROUT\n\n{}",
        forecast_text(&forecast(&known, &present, 60), &Ledger::default(), zone, degrees)
    )?;
    Ok(writeln!(
        out,
        "WHICH ARE SLOW, AND WHY\n\n{}",
        diagnosis_text(&diagnose(&known, &present), zone, degrees, Detail::Short, Cautions::InFull)
    )?)
}
