//! Readings → how warm each spot was over a time, working from no more readings than that takes.

use std::collections::{BTreeMap, BTreeSet};

use super::given::{As, steps};
use crate::bench::{Bench, Name, Placement, Reading, Siting, SpotKind};
use crate::civil::{Time, local_date, local_hour, time_from_micros};
use crate::diagnosis::{Near, ProbeFinding, ProbeTally, may_differ_c, sited_apart_may_differ_c, tally};
use crate::quality::{
    FLAGS_REACH_US, Flag, Movement, SUN_REACH_US, SunStrike, SunStruck, Thresholds, apart, apart_by_night, fallen_out, flag_stuck,
    flag_sun_struck, flags, odd_days, stands_alone,
};
use crate::stats::{median_of, parallel_map, parallel_take};
use crate::store::{Store, StoreError};
use crate::thermal::{Bridge, FILL_AROUND_US, FILL_REACH_US, ProbeSeries, SpotRecord, SpotWarmth, fill_gaps};
use crate::units::MICROS_PER_HOUR;

const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// A reading's reach is told by its day and the day before, whose first spacing may be two days long ([`Bridge`]).
const BEFORE_US: i64 = 3 * DAY_US;
/// The day of a reading must be over, and the next reading known if there is one within hours.
const AFTER_US: i64 = 2 * DAY_US;
/// After an instant nothing measured has a part in what was measured there when this much has passed, microseconds: the days that tell
/// whether the sun stood on a probe are the last to come.
pub(super) const SETTLED_AFTER_US: i64 = AFTER_US + DAY_US + SUN_REACH_US;
/// The same where hours were guessed.
pub(super) const GUESS_SETTLED_AFTER_US: i64 = SETTLED_AFTER_US + FILL_REACH_US;
/// Before an instant nothing measured has a part in what is known or guessed of it this much earlier.
pub(super) const READ_BEFORE_US: i64 = BEFORE_US + FILL_REACH_US + DAY_US;

/// Stretches of time by spot, each spot's in order and apart.
pub(super) type Wanted = BTreeMap<Name, Vec<(i64, i64)>>;

/// The usable readings of probes, by time.
type Points<'a> = BTreeMap<&'a Name, Vec<(i64, f64)>>;

/// Where what is measured ends before a hole, and begins again after it.
type Hole = (Option<i64>, Option<i64>);

/// Where temperatures come from.
#[derive(Debug, Clone)]
pub(super) struct Sources<'a> {
    store: &'a Store,
    bench: &'a Bench,
    now: Time,
    /// Spots at which a probe gave a reading while it stood there.
    measured: BTreeSet<&'a Name>,
}

impl<'a> Sources<'a> {
    /// Of a bench as of `now`.
    pub(super) fn new(store: &'a Store, bench: &'a Bench, now: Time) -> Result<Self, StoreError> {
        let mut measured = BTreeSet::new();
        for name in bench.spots.keys() {
            for (placement, left) in bench.stands_at(name) {
                let until_us = left.map_or(now.timestamp_micros(), |left| left.timestamp_micros()) + 1;
                if !measured.contains(name) && store.has_reading(&placement.probe, placement.since.timestamp_micros(), until_us)? {
                    measured.insert(name);
                }
            }
        }
        Ok(Self { store, bench, now, measured })
    }

    /// The warmth of the spots in the wanted stretches, from all readings since `from_us`; beside it the probes' flags by day.
    pub(super) fn since(&self, from_us: i64, wanted: &Wanted) -> Result<(BTreeMap<Name, SpotWarmth>, Vec<ProbeTally>), StoreError> {
        let mut points = BTreeMap::new();
        let mut all = Vec::new();
        for probe in self.bench.placed_probes() {
            let until_us = self.now.timestamp_micros();
            let flagged = Flagged::new(self.bench, probe, self.read(probe, from_us, until_us)?, from_us, until_us);
            points.insert(probe, flagged.usable(self.bench, probe));
            all.push((probe, flagged));
        }
        let moved: BTreeMap<&Name, Movement> = points.iter().map(|(probe, points)| (*probe, Movement::of(points))).collect();
        let tallies = all.into_iter().map(|(probe, Flagged { readings, mut flags, sun })| {
            let mut tally = tally(probe.clone(), &readings, &flags, self.bench.zone);
            tally.also.extend(
                [(&sun.struck, false), (&sun.asked, true)]
                    .into_iter()
                    .filter_map(|(strikes, every_day)| self.sun(strikes, every_day)),
            );
            let near = |other: &Name| other != probe && self.share_a_room(probe, other);
            let others: Vec<&Movement> = moved.iter().filter(|(other, _)| near(other)).map(|(_, moved)| moved).collect();
            let date = |time_us| time_from_micros(time_us).map(|time| local_date(time, self.bench.zone));
            let stuck = flag_stuck(&readings, &mut flags, &others, &Thresholds::of(self.bench, probe));
            let stuck = stuck.and_then(|(from, until)| Some(ProbeFinding::Stuck { from: date(from)?, until: date(until)? }));
            tally.also.extend(stuck);
            let fallen = self.fallen_out(&points, probe);
            tally.unsure = unsure(&readings, &flags, &sun.struck);
            tally.unsure.extend(fallen.iter().map(|(since_us, _)| (*since_us, self.now.timestamp_micros())));
            tally.also.extend(fallen.map(|(_, finding)| finding));
            tally.also.extend(points.keys().filter(|other| **other > probe).flat_map(|other| self.beside(&points, probe, other)));
            tally
        });
        let tallies = tallies.collect::<Vec<_>>();
        Ok((self.warmth(&points, wanted).0, tallies))
    }

