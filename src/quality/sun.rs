//! A probe that the sun itself strikes: known by its timing and by falling faster than a box of damp paper can.
//!
//! A bare probe holds almost no heat: a sensor of a few grams in still air follows in some 2 to 8 minutes (0.2 to 3.5 J/°C over
//! 0.0015 to 0.007 W/°C, worked out for a bare case and a steel sleeve). A box whose 50 g of damp paper (209 J/°C) lose 0.1 W/°C through lid
//! and floor follows in about 35 minutes, a sill or a mat with boxes on it slower still. So when a shadow comes over a probe its excess is gone before
//! a box could have lost half of it: what it showed was the sun on the sensor, and no temperature of seeds.
//!
//! What else comes and goes, and why it is not taken for the sun:
//! - A mat on a thermostat also comes by night; one on a timer comes every day, dull or not, and what stands on it cools slowly.
//! - A sill that the sun warms rises over hours and cools as a box does.
//! - Lids and doors opened, draughts, air under glass as clouds pass: at no fixed time of day. (Out of doors whatever stands there warms that
//!   fast; whoever knows that a probe stood there does not ask either.)
//! - A grow lamp shines for longer than three hours, and every day.
//! - A fridge has no sun: whoever knows that a probe stood in one does not ask.
//!
//! What is not told: a bare probe on a thin mat that is switched on by hand about the same hour on some days, by day, for less than
//! three hours, looks the same. And where every day is as sunny as the next nothing tells the sun from a timer: there the strike is only asked about.
//!
//! Times of day are compared in UTC, since the sun does not put its clock forward; within five days it shifts by some minutes only.
//! All of this looks no farther than [`SUN_REACH_US`], so that readings long past keep their flags.

use std::collections::{BTreeSet, VecDeque};

use super::{Flag, Thresholds};
use crate::bench::Reading;
use crate::civil::{Zone, local_hour, time_from_micros};
use crate::units::{MICROS_PER_HOUR, MICROS_PER_SECOND};

const MINUTE_US: i64 = 60 * MICROS_PER_SECOND;
const DAY_US: i64 = 24 * MICROS_PER_HOUR;

/// Whatever stands out of what is around it for less than this is looked at: longer than any spike with both its feet.
const AROUND_US: i64 = 4 * MICROS_PER_HOUR;
/// A spike's feet, °C above what is around it: well beyond a sensor's noise.
const FOOT_C: f64 = 1.0;
/// It stands above half of its height for at least this: a hand at the morning's look is gone by then.
const SHORTEST_US: i64 = 10 * MINUTE_US;
/// And for no longer than this: beyond it a box would have come along most of the way.
const LONGEST_US: i64 = 3 * MICROS_PER_HOUR;
/// Faster than with this time constant nothing but a bare probe rises or falls: between the 8 minutes of the slowest probe and the 30 of a small box.
const BARE_TAU_US: i64 = 12 * MINUTE_US;
/// Rise and fall are judged over steps of this length: long enough to be clear of noise, short beside a box's time constant.
const STEP_US: (i64, i64) = (8 * MINUTE_US, 20 * MINUTE_US);
/// Of an excess below this share of the height nothing is concluded: what is around is not known that well.
const REST: f64 = 0.15;
/// Hours of the local clock between which the sun may shine into a room; it is up for longer only where summers have no night.
const LIGHT_H: (f64, f64) = (5.0, 21.0);
/// So many days before and after are asked for the same.
const DAYS: i64 = 5;
/// It begins or ends within this of the same time of day: window frames stand still, and five days shift the sun by about ten minutes.
const SAME_TIME_US: i64 = 25 * MINUTE_US;
/// On as many other days at least it came at that time.
const OTHER_DAYS: usize = 2;
/// On more where anything stood out at other times too, and on no fewer than how often that was: clouds over air under glass
/// are at no fixed time, and a probe between two panes is struck twice a day at most.
const OTHER_DAYS_AMONG_MORE: usize = 3;
/// A dull day is one on which nothing stood out at that time by more than this share.
const DULL: f64 = 0.5;
/// Heights that differ by less than this factor from day to day may come from a switch.
const UNLIKE: f64 = 1.25;

