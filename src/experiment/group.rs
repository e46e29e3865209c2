//! One group of boxes by itself: how many, how fast.

use std::collections::BTreeSet;

use super::odd::{Odd, odd_ones};
use super::{BoxesDiffer, Clock, Curve, Group, Index, Reckoned, Seeds, Standing, Tally, curve, indices, standing};
use crate::bench::Name;
use crate::stats::{Dispersion, Window, dispersion, normal_quantile, seed_of, turnbull, wilson};

/// Level of the intervals that are told.
pub(super) const LEVEL: f64 = 0.95;
/// The day by which germination energy is counted: a week, as is common for garden seeds (common practice, no source).
const ENERGY_DAY: f64 = 7.0;

/// A point of the curve of one group: how many of the sown had sprouted by a time.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct CurvePoint {
    /// When.
    pub at: f64,
    /// Share of the sown.
    pub share: f64,
    /// Lower edge of the band.
    pub low: f64,
    /// Upper edge.
    pub high: f64,
}

/// What is told of one group.
#[derive(Debug, Clone, PartialEq)]
pub struct GroupAnswer {
    /// Its level; none: untreated, or of no named lot.
    pub level: Option<Name>,
    /// Its boxes.
    pub containers: Vec<Name>,
    /// Those whose seeds were not counted.
    pub uncounted: Vec<Name>,
    /// Those whose seeds were counted roughly.
    pub rough: Vec<Name>,
    /// Seeds left out: lost while others still sprouted.
    pub left_out: u32,
    /// Seeds in boxes where they were counted; none where they were in none.
    pub seeds: Option<u32>,
    /// Sprouts in those boxes.
    pub counted_sprouts: u32,
    /// Sprouts in all.
    pub sprouted: u32,
    /// Each counted box: sprouted, and seeds.
    pub counts: Vec<(u32, u32)>,
    /// Whether its boxes differ by more than luck; none with fewer than two counted boxes.
    pub dispersion: Option<Dispersion>,
    /// How it stands.
    pub standing: Standing,
    /// Share of the sown that sprouted, with Wilson's interval.
    pub fraction: Reckoned,
    /// Days by which half of the sown had sprouted; none where they never had.
    pub half_days: Reckoned,
    /// The same in warmth gathered, °C·d.
    pub half_warmth: Reckoned,
    /// Days by which half of those that will ever sprout have done so.
    pub germinable_half_days: Reckoned,
    /// The same in warmth.
    pub germinable_half_warmth: Reckoned,
    /// Share of the sown that had sprouted, by day.
    pub by_day: Vec<CurvePoint>,
    /// The same by warmth; empty where temperatures are not known.
    pub by_warmth: Vec<CurvePoint>,
    /// Looks at which sprouts were new: (days of the look before, days, how many), in order.
    pub sprouts: Vec<(f64, f64, u32)>,
    /// Days of its last look.
    pub last_days: f64,
    /// Longest time between two looks from the first sprout's on, days.
    pub longest_gap_days: f64,
    /// Mean temperature, °C.
    pub mean_c: Option<f64>,
    /// Where its boxes stood.
    pub spots: BTreeSet<Name>,
    /// The trade's indices of its counts by day.
    pub indices: Vec<Index>,
    /// First and last sprouts that surprise, and whether that is by warmth or by days.
    pub odd: Vec<Odd>,
    /// The clock on which they do.
    pub odd_on: Clock,
}

/// What is reckoned of a group on one clock.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OnClock {
    pub(super) tally: Tally,
    pub(super) curve: Option<Curve>,
}

/// A group with what pairs are made from.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sized<'a> {
    pub(super) group: Group<'a>,
    pub(super) answer: GroupAnswer,
    pub(super) days: OnClock,
    pub(super) warmth: Option<OnClock>,
}

impl OnClock {
    pub(super) fn of(group: &Group<'_>, clock: Clock) -> Option<Self> {
        let tally = Tally::of(group.boxes.iter().copied(), clock)?;
        Some(Self { curve: curve(&tally), tally })
    }

