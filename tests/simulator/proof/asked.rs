//! The program under test, asked about a bench; every call into it for this purpose stands here.

use std::collections::BTreeMap;

use chrono::{DateTime, Utc};
use seedclock::answers::{Known, PlanQuestion, Present, Shelf, forecast, plan};
use seedclock::bench::Name;
use seedclock::bench::rules::Conflict;
use seedclock::changes::import_folder;
use seedclock::civil::{Time, Zone};
use seedclock::exchange::{Document, Folder as FolderRead};
use seedclock::experiment::plan::PlanAnswer;
use seedclock::forecast::{ForecastAnswer, Outlook, SLOTS_PER_HOUR, Weather};
use seedclock::germination::{Distribution, Fit, Needs};
use seedclock::stats::{Dice, logistic, logit};
use seedclock::store::{BenchKind, Store};

use super::AHEAD;
use super::counts::Levels;
use super::tally::Who;
use super::yardsticks::Standing;
use crate::simulator::folder::Folder;
use crate::simulator::random::Stream;
use crate::simulator::world::weather::{STEPS_PER_DAY, Track};
use crate::simulator::world::{AHEAD_DAYS, BOX_SD, seeds};

/// Draws of the program that its parts are put together from.
const DRAWS: usize = 200;

/// A bench in the program's keeping.
pub(crate) struct Asked {
    store: Store,
    _folder: tempfile::TempDir,
}

/// What the program says as of a time.
pub(crate) struct Answers {
    known: Known,
    answer: ForecastAnswer,
    /// By spot: temperatures as the probe there would read them, one track a draw.
    futures: BTreeMap<Name, Vec<Track>>,
}

/// One draw of the program's: what a box needs, what any box of its lot and treatment would, and what is to be added to what the
/// probe reads.
struct Draw {
    own: Needs,
    typical: Needs,
    offset_c: f64,
}

type ByDay<T> = [T; AHEAD.len()];

impl Asked {
    pub(crate) fn about(folder: &Folder) -> Self {
        let documents: Vec<Document<'_>> =
            folder.iter().map(|(name, text)| Document { name: name.clone(), bytes: text.as_bytes().into() }).collect();
        let read = FolderRead::read(&documents, Zone::UTC);
        assert!(read.faults.is_empty(), "{:?}", read.faults);
        let far: Time = "2200-01-01T00:00:00Z".parse().unwrap();
        let directory = tempfile::tempdir().unwrap();
        let mut store = Store::create(&directory.path().join("bench.db"), Zone::UTC, BenchKind::Own).unwrap();
        let imported = import_folder(&mut store, &read, Conflict::Refused, far);
        assert!(imported.is_ok(), "{:?}", imported.err());
        Self { store, _folder: directory }
    }

    pub(crate) fn answers(&self, now: DateTime<Utc>, days: usize) -> Answers {
        let known = Known::as_of(&self.store, now).unwrap();
        let answer = forecast(&known, &Present::new(&known), days);
        let futures = futures(&known);
        Answers { known, answer, futures }
    }
}

impl Asked {
    pub(super) fn store(&self) -> &Store {
        &self.store
    }

    /// What it plans.
    pub(crate) fn plans(&self, now: DateTime<Utc>, question: &PlanQuestion) -> PlanAnswer {
        plan(&Known::as_of(&self.store, now).unwrap(), question, &mut Shelf::none()).unwrap()
    }
}

impl Answers {
    /// Counts by day for a container.
    pub(crate) fn by_date(&self, container: &str) -> Option<Vec<(Time, Option<Levels>)>> {
        let found = self.answer.boxes.iter().find(|one| one.trial.container.name.as_str() == container)?;
        Some(found.forecast.by_date.clone())
    }

    /// The 90 % interval of a species' base, °C.
    pub(crate) fn base_interval(&self, species: &str) -> Option<(f64, f64)> {
        let fit = self.fit(species)?;
        let base = fit.estimates.base;
        Some((base.low?, base.high?))
    }

    fn fit(&self, species: &str) -> Option<&Fit> {
        self.answer.fits.iter().find(|fit| fit.species.as_str() == species)
    }

