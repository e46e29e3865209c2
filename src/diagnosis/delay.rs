//! One box against every spot of the bench.

use std::collections::BTreeMap;
use std::ops::Range;

use super::causes::{CAUSES, Cause, shares};
use super::finding::SAID_FROM;
use super::gains::{Gains, SLOTS_PER_DAY, days_until};
use super::hinge::{Hinge, hinge};
use super::moves::{MoveGain, moves};
use crate::bench::{Name, Trial};
use crate::forecast::{Outlook, Weather};
use crate::germination::{Distribution, Needs, OwnNeeds};
use crate::stats::{Spread, mean_of, median_of, quantile_of, spread_of};

/// A move's sprouts are compared this many days from now.
const COMPARED_AFTER_DAYS: usize = 60;
/// Boxes are told apart for a swap by what will have sprouted in so many days.
pub const SOON_DAYS: usize = 14;
/// Dates further than this from now count as never.
const HORIZON_DAYS: usize = 150;
/// A delay shorter than this, in days, or than a tenth of the time at the fastest spot, is none.
const LEAST_DELAY_DAYS: f64 = 1.0;
const LEAST_DELAY_SHARE: f64 = 0.1;

/// A spot as a place where the box could have stood.
#[derive(Debug, Clone, PartialEq)]
pub struct SpotPath<'a> {
    /// °C in each quarter of an hour from leaving the cold (or sowing) to now.
    pub past_c: Vec<f64>,
    /// What may come there.
    pub outlook: &'a Outlook,
    /// What has to be added to the temperatures on record there, draw by draw, °C.
    pub offsets: Vec<f64>,
    /// How many more boxes have room there; none: not said.
    pub room: Option<u32>,
    /// The probes that it is known by, where none of them was ever calibrated.
    pub uncalibrated: Vec<Name>,
    /// When its readings were suspect.
    pub doubted: Vec<Doubted>,
}

/// Quarters of an hour, counted from leaving the cold (or sowing), in which a probe's readings were suspect.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Doubted {
    /// The probe.
    pub probe: Name,
    /// When.
    pub slots: Range<usize>,
}

/// A box with the path it really took.
#[derive(Debug, Clone, Copy)]
pub struct PlacedBox<'a> {
    /// The box and its looks.
    pub trial: &'a Trial,
    /// °C in each quarter of an hour from leaving the cold (or sowing) to now (or its end).
    pub own_past_c: &'a [f64],
    /// The spot it stood at in each of them.
    pub own_spots: &'a [&'a Name],
    /// Where it stands now.
    pub spot: &'a Name,
    /// Local hour of day at each quarter of an hour of a day, counted from sowing.
    pub local_hours: &'a [f64],
    /// Every spot that it could have stood at, its own among them.
    pub spots: &'a BTreeMap<&'a Name, SpotPath<'a>>,
}

/// The days lost, by cause.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct LostDays {
    /// Below the base.
    pub below_base: Spread,
    /// Above the optimum.
    pub above_optimum: Spread,
    /// Cooler nights.
    pub nights: Spread,
    /// Cooler days.
    pub days: Spread,
    /// The box's own: what its warmth does not explain.
    pub rest: Spread,
}

/// A box's delay and what it is made of.
#[derive(Debug, Clone, PartialEq)]
pub struct BoxDelay {
    /// The spot at which boxes sown then would have been fastest; none where there was no other to compare with.
    pub best_spot: Option<Name>,
    /// Mean temperature from leaving the cold (or sowing) to now, °C.
    pub mean_c: f64,
    /// The same at the fastest spot.
    pub best_mean_c: f64,
    /// 95 % minus 5 % point of the temperatures there, °C.
    pub best_swing_c: f64,
    /// Thermal time a day, °C·d.
    pub rate_per_day: f64,
    /// Hours below the base.
    pub hours_below_base: f64,
    /// Hours above the optimum.
    pub hours_above_optimum: f64,
    /// Share of the warmth lost against the fastest spot that was lost by day (8 to 20 h).
    pub lost_by_day: f64,
    /// Share of the time above the optimum that was by night.
    pub hot_at_night: f64,
    /// Days later to half of the sprouts than at the fastest spot.
    pub delay_days: Spread,
    /// Chance that the delay is at least a day and a tenth of the time.
    pub chance: f64,
    /// What this hangs on, where it would be gone if a probe were a little wrong.
    pub hinge: Option<Hinge>,
    /// Factor on the requirement that only the box itself explains; above 1 slower.
    pub slower: Spread,
    /// Chance that this factor is over 1.15.
    pub slower_chance: f64,
    /// Days that this factor costs at the warmth that it had.
    pub slower_days: Spread,
    /// Moving it today, by spot.
    pub moves: Vec<MoveGain>,
    /// Days lost by cause.
    pub lost: LostDays,
    /// The spot where most of them were lost, and its mean temperature while the box stood there, °C.
    pub lost_at: Option<(Name, f64)>,
    /// Share of the half requirement gained so far, at the median.
    pub gathered: f64,
}

