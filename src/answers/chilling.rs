//! How the seeds of a box were chilled, from what is on record where they stood.

use std::collections::BTreeMap;

use super::known::is_cold;
use super::warmth::{Sources, Wanted, merge};
use super::{Known, Present};
use crate::bench::{Bench, Event, Name, Placement, SpotKind, Stay, Trial};
use crate::civil::{Time, time_from_micros};
use crate::diagnosis::{
    CHILLS_FROM_C, CHILLS_TO_C, ChillTodo, Chilled, Stood, ToldBy, TreatmentCold, chilled, chilling_todo, cold_alone,
    cold_in_words, sprouted_enough,
};
use crate::forecast::{ColdLack, ColdWantedBy};
use crate::germination::{ChillResponse, ChilledSowing, Fit, Longer, RateShape, chill_response};
use crate::stats::seed_of;
use crate::store::{Interval, Store, StoreError};
use crate::thermal::SpotWarmth;
use crate::units::MICROS_PER_HOUR;

const WEEK_US: i64 = 7 * 24 * MICROS_PER_HOUR;
/// A sowing whose time in the cold is unknown for longer, in days and as a share, teaches nothing of cold.
const UNKNOWN_DAYS: f64 = 1.0;
const UNKNOWN_SHARE: f64 = 0.1;

/// How species answered to cold, by kind of seed.
pub(super) type Answers<'a> = BTreeMap<(&'a Name, Event), ChillResponse>;

/// How a box's seeds were chilled, and what longer cold would bring them.
pub(super) fn chilled_as_known(known: &Known, answers: &Answers<'_>, trial: &Trial) -> Option<Chilled> {
    let mut chilled = chilled_of(&known.bench, &known.warmth, trial, known.now)?;
    if chilled.is_in_cold() {
        let answer = answers.get(&(&trial.container.species, trial.container.event));
        chilled.longer = answer.and_then(|answer| answer.longer_than(chilled.counted.days));
    }
    Some(chilled)
}

/// How the species of boxes that stand in the cold answered to it in past sowings, where that is known.
pub(super) fn chill_answers<'a>(known: &Known, present: &'a Present<'_>) -> Answers<'a> {
    let in_cold = |key: &(&Name, Event)| {
        let here = present.trials.iter().filter(|trial| (&trial.container.species, trial.container.event) == *key);
        here.into_iter()
            .any(|trial| trial.ended_at(known.now).is_none() && is_cold(&known.bench, trial.spot_at(known.now), known.now))
    };
    let asked = present.fits.iter().filter(|(key, _)| in_cold(key));
    asked.filter_map(|(key, fit)| Some((*key, response(known, fit)?))).collect()
}

/// How each fit's species answered to days of moist cold; none where fewer than three lengths are on record.
#[must_use]
pub fn chill_responses(known: &Known, fits: &[Fit]) -> Vec<Option<ChillResponse>> {
    fits.iter().map(|fit| response(known, fit)).collect()
}

fn response(known: &Known, fit: &Fit) -> Option<ChillResponse> {
    if fit.question.shape == RateShape::Days {
        return None;
    }
    let trials = fit.trials.iter().filter_map(|summary| known.bench.trials.get(&summary.container));
    let sowing = |trial: &Trial| {
        let days = known.days_in_cold(trial)?;
        ChilledSowing::new(&known.evidence(trial), days, &fit.mode, fit.question.distribution, fit.question.removed)
    };
    let sowings: Vec<ChilledSowing> = trials.filter_map(sowing).collect();
    chill_response(&fit.species, fit.event, &sowings, fit.mode.ln_half, seed_of(&format!("cold {}", fit.species)))
}

impl Known {
    /// A trial's stays in fridges, in pieces of no more than a week that end where weeks do: so most of them are settled while it is
    /// still there.
    pub(super) fn weeks_in_cold(&self, trial: &Trial) -> Vec<Interval> {
        let wetted = self.bench.wetted(trial);
        let cold = |piece: &Interval| {
            time_from_micros(piece.from_us).is_some_and(|from| kind_at(&self.bench, &piece.spot, from) == SpotKind::Fridge)
        };
        let weeks = |piece: Interval| {
            let mut from_us = piece.from_us;
            std::iter::from_fn(move || {
                let until_us = ((from_us.div_euclid(WEEK_US) + 1) * WEEK_US).min(piece.until_us);
                let week = Interval { spot: piece.spot.clone(), from_us, until_us };
                from_us = until_us;
                (week.from_us < week.until_us).then_some(week)
            })
        };
        self.pieces(trial, wetted, self.end_of(trial)).filter(cold).flat_map(weeks).collect()
    }

