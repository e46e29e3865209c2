//! When the seeds of one box will sprout.

use super::{Ahead, BoxNote, DrawnWeeks, LEVELS, PottingOn, SinceLook, Weeks};
use crate::bench::Trial;
use crate::civil::{Time, time_from_micros};
use crate::germination::{Distribution, Evidence, Needs};
use crate::stats::{Dice, Spread, spread_of, whole_quantile_of, whole_quantiles_of};
use crate::units::MICROS_PER_HOUR;

/// Dates further from now than four times the days asked for count as never; but 120 days are always, and 400 never exceeded.
#[must_use]
pub fn horizon_days(days: usize) -> usize {
    (4 * days).clamp(120, 400)
}

/// One box as the forecast sees it. What has one value a draw is in the order of the draws.
#[derive(Debug, Clone, Copy)]
pub struct BoxCase<'a> {
    /// The box and its looks.
    pub trial: &'a Trial,
    /// Its looks with the warmth between them.
    pub evidence: &'a Evidence,
    /// What its seeds need: this box's own needs given its looks, one a draw.
    pub needs: &'a [Needs],
    /// Thermal time by the last look at each draw's rate.
    pub gained: &'a [f64],
    /// Temperatures from the last look to now.
    pub since_look: &'a SinceLook,
    /// °C to add to them, one a draw.
    pub offsets: &'a [f64],
    /// The box has ended.
    pub ended: bool,
    /// Sound unsprouted seeds in it; the middle of what it can be where they were counted roughly; none: not counted.
    pub left: Option<u32>,
    /// How sprouts are potted on; none: nothing is on record of it.
    pub potting: Option<&'a PottingOn>,
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
    /// New sprouts from the last look up to each of these days, on average; empty where they cannot be told.
    pub expected: Vec<f64>,
    /// Sprouts still to come within the days asked for, on average.
    pub more_expected: Option<f64>,
    /// Chance of any more within the days asked for.
    pub more_chance: Option<f64>,
    /// How many sprouts "half" is, at the median.
    pub half_count: Option<u32>,
    /// Share of the warmth so far that was guessed.
    pub imputed_share: Option<f64>,
    /// New sprouts by week for each draw: for adding boxes up; none where they cannot be told.
    pub weekly: Option<DrawnWeeks>,
    /// What to know beside it.
    pub notes: Vec<BoxNote>,
}

/// The events of all draws, microseconds since 1970; infinite for never, or beyond the horizon.
#[derive(Default)]
struct Events {
    first: Vec<f64>,
    half: Vec<f64>,
    last: Vec<f64>,
    half_counts: Vec<u32>,
}

/// Forecasts one box over the days of `weeks`, one future per draw; `ahead` is what comes where it will stand, none where that is not
/// known. A box's draws depend on nothing but its own case, its path and the seed.
#[must_use]
pub fn forecast_box(
    case: &BoxCase<'_>,
    family: Distribution,
    ahead: Option<&mut Ahead<'_>>,
    weeks: &Weeks,
    now: Time,
    seed: u64,
) -> BoxForecast {
    let (days, sprouted) = (weeks.days(), case.trial.sprouted());
    let mut dice = Dice::new(seed);
    let mut events = Events::default();
    // New sprouts up to each day, day by day over all draws.
    let mut counts: Vec<Vec<u32>> = Vec::new();
    let told = case.ended || (case.left.is_some() && case.evidence.unknown_days() == 0.0 && ahead.is_some());
    match ahead.filter(|ahead| told && !case.ended && ahead.draws() > 0) {
        Some(ahead) => {
            counts = vec![vec![0; ahead.draws()]; days];
            let removed = case.trial.checks.iter().map(|check| check.removed).sum();
            for draw in 0..ahead.draws() {
                one_draw(case, family, ahead, draw, removed, &mut dice, &mut counts, &mut events);
            }
        }
        None if told => {
            counts = vec![vec![0]; days];
            events.settle(case.trial, 0, |_| f64::INFINITY);
        }
        None => {}
    }
    let draws = counts.first().map_or(0, Vec::len).max(1) as f64;
    let expected: Vec<f64> = counts.iter().map(|day| day.iter().map(|new| f64::from(*new)).sum::<f64>() / draws).collect();
    let end_us = (now.timestamp_micros() + days as i64 * 24 * MICROS_PER_HOUR) as f64;
    let by_date = (0..days).filter_map(|day| {
        let time = time_from_micros(now.timestamp_micros() + (day as i64 + 1) * 24 * MICROS_PER_HOUR)?;
        Some((time, counts.get(day).map(|new| whole_quantiles_of(new, LEVELS).map(|new| sprouted + new))))
    });
    let weekly = told.then(|| weeks.drawn(&counts, case.trial, case.potting.filter(|_| !case.ended), now, seed));
    events.half_counts.sort_unstable();
    BoxForecast {
        first: if sprouted > 0 { seen(case.trial, 1) } else { event_forecast(&events.first, end_us) },
        half: event_forecast(&events.half, end_us),
        last: event_forecast(&events.last, end_us),
        by_date: by_date.collect(),
        more_expected: told.then(|| expected.last().copied().unwrap_or(0.0)),
        more_chance: counts.last().map(|new| new.iter().filter(|new| **new > 0).count() as f64 / draws),
        half_count: told.then(|| whole_quantile_of(&events.half_counts, 0.5)),
        imputed_share: imputed_share(case.evidence, case.needs),
        weekly: weekly.flatten(),
        expected,
        notes: Vec::new(),
    }
}

