//! Forecasts held against what came: how often their ranges held, and what they lost beside plainer ones.

use std::collections::BTreeMap;

use chrono::{Duration, NaiveDate};

use super::LEVELS;
use crate::bench::Name;
use crate::civil::Time;
use crate::stats::{whole_quantile_of, wilson};

/// A look speaks of a forecast time this near to it. Looks are mostly made at the same time of day as forecasts, and in a quarter of
/// a day little sprouts.
const NEAR_HOURS: i64 = 6;
/// "The forecast before" was made at least so much earlier: two of one morning are as good as one.
const EARLIER_HOURS: i64 = 12;
/// With fewer boxes than this nothing is said of how often ranges hold. Boxes are counted, not comparisons: what is forecast of one box
/// on many days is right or wrong together.
const ENOUGH_BOXES: usize = 5;
/// Two-sided level of the intervals of shares.
const LEVEL: f64 = 0.9;
/// The ranges that are watched: how often each is meant to hold, and its ends among [`LEVELS`].
const RANGES: [(f64, usize, usize); 3] = [(0.5, 2, 4), (0.8, 1, 5), (0.9, 0, 6)];
/// Days ahead that are told apart, each from the one before on.
const AHEAD: [usize; 4] = [3, 7, 14, 21];

/// A forecast of one container, as it was made.
#[derive(Debug, Clone, PartialEq)]
pub struct KeptForecast {
    /// The container.
    pub container: Name,
    /// As of when.
    pub as_of: Time,
    /// When it was made.
    pub made: Time,
    /// The local day that it is the first forecast of; none: kept because that was asked for.
    pub first_of: Option<NaiveDate>,
    /// The version of the program that made it.
    pub program: String,
    /// Digest of the fit's evidence and options, in hexadecimal.
    pub fit_key: Option<String>,
    /// What was asked for.
    pub options: String,
    /// Seeds in the container.
    pub seeds: Option<u32>,
    /// Sprouts seen by then.
    pub sprouted: u32,
    /// Counts at [`LEVELS`] after each 24 h.
    pub counts: Vec<[u32; 7]>,
}

/// One container's story, as far as it is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Story {
    /// The container.
    pub container: Name,
    /// What it was sown with: its kind of seed is that of other stories with the same words.
    pub kind: String,
    /// What it is watched with.
    pub batch: Name,
    /// When it was sown.
    pub sown: Time,
    /// From when its days count (from leaving the cold, if it was there); none: not yet.
    pub counted_from: Option<Time>,
    /// Seeds; none: not counted.
    pub seeds: Option<u32>,
    /// Looks with all the sprouts seen by then, in order.
    pub looks: Vec<(Time, u32)>,
}

/// A forecast held against one look.
#[derive(Debug, Clone, PartialEq)]
pub struct Comparison {
    /// The container.
    pub container: Name,
    /// Days ahead.
    pub ahead: usize,
    /// For the 50, 80 and 90 % ranges, whether the count lay within.
    pub held: [bool; 3],
    /// Loss.
    pub loss: f64,
    /// Loss of plain calendar days; none where the species had no earlier sowing.
    pub calendar_loss: Option<f64>,
    /// Loss of the forecast before; none where there was none.
    pub last_loss: Option<f64>,
}

/// How often a range held.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct RangeHeld {
    /// How often it is meant to, 0 to 1.
    pub meant: f64,
    /// How often it did.
    pub share: f64,
    /// Bounds of that, by the number of boxes; none where they are too few to say.
    pub bounds: Option<(f64, f64)>,
}

/// Mean losses over the same comparisons.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Against {
    /// How many.
    pub comparisons: usize,
    /// Of the forecasts.
    pub loss: f64,
    /// Of the other.
    pub other: f64,
}

/// How kept forecasts did.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ledger {
    /// Forecasts kept.
    pub kept: usize,
    /// Those that a look has spoken of since.
    pub scored: usize,
    /// Comparisons of one forecast with one look.
    pub comparisons: usize,
    /// Boxes that these are about.
    pub boxes: usize,
    /// The 50, 80 and 90 % ranges; empty without a comparison.
    pub held: Vec<RangeHeld>,
    /// Mean loss.
    pub loss: Option<f64>,
    /// Beside plain calendar days.
    pub calendar: Option<Against>,
    /// Beside the forecast before.
    pub last: Option<Against>,
}

impl Ledger {
    /// The 80 % range held in clearly fewer than 80 %: the upper bound of its share lies below.
    #[must_use]
    pub fn too_narrow(&self) -> bool {
        self.held.get(1).and_then(|held| Some(held.bounds?.1 < held.meant)).unwrap_or(false)
    }