    /// What the program says of a box, and what it would say were it told parts of the truth. Each part that it is told takes the
    /// place of its own; the sums that put the parts together are the same plain ones throughout.
    pub(crate) fn said(&self, standing: &Standing<'_>) -> Vec<(Who, Option<ByDay<Levels>>)> {
        let Standing { world, one, .. } = *standing;
        let program = self.by_date(&one.name).and_then(|by_date| {
            let levels: Option<Vec<Levels>> = AHEAD.iter().map(|day| by_date.get(day - 1)?.1).collect();
            levels?.try_into().ok()
        });
        let mut said = vec![(Who::Program, program)];
        let (Some(fit), Some(futures)) =
            (self.fit(&world.species[one.species].name), self.futures.get(&Name::new(&world.spots[one.spot].name).unwrap()))
        else {
            return said;
        };
        let family = fit.question.distribution;
        let draws = self.draws(fit, &one.name);
        let season = &world.seasons[one.season];
        let (high_c, truth) = (season.reads_high_c[one.spot], &season.tracks[one.spot]);
        // Programs read what probes read.
        let by_program = |needs: &Needs, offset_c: f64, ahead: &Track, ahead_c: f64| {
            let gathered = standing.gathered(&|celsius| needs.rate.per_day(celsius), high_c + offset_c, ahead, ahead_c + offset_c);
            chances(gathered, needs.germinable, |thermal| share(family, needs, thermal))
        };
        let by_truth = |needs: &seeds::Needs, ahead: &Track| {
            let gathered = standing.gathered(&|celsius| needs.rate(celsius), 0.0, ahead, -high_c);
            chances(gathered, needs.germinable(), |thermal| needs.share(thermal))
        };
        let told = |chances: Vec<ByDay<f64>>| Some(standing.told(&chances));
        let paired = || draws.iter().zip(futures);
        said.push((
            Who::ProgramsParts,
            told(paired().map(|(draw, ahead)| by_program(&draw.own, draw.offset_c, ahead, 0.0)).collect()),
        ));
        let with_own = |draw: &Draw| Needs {
            ln_half: draw.typical.ln_half + one.needs.ln_half - one.typical.ln_half,
            germinable: logistic(logit(draw.typical.germinable) + one.needs.logit_germinable - one.typical.logit_germinable),
            ..draw.typical
        };
        said.push((
            Who::TrueBoxEffects,
            told(paired().map(|(draw, ahead)| by_program(&with_own(draw), draw.offset_c, ahead, 0.0)).collect()),
        ));
        said.push((
            Who::TrueTemperatures,
            told(draws.iter().map(|draw| by_program(&draw.own, draw.offset_c, truth, high_c)).collect()),
        ));
        let likely = likely(standing, draws.len());
        said.push((Who::TrueParameters, told(likely.iter().zip(futures).map(|(needs, ahead)| by_truth(needs, ahead)).collect())));
        let in_truth = |needs: &seeds::Needs| {
            let gathered = standing.gathered(&|celsius| needs.rate(celsius), 0.0, truth, 0.0);
            chances(gathered, needs.germinable(), |thermal| needs.share(thermal))
        };
        said.push((Who::AllButTheBox, told(likely.iter().map(in_truth).collect())));
        said.push((Who::TrueNeeds, told(futures.iter().map(|ahead| by_truth(&one.needs, ahead)).collect())));
        said
    }

    /// The program's draws for a container, spread evenly over all it has.
    fn draws(&self, fit: &Fit, container: &str) -> Vec<Draw> {
        let trial = &self.known.bench.trials[&Name::new(container).unwrap()];
        let spot = trial.spot_at(self.known.now);
        let mean_c = self.known.evidence(trial).mean_c().or_else(|| {
            let futures = self.futures.get(spot)?;
            Some(
                futures.iter().map(|track| track.celsius.iter().sum::<f64>() / track.celsius.len() as f64).sum::<f64>()
                    / futures.len() as f64,
            )
        });
        let offsets = self.known.offsets_now(fit, spot);
        let all = fit.needs_of(&trial.container, mean_c);
        let every = (all.len() / DRAWS).max(1);
        let drawn = all.iter().zip(offsets).step_by(every).take(DRAWS);
        drawn.map(|(needs, offset_c)| Draw { own: needs.own, typical: needs.typical, offset_c }).collect()
    }
}