/// One future: how many of the remaining seeds sprout and how much thermal time from the last look on each of them takes; the counts
/// by day, and the three events.
#[expect(clippy::too_many_arguments, reason = "one step of a loop, taken apart to be read")]
fn one_draw(
    case: &BoxCase<'_>,
    family: Distribution,
    ahead: &mut Ahead<'_>,
    draw: usize,
    removed: u32,
    dice: &mut Dice,
    counts: &mut [Vec<u32>],
    events: &mut Events,
) {
    let (needs, gained, offset) = (&case.needs[draw], case.gained[draw], case.offsets[draw]);
    let guess = 2.0 * dice.uniform() - 1.0;
    let passed = if gained > 0.0 { (gained.ln() - needs.ln_half) / needs.spread } else { f64::NEG_INFINITY };
    let share = if gained > 0.0 { family.share(passed) } else { 0.0 };
    let (left, sound) = (case.left.unwrap_or(0), needs.germinable * (1.0 - share));
    let mut required: Vec<f64> = if removed == 0 {
        // One uniform a seed says whether it can still sprout and, if so, where it stands among those that can.
        let germinable = sound / (1.0 - needs.germinable * share);
        (0..left).map(|_| dice.uniform() / germinable).filter(|place| *place < 1.0).collect()
    } else {
        (0..seeds_to_come(left, removed, sound, 1.0 - needs.germinable, dice)).map(|_| dice.uniform()).collect()
    };
    required.sort_unstable_by(f64::total_cmp);
    let to_come = required.len() as u32;
    for required in &mut required {
        let z = family.at_share(share + (1.0 - share) * *required).max(passed);
        *required = ((needs.ln_half + needs.spread * z).exp() - gained).max(0.0);
    }
    let unseen = case.since_look.gained(&needs.rate, offset, guess);
    let most = required.last().map_or(0.0, |most| most - unseen);
    let sums = ahead.by_day(draw, most);
    let mut up = 0;
    for (day, counts) in counts.iter_mut().enumerate() {
        // The course ends where all are up, or at the horizon, which is never before the last day asked for.
        let reached = sums.get(day + 1).map_or(f64::INFINITY, |sum| unseen + sum);
        while required.get(up).is_some_and(|required| *required <= reached) {
            up += 1;
        }
        counts[draw] = up as u32;
    }
    events.settle(case.trial, to_come, |place| match required.get(place) {
        Some(required) if *required <= unseen => case.since_look.when(*required, &needs.rate, offset, guess) as f64,
        Some(required) => ahead.when(draw, required - unseen).map_or(f64::INFINITY, |time| time as f64),
        None => f64::INFINITY,
    });
}

/// How many of the seeds left will sprout where some were removed, a seed having been to sprout later with chance `sound`, never with
/// chance `dead`.
///
/// # Formula
/// ```text
/// P(d of u left are dead) ∝ C(u, d) deadᵈ soundᵘ⁻ᵈ ∫ Mᵐ (1 − M)ᵈ dM
/// ```
/// Where seeds are taken out as they rot, an unknown share M of the dead ones has been found: those found no longer lie among the rest, so
/// that the rest is the better.
fn seeds_to_come(left: u32, removed: u32, sound: f64, dead: f64, dice: &mut Dice) -> u32 {
    let odds = dead / sound;
    let wanted = dice.uniform();
    if !odds.is_finite() {
        return 0;
    }
    let next = |weight: f64, dead: u32| weight * f64::from(left - dead) * odds / f64::from(removed + dead + 2);
    let weights: Vec<f64> = (0..left)
        .scan(1.0, |weight, dead| {
            let now = *weight;
            *weight = next(now, dead);
            Some(now)
        })
        .collect();
    let all = weights.last().map_or(1.0, |last| weights.iter().sum::<f64>() + next(*last, left - 1));
    let mut reached = 0.0;
    let dead = weights.iter().position(|weight| {
        reached += weight / all;
        wanted < reached
    });
    dead.map_or(0, |dead| left - dead as u32)
}

