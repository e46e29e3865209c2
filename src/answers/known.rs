//! What is known at a time: the bench, its spots' warmth, and how the probes did.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap};

use chrono::Duration;

use super::chilling::cold_lacks;
use super::warmth::{GUESS_SETTLED_AFTER_US, READ_BEFORE_US, SETTLED_AFTER_US, Sources, Wanted, merge};
use crate::bench::{Bench, Event, Name, Placement, SpotKind, Trial};
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::ProbeTally;
use crate::forecast::{ColdLack, DAYS_AHEAD, RECENT_DAYS, SLOT_US, earlier_days};
use crate::germination::{Calibrated, Evidence, Fit, Level, Passage};
use crate::stats::parallel_take;
use crate::store::{Interval, Store, StoreError, StretchTable};
use crate::thermal::{SpotRecord, SpotWarmth, Stretch};
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// A stretch is kept for later only when nothing that it rests on is newer than this: readings may come late, and one that does
/// drops all that was kept.
const LATEST_US: i64 = 5 * DAY_US;
/// The past is gone through in pieces of about this length, so that it never stands in memory as a whole.
const PIECE_US: i64 = 60 * DAY_US;

/// Share of a time that has to be measured for a mean.
const MEASURED_SHARE: f64 = 0.9;

/// The bench as of a time, with what its spots' temperatures were.
#[derive(Debug, Clone)]
pub struct Known {
    /// The time.
    pub now: Time,
    /// The bench, nothing later in it.
    pub bench: Bench,
    /// Each spot of which some temperature is known, over the time that was asked for.
    pub warmth: BTreeMap<Name, SpotWarmth>,
    /// Each placed probe's readings counted by day; empty where only the present was asked for.
    pub tallies: Vec<ProbeTally>,
    /// Species that have sprouted at a cold spot: for them warmth counts there too.
    sprouts_in_cold: BTreeSet<(Name, Event)>,
    /// What present boxes in the warm lack of the moist cold that they are said to want.
    pub(super) cold_lacks: BTreeMap<Name, ColdLack>,
    /// Stretches between looks that are known though `warmth` may not reach back to them.
    stretches: HashMap<Interval, Stretch>,
    /// Those of them that are settled and that the bench file does not hold yet.
    unkept: Vec<StretchTable>,
    /// The last change of any warmth when it was read.
    seen: i64,
}

/// Of which trials the warmth between their looks is wanted.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Concerning {
    /// All that ever stood on the bench.
    All,
    /// Those of the kinds of seed that the present batches hold.
    Present,
    /// All, and the days of earlier years that come again within so many days.
    Coming {
        /// How many.
        days: usize,
    },
}

/// Whether what was worked out before is used.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Tables {
    /// Stretches that the bench file holds are taken from it.
    Used,
    /// All is worked out from the readings.
    Ignored,
}

impl Known {
    /// Reads all that is known as of `now`.
    ///
    /// # Errors
    /// The store's, when it cannot be read.
    pub fn as_of(store: &Store, now: Time) -> Result<Self, StoreError> {
        store.at_one_instant(|| {
            let mut known = Self::without_warmth(store, now)?;
            let first = known.bench.trials.values().map(|trial| trial.container.sown).min().unwrap_or(now);
            let from_us = first.timestamp_micros().saturating_sub(READ_BEFORE_US);
            let wanted = wanted(&known.bench, now, i64::MIN);
            (known.warmth, known.tallies) = Sources::new(store, &known.bench, now)?.since(from_us, &wanted)?;
            known.cold_lacks = cold_lacks(&known.bench, &known.warmth, now);
            Ok(known)
        })
    }