    /// What is to be said of two probes that stand at one spot now, or both in the air of one room: where one reads the air and the other a box or
    /// a spot, a mat or a cold pane may truly be between them.
    fn beside(&self, points: &Points<'_>, probe: &Name, other: &Name) -> Vec<ProbeFinding> {
        let stands = |probe: &Name| self.bench.placements.iter().rev().find(|placement| placement.probe == *probe);
        match (stands(probe), stands(other)) {
            (Some(one), Some(two)) if one.siting == Siting::Room || two.siting == Siting::Room => {
                let both = one.siting == two.siting && self.share_a_room(probe, other);
                if both { self.in_one_room(points, one, two).into_iter().collect() } else { Vec::new() }
            }
            (Some(one), Some(two)) if one.spot == two.spot => self.together(points, one, two),
            _ => Vec::new(),
        }
    }

    /// True temperatures that two probes read since both stand where they do.
    fn read_since(points: &Points<'_>, placement: &Placement, since_us: i64) -> Option<Vec<(i64, f64)>> {
        let all = points.get(&placement.probe)?;
        let there = all.get(all.partition_point(|point| point.0 < since_us)..)?;
        Some(there.iter().map(|(time_us, raw_c)| (*time_us, placement.true_celsius(*raw_c))).collect())
    }

    /// Two probes in the air of one room, by night.
    fn in_one_room(&self, points: &Points<'_>, one: &Placement, two: &Placement) -> Option<ProbeFinding> {
        let since_us = one.since.max(two.since).timestamp_micros();
        let read = |placement| Self::read_since(points, placement, since_us);
        let limit_c = sited_apart_may_differ_c(one, two);
        let apart = apart_by_night(&read(one)?, &read(two)?, limit_c, self.bench.zone)?;
        let since = local_date(time_from_micros(apart.since_us.max(since_us))?, self.bench.zone);
        let uncalibrated = uncalibrated(one, two);
        Some(ProbeFinding::Beside { other: two.probe.clone(), above_c: apart.above_c, since, uncalibrated, near: Near::OneRoom })
    }

    /// What is to be said of the days on which the sun stood on a probe.
    fn sun(&self, strikes: &[SunStrike], every_day: bool) -> Option<ProbeFinding> {
        let times: Vec<Time> = strikes.iter().filter_map(|strike| time_from_micros(strike.peak_us)).collect();
        let mut days: Vec<_> = times.iter().map(|time| local_date(*time, self.bench.zone)).collect();
        days.dedup();
        let hours: Vec<f64> = times.iter().map(|time| local_hour(*time, self.bench.zone)).collect();
        let above: Vec<f64> = strikes.iter().map(|strike| strike.above_c).collect();
        Some(ProbeFinding::SunStruck {
            days: days.len(),
            first: *days.first()?,
            last: *days.last()?,
            hour: median_of(&hours),
            above_c: median_of(&above),
            every_day,
        })
    }

