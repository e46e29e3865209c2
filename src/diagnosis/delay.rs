//! One box against every spot of the bench.

use std::collections::BTreeMap;

use super::causes::{CAUSES, Cause, shares};
use super::gains::{Gains, SLOTS_PER_DAY, days_until};
use crate::bench::{Name, Trial};
use crate::forecast::{Outlook, Weather};
use crate::germination::{Distribution, Needs, OwnNeeds};
use crate::stats::{Spread, mean_of, median_of, quantile_of, spread_of};

/// A move's sprouts are compared this many days from now.
const COMPARED_AFTER_DAYS: usize = 60;
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
    pub below_base: f64,
    /// Above the optimum.
    pub above_optimum: f64,
    /// Cooler nights.
    pub nights: f64,
    /// Cooler days.
    pub days: f64,
    /// The box's own: what its warmth does not explain.
    pub rest: f64,
}

/// What carrying the box to a spot today would change.
#[derive(Debug, Clone, PartialEq)]
pub struct MoveGain {
    /// Where to.
    pub spot: Name,
    /// Days sooner to half of the sprouts (below 0: later).
    pub days: Spread,
    /// More sprouts within 60 days (below 0: fewer).
    pub sprouts: Spread,
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
    /// Factor on the requirement that only the box itself explains; above 1 slower.
    pub slower: Spread,
    /// Chance that this factor is over 1.15.
    pub slower_chance: f64,
    /// Moving it today, by spot.
    pub moves: Vec<MoveGain>,
    /// Days lost by cause.
    pub lost: LostDays,
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
    let own_outlook = placed.spots.get(placed.spot)?.outlook;
    let past = placed.own_past_c.len();
    let slots = past + HORIZON_DAYS * SLOTS_PER_DAY;
    let names: Vec<&Name> = placed.spots.keys().copied().collect();
    let level_at = |levels: &[f64], spot: &Name| names.iter().position(|name| *name == spot).map_or(0.0, |at| levels[at]);
    let levels: Vec<Vec<f64>> =
        (0..needs.len()).map(|draw| names.iter().map(|name| placed.spots[*name].offsets[draw]).collect()).collect();
    let own_gains = |draw: usize| {
        let shift = |slot: usize| level_at(&levels[draw], placed.own_spots[slot]);
        let later = level_at(&levels[draw], placed.spot);
        Gains::new(placed.own_past_c, shift, later, &needs[draw].typical.rate, own_outlook, &weather[draw])
    };
    let spot_gains = |draw: usize, at: usize| {
        let path = &placed.spots[names[at]];
        let level = levels[draw][at];
        Gains::new(&path.past_c, |_| level, level, &needs[draw].typical.rate, path.outlook, &weather[draw])
    };

    let mut own_days = Vec::new();
    let mut spot_days: Vec<Vec<f64>> = vec![Vec::new(); names.len()];
    let mut moves: Vec<(Vec<f64>, Vec<f64>)> = vec![Default::default(); names.len()];
    let mut factors = Vec::new();
    let mut own_rest = Vec::new();
    for (draw, need) in needs.iter().enumerate() {
        let half = need.typical.ln_half.exp();
        let own = own_gains(draw);
        let own_day = days_until(|slot| own.at(slot), half, 0, slots);
        own_days.push(own_day);
        let so_far = own.so_far();
        let stay = if so_far >= half { 0.0 } else { days_until(|slot| own.at(slot), half - so_far, past, slots) };
        let as_shown = need.own;
        factors.push(need.ln_slower.exp());
        own_rest.push(days_until(|slot| own.at(slot), as_shown.ln_half.exp(), 0, slots) - own_day);
        let sprouts_after = |more: f64| expected_sprouts(family, &as_shown, placed.trial.left().unwrap_or(0), so_far, more);
        let staying = sprouts_after(own.to_come(COMPARED_AFTER_DAYS * SLOTS_PER_DAY));
        for at in 0..names.len() {
            let there = spot_gains(draw, at);
            spot_days[at].push(days_until(|slot| there.at(slot), half, 0, slots));
            if names[at] == placed.spot {
                moves[at].0.push(0.0);
                moves[at].1.push(0.0);
                continue;
            }
            let moved = if so_far >= half { 0.0 } else { days_until(|slot| there.at(slot), half - so_far, past, slots) };
            moves[at].0.push(apart(stay, moved));
            moves[at].1.push(sprouts_after(there.to_come(COMPARED_AFTER_DAYS * SLOTS_PER_DAY)) - staying);
        }
    }

