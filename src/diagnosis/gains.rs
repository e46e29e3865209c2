//! Thermal time gained quarter of an hour by quarter of an hour, through the known past and one drawn future.

use std::cell::RefCell;

pub(super) use crate::forecast::SLOTS_PER_DAY;
use crate::forecast::{DaysAhead, Outlook, Weather};
use crate::thermal::Rate;

/// Gains of each slot: past ones in a row, then the days to come, worked out as far as they are asked for.
pub(super) struct Gains<'a> {
    past: Vec<f64>,
    rate: Rate,
    /// °C added to the future.
    later: f64,
    future: RefCell<Future<'a>>,
}

struct Future<'a> {
    days: DaysAhead<'a>,
    celsius: Vec<f64>,
    gains: Vec<f64>,
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
        let gain = |celsius: f64| rate.per_day(celsius) / SLOTS_PER_DAY as f64;
        let past = past.iter().enumerate().map(|(slot, celsius)| gain(celsius + shift(slot))).collect();
        let future = Future { days: outlook.days(weather), celsius: Vec::new(), gains: Vec::new() };
        Self { past, rate: *rate, later, future: RefCell::new(future) }
    }

    /// Gain in a slot.
    pub(super) fn at(&self, slot: usize) -> f64 {
        self.past.get(slot).copied().unwrap_or_else(|| self.later(slot - self.past.len()).1)
    }

    /// °C in a slot from now on, with what is added to the future.
    pub(super) fn celsius(&self, slot: usize) -> f64 {
        self.later(slot).0
    }

    fn later(&self, slot: usize) -> (f64, f64) {
        let mut future = self.future.borrow_mut();
        while future.gains.len() <= slot {
            let (mean, shape) = future.days.next_day();
            let celsius = shape.apart_c().iter().map(|apart| mean + self.later + apart);
            future.gains.extend(celsius.clone().map(|celsius| self.rate.per_day(celsius) / SLOTS_PER_DAY as f64));
            future.celsius.extend(celsius);
        }
        (future.celsius[slot], future.gains[slot])
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