impl Events {
    /// Notes when the events of a draw fall that brings `more` sprouts, the `place`-th of them at `when(place)`.
    fn settle(&mut self, trial: &Trial, more: u32, mut when: impl FnMut(usize) -> f64) {
        let sprouted = trial.sprouted();
        let all = sprouted + more;
        let half = all.div_ceil(2);
        let mut time = |nth: u32| match nth.checked_sub(sprouted) {
            _ if nth == 0 => f64::INFINITY,
            None | Some(0) => seen_at(trial, nth).map_or(f64::INFINITY, |time| time.timestamp_micros() as f64),
            Some(place) => when(place as usize - 1),
        };
        self.half.push(time(half));
        self.last.push(time((95 * all).div_ceil(100)));
        if sprouted == 0 {
            self.first.push(if all > 0 { time(1) } else { f64::INFINITY });
        }
        self.half_counts.push(half);
    }
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

/// An event over all draws.
fn event_forecast(at: &[f64], end_us: f64) -> EventForecast {
    let Spread { p10, p50, p90 } = spread_of(at);
    let time = |micros: Option<f64>| micros.and_then(|micros| time_from_micros(micros as i64));
    let in_time = at.iter().filter(|time| **time <= end_us).count();
    let chance = (!at.is_empty()).then(|| in_time as f64 / at.len() as f64);
    EventForecast { p10: time(p10), p50: time(p50), p90: time(p90), chance }
}

/// Share of the warmth up to the last look that was guessed, at the middle draw; by hours where there was no warmth.
#[must_use]
pub fn imputed_share(evidence: &Evidence, needs: &[Needs]) -> Option<f64> {
    let rate = needs.get(needs.len() / 2)?.rate;
    let sum = |part: &dyn Fn(&crate::thermal::Stretch) -> f64| -> f64 { evidence.stretches().map(part).sum() };
    let share = |guessed: f64, known: f64| if guessed + known > 0.0 { Some(guessed / (guessed + known)) } else { None };
    share(sum(&|s| s.guessed.gained(&rate, 0.0)), sum(&|s| s.known.gained(&rate, 0.0)))
        .or_else(|| share(sum(&|s| s.guessed.duration()), sum(&|s| s.known.duration())))
        .or(Some(0.0))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container, Name};
    use crate::civil::Zone;
    use crate::forecast::{Coming, Outlook, Weather};
    use crate::germination::Passage;
    use crate::thermal::{Profile, Rate, Stretch};

    const DRAWS: usize = 2000;
    const RATE: Rate = Rate::Threshold { base: 10.0 };
    /// Half of the seeds that can sprout need 80 °C·d: 8 days at 20 °C.
    const NEEDS: Needs = Needs { rate: RATE, ln_half: 4.382_026_634_673_881, spread: 0.1, germinable: 0.8 };

    fn day(day: i64) -> Time {
        Time::UNIX_EPOCH + chrono::Duration::days(1000 + day)
    }

    /// A box of 20 seeds sown on day 0 at 20 °C, looked at on day 4 when so many were up, seen from `now` on.
    fn asked(up: u32, now: i64, seeds: u32, shared: Option<&mut Ahead<'_>>) -> BoxForecast {
        let name = |text: &str| Name::new(text).unwrap();
        let container =
            Container { seeds: Some(seeds), ..Container::new(name("A1"), name("b"), name("leek"), name("sill"), day(0)) };
        let look = Check { sprouted: up, ..Check::none_new(name("A1"), day(4)) };
        let trial = Trial { checks: vec![look], ..Trial::new(container) };
        let stretch = Stretch { known: Profile::new([(20.0, 4.0)]), ..Stretch::default() };
        let evidence = Evidence::new(&trial, Vec::new(), vec![vec![Passage::given(name("sill"), stretch)]]);
        let samples = vec![Some(20.0); 96 * (now as usize - 4)];
        let since_look =
            SinceLook::new(day(4).timestamp_micros(), day(now).timestamp_micros(), [samples.clone(), samples.clone(), samples]);
        let (needs, gained, offsets) = (vec![NEEDS; DRAWS], vec![40.0; DRAWS], vec![0.0; DRAWS]);
        let case = BoxCase {
            trial: &trial,
            evidence: &evidence,
            needs: &needs,
            gained: &gained,
            since_look: &since_look,
            offsets: &offsets,
            ended: false,
            left: trial.left(),
            potting: None,
        };
        let weeks = Weeks::of(day(now), 30, Zone::UTC);
        forecast_box(&case, Distribution::LogLogistic, shared, &weeks, day(now), 7)
    }