/// Strikes found from readings that begin and end this much farther out, in microseconds, are those of the whole series.
pub const SUN_REACH_US: i64 = (DAYS + 1) * DAY_US;

/// One time that a probe stood in the sun.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SunStrike {
    /// Its first reading, in microseconds.
    pub from_us: i64,
    /// Its last one.
    pub until_us: i64,
    /// The highest one.
    pub peak_us: i64,
    /// How far that stands above what is around it, °C.
    pub above_c: f64,
}

impl SunStrike {
    /// Whether an instant lies within it.
    #[must_use]
    pub fn covers(&self, time_us: i64) -> bool {
        (self.from_us..=self.until_us).contains(&time_us)
    }
}

/// What the sun did to a probe.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SunStruck {
    /// Strikes whose readings are suspect, in order.
    pub struck: Vec<SunStrike>,
    /// What looks the same but for the want of a dull day: to be asked about only.
    pub asked: Vec<SunStrike>,
}

/// Makes suspect what a probe showed while the sun stood on it: a pure function of its own series, and of where that cannot be told (`untold`).
pub fn flag_sun_struck(
    readings: &[Reading],
    flags: &mut [Flag],
    thresholds: &Thresholds,
    zone: Zone,
    untold: impl Fn(&SunStrike) -> bool,
) -> SunStruck {
    let usable = readings.iter().zip(flags.iter()).filter(|(_, flag)| flag.usable());
    let points: Vec<(i64, f64)> = usable.filter_map(|(reading, _)| Some((reading.time_us, reading.raw_c()?))).collect();
    let mut found = sun_struck(&points, thresholds.sun_c, zone);
    found.struck.retain(|strike| !untold(strike));
    found.asked.retain(|strike| !untold(strike));
    for strike in &found.struck {
        let from = readings.partition_point(|reading| reading.time_us < strike.from_us);
        let until = readings.partition_point(|reading| reading.time_us <= strike.until_us);
        for flag in flags.get_mut(from..until).into_iter().flatten().filter(|flag| flag.usable()) {
            *flag = flag.rolled_up_with(Flag::Suspect);
        }
    }
    found
}

/// Where points (microseconds and °C, in order of time) stand out by more than `least_c` as only the sun on the sensor makes them.
#[must_use]
pub fn sun_struck(points: &[(i64, f64)], least_c: f64, zone: Zone) -> SunStruck {
    let spikes = spikes(points, least_c);
    let mut found = SunStruck::default();
    for (at, spike) in spikes.iter().enumerate().filter(|(_, spike)| spike.bare && by_day(spike, zone)) {
        let reach = DAYS * DAY_US + DAY_US / 2;
        let first = spikes[..at].partition_point(|other| other.peak_us < spike.peak_us - reach);
        let near = spikes[first..].iter().take_while(|other| other.peak_us <= spike.peak_us + reach);
        let (mut same, mut elsewhere) = (BTreeSet::new(), 0);
        let (mut lowest_c, mut highest_c, mut night) = (spike.above_c, spike.above_c, false);
        for other in near {
            night |= !by_day(other, zone);
            let day = (other.peak_us - spike.peak_us + DAY_US / 2).div_euclid(DAY_US);
            let close = |one: i64, two: i64| (two - one - day * DAY_US).abs() <= SAME_TIME_US;
            if close(spike.half_from_us, other.half_from_us) || close(spike.half_until_us, other.half_until_us) {
                same.insert(day);
                (lowest_c, highest_c) = (lowest_c.min(other.above_c), highest_c.max(other.above_c));
            } else {
                elsewhere += 1;
            }
        }
        same.remove(&0);
        let wanted = if elsewhere == 0 { OTHER_DAYS } else { OTHER_DAYS_AMONG_MORE.max(elsewhere) };
        if night || same.len() < wanted {
            continue;
        }
        let strike = SunStrike { from_us: spike.from_us, until_us: spike.until_us, peak_us: spike.peak_us, above_c: spike.above_c };
        if (-DAYS..=DAYS).filter(|day| *day != 0 && !same.contains(day)).any(|day| dull(points, spike, day)) {
            found.struck.push(strike);
        } else if highest_c >= UNLIKE * lowest_c {
            found.asked.push(strike);
        }
    }
    found
}