/// A factor over this is called slower than explained.
const SLOWER: f64 = 1.15;

/// Works out a box's delay over draws of needs and weather. None where no spot (not even its own) has a path.
#[must_use]
pub fn diagnose_box(
    placed: &PlacedBox<'_>,
    family: Distribution,
    needs: &[OwnNeeds],
    weather: &[Weather],
    middle: &Needs,
) -> Option<BoxDelay> {
    let paths = Paths::new(placed, needs, weather)?;
    let dates = Dates::over_all(&paths, family);
    let best = dates.fastest()?;
    let delays = dates.behind(best);
    let late = delays.iter().zip(&dates.spot_days[best]);
    let chance = share(late.filter(|(delay, best)| is_late(**delay, **best)).count(), delays.len());
    let lost = lost_by_cause(&paths, &dates, best);
    let own = Warmth::of(placed, &paths.names, best, middle);
    let (name, path) = (paths.names[best], &placed.spots[paths.names[best]]);
    let compared = paths.names.len() > 1;
    let factors = &dates.factors;
    Some(BoxDelay {
        best_spot: compared.then(|| name.clone()),
        mean_c: mean_of(placed.own_past_c),
        best_mean_c: mean_of(&path.past_c),
        best_swing_c: swing(&path.past_c),
        rate_per_day: own.thermal_time / (placed.own_past_c.len().max(1) as f64 / SLOTS_PER_DAY as f64),
        hours_below_base: own.hours_below_base,
        hours_above_optimum: own.hours_above_optimum,
        lost_by_day: own.lost_by_day,
        hot_at_night: own.hot_at_night,
        delay_days: if compared { spread_of(&delays) } else { Spread::default() },
        chance,
        hinge: if chance >= SAID_FROM { hinge(&paths, best) } else { None },
        slower_chance: share(factors.iter().filter(|factor| **factor > SLOWER).count(), factors.len()),
        slower: spread_of(factors),
        moves: moves(&paths, &dates, middle),
        slower_days: finite_spread(&dates.slower_days),
        lost: LostDays { rest: finite_spread(&dates.own_rest), ..lost },
        gathered: own.thermal_time / middle.ln_half.exp(),
        lost_at: own.lost_at,
    })
}

/// Whether so many days behind a spot that takes `best` days are a delay.
pub(super) fn is_late(delay: f64, best: f64) -> bool {
    delay >= LEAST_DELAY_DAYS.max(LEAST_DELAY_SHARE * best)
}

fn share(count: usize, of: usize) -> f64 {
    count as f64 / of.max(1) as f64
}

/// The box's own path and those of all spots, draw by draw.
pub(super) struct Paths<'a> {
    pub(super) placed: &'a PlacedBox<'a>,
    pub(super) names: Vec<&'a Name>,
    needs: &'a [OwnNeeds],
    weather: &'a [Weather],
    /// What is added to each spot's temperatures, by draw.
    levels: Vec<Vec<f64>>,
    own_outlook: &'a Outlook,
    /// Slots looked back on, and looked at in all.
    pub(super) past: usize,
    pub(super) slots: usize,
}

