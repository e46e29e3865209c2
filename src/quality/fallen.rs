//! A probe that has fallen out of its box, told by how it moves beside one that reads the room's air.
//!
//! A box of damp paper follows the air with a time constant of half an hour to an hour, so heating that comes and goes, and draughts, hardly
//! reach a probe in it, while a day's wave does, unless box or bag is a large one. Out of the box a probe moves as the air does. What is
//! compared is therefore the unrest of nights (from one twenty minutes to the next, when no sun shines and nobody looks), against any probe in the
//! room's air; and the swing of whole days, only against one at the same spot, since the sun makes a sill swing more than a shelf in one week
//! and not in the next. A mat's own thermostat makes unrest too, but not at the same minutes as the air: so the two have to move together.
//! Whether a probe has fallen out or box and probe were carried elsewhere looks the same from here, so that is asked.

use std::collections::BTreeMap;

use crate::civil::{Zone, local_date, local_hour, time_from_micros};
use crate::stats::{median_of, quantile_of};
use crate::units::{MICROS_PER_HOUR, MICROS_PER_SECOND};
use chrono::{Datelike, Duration};

const BIN_US: i64 = 1200 * MICROS_PER_SECOND;
/// From this local hour on, to this one, it is night: no sun, and nobody opens a lid.
const NIGHT_H: (f64, f64) = (22.0, 6.0);
/// A night counts with as many bends of both: four hours' worth.
const LEAST_BENDS: usize = 12;
/// And with so much unrest of the air, °C: more than a sensor's step of a sixteenth, or nothing is seen of it in a box either.
const LEAST_UNREST_C: f64 = 0.08;
/// Unrest below this is the sensor's own, °C.
const NOISE_C: f64 = 0.02;
/// Bends larger than this share of a night's are left out: a door, a hand.
const MOST_OF: f64 = 0.9;
/// A day counts with as many hours of both, and with as large a swing of the air, °C.
const LEAST_HOURS: usize = 20;
const LEAST_SWING_C: f64 = 2.0;
/// As many days tell how it was.
const DAYS_BEFORE: usize = 7;
/// As many, the last ones, tell how it is.
const DAYS_SINCE: usize = 3;
/// How it was is looked for in no more than so many days.
const DAYS_LOOKED_AT: usize = 60;
/// Its unrest beside the air's has to have grown by this factor, its swing by that.
const UNREST_GREW: f64 = 2.0;
const SWING_GREW: f64 = 1.5;
/// And then to be the air's own within this factor.
const UNREST_AS_AIR: f64 = 1.6;
const SWING_AS_AIR: f64 = 1.33;
/// How closely its bends follow the air's then (a correlation).
const TOGETHER: f64 = 0.5;

/// Since when a probe moves as the air does, and how.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct FallenOut {
    /// An instant of the first day, in microseconds.
    pub since_us: i64,
    /// How many times as much as before it moves beside the air.
    pub times: f64,
}

/// Whether a probe moves as the air does since some day, up to the last one, and did not before. Points are microseconds and °C in
/// order of time, `own` of a probe said to be in a box, `air` of one in the air of that room; `one_spot`: both at one spot.
#[must_use]
pub fn fallen_out(own: &[(i64, f64)], air: &[(i64, f64)], one_spot: bool, zone: Zone) -> Option<FallenOut> {
    by_unrest(own, air, zone).or_else(|| if one_spot { by_swing(own, air, zone) } else { None })
}

/// One day's ratio of a probe's movement to the air's.
#[derive(Debug, Clone, Copy)]
struct Day {
    time_us: i64,
    ln_ratio: f64,
}

fn by_unrest(own: &[(i64, f64)], air: &[(i64, f64)], zone: Zone) -> Option<FallenOut> {
    let mut nights: BTreeMap<i32, (i64, Vec<(f64, f64)>)> = BTreeMap::new();
    let (own, air) = (bends(own), bends(air));
    for (bin, own_c) in &own {
        if let Ok(at) = air.binary_search_by_key(bin, |bend| bend.0)
            && let Some(night) = night_of(bin * BIN_US, zone)
        {
            nights.entry(night).or_insert((bin * BIN_US, Vec::new())).1.push((*own_c, air[at].1));
        }
    }
    let nights: Vec<(Day, Vec<(f64, f64)>)> = nights
        .into_values()
        .filter(|(_, bends)| bends.len() >= LEAST_BENDS)
        .filter_map(|(time_us, bends)| {
            let own_c = unrest(bends.iter().map(|both| both.0)).max(NOISE_C);
            let air_c = unrest(bends.iter().map(|both| both.1));
            (air_c >= LEAST_UNREST_C).then(|| (Day { time_us, ln_ratio: (own_c / air_c).ln() }, bends))
        })
        .collect();
    let days: Vec<Day> = nights.iter().map(|(day, _)| *day).collect();
    let found = step(&days, UNREST_GREW, UNREST_AS_AIR)?;
    let since = nights.iter().filter(|(day, _)| day.time_us >= found.since_us).flat_map(|(_, bends)| bends);
    (together(since) >= TOGETHER).then_some(found)
}