    /// Since when a probe in a box moves as the air of its room does, unless its spot is said to be changed since; held against one that
    /// reads that air, at its own spot if there is one, else one sited in the room.
    fn fallen_out(&self, points: &Points<'_>, probe: &Name) -> Option<(i64, ProbeFinding)> {
        let stands = |probe: &Name| self.bench.placements.iter().rev().find(|placement| placement.probe == *probe);
        let own = stands(probe).filter(|own| own.siting == Siting::InBox)?;
        let airs = points
            .keys()
            .filter_map(|other| stands(other))
            .filter(|air| air.siting != Siting::InBox && air.probe != *probe && self.share_a_room(probe, &air.probe));
        let air = airs.max_by_key(|air| (air.spot == own.spot, air.siting == Siting::Room))?;
        let since_us = own.since.max(air.since).timestamp_micros();
        let read = |placement| Self::read_since(points, placement, since_us);
        let fallen = fallen_out(&read(own)?, &read(air)?, own.spot == air.spot, self.bench.zone)?;
        let changed = self.bench.spots.get(&own.spot).and_then(|spot| spot.changed_by(self.now));
        if changed.is_some_and(|changed| changed.timestamp_micros() >= fallen.since_us - DAY_US) {
            return None;
        }
        let since = local_date(time_from_micros(fallen.since_us)?, self.bench.zone);
        Some((fallen.since_us, ProbeFinding::FallenOut { air: air.probe.clone(), since, times: fallen.times }))
    }

    fn together(&self, points: &Points<'_>, one: &Placement, two: &Placement) -> Vec<ProbeFinding> {
        let other = &two.probe;
        let since_us = one.since.max(two.since).timestamp_micros();
        let read = |placement: &Placement| Self::read_since(points, placement, since_us);
        let (Some(read_one), Some(read_two)) = (read(one), read(two)) else { return Vec::new() };
        let uncalibrated = uncalibrated(one, two);
        let limit_c = if one.siting == two.siting { may_differ_c(uncalibrated) } else { sited_apart_may_differ_c(one, two) };
        let date = |time_us: i64| Some(local_date(time_from_micros(time_us.max(since_us))?, self.bench.zone));
        let apart = apart(&read_one, &read_two, limit_c).and_then(|apart| {
            let since = date(apart.since_us)?;
            Some(ProbeFinding::Beside { other: other.clone(), above_c: apart.above_c, since, uncalibrated, near: Near::OneSpot })
        });
        // What has been so for days is told once.
        let odd = odd_days(&read_one, &read_two, limit_c);
        let odd = odd.last().filter(|_| apart.is_none()).and_then(|last| {
            Some(ProbeFinding::OddDays { other: other.clone(), days: odd.len(), last: date(last.day_us)?, above_c: last.above_c })
        });
        apart.into_iter().chain(odd).collect()
    }

    /// Whether two probes stand where what moves one may be expected to move the other: at one spot, or at spots of one kind, but
    /// that a fridge is a room of its own.
    fn share_a_room(&self, probe: &Name, other: &Name) -> bool {
        let spot = |probe: &Name| self.bench.placements.iter().rev().find(|placement| placement.probe == *probe).map(|p| &p.spot);
        let (Some(spot), Some(other)) = (spot(probe), spot(other)) else { return false };
        let kind = |spot: &Name| self.bench.spots.get(spot).map(|spot| spot.kind_at(self.now)).unwrap_or_default();
        spot == other || kind(spot) == kind(other) && kind(spot) != SpotKind::Fridge
    }

    /// The warmth of the wanted spots in the wanted stretches, all of which lie within `from_us..until_us`: the same as from all
    /// readings.
    pub(super) fn within(&self, from_us: i64, until_us: i64, wanted: &Wanted) -> Result<BTreeMap<Name, SpotWarmth>, StoreError> {
        let asked: BTreeSet<&Name> = wanted.keys().filter(|spot| self.measured.contains(spot)).collect();
        let points = self.points(&asked, from_us, until_us)?;
        let (warmth, holes) = self.warmth(&points, wanted);
        if holes.is_empty() {
            return Ok(warmth);
        }
        // Guesses look at all spots in the weeks beside a hole; where a hole's end was not met, as far as that could be.
        let weeks_from = holes.iter().map(|hole| match hole.0 {
            Some(before) if before >= from_us => before - FILL_AROUND_US,
            _ => from_us - FILL_REACH_US,
        });
        let weeks_until = holes.iter().map(|hole| match hole.1 {
            Some(after) if after <= until_us => after + FILL_AROUND_US,
            _ => until_us.saturating_add(FILL_REACH_US),
        });
        let (from_us, until_us) = (weeks_from.fold(from_us, i64::min), weeks_until.fold(until_us, i64::max));
        drop((points, warmth));
        let points = self.points(&self.measured, from_us, until_us)?;
        Ok(self.warmth(&points, wanted).0)
    }