/// The temperatures that the program expects at each spot.
fn futures(known: &Known) -> BTreeMap<Name, Vec<Track>> {
    let mut dice = Dice::new(1);
    let weather: Vec<Weather> = (0..DRAWS).map(|_| Weather::draw(&mut dice)).collect();
    let of_spot = |name, record| {
        let mean_c = |from_us, until_us| known.mean_c(name, from_us, until_us);
        let outlook = Outlook::new(record, mean_c, known.now.timestamp_micros(), None)?;
        let track = |weather: &Weather| {
            let mut days = outlook.days(weather);
            let day = |_| {
                let (mean, shape) = days.next_day();
                let slots = shape.apart_c().chunks(24 * SLOTS_PER_HOUR / STEPS_PER_DAY);
                slots.map(|slots| mean + slots.iter().sum::<f64>() / slots.len() as f64).collect::<Vec<_>>()
            };
            Track { start: known.now, celsius: (0..AHEAD_DAYS).flat_map(day).collect() }
        };
        Some(weather.iter().map(track).collect())
    };
    known.warmth.iter().filter_map(|(name, warmth)| Some((name.clone(), of_spot(name, &warmth.record)?))).collect()
}

fn share(family: Distribution, needs: &Needs, thermal: f64) -> f64 {
    if thermal > 0.0 { family.share((thermal.ln() - needs.ln_half) / needs.spread) } else { 0.0 }
}

/// Chances of a seed that is left, removed ones taken as never germinable.
fn chances((by_look, by_day): (f64, ByDay<f64>), germinable: f64, share: impl Fn(f64) -> f64) -> ByDay<f64> {
    let passed = share(by_look);
    by_day.map(|thermal| germinable * (share(thermal) - passed) / (1.0 - germinable * passed))
}

/// What the box itself may need where only species, lot and treatment are known truly: its own effects drawn as boxes differ, and
/// drawn again by how likely they make its looks.
fn likely(standing: &Standing<'_>, count: usize) -> Vec<seeds::Needs> {
    const TRIED: usize = 600;
    let Standing { world, one, now, .. } = *standing;
    let mut random = Stream::new(world.seed, &format!("{} {}", one.name, now.timestamp()));
    let looks = one.looks_by(now);
    // Own effects leave the rate as it is.
    let reached: Vec<f64> =
        looks.iter().map(|look| world.gathered(one, one.warm_from, look.time, &|celsius| one.typical.rate(celsius))).collect();
    let drawn: Vec<(seeds::Needs, f64)> = (0..TRIED)
        .map(|_| {
            let differs = seeds::Differs {
                ln_requirement: random.normal(BOX_SD.ln_requirement),
                logit_fraction: random.normal(BOX_SD.logit_fraction),
                base_c: 0.0,
            };
            let needs = one.typical.with(differs);
            let (germinable, mut passed, mut height) = (needs.germinable(), 0.0, 0.0);
            let times_ln = |count: u32, p: f64| if count == 0 { 0.0 } else { f64::from(count) * p.ln() };
            for (look, reached) in looks.iter().zip(&reached) {
                let share = needs.share(*reached);
                height += times_ln(look.sprouted, germinable * (share - passed)) + times_ln(look.removed, 1.0 - germinable);
                height += times_ln(look.lost, 1.0 - germinable * share);
                passed = share;
            }
            (needs, height + times_ln(standing.left, 1.0 - germinable * passed))
        })
        .collect();
    let most = drawn.iter().map(|drawn| drawn.1).fold(f64::NEG_INFINITY, f64::max);
    let weights: Vec<f64> = drawn.iter().map(|drawn| (drawn.1 - most).exp()).collect();
    let all: f64 = weights.iter().sum();
    let (mut at, mut reached) = (0, weights[0]);
    (0..count)
        .map(|nth| {
            while reached < (nth as f64 + 0.5) / count as f64 * all && at + 1 < TRIED {
                at += 1;
                reached += weights[at];
            }
            drawn[at].0
        })
        .collect()
}