    /// Half of those that ever sprout, boxes allowed to differ.
    fn half(&self, boxes_differ: &BoxesDiffer, boxes: usize) -> Reckoned {
        let Some(curve) = &self.curve else { return Reckoned::default() };
        let between = boxes_differ.speed_sd();
        let se = (curve.ln_half_se.powi(2) + between * between / boxes.max(1) as f64).sqrt();
        let reach = normal_quantile(0.5 * (1.0 + LEVEL)) * se;
        Reckoned {
            estimate: Some(curve.ln_half.exp()),
            low: Some((curve.ln_half - reach).exp()),
            high: Some((curve.ln_half + reach).exp()),
        }
    }
}

/// Each seed's window on a clock, with how many had it: what the curve is made from. Seeds that could not have sprouted are like
/// those that had not by the last look.
pub(super) fn windows(tally: &Tally) -> Vec<(Window, f64)> {
    let sprouted = tally.sprouted.iter().map(|(after, until, seeds)| (Window { after: *after, until: *until }, *seeds));
    let open = tally.open.iter().map(|(at, seeds)| (Window { after: *at, until: f64::INFINITY }, *seeds));
    let dead = std::iter::once((Window { after: tally.last, until: f64::INFINITY }, tally.dead));
    sprouted.chain(open).chain(dead).filter(|(_, seeds)| *seeds > 0.0).collect()
}

/// The curve of the counted boxes with its band.
fn points(tally: &Tally) -> Vec<CurvePoint> {
    if tally.sprouted.is_empty() {
        return Vec::new();
    }
    let curve = turnbull(&windows(tally));
    let mut share = 0.0;
    let mut points: Vec<CurvePoint> = Vec::new();
    let point = |at: f64, share: f64| {
        let (low, high) = curve.band_at(at, LEVEL);
        CurvePoint { at, share, low, high }
    };
    for piece in curve.pieces.iter().filter(|piece| piece.until.is_finite()) {
        points.push(point(piece.after, share));
        share = (share + piece.mass).min(1.0);
        points.push(point(piece.until, share));
    }
    points.dedup_by(|a, b| a.at == b.at && a.share == b.share);
    if points.last().is_some_and(|last| last.at < tally.last) {
        points.push(point(tally.last, share));
    }
    points
}

/// When a line through points reaches a half; none where it never does.
fn reaches_half(points: &[CurvePoint], of: impl Fn(&CurvePoint) -> f64) -> Option<f64> {
    let at = points.iter().position(|point| of(point) >= 0.5)?;
    let (here, before) = (&points[at], at.checked_sub(1).map(|before| &points[before]));
    Some(match before {
        Some(before) if of(here) > of(before) => before.at + (here.at - before.at) * (0.5 - of(before)) / (of(here) - of(before)),
        _ => here.at,
    })
}

/// Half of the sown; nothing at all where that was never reached.
fn half_of_sown(points: &[CurvePoint]) -> Reckoned {
    let estimate = reaches_half(points, |point| point.share);
    if estimate.is_none() {
        return Reckoned::default();
    }
    Reckoned { estimate, low: reaches_half(points, |point| point.high), high: reaches_half(points, |point| point.low) }
}

