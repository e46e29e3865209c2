//! When the seeds of one box will sprout.

use super::course::Ahead;
use super::{Course, LEVELS, Outlook, Weather};
use crate::bench::Trial;
use crate::civil::{Time, time_from_micros};
use crate::germination::{Distribution, Evidence, Needs, Prior};
use crate::stats::{Dice, Spread, spread_of, whole_quantile_of};
use crate::thermal::Rate;
use crate::units::{MICROS_PER_DAY, MICROS_PER_HOUR};

/// Stands for an instant beyond the horizon.
const NEVER: i64 = i64::MAX;

/// One box as the forecast sees it.
#[derive(Debug, Clone, Copy)]
pub struct BoxCase<'a> {
    /// The box and its looks.
    pub trial: &'a Trial,
    /// Its looks with the warmth between them.
    pub evidence: &'a Evidence,
    /// Temperatures from the last look to now, every quarter of an hour, at the low end, the middle and the high end of guesses.
    pub since_look: &'a [Vec<Option<f64>>; 3],
    /// What may come at the spots where it will stand, one after the other; empty: nothing is known of one of them.
    pub coming: &'a [Coming<'a>],
    /// Standard uncertainty of a set temperature there, °C; 0 where it is measured: the fit was made with the same probe.
    pub level_sd_c: f64,
    /// The box has ended.
    pub ended: bool,
    /// Sound unsprouted seeds in it; the middle of what it can be where they were counted roughly; none: not counted.
    pub left: Option<u32>,
}

/// A spot where a box will stand.
#[derive(Debug, Clone, Copy)]
pub struct Coming<'a> {
    /// Until when, microseconds since 1970; none: as far as anything is planned, for good.
    pub until_us: Option<i64>,
    /// What may come there.
    pub outlook: &'a Outlook,
}

/// When one of a box's events falls.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct EventForecast {
    /// 10 % point; none: never, or later than the forecast reaches.
    pub p10: Option<Time>,
    /// Median.
    pub p50: Option<Time>,
    /// 90 % point.
    pub p90: Option<Time>,
    /// Chance that it falls within the days asked for; none where it cannot be told.
    pub chance: Option<f64>,
}

/// Something to know beside a box's forecast.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum BoxNote {
    /// Nothing is known of the temperatures it had or will have, and no probe stands there.
    NoTemperatures,
    /// A probe stands there, but has given nothing that can be used for part of the box's time.
    NoReadings,
    /// It stands in the cold, where this species makes no progress: dates count from the day it is taken out.
    InTheCold,
    /// Its seeds were not counted, so only what was seen can be said.
    SeedsNotCounted,
    /// Its seeds were counted roughly: the middle is taken.
    SeedsCountedRoughly,
    /// No sowing of this species has taught anything: all from what was assumed.
    AllAssumed {
        /// What was assumed.
        prior: Prior,
    },
    /// Its spot is colder or warmer than where the species' trials spent their time; the spot's mean, °C.
    OutsideKnownWarmth {
        /// Mean of the spot to come, °C.
        spot_c: f64,
    },
    /// Share of the warmth so far that was guessed.
    GuessedHours {
        /// 0 to 1.
        share: f64,
    },
}

/// The forecast of one box.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxForecast {
    /// First sprout.
    pub first: EventForecast,
    /// Half of those that will ever sprout.
    pub half: EventForecast,
    /// Nearly the last: 95 % of them.
    pub last: EventForecast,
    /// True counts at whole days from now on, at [`LEVELS`]; none where they cannot be told.
    pub by_date: Vec<(Time, Option<[u32; 7]>)>,
    /// Sprouts still to come within the days asked for, on average.
    pub more_expected: Option<f64>,
    /// Chance of any more within the days asked for.
    pub more_chance: Option<f64>,
    /// How many sprouts "half" is, at the median.
    pub half_count: Option<u32>,
    /// Share of the warmth so far that was guessed.
    pub imputed_share: Option<f64>,
    /// New sprouts by day from now on, for each draw: for adding boxes up.
    pub by_draw: Vec<Vec<u32>>,
    /// What to know beside it.
    pub notes: Vec<BoxNote>,
}

