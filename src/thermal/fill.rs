//! Holes of a record filled from other spots and from the spot's own daily shape, with bounds.

use std::collections::BTreeMap;

use super::{Guess, SpotRecord, Step};
use crate::bench::Name;
use crate::stats::{mean_of, standard_deviation_of};
use crate::units::MICROS_PER_HOUR;

/// Length of a guessed step.
const SLOT_US: i64 = MICROS_PER_HOUR;
const DAY_US: i64 = 24 * MICROS_PER_HOUR;
/// How far around a hole its shape is learnt.
const AROUND_US: i64 = 7 * 24 * MICROS_PER_HOUR;
/// Hours with both spots known that a comparison needs at least.
const ENOUGH: usize = 12;
/// Bound of a guess for an hour of day at which the spot was never measured, °C: about the swing of a day on a sill
/// (5 to 10 °C from peak to peak in sunny weather, from memory, no source).
const UNSEEN_HOUR_BOUND_C: f64 = 4.0;
/// A guess is never called surer than this, °C: an uncalibrated probe's own uncertainty (0.25 °C) twice.
const LEAST_BOUND_C: f64 = 0.5;

/// A week of a spot's own readings beside a hole says something of hours up to this far into it.
const REMEMBERED_US: i64 = 30 * 24 * MICROS_PER_HOUR;
/// What lies further than this before or after a hole has no part in a guess within it.
pub const FILL_AROUND_US: i64 = AROUND_US + DAY_US;
/// What lies further than this before or after an hour has no part in its guess: a reading that is remembered, the week beyond it,
/// and what makes a reading of that week what it is.
pub const FILL_REACH_US: i64 = REMEMBERED_US + AROUND_US + 24 * MICROS_PER_HOUR;

/// Steps for the holes in the wanted stretches of measured records: `said` (given temperatures), and what that leaves open, each hour
/// by the other spot that agreed best in the weeks before and after the hole (its temperature plus the usual difference at that
/// hour of day), else by the spot's own mean at that hour of day in those weeks (of all hours, with wide bounds, where that hour
/// was never measured). The bounds are two standard deviations of what was compared; where no other spot was measured either (all
/// probes stopped together, so the heat may have been off) they reach down to the coldest other spot's mean at that hour. An hour
/// for which there is neither, or that lies over a week from the spot's own readings with no other spot to go by, stays a hole.
///
/// A hole is a hole of the whole record, whatever part of it is wanted, and its ends count only up to 30 days from an hour: so a
/// guess depends on nothing beyond [`FILL_REACH_US`], and does not change any more once that is past. `now_us`: until when anything is
/// known.
#[must_use]
pub fn fill_gaps(
    records: &BTreeMap<Name, SpotRecord>,
    mut said: BTreeMap<Name, Vec<Step>>,
    wanted: &BTreeMap<Name, Vec<(i64, i64)>>,
    now_us: i64,
) -> BTreeMap<Name, Vec<Step>> {
    records
        .iter()
        .map(|(spot, record)| {
            let others: Vec<&SpotRecord> = records.iter().filter(|(name, _)| *name != spot).map(|(_, other)| other).collect();
            let said = said.remove(spot).unwrap_or_default();
            let mut guesses = Vec::new();
            let mut around: Option<(Ends, Around)> = None;
            let mut reached = i64::MIN;
            for &(from_us, until_us) in wanted.get(spot).into_iter().flatten() {
                for (start, end) in record.holes(from_us.max(reached), until_us) {
                    let open = if said.is_empty() {
                        vec![(start, end)]
                    } else {
                        SpotRecord::nothing().with(said.clone()).holes(start, end)
                    };
                    for (start, end) in open {
                        fill_hole(record, &others, (start, end), now_us, &mut around, &mut guesses);
                    }
                }
                reached = reached.max(until_us);
            }
            guesses.extend(said);
            (spot.clone(), guesses)
        })
        .collect()
}

/// Where a spot's own readings end before an hour without any, and begin again after it; none where that is too far away.
type Ends = (Option<i64>, Option<i64>);

/// Hourly temperatures in the weeks beside a hole, and what they show by hour of day (UTC: the shape repeats every 24 h, whatever
/// the hour is called).
struct Around {
    /// What each other spot shows.
    others: Vec<Neighbour>,
    /// The spot's own temperatures at and around each hour of day.
    own: [Vec<f64>; 24],
    /// The mean of all of them; none where the spot was not measured around.
    own_mean: Option<f64>,
    /// The coldest other spot's mean at each hour of day; infinite where none is known.
    coldest: [f64; 24],
}

struct Neighbour {
    /// Own minus neighbour at each hour of day: mean and twice the standard deviation; none where they were seldom known together.
    difference: [Option<(f64, f64)>; 24],
}