    /// Sums comparisons up.
    #[must_use]
    pub fn of(kept: usize, scored: usize, comparisons: &[Comparison]) -> Self {
        let mut boxes: Vec<&Name> = comparisons.iter().map(|one| &one.container).collect();
        boxes.sort_unstable();
        boxes.dedup();
        let share = |which: usize| {
            let held = comparisons.iter().filter(|one| one.held[which]).count();
            let share = held as f64 / comparisons.len().max(1) as f64;
            let bounds = (boxes.len() >= ENOUGH_BOXES).then(|| wilson(share, boxes.len() as f64, LEVEL));
            RangeHeld { meant: RANGES[which].0, share, bounds }
        };
        let against = |other: fn(&Comparison) -> Option<f64>| {
            let both: Vec<(f64, f64)> = comparisons.iter().filter_map(|one| Some((one.loss, other(one)?))).collect();
            let mean = |of: fn(&(f64, f64)) -> f64| both.iter().map(of).sum::<f64>() / both.len() as f64;
            (!both.is_empty()).then(|| Against { comparisons: both.len(), loss: mean(|both| both.0), other: mean(|both| both.1) })
        };
        let count = comparisons.len();
        Self {
            kept,
            scored,
            comparisons: count,
            boxes: boxes.len(),
            held: if count == 0 { Vec::new() } else { (0..RANGES.len()).map(share).collect() },
            loss: (count > 0).then(|| comparisons.iter().map(|one| one.loss).sum::<f64>() / count as f64),
            calendar: against(|one| one.calendar_loss),
            last: against(|one| one.last_loss),
        }
    }
}

/// Comparisons by days ahead: up to 3, 7, 14, 21, and more.
#[must_use]
pub fn by_days_ahead(comparisons: &[Comparison]) -> Vec<(usize, Option<usize>, Ledger)> {
    let ends = AHEAD.iter().copied().map(Some).chain([None]);
    let mut from = 1;
    let mut rows = Vec::new();
    for until in ends {
        let within: Vec<Comparison> =
            comparisons.iter().filter(|one| one.ahead >= from && until.is_none_or(|until| one.ahead <= until)).cloned().collect();
        if !within.is_empty() {
            rows.push((from, until, Ledger::of(0, 0, &within)));
        }
        from = until.map_or(from, |until| until + 1);
    }
    rows
}

/// The loss of counts at [`LEVELS`] against the count that came.
///
/// # Formula
/// ```text
/// mean over the levels p of 2 · pinball_p ÷ seeds
/// pinball_p = p · (count − quantile)         count ≥ quantile
///             (1 − p) · (quantile − count)   else
/// ```
/// Twice the pinball loss averaged over all levels is the continuous ranked probability score (Gneiting & Raftery 2007, "Strictly
/// proper scoring rules, prediction, and estimation", J. Am. Stat. Assoc. 102:359–378, §4.2,
/// <https://doi.org/10.1198/016214506000001437>).
#[must_use]
pub fn loss(quantiles: &[u32; 7], count: u32, seeds: u32) -> f64 {
    let pinball = |(level, quantile): (f64, &u32)| {
        let over = f64::from(count) - f64::from(*quantile);
        if over >= 0.0 { level * over } else { (level - 1.0) * over }
    };
    let sum: f64 = LEVELS.into_iter().zip(quantiles).map(pinball).sum();
    2.0 * sum / LEVELS.len() as f64 / f64::from(seeds.max(1))
}

/// Holds forecasts against what was seen since. Of several looks near one forecast time the nearest counts; nothing that was
/// seen after a forecast is used for the yardsticks beside it.
///
/// Gives how many forecasts any look has spoken of, and each comparison.
#[must_use]
pub fn compare(kept: &[KeptForecast], stories: &[Story]) -> (usize, Vec<Comparison>) {
    let by_name: BTreeMap<&Name, &Story> = stories.iter().map(|story| (&story.container, story)).collect();
    let mut earlier: BTreeMap<&Name, Vec<&KeptForecast>> = BTreeMap::new();
    let mut in_order: Vec<&KeptForecast> = kept.iter().collect();
    in_order.sort_by_key(|kept| (kept.as_of, kept.made));
    let mut scored = 0;
    let mut comparisons = Vec::new();
    for kept in in_order {
        let before = earlier.entry(&kept.container).or_default();
        let last = before.iter().rev().find(|before| kept.as_of - before.as_of >= Duration::hours(EARLIER_HOURS)).copied();
        before.push(kept);
        // One of an earlier container of this name is not about this one.
        let Some(story) = by_name.get(&kept.container).filter(|story| story.sown <= kept.as_of) else { continue };
        let Some(seeds) = kept.seeds.filter(|seeds| *seeds > 0) else { continue };
        let past: Vec<&Story> = stories.iter().filter(|other| is_past(other, story)).collect();
        let mut nearest: BTreeMap<usize, (Time, u32)> = BTreeMap::new();
        for &(time, seen) in story.looks.iter().filter(|(time, _)| *time > kept.as_of) {
            let Some(ahead) = day_near(kept, time) else { continue };
            let apart = |time: Time| (time - kept.as_of - Duration::days(ahead as i64)).abs();
            let there = nearest.entry(ahead).or_insert((time, seen));
            if apart(time) < apart(there.0) {
                *there = (time, seen);
            }
        }
        scored += usize::from(!nearest.is_empty());
        for (ahead, (time, seen)) in nearest {
            let quantiles = &kept.counts[ahead - 1];
            let last = last.and_then(|last| Some(&last.counts[day_near(last, time)? - 1]));
            comparisons.push(Comparison {
                container: kept.container.clone(),
                ahead,
                held: RANGES.map(|(_, low, high)| (quantiles[low]..=quantiles[high]).contains(&seen)),
                loss: loss(quantiles, seen, seeds),
                calendar_loss: calendar_days(kept, story, &past, seeds, time).map(|quantiles| loss(&quantiles, seen, seeds)),
                last_loss: last.map(|quantiles| loss(quantiles, seen, seeds)),
            });
        }
    }
    (scored, comparisons)
}