/// Forecasts one box over `days` days, one future per draw of `needs` and `weather`. Dates further than four times `days` (at
/// least 120 days) count as never.
#[must_use]
pub fn forecast_box(
    case: &BoxCase<'_>,
    family: Distribution,
    needs: &[Needs],
    weather: &[Weather],
    now: Time,
    days: usize,
    seed: u64,
) -> BoxForecast {
    let mut dice = Dice::new(seed);
    let now_us = now.timestamp_micros();
    let horizon = horizon_days(days);
    let sprouted = case.trial.sprouted();
    let told = case.ended || (case.left.is_some() && !case.coming.is_empty() && case.evidence.unknown_days() == 0.0);
    let mut times: Vec<Vec<i64>> = Vec::with_capacity(needs.len());
    if told {
        for (needs, weather) in needs.iter().zip(weather) {
            times.push(if case.ended {
                Vec::new()
            } else {
                sprout_times(case, family, needs, weather, now_us, horizon, &mut dice)
            });
        }
    }
    let end_us = now_us + (days as f64 * MICROS_PER_DAY) as i64;
    let event = |place: &dyn Fn(u32) -> u32| event_forecast(case.trial, &times, end_us, |more| place(sprouted + more));
    let seen_or = |told_forecast: EventForecast| if told { told_forecast } else { EventForecast::default() };
    let day_end = |day: usize| now_us + day as i64 * 24 * MICROS_PER_HOUR;
    let by_draw: Vec<Vec<u32>> = times
        .iter()
        .map(|times| (1..=days).map(|day| times.partition_point(|time| *time <= day_end(day)) as u32).collect())
        .collect();
    let by_date = (1..=days).filter_map(|day| {
        let mut counts: Vec<u32> = by_draw.iter().map(|draw| sprouted + draw[day - 1]).collect();
        counts.sort_unstable();
        let levels = told.then(|| LEVELS.map(|level| whole_quantile_of(&counts, level)));
        Some((time_from_micros(day_end(day))?, levels))
    });
    let by_date = by_date.collect();
    let more: Vec<u32> = by_draw.iter().map(|draw| draw.last().copied().unwrap_or(0)).collect();
    let draws = more.len().max(1) as f64;
    let first = if sprouted > 0 { seen(case.trial, 1) } else { seen_or(event(&|_| 1)) };
    BoxForecast {
        first,
        half: seen_or(event(&|all| all.div_ceil(2))),
        last: seen_or(event(&|all| (95 * all).div_ceil(100))),
        by_date,
        more_expected: told.then(|| more.iter().map(|more| f64::from(*more)).sum::<f64>() / draws),
        more_chance: told.then(|| more.iter().filter(|more| **more > 0).count() as f64 / draws),
        half_count: told.then(|| {
            let mut halves: Vec<u32> = times.iter().map(|times| (sprouted + times.len() as u32).div_ceil(2)).collect();
            halves.sort_unstable();
            whole_quantile_of(&halves, 0.5)
        }),
        imputed_share: imputed_share(case.evidence, needs),
        by_draw,
        notes: Vec::new(),
    }
}

/// How far ahead a future is worked out, in days.
fn horizon_days(days: usize) -> usize {
    (4 * days).clamp(120, 400)
}