fn fill_hole(
    record: &SpotRecord,
    others: &[&SpotRecord],
    (start, end): (i64, i64),
    now_us: i64,
    known: &mut Option<(Ends, Around)>,
    guesses: &mut Vec<Step>,
) {
    let (before, after) = record.hole_around(start);
    let first_slot = start.div_euclid(SLOT_US);
    let count = ((end - 1).div_euclid(SLOT_US) - first_slot + 1).max(0) as usize;
    let there: Vec<Vec<Option<f64>>> =
        others.iter().map(|other| other.sampled(first_slot * SLOT_US, SLOT_US, count, 0.0)).collect();
    let mut from_us = start;
    while from_us < end {
        let slot = from_us.div_euclid(SLOT_US);
        // Hours are judged as wholes, so that it makes no difference which part of one is asked about.
        let (slot_us, until_us) = (slot * SLOT_US, end.min((slot + 1) * SLOT_US));
        let ends =
            (before.filter(|before| slot_us - before <= REMEMBERED_US), after.filter(|after| after - slot_us <= REMEMBERED_US));
        let near =
            ends.0.is_some_and(|before| slot_us - before <= AROUND_US) || ends.1.is_some_and(|after| after - slot_us <= AROUND_US);
        if known.as_ref().is_none_or(|(of, _)| *of != ends) {
            *known = Some((ends, Around::new(record, others, ends, now_us)));
        }
        let at = (slot - first_slot) as usize;
        let guess = known.as_ref().and_then(|(_, around)| around.guess(slot, near, &there, at));
        if let Some((celsius, guess)) = guess {
            guesses.push(Step { from_us, until_us, celsius, share: 1.0, guess: Some(guess) });
        }
        from_us = until_us;
    }
}

/// Temperatures by slot, from the slot of this number on.
type Week = (i64, Vec<Option<f64>>);

impl Around {
    fn new(record: &SpotRecord, others: &[&SpotRecord], ends: Ends, now_us: i64) -> Self {
        // Of a week that is not over, whole days: else every new reading would change what is guessed, and with it the fit. Where there
        // is nothing else to go by, all that there is.
        let whole_days = now_us.div_euclid(DAY_US) * DAY_US;
        let week_after = |after: i64| {
            let until_us = (after + AROUND_US).min(whole_days);
            if until_us > after || ends.0.is_some() { (after, until_us) } else { (after, after + AROUND_US) }
        };
        let week_before = ends.0.map(|before| (before - AROUND_US, before));
        let weeks: Vec<(i64, i64)> =
            [week_before, ends.1.map(week_after)].into_iter().flatten().filter(|(from_us, until_us)| from_us < until_us).collect();
        let sample = |record: &SpotRecord| -> Vec<Week> {
            let week = |&(from_us, until_us): &(i64, i64)| {
                let first = from_us.div_euclid(SLOT_US);
                let count = (until_us.div_euclid(SLOT_US) - first + 1) as usize;
                (first, record.sampled(first * SLOT_US, SLOT_US, count, 0.0))
            };
            weeks.iter().map(week).collect()
        };
        let own = sample(record);
        let sampled: Vec<Vec<Week>> = others.iter().map(|other| sample(other)).collect();
        let coldest = std::array::from_fn(|hour| {
            let means = sampled.iter().map(|weeks| near_hour(hour, weeks)).filter(|values| !values.is_empty());
            means.map(|values| mean_of(&values)).fold(f64::INFINITY, f64::min)
        });
        let apart = |other: &Vec<Week>| -> Vec<Week> {
            let week = |((first, own), (_, other)): (&Week, &Week)| {
                (*first, own.iter().zip(other).map(|(own, other)| Some((*own)? - (*other)?)).collect())
            };
            own.iter().zip(other).map(week).collect()
        };
        let others = sampled
            .iter()
            .map(|other| {
                let apart = apart(other);
                let difference = std::array::from_fn(|hour| {
                    let apart = near_hour(hour, &apart);
                    (apart.len() >= ENOUGH).then(|| (mean_of(&apart), 2.0 * standard_deviation_of(&apart)))
                });
                Neighbour { difference }
            })
            .collect();
        let known: Vec<f64> = own.iter().flat_map(|(_, week)| week).flatten().copied().collect();
        let own_mean = (!known.is_empty()).then(|| mean_of(&known));
        Self { others, own: std::array::from_fn(|hour| near_hour(hour, &own)), own_mean, coldest }
    }

    /// The guess for a slot, `at` among the other spots' temperatures `there`; `near`: the spot's own readings are within a week.
    fn guess(&self, slot: i64, near: bool, there: &[Vec<Option<f64>>], at: usize) -> Option<(f64, Guess)> {
        let hour = slot.rem_euclid(24) as usize;
        let by_neighbour = self.others.iter().zip(there).filter_map(|(other, there)| {
            let (difference, bound) = other.difference[hour]?;
            Some((there[at]? + difference, bound))
        });
        if let Some((celsius, bound)) = by_neighbour.min_by(|a, b| a.1.total_cmp(&b.1)) {
            let bound = bound.max(LEAST_BOUND_C);
            return Some((celsius, Guess { below_c: bound, above_c: bound }));
        }
        let own = &self.own[hour];
        if !near {
            return None;
        }
        let (celsius, bound) = if own.is_empty() {
            (self.own_mean?, UNSEEN_HOUR_BOUND_C)
        } else {
            (mean_of(own), (2.0 * standard_deviation_of(own)).max(LEAST_BOUND_C))
        };
        let coldest = self.coldest[hour];
        let nothing_measured = there.iter().all(|celsius| celsius[at].is_none());
        let below_c = if nothing_measured && coldest.is_finite() { bound.max(celsius - coldest) } else { bound };
        Some((celsius, Guess { below_c, above_c: bound }))
    }
}