impl<'a> Paths<'a> {
    fn new(placed: &'a PlacedBox<'a>, needs: &'a [OwnNeeds], weather: &'a [Weather]) -> Option<Self> {
        let own_outlook = placed.spots.get(placed.spot)?.outlook;
        let past = placed.own_past_c.len();
        let names: Vec<&Name> = placed.spots.keys().copied().collect();
        let levels = (0..needs.len()).map(|draw| names.iter().map(|name| placed.spots[*name].offsets[draw]).collect()).collect();
        Some(Self { placed, names, needs, weather, levels, own_outlook, past, slots: past + HORIZON_DAYS * SLOTS_PER_DAY })
    }

    fn level_at(&self, draw: usize, spot: &Name) -> f64 {
        self.names.iter().position(|name| *name == spot).map_or(0.0, |at| self.levels[draw][at])
    }

    /// The same with one spot warmer by so many °C than it was read.
    pub(super) fn with(&self, spot: &Name, by_c: f64) -> Self {
        let warmer = |levels: &Vec<f64>| {
            self.names.iter().zip(levels).map(|(name, level)| level + if *name == spot { by_c } else { 0.0 }).collect()
        };
        Self { names: self.names.clone(), levels: self.levels.iter().map(warmer).collect(), ..*self }
    }

    pub(super) fn draws(&self) -> usize {
        self.needs.len()
    }

    /// What half of the seeds need, °C·d.
    pub(super) fn half(&self, draw: usize) -> f64 {
        self.needs[draw].typical.ln_half.exp()
    }

    pub(super) fn own(&self, draw: usize) -> Gains<'a> {
        let shift = |slot: usize| self.level_at(draw, self.placed.own_spots[slot]);
        let later = self.level_at(draw, self.placed.spot);
        let rate = &self.needs[draw].typical.rate;
        Gains::new(self.placed.own_past_c, shift, later, rate, self.own_outlook, &self.weather[draw])
    }

    pub(super) fn at(&self, draw: usize, spot: usize) -> Gains<'a> {
        let path = &self.placed.spots[self.names[spot]];
        let level = self.levels[draw][spot];
        Gains::new(&path.past_c, |_| level, level, &self.needs[draw].typical.rate, path.outlook, &self.weather[draw])
    }

    /// By night, local time.
    fn is_night(&self, slot: usize) -> bool {
        is_night(self.placed, slot)
    }
}

/// From 20 to 8 h, local time.
fn is_night(placed: &PlacedBox<'_>, slot: usize) -> bool {
    !(8.0..20.0).contains(&placed.local_hours[slot % SLOTS_PER_DAY])
}

/// Dates of half of the sprouts and what a move would change, draw by draw, in days.
pub(super) struct Dates {
    own_days: Vec<f64>,
    /// By spot, had the box stood there since the beginning.
    spot_days: Vec<Vec<f64>>,
    /// By spot: what moving there now would change.
    pub(super) moved: Vec<Moved>,
    factors: Vec<f64>,
    own_rest: Vec<f64>,
    /// Days that box and lot cost together.
    slower_days: Vec<f64>,
}

/// What a move would change, by draw.
#[derive(Debug, Clone, Default)]
pub(super) struct Moved {
    /// Days sooner to half of the sprouts.
    pub(super) sooner: Vec<f64>,
    /// More sprouts in the end.
    pub(super) sprouts: Vec<f64>,
    /// More sprouts soon.
    pub(super) soon: Vec<f64>,
}

impl Dates {
    fn over_all(paths: &Paths<'_>, family: Distribution) -> Self {
        let spots = paths.names.len();
        let mut dates = Self {
            own_days: Vec::new(),
            spot_days: vec![Vec::new(); spots],
            moved: vec![Default::default(); spots],
            factors: Vec::new(),
            own_rest: Vec::new(),
            slower_days: Vec::new(),
        };
        (0..paths.needs.len()).for_each(|draw| dates.add(paths, draw, family));
        dates
    }