/// When the remaining germinable seeds of one draw sprout, ascending; [`NEVER`] for those that do not within the horizon: they count
/// among "half of those that can".
fn sprout_times(
    case: &BoxCase<'_>,
    family: Distribution,
    needs: &Needs,
    weather: &Weather,
    now_us: i64,
    horizon: usize,
    dice: &mut Dice,
) -> Vec<i64> {
    let left = case.left.unwrap_or(0);
    let guess = 2.0 * dice.uniform() - 1.0;
    let shift = case.level_sd_c * dice.normal();
    let (before, reached) = (case.evidence.thermal_before(&needs.rate), case.evidence.thermal_times(&needs.rate));
    let own = needs;
    let gained = reached.last().copied().unwrap_or(before);
    let passed = (gained.ln() - own.ln_half) / own.spread;
    let share = if gained > 0.0 { family.share(passed) } else { 0.0 };
    let germinable = own.germinable * (1.0 - share) / (1.0 - own.germinable * share);
    let to_come = dice.binomial(left, germinable);
    if to_come == 0 {
        return Vec::new();
    }
    let coming: Vec<Ahead<'_>> = case
        .coming
        .iter()
        .map(|there| Ahead {
            until_us: there.until_us,
            outlook: there.outlook,
            hourly: there.outlook.hourly_gains(&needs.rate, shift),
        })
        .collect();
    let course = course_from_last_look(case, &needs.rate, shift, guess, now_us).then(&coming, weather, horizon);
    let from = if gained > 0.0 { passed } else { f64::NEG_INFINITY };
    let mut times: Vec<i64> = (0..to_come)
        .map(|_| {
            let required = (own.ln_half + own.spread * family.draw_above(from, dice)).exp();
            course.when((required - gained).max(0.0)).unwrap_or(NEVER)
        })
        .collect();
    times.sort_unstable();
    times
}

/// The course from the last look to now.
fn course_from_last_look(case: &BoxCase<'_>, rate: &Rate, shift: f64, guess: f64, now_us: i64) -> Course {
    let [low, middle, high] = case.since_look;
    let (end, reach) = if guess < 0.0 { (low, -guess) } else { (high, guess) };
    let samples: Vec<Option<f64>> =
        middle.iter().zip(end).map(|(middle, end)| middle.zip(*end).map(|(middle, end)| middle + reach * (end - middle))).collect();
    Course::through(&samples, case.trial.last_look().timestamp_micros(), now_us, rate, shift)
}

/// An event that was seen: the look at which the `nth` sprout was found.
fn seen(trial: &Trial, nth: u32) -> EventForecast {
    let time = seen_at(trial, nth);
    EventForecast { p10: time, p50: time, p90: time, chance: time.map(|_| 1.0) }
}

fn seen_at(trial: &Trial, nth: u32) -> Option<Time> {
    let mut count = 0;
    trial
        .checks
        .iter()
        .find(|check| {
            count += check.sprouted;
            count >= nth
        })
        .map(|check| check.time)
}

/// The event "sprout number `nth(more)`" over all draws, `more` being how many a draw still brings.
fn event_forecast(trial: &Trial, times: &[Vec<i64>], end_us: i64, nth: impl Fn(u32) -> u32) -> EventForecast {
    let sprouted = trial.sprouted();
    let mut in_time = 0;
    let at: Vec<f64> = times
        .iter()
        .map(|times| {
            let nth = nth(times.len() as u32);
            let time = match nth.checked_sub(sprouted) {
                _ if nth == 0 => None,
                None | Some(0) => seen_at(trial, nth).map(|time| time.timestamp_micros()),
                Some(place) => times.get(place as usize - 1).copied().filter(|time| *time != NEVER),
            };
            in_time += usize::from(time.is_some_and(|time| time <= end_us));
            time.map_or(f64::INFINITY, |time| time as f64)
        })
        .collect();
    let Spread { p10, p50, p90 } = spread_of(&at);
    let time = |micros: Option<f64>| micros.and_then(|micros| time_from_micros(micros as i64));
    let chance = (!at.is_empty()).then(|| in_time as f64 / at.len() as f64);
    EventForecast { p10: time(p10), p50: time(p50), p90: time(p90), chance }
}

/// Share of the warmth up to the last look that was guessed, at the middle draw; by hours where there was no warmth.
fn imputed_share(evidence: &Evidence, needs: &[Needs]) -> Option<f64> {
    let rate = needs.get(needs.len() / 2)?.rate;
    let sum = |part: &dyn Fn(&crate::thermal::Stretch) -> f64| -> f64 { evidence.stretches().map(part).sum() };
    let share = |guessed: f64, known: f64| if guessed + known > 0.0 { Some(guessed / (guessed + known)) } else { None };
    share(sum(&|s| s.guessed.gained(&rate, 0.0)), sum(&|s| s.known.gained(&rate, 0.0)))
        .or_else(|| share(sum(&|s| s.guessed.duration()), sum(&|s| s.known.duration())))
        .or(Some(0.0))
}