    fn with_path<T>(now: i64, ask: impl FnOnce(&mut Ahead<'_>) -> T) -> T {
        let outlook = Outlook::steady(20.0);
        let mut dice = Dice::new(1);
        let weather: Vec<Weather> = (0..DRAWS).map(|_| Weather::draw(&mut dice)).collect();
        let coming = [Coming { until_us: None, outlook: &outlook, offsets: vec![0.0; DRAWS], pace: vec![1.0; DRAWS] }];
        ask(&mut Ahead::new(&coming, &weather, vec![RATE; DRAWS], day(now).timestamp_micros(), 120))
    }

    /// Of 20 seeds 16 can sprout, half of them by day 8: by the formula of the requirement, nothing else.
    #[test]
    fn at_a_steady_temperature_dates_and_counts_are_those_of_the_formula() {
        let forecast = with_path(4, |ahead| asked(0, 4, 20, Some(ahead)));
        let share = |days: f64| 1.0 / (1.0 + (-((10.0 * days).ln() - NEEDS.ln_half) / 0.1).exp());
        let rest = |share_now: f64| 0.8 * (1.0 - share_now) / (1.0 - 0.8 * share_now);
        for ahead in [2, 4, 6] {
            let passed = (share(4.0 + ahead as f64) - share(4.0)) / (1.0 - share(4.0));
            let expected = 20.0 * rest(share(4.0)) * passed;
            let error = (expected / DRAWS as f64).sqrt();
            assert!((forecast.expected[ahead - 1] - expected).abs() < 4.0 * error, "{}: {expected}", forecast.expected[ahead - 1]);
        }
        let half = (forecast.half.p50.unwrap() - day(8)).num_minutes() as f64 / 1440.0;
        assert!(half.abs() < 0.15, "half of those that can are up on day 8: {half} days later");
        assert_eq!(forecast.half_count, Some(8));
        assert!(forecast.more_chance.unwrap() > 0.999 && (forecast.more_expected.unwrap() - 16.0).abs() < 0.2);
        let [p05, .., p95] = forecast.by_date[29].1.unwrap();
        assert_eq!((p05, p95), (13, 19), "5 and 95 % points of 20 seeds at 0.8 (binomial distribution)");
    }

    #[test]
    fn what_came_up_unseen_is_dated_before_now() {
        let forecast = with_path(9, |ahead| asked(0, 9, 20, Some(ahead)));
        let half = forecast.half.p50.unwrap();
        assert!(half < day(9) && (half - day(8)).num_hours().abs() < 5, "{half}");
        assert!(forecast.expected[0] > 10.0);
    }

    #[test]
    fn a_box_on_a_path_already_walked_is_forecast_as_on_its_own() {
        let alone = with_path(4, |ahead| asked(3, 4, 20, Some(ahead)));
        let after_others = with_path(4, |ahead| {
            let _ = (asked(0, 4, 90, Some(ahead)), asked(1, 4, 2, Some(ahead)));
            asked(3, 4, 20, Some(ahead))
        });
        assert_eq!(alone, after_others);
        assert_eq!(alone.first.p50, Some(day(4)), "seen at the look");
        let unknown = asked(3, 4, 20, None);
        assert_eq!((unknown.more_chance, unknown.by_date[0].1, unknown.weekly), (None, None, None));
    }

    /// Summed by hand: 3 left, 2 removed, as likely sound as dead: weights 1, 3/4, 3/4 · 2/5, 3/4 · 2/5 · 1/6 for 0 to 3 dead ones.
    #[test]
    fn seeds_found_rotten_no_longer_lie_among_the_rest() {
        let mut dice = Dice::new(3);
        let mut counts = [0u32; 4];
        (0..40_000).for_each(|_| counts[seeds_to_come(3, 2, 0.5, 0.5, &mut dice) as usize] += 1);
        let weights = [0.05, 0.3, 0.75, 1.0];
        let all: f64 = weights.iter().sum();
        for (count, weight) in counts.iter().zip(weights) {
            let share = weight / all;
            let error = (share * (1.0 - share) / 40_000.0).sqrt();
            assert!((f64::from(*count) / 40_000.0 - share).abs() < 4.0 * error, "{counts:?}");
        }
        assert_eq!(seeds_to_come(5, 1, 0.0, 0.3, &mut dice), 0);
        assert_eq!(seeds_to_come(5, 1, 0.7, 0.0, &mut dice), 5);
        assert_eq!(seeds_to_come(0, 1, 0.7, 0.3, &mut dice), 0);
    }
}
