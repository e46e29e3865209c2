//! Thermal time gained quarter of an hour by quarter of an hour, through the known past and one drawn future.

use crate::forecast::{Outlook, SLOTS_PER_HOUR, Weather};
use crate::thermal::Rate;

/// Slots in a day.
pub(super) const SLOTS_PER_DAY: usize = 24 * SLOTS_PER_HOUR;

/// Gains of each slot: past ones in a row, then whole days of the recent past as the weather draws them.
pub(super) struct Gains<'a> {
    past: Vec<f64>,
    recent: Vec<Vec<f64>>,
    outlook: &'a Outlook,
    weather: &'a Weather,
}

impl<'a> Gains<'a> {
    /// `past` in °C a slot; `shift(slot)` is what is added to it, `later` to the future.
    pub(super) fn new(
        past: &[f64],
        shift: impl Fn(usize) -> f64,
        later: f64,
        rate: &Rate,
        outlook: &'a Outlook,
        weather: &'a Weather,
    ) -> Self {
        let per_slot = 1.0 / SLOTS_PER_DAY as f64;
        let gain = |celsius: f64| rate.per_day(celsius) * per_slot;
        let past = past.iter().enumerate().map(|(slot, celsius)| gain(celsius + shift(slot))).collect();
        let recent = outlook.days().iter().map(|day| day.iter().map(|celsius| gain(celsius + later)).collect()).collect();
        Self { past, recent, outlook, weather }
    }

    /// Gain in a slot.
    pub(super) fn at(&self, slot: usize) -> f64 {
        match self.past.get(slot) {
            Some(gain) => *gain,
            None => {
                let future = slot - self.past.len();
                self.recent[self.outlook.repeats(future / SLOTS_PER_DAY, self.weather)][future % SLOTS_PER_DAY]
            }
        }
    }

    /// Gained in all past slots.
    pub(super) fn so_far(&self) -> f64 {
        self.past.iter().sum()
    }

    /// Gained in the future slots up to `slots` from now.
    pub(super) fn to_come(&self, slots: usize) -> f64 {
        (self.past.len()..self.past.len() + slots).map(|slot| self.at(slot)).sum()
    }
}

/// Days until `wanted` is gained, beginning at slot `from`; infinite if not within `slots`.
pub(super) fn days_until(gain: impl Fn(usize) -> f64, wanted: f64, from: usize, slots: usize) -> f64 {
    let mut sum = 0.0;
    for slot in from..slots {
        let more = gain(slot);
        if sum + more >= wanted && more > 0.0 {
            return ((slot - from) as f64 + (wanted - sum) / more) / SLOTS_PER_DAY as f64;
        }
        sum += more;
    }
    f64::INFINITY
}