    /// Reads what is known now and of the looks so far, from no more readings than that takes. Its `warmth` reaches back only as far
    /// as what is asked of the present does; answers are the same as with all of it.
    ///
    /// `progress` is told how many pieces of the past, of how many, are read.
    ///
    /// # Errors
    /// The store's, when it cannot be read.
    pub fn at_present(
        store: &Store,
        now: Time,
        concerning: Concerning,
        tables: Tables,
        progress: &mut dyn FnMut(usize, usize),
    ) -> Result<Self, StoreError> {
        store.at_one_instant(|| {
            let mut known = Self::without_warmth(store, now)?;
            if tables == Tables::Used {
                known.stretches = store.stretches()?;
            }
            let mut missing: Vec<Interval> = known.intervals(concerning).into_iter().collect();
            missing.extend(match concerning {
                Concerning::All => Vec::new(),
                Concerning::Present => known.days_of_earlier_years(DAYS_AHEAD),
                Concerning::Coming { days } => known.days_of_earlier_years(days.max(DAYS_AHEAD)),
            });
            missing.retain(|interval| !known.stretches.contains_key(interval));
            missing.sort_unstable_by_key(|interval| interval.from_us);
            // What began within a piece before the present is read with it.
            let now_us = now.timestamp_micros();
            let recent_us = known.recent_from().timestamp_micros();
            let split = missing.partition_point(|interval| interval.from_us < recent_us.saturating_sub(PIECE_US / 4));
            let recent = missing.split_off(split);
            let mut found: Vec<(Interval, Stretch)> = Vec::new();
            {
                let sources = Sources::new(store, &known.bench, now)?;
                let pieces = pieces(missing);
                let count = pieces.len();
                for (done, piece) in pieces.into_iter().enumerate() {
                    progress(done, count);
                    let (from_us, until_us) = bounds(&piece).unwrap_or((now_us, now_us));
                    let mut wanted = Wanted::new();
                    for interval in &piece {
                        wanted.entry(interval.spot.clone()).or_default().push((interval.from_us, interval.until_us));
                    }
                    merge(&mut wanted);
                    let warmth = sources.within(from_us, until_us, &wanted)?;
                    found.extend(parallel_take(piece, |interval| worked_out(&warmth, interval)));
                }
                let from_us = bounds(&recent).map_or(recent_us, |(from_us, _)| from_us.min(recent_us));
                let warmth = sources.within(from_us, now_us, &wanted(&known.bench, now, from_us))?;
                found.extend(parallel_take(recent, |interval| worked_out(&warmth, interval)));
                known.warmth = warmth;
                known.cold_lacks = cold_lacks(&known.bench, &sources.where_chilled(&known.bench, now)?, now);
            }
            known.unkept = found.iter().filter_map(|(interval, stretch)| settled(interval, stretch, now_us)).collect();
            known.stretches.extend(found);
            Ok(known)
        })
    }

    fn without_warmth(store: &Store, now: Time) -> Result<Self, StoreError> {
        let bench = store.bench()?.as_of(now);
        let cold = |trial: &Trial| {
            let sprouts = trial.checks.iter().filter(|check| check.sprouted > 0);
            sprouts.map(|check| (trial.spot_at(check.time), check.time)).any(|(spot, time)| is_cold(&bench, spot, time))
        };
        let sprouts_in_cold = bench.trials.values().filter(|trial| cold(trial)).map(kind_of_seed).collect();
        let (warmth, tallies) = (BTreeMap::new(), Vec::new());
        let (cold_lacks, stretches, unkept) = (BTreeMap::new(), HashMap::new(), Vec::new());
        let seen = store.last_warmth_change()?;
        Ok(Self { now, bench, warmth, tallies, sprouts_in_cold, cold_lacks, stretches, unkept, seen })
    }

    /// What the bench file could hold for the next question, and the last change of any warmth when it was read.
    #[must_use]
    pub fn unkept(&self) -> (&[StretchTable], i64) {
        (&self.unkept, self.seen)
    }

    /// From when on the temperatures themselves are asked for: what an outlook looks at, and since the last look at each present box.
    fn recent_from(&self) -> Time {
        let present = self.bench.present_batches(self.now);
        let open = present.values().flatten().filter(|trial| trial.ended_at(self.now).is_none());
        open.map(|trial| trial.last_look()).fold(self.now - Duration::days(RECENT_DAYS as i64 + 1), Time::min)
    }

    /// The stays between looks that trials are judged by.
    fn intervals(&self, concerning: Concerning) -> BTreeSet<Interval> {
        let present: BTreeSet<_> = self.bench.present_batches(self.now).into_values().flatten().map(kind_of_seed).collect();
        let asked = |trial: &&Trial| concerning == Concerning::All || present.contains(&kind_of_seed(trial));
        let looked_at = self.bench.trials.values().filter(asked).flat_map(|trial| self.intervals_of(trial));
        // What the cold did to seeds is asked of all sowings of a kind together.
        let chilled = self.bench.trials.values().filter(asked).flat_map(|trial| self.weeks_in_cold(trial));
        looked_at.chain(chilled).collect()
    }

    /// The stays of a trial between its looks, those before its sowing first.
    pub(super) fn intervals_of(&self, trial: &Trial) -> Vec<Interval> {
        let Some(counted) = self.counts_from(trial) else { return Vec::new() };
        let sown = trial.container.sown;
        let looks = std::iter::once(sown).chain(trial.checks.iter().map(|check| check.time)).zip(&trial.checks);
        let between = looks.map(|(from, check)| (from.max(counted), check.time));
        std::iter::once((counted, sown)).chain(between).flat_map(|(from, until)| self.pieces(trial, from, until)).collect()
    }

