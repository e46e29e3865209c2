//! What is known at a time: the bench, its spots' warmth, and how the probes did.

use std::collections::{BTreeMap, BTreeSet};

use chrono::Duration;

use super::given::{As, steps};
use crate::bench::{Bench, Event, Name, SpotKind, Trial};
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::{ProbeTally, tally};
use crate::forecast::SLOT_US;
use crate::germination::{Evidence, Passage};
use crate::quality::{Thresholds, flags};
use crate::store::{Store, StoreError};
use crate::thermal::{Bridge, ProbeSeries, SpotRecord, SpotWarmth, fill_gaps};

/// Readings this long before the first sowing help to fill holes and to see what a spot is like.
const BEFORE_SOWING_DAYS: i64 = 15;

/// The bench as of a time, with what its spots' temperatures were.
#[derive(Debug, Clone)]
pub struct Known {
    /// The time.
    pub now: Time,
    /// The bench, nothing later in it.
    pub bench: Bench,
    /// Each spot of which some temperature is known.
    pub warmth: BTreeMap<Name, SpotWarmth>,
    /// Each placed probe's readings counted by day.
    pub tallies: Vec<ProbeTally>,
    /// Species that have sprouted at a cold spot: for them warmth counts there too.
    sprouts_in_cold: BTreeSet<(Name, Event)>,
}

impl Known {
    /// Reads what is known as of `now`.
    ///
    /// # Errors
    /// The store's, when it cannot be read.
    pub fn as_of(store: &Store, now: Time) -> Result<Self, StoreError> {
        let bench = store.bench()?.as_of(now);
        let first = bench.trials.values().map(|trial| trial.container.sown).min().unwrap_or(now);
        let (from_us, now_us) = ((first - Duration::days(BEFORE_SOWING_DAYS)).timestamp_micros(), now.timestamp_micros());
        let mut points: BTreeMap<Name, Vec<(i64, f64)>> = BTreeMap::new();
        let mut tallies = Vec::new();
        for probe in bench.placed_probes() {
            // The last reading may carry the very microsecond asked about.
            let readings = store.readings(probe, from_us, now_us + 1)?;
            let flags = flags(&readings, &Thresholds::default());
            tallies.push(tally(probe.clone(), &readings, &flags, bench.zone));
            let doubts: Vec<_> = bench.doubts.iter().filter(|doubt| doubt.probe == *probe).collect();
            let doubted = |time_us| time_from_micros(time_us).is_some_and(|time| doubts.iter().any(|doubt| doubt.covers(time)));
            let usable = readings.iter().zip(&flags).filter(|(reading, flag)| flag.usable() && !doubted(reading.time_us));
            points.insert(probe.clone(), usable.filter_map(|(reading, _)| Some((reading.time_us, reading.raw_c()?))).collect());
        }
        let warmth = warmth(&bench, &points, from_us, now);
        let cold = |trial: &Trial| {
            let sprouts = trial.checks.iter().filter(|check| check.sprouted > 0);
            sprouts.map(|check| (trial.spot_at(check.time), check.time)).any(|(spot, time)| is_cold(&bench, spot, time))
        };
        let sprouts_in_cold = bench.trials.values().filter(|trial| cold(trial)).map(kind_of_seed).collect();
        Ok(Self { now, bench, warmth, tallies, sprouts_in_cold })
    }

    /// From when on a trial's warmth and days count: from its wetting for a species that sprouts in the cold, else from leaving
    /// the cold for the first time; none: it is still there.
    #[must_use]
    pub fn counts_from(&self, trial: &Trial) -> Option<Time> {
        if self.sprouts_in_cold.contains(&kind_of_seed(trial)) {
            return Some(self.bench.wetted(trial));
        }
        // A stay of no length yet: a box sown this very moment.
        let just_sown = || (!is_cold(&self.bench, trial.spot_at(self.now), self.now)).then_some(trial.container.sown);
        let history = self.bench.history(trial, self.now);
        let warm = history.iter().find(|stay| !is_cold(&self.bench, stay.spot, stay.from)).map(|stay| stay.from);
        if history.is_empty() { just_sown() } else { warm }
    }