    let best = (0..names.len()).min_by(|a, b| median_of(&spot_days[*a]).total_cmp(&median_of(&spot_days[*b])))?;
    let delays: Vec<f64> = own_days.iter().zip(&spot_days[best]).map(|(own, best)| apart(*own, *best)).collect();
    let late =
        delays.iter().zip(&spot_days[best]).filter(|(delay, best)| **delay >= LEAST_DELAY_DAYS.max(LEAST_DELAY_SHARE * **best));
    let chance = late.count() as f64 / delays.len().max(1) as f64;

    let night = |slot: usize| {
        let hour = placed.local_hours[slot % SLOTS_PER_DAY];
        !(8.0..20.0).contains(&hour)
    };
    let mut lost: [Vec<f64>; CAUSES] = Default::default();
    for (draw, need) in needs.iter().enumerate() {
        let (own, there) = (own_gains(draw), spot_gains(draw, best));
        let celsius = |slot: usize| match placed.own_past_c.get(slot) {
            Some(celsius) => celsius + level_at(&levels[draw], placed.own_spots[slot]),
            None => own.celsius(slot - past),
        };
        let cause = |slot: usize| match celsius(slot) {
            c if need.typical.rate.optimum().is_some_and(|optimum| c > optimum) => Cause::AboveOptimum,
            c if need.typical.rate.base().is_some_and(|base| c < base) => Cause::BelowBase,
            _ if night(slot) => Cause::Night,
            _ => Cause::Day,
        };
        // No set of causes is later than the slowest it is made of; beyond that nothing need be looked at.
        let end = own_days[draw].max(spot_days[best][draw]);
        let end = if end.is_finite() { ((end + 1.0) * SLOTS_PER_DAY as f64) as usize } else { slots }.min(slots);
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

    let path = &placed.spots[names[best]];
    let hours = |of: &dyn Fn(f64, usize) -> bool| {
        placed.own_past_c.iter().enumerate().filter(|(slot, celsius)| of(**celsius, *slot)).count() as f64 * 24.0
            / SLOTS_PER_DAY as f64
    };
    let above = |celsius: f64| middle.rate.optimum().is_some_and(|optimum| celsius > optimum);
    let hours_above_optimum = hours(&|celsius, _| above(celsius));
    let loss = |slot: usize| (middle.rate.per_day(path.past_c[slot]) - middle.rate.per_day(placed.own_past_c[slot])).max(0.0);
    let common = past.min(path.past_c.len());
    let (lost_all, lost_day) =
        (0..common).fold((0.0, 0.0), |sum, slot| (sum.0 + loss(slot), sum.1 + if night(slot) { 0.0 } else { loss(slot) }));
    let rates: f64 = placed.own_past_c.iter().map(|celsius| middle.rate.per_day(*celsius)).sum();
    Some(BoxDelay {
        best_spot: (names.len() > 1).then(|| names[best].clone()),
        mean_c: mean_of(placed.own_past_c),
        best_mean_c: mean_of(&path.past_c),
        best_swing_c: swing(&path.past_c),
        rate_per_day: rates / past.max(1) as f64,
        hours_below_base: hours(&|celsius, _| middle.rate.base().is_some_and(|base| celsius < base)),
        hours_above_optimum,
        lost_by_day: if lost_all > 0.0 { lost_day / lost_all } else { 0.0 },
        hot_at_night: if hours_above_optimum > 0.0 {
            hours(&|celsius, slot| above(celsius) && night(slot)) / hours_above_optimum
        } else {
            0.0
        },
        delay_days: if names.len() > 1 { spread_of(&delays) } else { Spread::default() },
        chance,
        slower_chance: factors.iter().filter(|factor| **factor > SLOWER).count() as f64 / factors.len().max(1) as f64,
        slower: spread_of(&factors),
        moves: names
            .iter()
            .zip(&moves)
            .filter(|(name, _)| **name != placed.spot)
            .map(|(name, (days, sprouts))| MoveGain { spot: (*name).clone(), days: spread_of(days), sprouts: spread_of(sprouts) })
            .collect(),
        lost: LostDays {
            above_optimum: median_of(&lost[Cause::AboveOptimum as usize]),
            below_base: median_of(&lost[Cause::BelowBase as usize]),
            nights: median_of(&lost[Cause::Night as usize]),
            days: median_of(&lost[Cause::Day as usize]),
            rest: finite_median(&own_rest),
        },
        gathered: rates / SLOTS_PER_DAY as f64 / middle.ln_half.exp(),
    })
}

/// Days between two dates of which either may be never: never against never is no difference.
fn apart(own: f64, other: f64) -> f64 {
    if own == other { 0.0 } else { own - other }
}

fn finite_median(values: &[f64]) -> f64 {
    let finite: Vec<f64> = values.iter().copied().filter(|value| value.is_finite()).collect();
    if finite.is_empty() { 0.0 } else { median_of(&finite) }
}

fn swing(values: &[f64]) -> f64 {
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