/// Something that stands out for less than a few hours.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Spike {
    from_us: i64,
    until_us: i64,
    /// The first and the last reading above half of its height.
    half_from_us: i64,
    half_until_us: i64,
    peak_us: i64,
    above_c: f64,
    /// Of a length, a rise and a fall as only a bare probe has.
    bare: bool,
}

fn by_day(spike: &Spike, zone: Zone) -> bool {
    time_from_micros(spike.peak_us).is_some_and(|time| (LIGHT_H.0..LIGHT_H.1).contains(&local_hour(time, zone)))
}

/// Whether the probe was read so many days later at that time of day, and nothing much stood out.
fn dull(points: &[(i64, f64)], spike: &Spike, day: i64) -> bool {
    let (from_us, until_us) = (spike.half_from_us + day * DAY_US, spike.half_until_us + day * DAY_US);
    let read = |from_us: i64, until_us: i64| {
        points.partition_point(|point| point.0 <= until_us) - points.partition_point(|point| point.0 < from_us)
    };
    if 2 * read(from_us, until_us) < read(spike.half_from_us, spike.half_until_us) {
        return false;
    }
    let (from_us, until_us) = (from_us - SAME_TIME_US, until_us + SAME_TIME_US);
    standing_out(points, from_us, until_us).iter().all(|(_, above_c)| *above_c < DULL * spike.above_c)
}

/// All that stands out by more than `least_c`, in order.
fn spikes(points: &[(i64, f64)], least_c: f64) -> Vec<Spike> {
    let mut found: Vec<Spike> = Vec::new();
    for (from_us, until_us) in worth_a_look(points, least_c) {
        let above = standing_out(points, from_us, until_us);
        for run in above.chunk_by(|one, two| (one.1 >= FOOT_C) == (two.1 >= FOOT_C)) {
            found.extend(spike(run, &above, least_c));
        }
    }
    found
}

/// Blocks of two hours whose highest value lies `least_c` above something in the four hours before as well as after it, with four
/// hours more to either side: nothing else can stand out so far. One pass, two comparisons a reading.
fn worth_a_look(points: &[(i64, f64)], least_c: f64) -> Vec<(i64, i64)> {
    const BLOCK_US: i64 = AROUND_US / 2;
    let mut blocks: Vec<(i64, f64, f64)> = Vec::new();
    for (time_us, celsius) in points {
        let block = time_us.div_euclid(BLOCK_US);
        match blocks.last_mut() {
            Some(last) if last.0 == block => (last.1, last.2) = (last.1.min(*celsius), last.2.max(*celsius)),
            _ => blocks.push((block, *celsius, *celsius)),
        }
    }
    let mut ranges: Vec<(i64, i64)> = Vec::new();
    for (at, (block, own_low, high)) in blocks.iter().enumerate() {
        let lowest = |part: &[(i64, f64, f64)]| {
            part.iter().filter(|other| other.0.abs_diff(*block) <= 2).map(|other| other.1).fold(*own_low, f64::min)
        };
        let (before, after) = (lowest(&blocks[at.saturating_sub(2)..at]), lowest(&blocks[at + 1..blocks.len().min(at + 3)]));
        if high - before.max(after) < least_c {
            continue;
        }
        let (from_us, until_us) = (block * BLOCK_US - AROUND_US, (block + 1) * BLOCK_US + AROUND_US);
        match ranges.last_mut() {
            Some(last) if from_us <= last.1 => last.1 = until_us,
            _ => ranges.push((from_us, until_us)),
        }
    }
    ranges
}

/// How far each point within a time stands above what is around it: its value less the morphological opening, which is the highest
/// level that some four hours around it never go below.
///
/// # Formula
/// ```text
/// e(t) = x(t) − max { min x over [s − 2 h, s + 2 h] : |s − t| ≤ 2 h, s a reading }      (°C)
/// ```
/// Serra 1982, "Image Analysis and Mathematical Morphology", chapter II, for opening and the top hat that is left (from memory).
fn standing_out(points: &[(i64, f64)], from_us: i64, until_us: i64) -> Vec<(i64, f64)> {
    let within = |from_us: i64, until_us: i64| {
        &points[points.partition_point(|point| point.0 < from_us)..points.partition_point(|point| point.0 <= until_us)]
    };
    let wide = within(from_us - AROUND_US, until_us + AROUND_US);
    let lowest = sliding(wide, |one, two| one <= two);
    let floor = sliding(&lowest, |one, two| one >= two);
    let above = wide.iter().zip(floor).map(|((time_us, celsius), (_, floor))| (*time_us, celsius - floor));
    above.filter(|(time_us, _)| (from_us..=until_us).contains(time_us)).collect()
}