    /// A trial's looks with the warmth between them.
    #[must_use]
    pub fn evidence(&self, trial: &Trial) -> Evidence {
        let sown = trial.container.sown;
        let counted = self.counts_from(trial);
        let between =
            |from: Time, until: Time| counted.map_or_else(Vec::new, |counted| self.passages(trial, from.max(counted), until));
        let before = counted.map_or_else(Vec::new, |counted| self.passages(trial, counted, sown));
        let times = std::iter::once(sown).chain(trial.checks.iter().map(|check| check.time));
        let stretches = times.zip(&trial.checks).map(|(from, check)| between(from, check.time));
        Evidence::new(trial, before, stretches.collect())
    }

    fn passages(&self, trial: &Trial, from: Time, until: Time) -> Vec<Passage> {
        let stays = self.bench.stays(trial, from, until).into_iter().map(|stay| {
            let (from_us, until_us) = (stay.from.timestamp_micros(), stay.until.timestamp_micros());
            Passage::new(stay.spot.clone(), self.record(stay.spot).stretch(from_us, until_us))
        });
        stays.collect()
    }

    /// A spot's record; an empty one where nothing is known of it.
    #[must_use]
    pub fn record(&self, spot: &Name) -> &SpotRecord {
        static NOTHING: SpotRecord = SpotRecord::nothing();
        self.warmth.get(spot).map_or(&NOTHING, |warmth| &warmth.record)
    }

    /// How unsure a spot's level is, °C: that of its set temperature, or of its probe.
    #[must_use]
    pub fn level_sd_c(&self, spot: &Name) -> f64 {
        self.warmth.get(spot).map_or(0.0, |warmth| warmth.level_sd_c)
    }

    /// The °C that a trial's seeds had in each slot of `every_us` from `from` to `until`, wherever they were; `guess` in −1..1
    /// places guessed hours between their bounds.
    #[must_use]
    pub fn sampled(&self, trial: &Trial, from: Time, until: Time, every_us: i64, guess: f64) -> Vec<Option<f64>> {
        let from_us = from.timestamp_micros();
        let slots = |until_us: i64| ((until_us - from_us).max(0) as u64).div_ceil(every_us as u64) as usize;
        let count = slots(until.timestamp_micros());
        let mut samples = vec![None; count];
        for stay in self.bench.stays(trial, from, until) {
            // A slot belongs to the stay that it begins in.
            let (first, last) = (slots(stay.from.timestamp_micros()), slots(stay.until.timestamp_micros()));
            let start = from_us + every_us * first as i64;
            let sampled = self.record(stay.spot).sampled(start, every_us, last - first, guess);
            samples[first..last].copy_from_slice(&sampled);
        }
        samples
    }

    /// The spots at which a trial's seeds were in the first `slots` quarters of an hour after `from`.
    #[must_use]
    pub fn spots_of<'a>(&'a self, trial: &'a Trial, from: Time, until: Time, slots: usize) -> Vec<&'a Name> {
        let stays = self.bench.stays(trial, from, until);
        let slot_time = |slot: usize| from + Duration::microseconds(SLOT_US * slot as i64);
        let at = |time: Time| stays.iter().rev().find(|stay| stay.from <= time).or(stays.first());
        (0..slots).filter_map(|slot| at(slot_time(slot)).map(|stay| stay.spot)).collect()
    }

    /// When a trial's story ends: as it ended, or now.
    #[must_use]
    pub fn end_of(&self, trial: &Trial) -> Time {
        trial.ended_at(self.now).unwrap_or(self.now)
    }
}

fn kind_of_seed(trial: &Trial) -> (Name, Event) {
    (trial.container.species.clone(), trial.container.event)
}

fn is_cold(bench: &Bench, spot: &Name, time: Time) -> bool {
    bench.spots.get(spot).is_some_and(|spot| spot.kind_at(time) == SpotKind::Fridge)
}