/// Which of a forecast's days ends near `time`.
fn day_near(kept: &KeptForecast, time: Time) -> Option<usize> {
    let hours = (time - kept.as_of).num_minutes() as f64 / 60.0;
    let day = (hours / 24.0).round();
    let near = (hours - 24.0 * day).abs() <= NEAR_HOURS as f64 && day >= 1.0 && day <= kept.counts.len() as f64;
    near.then_some(day as usize)
}

/// Whether a story is an earlier sowing of the same kind of seed.
fn is_past(other: &Story, story: &Story) -> bool {
    other.kind == story.kind && other.batch != story.batch && other.sown < story.sown
}

/// What plain calendar days would have forecast: each earlier sowing that had sprouted by then says which share of the seeds that had
/// not sprouted at the age of the forecast did so up to the age at `time`, straight lines between its looks; the sowings' counts are the
/// spread.
fn calendar_days(kept: &KeptForecast, story: &Story, past: &[&Story], seeds: u32, time: Time) -> Option<[u32; 7]> {
    let age = |of: &Story, time: Time| of.counted_from.map(|from| (time - from).num_minutes() as f64);
    let (now, then) = (age(story, kept.as_of)?, age(story, time)?);
    let left = seeds.saturating_sub(kept.sprouted);
    let mut counts: Vec<u32> = past
        .iter()
        .filter_map(|past| {
            let sown = past.seeds.filter(|sown| *sown > 0)?;
            let begun = past.counted_from?;
            // As it was known when the forecast was made.
            let looks = past.looks.iter().filter(|(time, _)| *time <= kept.as_of);
            let points: Vec<(f64, f64)> = std::iter::once((0.0, 0.0))
                .chain(looks.map(|(time, seen)| ((*time - begun).num_minutes() as f64, f64::from(*seen) / f64::from(sown))))
                .collect();
            let last = points.last().filter(|(_, share)| *share > 0.0)?;
            let share = |age: f64| match points.iter().position(|point| point.0 > age) {
                Some(0) => 0.0,
                Some(next) => {
                    let ((t0, s0), (t1, s1)) = (points[next - 1], points[next]);
                    s0 + (s1 - s0) * (age - t0) / (t1 - t0)
                }
                None => last.1,
            };
            let open = 1.0 - share(now);
            let more = if open > 0.0 { ((share(then) - share(now)) / open).clamp(0.0, 1.0) } else { 0.0 };
            Some(kept.sprouted + (f64::from(left) * more).round() as u32)
        })
        .collect();
    counts.sort_unstable();
    (!counts.is_empty()).then(|| LEVELS.map(|level| whole_quantile_of(&counts, level)))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn hour(hours: i64) -> Time {
        Time::UNIX_EPOCH + Duration::hours(hours)
    }

    fn story(container: &str, batch: &str, sown: i64, looks: &[(i64, u32)]) -> Story {
        Story {
            container: name(container),
            kind: "leek".to_owned(),
            batch: name(batch),
            sown: hour(sown),
            counted_from: Some(hour(sown)),
            seeds: Some(20),
            looks: looks.iter().map(|(at, seen)| (hour(*at), *seen)).collect(),
        }
    }

    fn forecast(container: &str, as_of: i64, counts: Vec<[u32; 7]>) -> KeptForecast {
        KeptForecast {
            container: name(container),
            as_of: hour(as_of),
            made: hour(as_of),
            first_of: None,
            program: String::new(),
            fit_key: None,
            options: String::new(),
            seeds: Some(20),
            sprouted: 0,
            counts,
        }
    }

    /// By hand: levels .05 .1 .25 .5 .75 .9 .95, quantiles 2 3 4 6 8 9 10, seen 7:
    /// .05·5 + .1·4 + .25·3 + .5·1 + .25·1 + .1·2 + .05·3 = 2.5; times 2, over 7 levels and 20 seeds.
    #[test]
    fn the_loss_is_that_worked_out_by_hand() {
        assert!((loss(&[2, 3, 4, 6, 8, 9, 10], 7, 20) - 2.5 * 2.0 / 7.0 / 20.0).abs() < 1e-12);
        assert_eq!(loss(&[7; 7], 7, 20), 0.0, "what was said came");
    }

    #[test]
    fn a_forecast_is_held_against_the_look_nearest_to_each_of_its_days() {
        let kept = [forecast("A1", 8, vec![[0, 0, 0, 1, 2, 3, 4], [1, 2, 3, 5, 7, 8, 9], [5; 7]])];
        // 31 h ahead is near no day; of the looks 46 and 49 h ahead the nearer counts; 73 h is near the third day.
        let stories = [story("A1", "b", 0, &[(8, 0), (39, 7), (54, 6), (57, 9), (81, 9)])];
        let (scored, found) = compare(&kept, &stories);
        assert_eq!(scored, 1);
        let told: Vec<_> = found.iter().map(|one| (one.ahead, one.held)).collect();
        assert_eq!(told, [(2, [false, false, true]), (3, [false; 3])], "9 of 3 to 7, 2 to 8 and 1 to 9; then of 5");
        assert!(found.iter().all(|one| one.calendar_loss.is_none() && one.last_loss.is_none()));
        let before_it_was_sown = [story("A1", "b", 9, &[(57, 9)])];
        assert_eq!(compare(&kept, &before_it_was_sown), (0, Vec::new()), "another box had that name then");
    }

    #[test]
    fn the_forecast_before_is_that_of_the_same_look() {
        let day = |count: u32| [count; 7];
        let kept = [
            forecast("A1", 8, vec![day(1), day(2), day(3)]),
            forecast("A1", 9, vec![day(9), day(9), day(9)]),
            forecast("A1", 32, vec![day(4), day(5)]),
        ];
        let (_, found) = compare(&kept, &[story("A1", "b", 0, &[(56, 5)])]);
        let last: Vec<_> = found.iter().map(|one| (one.ahead, one.loss, one.last_loss)).collect();
        let apart = |by: u32| loss(&day(5 - by), 5, 20);
        // The second was made too soon after the first to have one before it.
        assert_eq!(last, [(2, apart(3), None), (2, loss(&day(9), 5, 20), None), (1, apart(1), Some(loss(&day(9), 5, 20)))]);
    }

    #[test]
    fn calendar_days_go_by_earlier_sowings_as_they_were_known() {
        let past = story("P1", "last year", -1000, &[(-1000 + 24, 0), (-1000 + 48, 10), (-1000 + 72, 16)]);
        let later = story("P2", "this year too", -10, &[(24, 20)]);
        let kept = [forecast("A1", 24, vec![[0; 7], [12; 7]])];
        // At 24 h none, at 48 h half of them.
        let (_, found) = compare(&kept, &[past, later, story("A1", "b", 0, &[(48, 10)])]);
        assert_eq!(found.iter().map(|one| (one.ahead, one.calendar_loss)).collect::<Vec<_>>().len(), 1);
        // The second, known to be all up at an age of 34 h, says that all that is left comes.
        let mut counts = [10, 20];
        counts.sort_unstable();
        let expected = LEVELS.map(|level| whole_quantile_of(&counts, level));
        assert_eq!(found[0].calendar_loss, Some(loss(&expected, 10, 20)));
    }

    #[test]
    fn ranges_that_hold_too_seldom_are_told_once_there_are_boxes_enough() {
        let one = |container: usize, held: bool| Comparison {
            container: name(&format!("A{container}")),
            ahead: 3,
            held: [held; 3],
            loss: 0.1,
            calendar_loss: Some(0.3),
            last_loss: None,
        };
        let many = |boxes: usize, held: usize| -> Ledger {
            let all: Vec<_> = (0..boxes).flat_map(|container| (0..10).map(move |at| one(container, at < held))).collect();
            Ledger::of(boxes, boxes, &all)
        };
        assert!(many(10, 5).too_narrow(), "half of them, in ten boxes");
        assert!(!many(4, 0).too_narrow() && many(4, 0).held[1].bounds.is_none(), "four boxes are too few to say");
        assert!(!many(10, 7).too_narrow(), "7 in 10 may be 8 in 10");
        let all = many(10, 8);
        assert_eq!((all.comparisons, all.boxes, all.last), (100, 10, None));
        assert!(all.calendar.is_some_and(|against| against.comparisons == 100 && (against.other - 0.3).abs() < 1e-12));
        assert_eq!(Ledger::of(3, 0, &[]).held, []);
    }
}