/// The value that goes before all others within two hours of each point, in one pass: candidates stand in a queue in order of time, each
/// going before those after it.
fn sliding(points: &[(i64, f64)], before: impl Fn(f64, f64) -> bool) -> Vec<(i64, f64)> {
    const HALF_US: i64 = AROUND_US / 2;
    let mut queue: VecDeque<(i64, f64)> = VecDeque::new();
    let mut next = points.iter().peekable();
    let mut best = Vec::with_capacity(points.len());
    for (time_us, own) in points {
        while let Some((later_us, value)) = next.next_if(|point| point.0 <= time_us + HALF_US) {
            while queue.back().is_some_and(|last| before(*value, last.1)) {
                queue.pop_back();
            }
            queue.push_back((*later_us, *value));
        }
        while queue.front().is_some_and(|first| first.0 < time_us - HALF_US) {
            queue.pop_front();
        }
        best.push((*time_us, queue.front().map_or(*own, |first| first.1)));
    }
    best
}

/// A run of points above their feet as a spike; none where it is too low, or too long to be one.
fn spike(run: &[(i64, f64)], around: &[(i64, f64)], least_c: f64) -> Option<Spike> {
    let (first, last) = (run.first()?, run.last()?);
    let (peak_us, above_c) = run.iter().copied().reduce(|one, two| if two.1 > one.1 { two } else { one })?;
    if above_c < least_c || last.0 - first.0 > AROUND_US {
        return None;
    }
    let mut high = run.iter().filter(|point| point.1 >= above_c / 2.0);
    let half_from_us = high.next()?.0;
    let half_until_us = high.next_back().map_or(half_from_us, |point| point.0);
    let (shortest, longest) = (half_until_us - half_from_us >= SHORTEST_US, half_until_us - half_from_us <= LONGEST_US);
    let from = around.partition_point(|point| point.0 < first.0 - STEP_US.1);
    let whole = &around[from..around.partition_point(|point| point.0 <= last.0 + STEP_US.1)];
    let read_through = whole.windows(2).all(|pair| pair[1].0 - pair[0].0 <= STEP_US.1);
    let met = whole.first().is_some_and(|one| one.0 < first.0) && whole.last().is_some_and(|one| one.0 > last.0);
    let falls = || fast(whole, above_c, |above| above);
    let rises = || fast(whole, above_c, |above| above_c - above);
    let bare = shortest && longest && read_through && met && falls() && rises();
    Some(Spike { from_us: first.0, until_us: last.0, half_from_us, half_until_us, peak_us, above_c, bare })
}

/// Whether what is left to go, from half of the height on, shrinks in some step as with a time constant of a bare probe.
///
/// # Formula
/// ```text
/// ln(e(t) / max(e(t + d), 0.15 H)) ≥ d / τ       8 min ≤ d ≤ 20 min,  e(t) ≥ H / 2,  τ = 12 min
/// ```
fn fast(points: &[(i64, f64)], height_c: f64, left: impl Fn(f64) -> f64) -> bool {
    let mut first = 0;
    points.iter().enumerate().any(|(at, (time_us, above))| {
        let from = left(*above);
        while points.get(first).is_some_and(|later| later.0 < time_us + STEP_US.0) {
            first += 1;
        }
        let later = points[first.max(at)..].iter().take_while(|later| later.0 <= time_us + STEP_US.1);
        from >= height_c / 2.0
            && later.into_iter().any(|(later_us, above)| {
                let rest = left(*above).max(REST * height_c);
                (from / rest).ln() * BARE_TAU_US as f64 >= (later_us - time_us) as f64
            })
    })
}

#[cfg(test)]
mod tests;