    /// How warm it was at a spot in an interval.
    pub(super) fn stretch_at(&self, interval: &Interval) -> Cow<'_, Stretch> {
        self.stretches
            .get(interval)
            .map_or_else(|| Cow::Owned(self.record(&interval.spot).stretch(interval.from_us, interval.until_us)), Cow::Borrowed)
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

    /// Whether seeds of a kind have sprouted at a cold spot.
    pub(super) fn has_sprouted_in_cold(&self, species: &Name, event: Event) -> bool {
        self.sprouts_in_cold.contains(&(species.clone(), event))
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

    /// The warmth that a trial's seeds had over a time, spot by spot.
    pub(super) fn passages(&self, trial: &Trial, from: Time, until: Time) -> Vec<Passage> {
        let passage = |interval: Interval| {
            let level = self.level_at(&interval.spot, time_from_micros(interval.from_us).unwrap_or(from));
            Passage { level, stretch: self.stretch_at(&interval).into_owned(), spot: interval.spot }
        };
        self.pieces(trial, from, until).map(passage).collect()
    }

    /// A trial's stays, cut where a probe was brought or taken away.
    pub(super) fn pieces<'a>(&'a self, trial: &'a Trial, from: Time, until: Time) -> impl Iterator<Item = Interval> + 'a {
        self.bench.stays(trial, from, until).into_iter().flat_map(|stay| {
            let placed = self.bench.stands_at(stay.spot).flat_map(|(placement, left)| [Some(placement.since), left]);
            let mut cuts: Vec<Time> = placed.flatten().filter(|cut| *cut > stay.from && *cut < stay.until).collect();
            cuts.extend([stay.from, stay.until]);
            cuts.sort_unstable();
            cuts.dedup();
            let spot = stay.spot.clone();
            let piece = move |ends: &[Time]| Interval {
                spot: spot.clone(),
                from_us: ends[0].timestamp_micros(),
                until_us: ends[1].timestamp_micros(),
            };
            cuts.windows(2).map(piece).collect::<Vec<_>>()
        })
    }

    /// By whose word a spot's temperature at a time is known.
    fn level_at(&self, spot: &Name, time: Time) -> Level {
        let there =
            self.bench.stands_at(spot).filter(|(placement, left)| placement.since <= time && left.is_none_or(|left| left > time));
        let mut probes: Vec<_> = there.map(|(placement, _)| (placement.probe.clone(), calibrated(placement))).collect();
        probes.sort();
        if probes.is_empty() { Level::Given(spot.clone()) } else { Level::Read(probes) }
    }

    /// A piece's level, and how unsure it is.
    pub(super) fn level_of(&self, interval: &Interval) -> (Level, f64) {
        let level = self.level_at(&interval.spot, time_from_micros(interval.from_us).unwrap_or(self.now));
        let sd_c = self.level_sd_c(&level);
        (level, sd_c)
    }

    /// How unsure a level is, °C: as what is given says of itself, or by calibration and siting of the surest of its probes.
    #[must_use]
    pub fn level_sd_c(&self, level: &Level) -> f64 {
        match level {
            Level::Given(spot) => {
                let given = self.bench.spots.get(spot).and_then(|spot| spot.last_given(self.now));
                given.map_or(0.0, |given| given.sd_c())
            }
            Level::Read(probes) => {
                let of_these = |placement: &&Placement| probes.contains(&(placement.probe.clone(), calibrated(placement)));
                self.bench.placements.iter().filter(of_these).map(Placement::sd_c).min_by(f64::total_cmp).unwrap_or(0.0)
            }
        }
    }

    /// What has to be added to a spot's temperatures from now on, draw by draw, °C.
    #[must_use]
    pub fn offsets_now(&self, fit: &Fit, spot: &Name) -> Vec<f64> {
        let level = self.level_at(spot, self.now);
        fit.offsets_of(&level, self.level_sd_c(&level))
    }

    /// Mean temperature at a spot over a time, °C, where nine tenths of it were measured.
    #[must_use]
    pub fn mean_c(&self, spot: &Name, from_us: i64, until_us: i64) -> Option<f64> {
        if from_us < self.read_from_us() {
            return None;
        }
        let stretch = self.stretch_at(&Interval { spot: spot.clone(), from_us, until_us });
        let measured = stretch.known.duration() * DAY_US as f64 >= MEASURED_SHARE * (until_us - from_us) as f64;
        stretch.known.mean().filter(|_| measured)
    }

    /// Nothing before is looked at.
    pub(super) fn read_from_us(&self) -> i64 {
        let first = self.bench.trials.values().map(|trial| trial.container.sown).min().unwrap_or(self.now);
        first.timestamp_micros().saturating_sub(READ_BEFORE_US)
    }

    /// Days of earlier years at spots that a season may be learnt from: where a probe stood then, and nothing was changed since.
    fn days_of_earlier_years(&self, ahead: usize) -> Vec<Interval> {
        let (from_us, now_us) = (self.read_from_us(), self.now.timestamp_micros());
        let days = earlier_days(now_us, ahead);
        let unchanged = self.bench.spots.iter().filter(|(_, spot)| spot.changed_by(self.now).is_none());
        unchanged
            .flat_map(|(name, _)| {
                let stood = move |day: &(i64, i64)| {
                    self.bench.stands_at(name).any(|(placement, left)| {
                        placement.since.timestamp_micros() < day.1 && left.is_none_or(|left| left.timestamp_micros() > day.0)
                    })
                };
                let days = days.iter().flatten().map(|(_, from_us, until_us)| (*from_us, *until_us));
                let days = days.filter(move |day| day.0 >= from_us && day.1 <= now_us).filter(stood);
                days.map(move |(from_us, until_us)| Interval { spot: name.clone(), from_us, until_us })
            })
            .collect()
    }

    /// A spot's record; an empty one where nothing is known of it.
    #[must_use]
    pub fn record(&self, spot: &Name) -> &SpotRecord {
        static NOTHING: SpotRecord = SpotRecord::nothing();
        self.warmth.get(spot).map_or(&NOTHING, |warmth| &warmth.record)
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

pub(super) fn is_cold(bench: &Bench, spot: &Name, time: Time) -> bool {
    bench.spots.get(spot).is_some_and(|spot| spot.kind_at(time) == SpotKind::Fridge)
}

fn calibrated(placement: &Placement) -> Calibrated {
    if placement.calibration.is_some() { Calibrated::Yes } else { Calibrated::No }
}

fn worked_out(warmth: &BTreeMap<Name, SpotWarmth>, interval: Interval) -> (Interval, Stretch) {
    let stretch = warmth.get(&interval.spot).map_or_else(
        || SpotRecord::nothing().stretch(interval.from_us, interval.until_us),
        |warmth| warmth.record.stretch(interval.from_us, interval.until_us),
    );
    (interval, stretch)
}

fn bounds(intervals: &[Interval]) -> Option<(i64, i64)> {
    Some((intervals.iter().map(|i| i.from_us).min()?, intervals.iter().map(|i| i.until_us).max()?))
}

/// Intervals in order of their beginnings, cut into pieces that each span no more than [`PIECE_US`] or one interval.
fn pieces(intervals: Vec<Interval>) -> Vec<Vec<Interval>> {
    let mut pieces: Vec<Vec<Interval>> = Vec::new();
    let mut begun_us = i64::MIN;
    for interval in intervals {
        match pieces.last_mut() {
            Some(piece) if interval.until_us.saturating_sub(begun_us) <= PIECE_US => piece.push(interval),
            _ => {
                begun_us = interval.from_us;
                pieces.push(vec![interval]);
            }
        }
    }
    pieces
}

/// What is to be kept of a stretch that nothing newer has a part in.
fn settled(interval: &Interval, stretch: &Stretch, now_us: i64) -> Option<StretchTable> {
    let guessed = stretch.guessed.duration() > 0.0 || stretch.unknown_days > 0.0;
    let rests_until_us = interval.until_us.saturating_add(if guessed { GUESS_SETTLED_AFTER_US } else { SETTLED_AFTER_US });
    (rests_until_us <= now_us - LATEST_US).then(|| StretchTable {
        interval: interval.clone(),
        stretch: stretch.clone(),
        rests_until_us,
    })
}

/// The stretches of each spot for which a temperature is wanted, merged: where boxes stood, and at every spot the time of the
/// present batches and the last two weeks; of all of it what lies after `since_us`.
fn wanted(bench: &Bench, now: Time, since_us: i64) -> Wanted {
    let now_us = now.timestamp_micros();
    let mut wanted = Wanted::new();
    for trial in bench.trials.values() {
        let end = trial.ended_at(now).unwrap_or(now);
        for stay in bench.history(trial, end) {
            wanted.entry(stay.spot.clone()).or_default().push((stay.from.timestamp_micros(), stay.until.timestamp_micros()));
        }
    }
    let present = bench.present_batches(now);
    let sown = present.values().flatten().map(|trial| trial.container.sown.timestamp_micros());
    let since = sown.min().unwrap_or(now_us).min((now - Duration::days(14)).timestamp_micros());
    for name in bench.spots.keys() {
        wanted.entry(name.clone()).or_default().push((since, now_us));
    }
    for stretches in wanted.values_mut() {
        stretches.retain_mut(|stretch| {
            stretch.0 = stretch.0.max(since_us);
            stretch.0 < stretch.1
        });
    }
    merge(&mut wanted);
    wanted
}