/// One group by itself; `all` is the curve of all groups together.
pub(super) fn sized<'a>(group: Group<'a>, boxes_differ: &BoxesDiffer, all: Option<&Curve>) -> Sized<'a> {
    let boxes = &group.boxes;
    let days = OnClock::of(&group, Clock::Days).unwrap_or(OnClock { tally: Tally::default(), curve: None });
    let warmth = OnClock::of(&group, Clock::Warmth);
    let which =
        |wanted: fn(&Seeds) -> bool| boxes.iter().filter(|one| wanted(&one.seeds)).map(|one| one.container.clone()).collect();
    let counted = || boxes.iter().filter(|one| one.seeds != Seeds::Unknown);
    let seeds: u32 = counted().filter_map(|one| one.seeds.number()).sum();
    let sprouts: u32 = counted().map(|one| one.sprouted()).sum();
    let counts: Vec<(u32, u32)> = counted().filter_map(|one| Some((one.sprouted(), one.seeds.number()?))).collect();
    let name = group.level.as_ref().map_or("", Name::as_str);
    let fraction = (seeds > 0).then(|| {
        let share = f64::from(sprouts) / f64::from(seeds);
        let (low, high) = wilson(share, f64::from(seeds), LEVEL);
        Reckoned { estimate: Some(share), low: Some(low), high: Some(high) }
    });
    let of_sown = |clock| Tally::of(counted().copied(), clock).map_or_else(Vec::new, |tally| points(&tally));
    let (by_day, by_warmth) = (of_sown(Clock::Days), of_sown(Clock::Warmth));
    let with_sprouts = boxes.iter().filter(|one| one.sprouted() > 0).count();
    let (odd_on, odd_tally) = warmth.as_ref().map_or((Clock::Days, &days.tally), |warmth| (Clock::Warmth, &warmth.tally));
    let answer = GroupAnswer {
        level: group.level.clone(),
        containers: boxes.iter().map(|one| one.container.clone()).collect(),
        uncounted: which(|seeds| matches!(seeds, Seeds::Unknown)),
        rough: which(|seeds| matches!(seeds, Seeds::Roughly(_))),
        left_out: boxes.iter().map(|one| one.left_out).sum(),
        seeds: (seeds > 0).then_some(seeds),
        counted_sprouts: sprouts,
        sprouted: boxes.iter().map(|one| one.sprouted()).sum(),
        dispersion: dispersion(&counts, seed_of(name)),
        counts,
        standing: standing(boxes, all),
        fraction: fraction.unwrap_or_default(),
        half_days: half_of_sown(&by_day),
        half_warmth: half_of_sown(&by_warmth),
        germinable_half_days: days.half(boxes_differ, with_sprouts),
        germinable_half_warmth: warmth.as_ref().map_or_else(Reckoned::default, |warmth| warmth.half(boxes_differ, with_sprouts)),
        sprouts: sprouts_by_day(&group),
        indices: indices(&looks(&group), (seeds > 0 && counted().count() == boxes.len()).then_some(seeds), ENERGY_DAY),
        last_days: days.tally.last,
        longest_gap_days: longest_gap(&group),
        mean_c: group.mean_c(),
        spots: boxes.iter().map(|one| one.spot.clone()).collect(),
        odd: odd_ones(odd_tally, seed_of(name)),
        odd_on,
        by_day,
        by_warmth,
    };
    Sized { group, answer, days, warmth }
}

fn sprouts_by_day(group: &Group<'_>) -> Vec<(f64, f64, u32)> {
    let mut sprouts: Vec<(f64, f64, u32)> = Vec::new();
    for one in &group.boxes {
        let before = std::iter::once(one.begun.days).chain(one.looks.iter().map(|look| look.at.days));
        let seen = before.zip(&one.looks).filter(|(_, look)| look.sprouted > 0);
        sprouts.extend(seen.map(|(before, look)| (before, look.at.days, look.sprouted)));
    }
    sprouts.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.total_cmp(&b.0)));
    sprouts
}

/// All looks of its boxes by day, with what was new.
fn looks(group: &Group<'_>) -> Vec<(f64, u32)> {
    let mut looks: Vec<(f64, u32)> = Vec::new();
    let mut all: Vec<(f64, u32)> =
        group.boxes.iter().flat_map(|one| &one.looks).map(|look| (look.at.days, look.sprouted)).collect();
    all.sort_by(|a, b| a.0.total_cmp(&b.0));
    for (day, seeds) in all {
        match looks.last_mut().filter(|last| last.0 == day) {
            Some(last) => last.1 += seeds,
            None => looks.push((day, seeds)),
        }
    }
    looks
}

/// The longest window in which a sprout was found.
fn longest_gap(group: &Group<'_>) -> f64 {
    sprouts_by_day(group).iter().map(|(before, day, _)| day - before).fold(0.0, f64::max)
}