fn by_swing(own: &[(i64, f64)], air: &[(i64, f64)], zone: Zone) -> Option<FallenOut> {
    let (own, air) = (binned(own, MICROS_PER_HOUR), binned(air, MICROS_PER_HOUR));
    let mut days: BTreeMap<i32, (i64, Vec<f64>, Vec<f64>)> = BTreeMap::new();
    for (hour, own_c) in &own {
        if let Ok(at) = air.binary_search_by_key(hour, |other| other.0)
            && let Some(time) = time_from_micros(hour * MICROS_PER_HOUR)
        {
            let day = days.entry(local_date(time, zone).num_days_from_ce());
            let day = day.or_insert((hour * MICROS_PER_HOUR, Vec::new(), Vec::new()));
            day.1.push(*own_c);
            day.2.push(air[at].1);
        }
    }
    let days: Vec<Day> = days
        .into_values()
        .filter(|(_, own, _)| own.len() >= LEAST_HOURS)
        .map(|(time_us, own, air)| (time_us, swing(own), swing(air)))
        .filter(|(_, _, air_c)| *air_c >= LEAST_SWING_C)
        .map(|(time_us, own_c, air_c)| Day { time_us, ln_ratio: (own_c.max(NOISE_C) / air_c).ln() })
        .collect();
    step(&days, SWING_GREW, SWING_AS_AIR)
}

/// The parting of days that leaves the least variance within its two parts, where it is a step that lasts to the last day.
fn step(days: &[Day], grew: f64, as_air: f64) -> Option<FallenOut> {
    let days = &days[days.len().saturating_sub(DAYS_LOOKED_AT)..];
    let ratios = |days: &[Day]| -> Vec<f64> { days.iter().map(|day| day.ln_ratio).collect() };
    let mean = |days: &[Day]| days.iter().map(|day| day.ln_ratio).sum::<f64>() / days.len().max(1) as f64;
    let apart = |at: usize| {
        let (before, since) = days.split_at(at);
        (before.len() * since.len()) as f64 * (mean(since) - mean(before)).max(0.0).powi(2)
    };
    let last = days.len().checked_sub(DAYS_SINCE)?;
    let at = (DAYS_BEFORE..=last).max_by(|one, two| apart(*one).total_cmp(&apart(*two)))?;
    let (mut before, since) = (ratios(&days[..at]), ratios(&days[at..]));
    before.sort_by(f64::total_cmp);
    let lowest_since = since.iter().copied().fold(f64::INFINITY, f64::min);
    let (was, is) = (median_of(&before), median_of(&since));
    let clear = lowest_since > quantile_of(&before, 0.9) && is - was >= grew.ln() && is.abs() <= as_air.ln();
    clear.then(|| FallenOut { since_us: days[at].time_us, times: (is - was).exp() })
}

/// Means over bins of a length, in order.
fn binned(points: &[(i64, f64)], bin_us: i64) -> Vec<(i64, f64)> {
    let bins = points.chunk_by(|one, two| one.0.div_euclid(bin_us) == two.0.div_euclid(bin_us));
    let mean = |within: &[(i64, f64)]| within.iter().map(|point| point.1).sum::<f64>() / within.len() as f64;
    bins.map(|within| (within[0].0.div_euclid(bin_us), mean(within))).collect()
}

/// By how much the middle one of three bins in a row lies off the other two, °C: slow waves hardly bend.
fn bends(points: &[(i64, f64)]) -> Vec<(i64, f64)> {
    let bins = binned(points, BIN_US);
    let in_a_row = bins.windows(3).filter(|three| three[2].0 - three[0].0 == 2);
    in_a_row.map(|three| (three[1].0, three[1].1 - f64::midpoint(three[0].1, three[2].1))).collect()
}

/// The night that an instant belongs to, by the date on which it began.
fn night_of(time_us: i64, zone: Zone) -> Option<i32> {
    let time = time_from_micros(time_us)?;
    let hour = local_hour(time, zone);
    let night = hour >= NIGHT_H.0 || hour < NIGHT_H.1;
    night.then(|| local_date(time - Duration::hours(12), zone).num_days_from_ce())
}

/// Root of the mean square of all but the largest bends, °C.
fn unrest(bends: impl Iterator<Item = f64>) -> f64 {
    let mut squares: Vec<f64> = bends.map(|bend| bend * bend).collect();
    squares.sort_by(f64::total_cmp);
    squares.truncate((squares.len() as f64 * MOST_OF).ceil() as usize);
    (squares.iter().sum::<f64>() / squares.len().max(1) as f64).sqrt()
}

/// 95 % less 5 % point, °C.
fn swing(mut hours: Vec<f64>) -> f64 {
    hours.sort_by(f64::total_cmp);
    quantile_of(&hours, 0.95) - quantile_of(&hours, 0.05)
}

/// The correlation of bends about 0.
fn together<'a>(bends: impl Iterator<Item = &'a (f64, f64)>) -> f64 {
    let (both, own, air) =
        bends.fold((0.0, 0.0, 0.0), |sums, (own, air)| (sums.0 + own * air, sums.1 + own * own, sums.2 + air * air));
    if own > 0.0 && air > 0.0 { both / (own * air).sqrt() } else { 0.0 }
}

#[cfg(test)]
mod tests;