    /// Days of moist cold that a trial's seeds had before they were brought into the warm: as on record, else as its treatment's words
    /// say. None where that is not known, where they went through something else as well, or were never brought in.
    fn days_in_cold(&self, trial: &Trial) -> Option<f64> {
        let words = trial.container.treatment.as_ref().map_or("", Name::as_str);
        let history = self.bench.history(trial, self.end_of(trial));
        let kinds: Vec<SpotKind> = history.iter().map(|stay| kind_at(&self.bench, stay.spot, stay.from)).collect();
        if !cold_alone(words) || kinds.contains(&SpotKind::Outdoors) || kinds.last() == Some(&SpotKind::Fridge) {
            return None;
        }
        if !kinds.contains(&SpotKind::Fridge) {
            return match cold_in_words(words) {
                TreatmentCold::Days(days) => Some(days),
                TreatmentCold::Nothing => Some(0.0),
                TreatmentCold::Dry | TreatmentCold::Unclear => None,
            };
        }
        let (mut days, mut unknown, mut elapsed) = (0.0, 0.0, 0.0);
        for week in self.weeks_in_cold(trial) {
            let stretch = self.stretch_at(&week);
            for profile in [&stretch.known, &stretch.guessed] {
                // Values are kept in steps of 1/10 000 °C, and days are those above.
                days += profile.days_above(CHILLS_FROM_C - 5e-5) - profile.days_above(CHILLS_TO_C + 5e-5);
            }
            unknown += stretch.unknown_days;
            elapsed += stretch.duration() + stretch.unknown_days;
        }
        (unknown <= UNKNOWN_DAYS.max(UNKNOWN_SHARE * elapsed)).then_some(days)
    }
}

/// What is to be done now about boxes that stand in a fridge. Reads no more than the temperatures that they had there.
pub(super) fn chilling_now(store: &Store, bench: &Bench, now: Time) -> Result<Vec<ChillTodo>, StoreError> {
    let in_fridge = |trial: &&Trial| {
        trial.container.owner.is_none()
            && trial.ended_at(now).is_none()
            && kind_at(bench, trial.spot_at(now), now) == SpotKind::Fridge
    };
    let trials: Vec<&Trial> = bench.trials.values().filter(in_fridge).collect();
    let warmth = Sources::new(store, bench, now)?.where_cold(&trials, bench, now)?;
    let todo = |trial: &&Trial| {
        let chilled = chilled_of(bench, &warmth, trial, now);
        chilled.map_or_else(Vec::new, |chilled| chilling_todo(&chilled, trial, now))
    };
    Ok(trials.iter().flat_map(todo).collect())
}

impl Sources<'_> {
    /// The temperatures that these had at spots that are or were cold, and no others.
    fn where_cold(&self, trials: &[&Trial], bench: &Bench, now: Time) -> Result<BTreeMap<Name, SpotWarmth>, StoreError> {
        let mut wanted = Wanted::new();
        for stay in trials.iter().flat_map(|trial| bench.history(trial, now)) {
            wanted.entry(stay.spot.clone()).or_default().push((stay.from.timestamp_micros(), stay.until.timestamp_micros()));
        }
        wanted
            .retain(|spot, _| bench.spots.get(spot).is_some_and(|spot| spot.settings.iter().any(|s| s.kind != SpotKind::Indoors)));
        merge(&mut wanted);
        let from_us = wanted.values().flatten().map(|stretch| stretch.0).min();
        from_us.map_or_else(|| Ok(BTreeMap::new()), |from_us| self.within(from_us, now.timestamp_micros(), &wanted))
    }

    /// The same of the present boxes that may lack cold.
    pub(super) fn where_chilled(&self, bench: &Bench, now: Time) -> Result<BTreeMap<Name, SpotWarmth>, StoreError> {
        self.where_cold(&may_lack_cold(bench, now), bench, now)
    }
}

/// Present boxes in the warm.
fn may_lack_cold(bench: &Bench, now: Time) -> Vec<&Trial> {
    let present = bench.present_batches(now);
    let in_the_warm = |trial: &&Trial| trial.ended_at(now).is_none() && !is_cold(bench, trial.spot_at(now), now);
    present.into_values().flatten().filter(in_the_warm).collect()
}

/// What present boxes in the warm lack of the cold that their lots or treatments want.
pub(super) fn cold_lacks(bench: &Bench, warmth: &BTreeMap<Name, SpotWarmth>, now: Time) -> BTreeMap<Name, ColdLack> {
    let lack = |trial: &Trial| Some((trial.container.name.clone(), chilled_of(bench, warmth, trial, now)?.lack(trial)?));
    may_lack_cold(bench, now).into_iter().filter_map(lack).collect()
}