    /// The usable readings of the probes that stood at some spots around a time.
    fn points(&self, spots: &BTreeSet<&Name>, from_us: i64, until_us: i64) -> Result<Points<'a>, StoreError> {
        let bench: &'a Bench = self.bench;
        let from_us = from_us.div_euclid(DAY_US) * DAY_US - BEFORE_US;
        let until_us = (until_us.div_euclid(DAY_US) * DAY_US + AFTER_US).min(self.now.timestamp_micros());
        let mut read: BTreeMap<&'a Name, Vec<Reading>> = BTreeMap::new();
        for (spot, _) in bench.spots.iter().filter(|(name, _)| spots.contains(name)) {
            for (placement, left) in bench.stands_at(spot) {
                let there =
                    placement.since.timestamp_micros() <= until_us && left.is_none_or(|left| left.timestamp_micros() >= from_us);
                if there && !read.contains_key(&placement.probe) {
                    let read_until_us = until_us.saturating_add(SUN_REACH_US).min(self.now.timestamp_micros());
                    read.insert(&placement.probe, self.read(&placement.probe, from_us, read_until_us)?);
                }
            }
        }
        let points = parallel_take(read.into_iter().collect(), |(probe, readings)| {
            (probe, Flagged::new(bench, probe, readings, from_us, until_us).usable(bench, probe))
        });
        Ok(points.into_iter().collect())
    }

    /// A probe's readings, begun so far before `from_us` that the flags from then on, and what the sun did, are those of the whole series: at one that is
    /// what it is whatever came before it.
    fn read(&self, probe: &Name, from_us: i64, until_us: i64) -> Result<Vec<Reading>, StoreError> {
        let thresholds = Thresholds::of(self.bench, probe);
        let before_us = from_us.saturating_sub(SUN_REACH_US + FLAGS_REACH_US);
        let sure = self.store.last_reading_where(probe, before_us, |reading| stands_alone(reading, &thresholds))?;
        // The last reading may carry the very microsecond asked about.
        self.store.readings(probe, sure.unwrap_or(i64::MIN), until_us.saturating_add(1))
    }

    /// A probe's readings of a time that are doubtful: by their flags, by the sun that stood on it, or as the grower said.
    pub(super) fn doubtful(&self, probe: &Name, from_us: i64, until_us: i64) -> Result<Vec<(i64, f64)>, StoreError> {
        let flagged = Flagged::new(self.bench, probe, self.read(probe, from_us, until_us)?, from_us, until_us);
        Ok(flagged.doubtful(self.bench, probe))
    }

    /// The records of all spots: measured ones from their probes, holes filled where temperatures are wanted by what is given for
    /// the spot, else from other spots and days; spots without a probe as they are given. Beside it the holes.
    fn warmth(&self, points: &Points<'_>, wanted: &Wanted) -> (BTreeMap<Name, SpotWarmth>, Vec<Hole>) {
        let (bench, now_us) = (self.bench, self.now.timestamp_micros());
        let stretches = |name: &Name| wanted.get(name).into_iter().flatten().copied();
        let (mut measured, mut said) = (BTreeMap::new(), BTreeMap::new());
        let (mut warmth, mut told) = (BTreeMap::new(), Vec::new());
        let mut holes = Vec::new();
        for (name, spot) in &bench.spots {
            let kind = spot.kind_at(self.now);
            if !self.measured.contains(name) {
                if spot.settings.iter().any(|setting| setting.given.is_some()) {
                    let given = stretches(name).flat_map(|(from, until)| steps(spot, bench.zone, from, until, As::Known)).collect();
                    let record = SpotRecord::nothing().with(given);
                    warmth.insert(name.clone(), SpotWarmth { record, set: true, kind });
                }
                continue;
            }
            told.push((name, spot));
        }
        let records = parallel_map(&told, |(name, spot)| {
            let series: Vec<ProbeSeries> = bench
                .stands_at(name)
                .filter_map(|(placement, left)| {
                    let from_us = placement.since.timestamp_micros();
                    let until_us = left.map_or(now_us, |left| left.timestamp_micros());
                    let all = points.get(&placement.probe)?;
                    let within = &all[all.partition_point(|p| p.0 < from_us)..all.partition_point(|p| p.0 <= until_us)];
                    let points = within.iter().map(|(time, raw)| (*time, placement.true_celsius(*raw))).collect();
                    Some(ProbeSeries { points, from_us, until_us })
                })
                .filter(|series| !series.points.is_empty())
                .collect();
            let record = SpotRecord::measured(&series, Bridge::default());
            let open: Vec<(i64, i64)> = stretches(name).flat_map(|(from, until)| record.holes(from, until)).collect();
            let around: Vec<Hole> = open.iter().map(|(start, _)| record.hole_around(*start)).collect();
            let given: Vec<_> =
                open.into_iter().flat_map(|(from, until)| steps(spot, bench.zone, from, until, As::Guessed)).collect();
            (record, around, given)
        });
        for ((name, _), (record, around, given)) in told.into_iter().zip(records) {
            holes.extend(around);
            said.insert(name.clone(), given);
            measured.insert(name.clone(), record);
        }
        let mut fillings = fill_gaps(&measured, said, wanted, now_us);
        for (name, record) in measured {
            let Some(spot) = bench.spots.get(&name) else { continue };
            let record = record.with(fillings.remove(&name).unwrap_or_default());
            warmth.insert(name, SpotWarmth { record, set: false, kind: spot.kind_at(self.now) });
        }
        (warmth, holes)
    }
}