/// The records of all spots: measured ones from their probes, holes filled where boxes stood by what is given for the spot, else
/// from other spots and days; spots without a probe as they are given.
fn warmth(bench: &Bench, points: &BTreeMap<Name, Vec<(i64, f64)>>, from_us: i64, now: Time) -> BTreeMap<Name, SpotWarmth> {
    let now_us = now.timestamp_micros();
    let wanted = wanted(bench, from_us, now);
    let stretches = |name: &Name| wanted.get(name).into_iter().flatten().copied();
    let mut given = BTreeMap::new();
    let mut measured = BTreeMap::new();
    let mut level_sd = BTreeMap::new();
    for (name, spot) in &bench.spots {
        let series: Vec<ProbeSeries> = bench
            .stands_at(name)
            .filter_map(|(placement, left)| {
                let (from_us, until_us) = (placement.since.timestamp_micros(), left.map_or(now_us, |left| left.timestamp_micros()));
                let all = points.get(&placement.probe)?;
                let within = &all[all.partition_point(|p| p.0 < from_us)..all.partition_point(|p| p.0 <= until_us)];
                let points = within.iter().map(|(time, raw)| (*time, placement.true_celsius(*raw))).collect();
                Some(ProbeSeries { points, from_us, until_us })
            })
            .filter(|series| !series.points.is_empty())
            .collect();
        if series.is_empty() {
            let said: Vec<_> = stretches(name).flat_map(|(from, until)| steps(spot, bench.zone, from, until, As::Known)).collect();
            if !said.is_empty() {
                level_sd.insert(name, spot.setting_at(now).given.map_or(0.0, |given| given.sd_c()));
                given.insert(name.clone(), SpotRecord::nothing().with(said));
            }
        } else {
            let surest = bench.stands_at(name).map(|(placement, _)| placement.sd_c()).fold(f64::INFINITY, f64::min);
            level_sd.insert(name, surest);
            let record = SpotRecord::measured(&series, Bridge::default());
            let holes = stretches(name).flat_map(|(from, until)| record.holes(from, until));
            let said: Vec<_> = holes.flat_map(|(from, until)| steps(spot, bench.zone, from, until, As::Guessed)).collect();
            measured.insert(name.clone(), if said.is_empty() { record } else { record.with(said) });
        }
    }
    let filled = fill_gaps(&measured, &wanted);
    let of = |(name, record): (Name, SpotRecord), set: bool| {
        let (level_sd_c, kind) = (level_sd.get(&name).copied()?, bench.spots.get(&name)?.kind_at(now));
        Some((name, SpotWarmth { record, level_sd_c, set, kind }))
    };
    let given = given.into_iter().map(|spot| (spot, true));
    given.chain(filled.into_iter().map(|spot| (spot, false))).filter_map(|(spot, set)| of(spot, set)).collect()
}

/// The stretches of each spot for which a temperature is wanted, merged: where boxes stood, and at every spot the time of the
/// present batches and the last two weeks.
fn wanted(bench: &Bench, from_us: i64, now: Time) -> BTreeMap<Name, Vec<(i64, i64)>> {
    let now_us = now.timestamp_micros();
    let mut wanted: BTreeMap<Name, Vec<(i64, i64)>> = BTreeMap::new();
    for trial in bench.trials.values() {
        let end = trial.ended_at(now).unwrap_or(now);
        for stay in bench.history(trial, end) {
            wanted.entry(stay.spot.clone()).or_default().push((stay.from.timestamp_micros(), stay.until.timestamp_micros()));
        }
    }
    let present = bench.present_batches(now);
    let sown = present.values().flatten().map(|trial| trial.container.sown.timestamp_micros());
    let since = sown.min().unwrap_or(now_us).min((now - Duration::days(14)).timestamp_micros()).max(from_us);
    for name in bench.spots.keys() {
        wanted.entry(name.clone()).or_default().push((since, now_us));
    }
    for stretches in wanted.values_mut() {
        stretches.sort_unstable();
        let mut merged: Vec<(i64, i64)> = Vec::new();
        for (from_us, until_us) in stretches.drain(..) {
            match merged.last_mut() {
                Some(last) if from_us <= last.1 => last.1 = last.1.max(until_us),
                _ => merged.push((from_us, until_us)),
            }
        }
        *stretches = merged;
    }
    wanted
}