    fn add(&mut self, paths: &Paths<'_>, draw: usize, family: Distribution) {
        let (need, left) = (&paths.needs[draw], paths.placed.trial.left().unwrap_or(0));
        let half = need.typical.ln_half.exp();
        let own = paths.own(draw);
        let own_day = days_until(|slot| own.at(slot), half, 0, paths.slots);
        self.own_days.push(own_day);
        self.factors.push(need.ln_slower.exp());
        let box_day = days_until(|slot| own.at(slot), need.own.ln_half.exp(), 0, paths.slots);
        let usual_day = days_until(|slot| own.at(slot), (need.own.ln_half - need.ln_slower).exp(), 0, paths.slots);
        self.own_rest.push(box_day - own_day);
        self.slower_days.push(box_day - usual_day);

        let so_far = own.so_far();
        let until_half = |gains: &Gains<'_>| {
            if so_far >= half { 0.0 } else { days_until(|slot| gains.at(slot), half - so_far, paths.past, paths.slots) }
        };
        let sprouts_after =
            |gains: &Gains<'_>, days: usize| expected_sprouts(family, &need.own, left, so_far, gains.to_come(days * SLOTS_PER_DAY));
        let stay = until_half(&own);
        let (in_the_end, soon) = (sprouts_after(&own, COMPARED_AFTER_DAYS), sprouts_after(&own, SOON_DAYS));
        for at in 0..paths.names.len() {
            let there = paths.at(draw, at);
            self.spot_days[at].push(days_until(|slot| there.at(slot), half, 0, paths.slots));
            if paths.names[at] == paths.placed.spot {
                continue;
            }
            let moved = &mut self.moved[at];
            moved.sooner.push(apart(stay, until_half(&there)));
            moved.sprouts.push(sprouts_after(&there, COMPARED_AFTER_DAYS) - in_the_end);
            moved.soon.push(sprouts_after(&there, SOON_DAYS) - soon);
        }
    }

    /// The spot with the smallest median.
    fn fastest(&self) -> Option<usize> {
        (0..self.spot_days.len()).min_by(|a, b| median_of(&self.spot_days[*a]).total_cmp(&median_of(&self.spot_days[*b])))
    }

    /// Days behind a spot.
    fn behind(&self, spot: usize) -> Vec<f64> {
        self.own_days.iter().zip(&self.spot_days[spot]).map(|(own, there)| apart(*own, *there)).collect()
    }
}

/// The delay behind the fastest spot shared out among what slowed the box, draw by draw.
fn lost_by_cause(paths: &Paths<'_>, dates: &Dates, best: usize) -> LostDays {
    let mut lost: [Vec<f64>; CAUSES] = Default::default();
    for (draw, need) in paths.needs.iter().enumerate() {
        let (own, there) = (paths.own(draw), paths.at(draw, best));
        let celsius = |slot: usize| match paths.placed.own_past_c.get(slot) {
            Some(celsius) => celsius + paths.level_at(draw, paths.placed.own_spots[slot]),
            None => own.celsius(slot - paths.past),
        };
        let cause = |slot: usize| match celsius(slot) {
            c if need.typical.rate.optimum().is_some_and(|optimum| c > optimum) => Cause::AboveOptimum,
            c if need.typical.rate.base().is_some_and(|base| c < base) => Cause::BelowBase,
            _ if paths.is_night(slot) => Cause::Night,
            _ => Cause::Day,
        };
        // No set of causes is later than the slowest it is made of; beyond that nothing need be looked at.
        let end = dates.own_days[draw].max(dates.spot_days[best][draw]);
        let end = if end.is_finite() { ((end + 1.0) * SLOTS_PER_DAY as f64) as usize } else { paths.slots }.min(paths.slots);
        let pieces: Vec<(usize, f64, f64)> =
            (0..end).map(|slot| (1 << cause(slot) as usize, own.at(slot), there.at(slot))).collect();
        let date = |set: usize| {
            let gain = |slot: usize| {
                let (bit, own, there) = pieces[slot];
                if set & bit == 0 { own } else { there }
            };
            days_until(gain, need.typical.ln_half.exp(), 0, end).min(end as f64 / SLOTS_PER_DAY as f64)
        };
        shares(date).iter().zip(&mut lost).for_each(|(share, list)| list.push(*share));
    }
    let of = |cause: Cause| spread_of(&lost[cause as usize]);
    LostDays {
        above_optimum: of(Cause::AboveOptimum),
        below_base: of(Cause::BelowBase),
        nights: of(Cause::Night),
        days: of(Cause::Day),
        rest: Spread::default(),
    }
}