/// A probe's readings with their flags, the same as they would be among all readings but for those of the last days.
struct Flagged {
    readings: Vec<Reading>,
    flags: Vec<Flag>,
    sun: SunStruck,
}

impl Flagged {
    /// Those of a time, out of readings that reach beyond it.
    fn new(bench: &Bench, probe: &Name, mut readings: Vec<Reading>, from_us: i64, until_us: i64) -> Self {
        let thresholds = Thresholds::of(bench, probe);
        let mut flags = flags(&readings, &thresholds);
        let untold = |strike: &SunStrike| {
            let placed = bench
                .placements
                .iter()
                .rev()
                .find(|placed| placed.probe == *probe && placed.since.timestamp_micros() <= strike.from_us);
            let spot = placed.and_then(|placed| bench.spots.get(&placed.spot));
            spot.zip(time_from_micros(strike.from_us)).is_some_and(|(spot, time)| spot.kind_at(time) != SpotKind::Indoors)
        };
        let sun = flag_sun_struck(&readings, &mut flags, &thresholds, bench.zone, untold);
        readings.truncate(readings.partition_point(|reading| reading.time_us <= until_us));
        flags.truncate(readings.len());
        let before = readings.partition_point(|reading| reading.time_us < from_us);
        readings.drain(..before);
        flags.drain(..before);
        Self { readings, flags, sun }
    }

    /// What is no sensor's failure and yet doubtful, by time.
    fn doubtful(&self, bench: &Bench, probe: &Name) -> Vec<(i64, f64)> {
        let said = |time| bench.doubts.iter().any(|doubt| doubt.probe == *probe && doubt.covers(time));
        let doubtful =
            self.readings.iter().zip(&self.flags).filter(|(reading, flag)| {
                flag.doubtful() || (flag.usable() && time_from_micros(reading.time_us).is_some_and(said))
            });
        doubtful.filter_map(|(reading, _)| Some((reading.time_us, reading.raw_c()?))).collect()
    }

    /// What may be reckoned with, by time: nothing that the sun made.
    fn usable(&self, bench: &Bench, probe: &Name) -> Vec<(i64, f64)> {
        let doubts: Vec<_> = bench.doubts.iter().filter(|doubt| doubt.probe == *probe).collect();
        let doubted = |time_us| {
            !doubts.is_empty() && time_from_micros(time_us).is_some_and(|time| doubts.iter().any(|doubt| doubt.covers(time)))
        };
        let usable = self.readings.iter().zip(&self.flags).filter(|(reading, flag)| {
            flag.usable() && !(flag.doubtful() && in_the_sun(&self.sun.struck, reading.time_us)) && !doubted(reading.time_us)
        });
        usable.filter_map(|(reading, _)| Some((reading.time_us, reading.raw_c()?))).collect()
    }
}

fn in_the_sun(strikes: &[SunStrike], time_us: i64) -> bool {
    let before = strikes.partition_point(|strike| strike.from_us <= time_us);
    strikes[..before].last().is_some_and(|strike| strike.covers(time_us))
}

/// From each suspect reading that is reckoned with to the next reading, over two hours at most.
fn unsure(readings: &[Reading], flags: &[Flag], struck: &[SunStrike]) -> Vec<(i64, i64)> {
    let mut unsure: Vec<(i64, i64)> = Vec::new();
    for (at, (reading, flag)) in readings.iter().zip(flags).enumerate() {
        if !flag.doubtful() || in_the_sun(struck, reading.time_us) {
            continue;
        }
        let next_us = readings.get(at + 1).map_or(reading.time_us, |next| next.time_us);
        let until_us = next_us.min(reading.time_us.saturating_add(Bridge::default().always_us));
        match unsure.last_mut() {
            Some(last) if reading.time_us <= last.1 => last.1 = until_us,
            _ => unsure.push((reading.time_us, until_us)),
        }
    }
    unsure
}

fn uncalibrated(one: &Placement, two: &Placement) -> usize {
    [one, two].iter().filter(|placement| placement.calibration.is_none()).count()
}

/// Stretches in order, those that meet made one.
pub(super) fn merge(wanted: &mut Wanted) {
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
}