/// The values at slots within one hour of an hour of day.
fn near_hour(hour: usize, weeks: &[Week]) -> Vec<f64> {
    let near = |(first_slot, values): &Week| -> Vec<f64> {
        let first = (first_slot.rem_euclid(24) as usize + 24 - hour) % 24;
        values
            .iter()
            .enumerate()
            .filter(|(at, _)| matches!((first + at) % 24, 0 | 1 | 23))
            .filter_map(|(_, value)| *value)
            .collect()
    };
    weeks.iter().flat_map(near).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::thermal::{Bridge, ProbeSeries};

    const HOUR: i64 = MICROS_PER_HOUR;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    /// A day shape around 20 °C with a day-to-day wander shared by both spots.
    fn weather(hour: i64) -> f64 {
        let day = hour.div_euclid(24) as f64;
        20.0 + 3.0 * (std::f64::consts::TAU * (hour % 24) as f64 / 24.0).sin() + 2.0 * (day * 1.7).sin()
    }

    fn spot(offset: f64, silent: std::ops::Range<i64>) -> SpotRecord {
        let points = (0..24 * 15).filter(|hour| !silent.contains(hour)).map(|hour| (hour * HOUR, weather(hour) + offset)).collect();
        SpotRecord::measured(&[ProbeSeries { points, from_us: 0, until_us: 24 * 15 * HOUR }], Bridge::default())
    }

    fn mat_filled(records: &BTreeMap<Name, SpotRecord>, wanted: &BTreeMap<Name, Vec<(i64, i64)>>) -> SpotRecord {
        let mat = name("mat");
        records[&mat].clone().with(fill_gaps(records, BTreeMap::new(), wanted, 24 * 60 * HOUR).remove(&mat).unwrap())
    }

    fn filled(other_silent: std::ops::Range<i64>) -> SpotRecord {
        let records = BTreeMap::from([(name("mat"), spot(5.0, 150..190)), (name("shelf"), spot(0.0, other_silent))]);
        let wanted = BTreeMap::from([(name("mat"), vec![(0, 24 * 15 * HOUR)])]);
        mat_filled(&records, &wanted)
    }

    #[test]
    fn a_hole_takes_the_neighbours_temperature_plus_the_usual_difference() {
        let record = filled(0..0);
        assert!(record.holes(0, 24 * 15 * HOUR).is_empty());
        let truth = (152..188).map(|hour| weather(hour) + 5.0);
        for (hour, (guessed, truth)) in record.sampled(152 * HOUR, HOUR, 36, 0.0).into_iter().zip(truth).enumerate() {
            assert!((guessed.unwrap() - truth).abs() < 0.7, "hour {hour}: {guessed:?} against {truth}");
        }
        let stretch = record.stretch(150 * HOUR, 190 * HOUR);
        assert!(stretch.guessed.duration() > 1.5 && stretch.unknown_days == 0.0);
    }

    #[test]
    fn when_all_probes_stop_the_guess_reaches_down_to_the_coldest_spot() {
        let record = filled(150..190);
        let guesses: Vec<Guess> = record.within(160 * HOUR, 180 * HOUR).filter_map(|step| step.guess).collect();
        assert!(!guesses.is_empty() && guesses.iter().all(|guess| guess.below_c >= 4.0), "{guesses:?}");
    }

    /// The first hours of a new probe: the time since sowing can be guessed, unsurely.
    #[test]
    fn an_hour_of_day_never_measured_takes_the_mean_with_wide_bounds() {
        let points = (24..28).map(|hour| (hour * HOUR, 18.0)).collect();
        let series = ProbeSeries { points, from_us: 0, until_us: 30 * HOUR };
        let records = BTreeMap::from([(name("mat"), SpotRecord::measured(&[series], Bridge::default()))]);
        let filled = mat_filled(&records, &BTreeMap::from([(name("mat"), vec![(0, 28 * HOUR)])]));
        assert!(filled.holes(0, 28 * HOUR).is_empty());
        let noon = filled.within(12 * HOUR, 13 * HOUR).next().unwrap();
        assert_eq!((noon.celsius, noon.guess), (18.0, Some(Guess { below_c: 4.0, above_c: 4.0 })));
    }

    #[test]
    fn a_hole_far_from_anything_measured_stays_a_hole() {
        let records = BTreeMap::from([(name("mat"), spot(0.0, 0..0))]);
        let wanted = BTreeMap::from([(name("mat"), vec![(0, 24 * 60 * HOUR)])]);
        let record = mat_filled(&records, &wanted);
        assert!(record.holes(24 * 30 * HOUR, 24 * 60 * HOUR) == [(24 * 30 * HOUR, 24 * 60 * HOUR)], "a month away");
    }
}