/// What boxes in the warm of which nothing of the kind is said lack by the grower's own sowings: those in which longer cold made more
/// sprout. By container.
pub(super) fn lacks_by_own_sowings(known: &Known, present: &Present<'_>) -> BTreeMap<Name, ColdLack> {
    let said = |trial: &Trial| {
        let lot = trial.container.lot.as_ref().and_then(|lot| known.bench.lots.get(lot));
        lot.is_some_and(|lot| lot.chill_days.is_some())
    };
    let unsaid: Vec<&Trial> =
        may_lack_cold(&known.bench, known.now).into_iter().filter(|trial| !said(trial) && !sprouted_enough(trial)).collect();
    let mut lacks = BTreeMap::new();
    for ((species, event), fit) in &present.fits {
        let of_kind = unsaid.iter().filter(|trial| (&trial.container.species, trial.container.event) == (*species, *event));
        let had: Vec<(&Name, f64)> =
            of_kind.filter_map(|trial| Some((&trial.container.name, known.days_in_cold(trial)?))).collect();
        if had.is_empty() {
            continue;
        }
        let Some(response) = response(known, fit).filter(|response| response.fraction == Longer::Helps) else { continue };
        let Some((wanted_days, at_least)) = response.enough_days.as_ref().and_then(|days| days.estimate.zip(days.low)) else {
            continue;
        };
        let short = had.into_iter().filter(|(_, had)| *had < at_least && told_longer(&response, *had));
        lacks
            .extend(short.map(|(name, had_days)| (name.clone(), ColdLack { wanted_days, had_days, by: ColdWantedBy::OwnSowings })));
    }
    lacks
}

/// Longer cold than these days made more sprout.
fn told_longer(response: &ChillResponse, days: f64) -> bool {
    response.longer_than(days).is_some_and(|(_, longer)| longer == Longer::Helps)
}

/// How a trial's seeds were chilled; none where that is neither on record nor wanted.
fn chilled_of(bench: &Bench, warmth: &BTreeMap<Name, SpotWarmth>, trial: &Trial, now: Time) -> Option<Chilled> {
    let end = trial.ended_at(now).unwrap_or(now);
    let history = bench.history(trial, end);
    let stood: Vec<Stood<'_>> = history.into_iter().flat_map(|stay| parts(bench, warmth, stay)).collect();
    let sources: Vec<&Trial> = bench.sources(trial).skip(1).collect();
    let lot = trial.container.lot.as_ref().and_then(|lot| bench.lots.get(lot));
    chilled(trial, &sources, lot, &stood, now, bench.zone)
}

fn kind_at(bench: &Bench, spot: &Name, time: Time) -> SpotKind {
    bench.spots.get(spot).map(|spot| spot.kind_at(time)).unwrap_or_default()
}

/// A stay, cut where something else was said of the spot or a probe was brought or taken away.
fn parts<'a>(bench: &Bench, warmth: &BTreeMap<Name, SpotWarmth>, stay: Stay<'a>) -> Vec<Stood<'a>> {
    let placements: Vec<(&Placement, Option<Time>)> = bench.stands_at(stay.spot).collect();
    let settings = bench.spots.get(stay.spot).into_iter().flat_map(|spot| &spot.settings).filter_map(|setting| setting.since);
    let moved = placements.iter().flat_map(|(placement, left)| [Some(placement.since), *left]).flatten();
    let mut edges: Vec<Time> = settings.chain(moved).filter(|edge| *edge > stay.from && *edge < stay.until).collect();
    edges.extend([stay.from, stay.until]);
    edges.sort_unstable();
    edges.dedup();
    let part = |edge: &[Time]| {
        let (from, until) = (edge[0], edge[1]);
        let there = warmth.get(stay.spot);
        let steps = there.map(|there| there.record.within(from.timestamp_micros(), until.timestamp_micros()).collect());
        let probes = placements.iter().filter(|(placement, left)| placement.since <= from && left.is_none_or(|left| left > from));
        let uncalibrated = probes.clone().any(|(placement, _)| placement.calibration.is_none());
        let given = bench.spots.get(stay.spot).and_then(|spot| spot.setting_at(from).given);
        let measured = there.is_some_and(|there| !there.set) && probes.count() > 0;
        let told = match (measured, given) {
            (true, _) => ToldBy::Probes { uncalibrated },
            (false, Some(_)) => ToldBy::Given,
            (false, None) => ToldBy::Nobody,
        };
        Stood {
            spot: stay.spot,
            kind: kind_at(bench, stay.spot, from),
            from,
            until,
            steps: steps.unwrap_or_default(),
            told,
            given_sd_c: given.filter(|_| told == ToldBy::Given).map_or(0.0, |given| given.sd_c()),
        }
    };
    edges.windows(2).map(part).collect()
}