/// What the box's own past and that at the fastest spot come to, at the middle of the estimates.
struct Warmth {
    hours_below_base: f64,
    hours_above_optimum: f64,
    hot_at_night: f64,
    lost_by_day: f64,
    lost_at: Option<(Name, f64)>,
    /// °C·d so far.
    thermal_time: f64,
}

impl Warmth {
    fn of(placed: &PlacedBox<'_>, names: &[&Name], best: usize, middle: &Needs) -> Self {
        let own = placed.own_past_c;
        let hours = |of: &dyn Fn(usize, f64) -> bool| {
            let slots = own.iter().enumerate().filter(|(slot, celsius)| of(*slot, **celsius)).count();
            slots as f64 * 24.0 / SLOTS_PER_DAY as f64
        };
        let above = |celsius: f64| middle.rate.optimum().is_some_and(|optimum| celsius > optimum);
        let hours_above_optimum = hours(&|_, celsius| above(celsius));
        let at_night = hours(&|slot, celsius| above(celsius) && is_night(placed, slot));
        let there = &placed.spots[names[best]].past_c;
        let (mut lost, mut lost_by_day) = (0.0, 0.0);
        // By spot: warmth lost there, °C summed there, slots.
        let mut lost_at: BTreeMap<&Name, (f64, f64, f64)> = BTreeMap::new();
        for (slot, (own, there)) in own.iter().zip(there).enumerate() {
            let less = (middle.rate.per_day(*there) - middle.rate.per_day(*own)).max(0.0);
            lost += less;
            lost_by_day += if is_night(placed, slot) { 0.0 } else { less };
            let here = lost_at.entry(placed.own_spots[slot]).or_default();
            *here = (here.0 + less, here.1 + own, here.2 + 1.0);
        }
        let lost_at = lost_at.into_iter().max_by(|a, b| a.1.0.total_cmp(&b.1.0));
        let part = |of: f64, whole: f64| if whole > 0.0 { of / whole } else { 0.0 };
        Self {
            hours_below_base: hours(&|_, celsius| middle.rate.base().is_some_and(|base| celsius < base)),
            hours_above_optimum,
            hot_at_night: part(at_night, hours_above_optimum),
            lost_by_day: part(lost_by_day, lost),
            lost_at: lost_at.filter(|(_, (less, _, _))| *less > 0.0).map(|(name, (_, sum, slots))| (name.clone(), sum / slots)),
            thermal_time: own.iter().map(|celsius| middle.rate.per_day(*celsius)).sum::<f64>() / SLOTS_PER_DAY as f64,
        }
    }
}

/// Days between two dates of which either may be never: never against never is no difference.
pub(super) fn apart(own: f64, other: f64) -> f64 {
    if own == other { 0.0 } else { own - other }
}

/// Of the draws in which the date comes at all.
fn finite_spread(values: &[f64]) -> Spread {
    let finite: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    if finite.is_empty() { Spread { p10: Some(0.0), p50: Some(0.0), p90: Some(0.0) } } else { spread_of(&finite) }
}

pub(super) fn swing(values: &[f64]) -> f64 {
    let mut sorted = values.to_vec();
    sorted.sort_by(f64::total_cmp);
    if sorted.is_empty() { 0.0 } else { quantile_of(&sorted, 0.95) - quantile_of(&sorted, 0.05) }
}

/// Sprouts expected among `left` sound seeds when `more` thermal time follows on `so_far`.
fn expected_sprouts(family: Distribution, needs: &Needs, left: u32, so_far: f64, more: f64) -> f64 {
    let share = |thermal: f64| if thermal > 0.0 { family.share((thermal.ln() - needs.ln_half) / needs.spread) } else { 0.0 };
    let (now, then) = (share(so_far), share(so_far + more));
    f64::from(left) * needs.germinable * (then - now) / (1.0 - needs.germinable * now)
}
