//! The warmth from the last look to now, during which something may have sprouted unseen.

use super::SLOT_US;
use crate::thermal::{Profile, Rate, Stretch};
use crate::units::MICROS_PER_DAY;

/// Temperatures from the last look to now, at the ends and the middle of guesses.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct SinceLook {
    from_us: i64,
    until_us: i64,
    /// °C in each quarter of an hour: low end, middle, high end. A hole takes the value before it.
    slots: [Vec<f64>; 3],
    stretch: Stretch,
}

impl SinceLook {
    /// From samples every quarter of an hour, the last cut short at `until_us`: low end, middle and high end of guesses.
    #[must_use]
    pub fn new(from_us: i64, until_us: i64, samples: [Vec<Option<f64>>; 3]) -> Self {
        let slots = samples.map(|samples| {
            let mut last = samples.iter().flatten().next().copied();
            samples
                .into_iter()
                .filter_map(|sample| {
                    last = sample.or(last);
                    last
                })
                .collect::<Vec<f64>>()
        });
        let mut since = Self { from_us, until_us, slots, stretch: Stretch::default() };
        let (mut known, mut guessed) = (Vec::new(), Vec::new());
        let (mut days, mut below, mut above) = (0.0, 0.0, 0.0);
        for slot in 0..since.slots[1].len() {
            let [low, middle, high] = since.slots.each_ref().map(|slots| slots[slot]);
            let long = since.days_of(slot);
            if low < middle || high > middle {
                guessed.push((middle, long));
                days += long;
                below += (middle - low) * long;
                above += (high - middle) * long;
            } else {
                known.push((middle, long));
            }
        }
        let mean = |sum: f64| if days > 0.0 { sum / days } else { 0.0 };
        since.stretch = Stretch {
            known: Profile::new(known),
            guessed: Profile::new(guessed),
            guess_below_c: mean(below),
            guess_above_c: mean(above),
            unknown_days: 0.0,
        };
        since
    }

    fn days_of(&self, slot: usize) -> f64 {
        let start = self.from_us + slot as i64 * SLOT_US;
        ((start + SLOT_US).min(self.until_us) - start).max(0) as f64 / MICROS_PER_DAY
    }

    /// Thermal time gained, temperatures raised by `offset` °C and guesses at `guess` (−1 to 1) between their bounds.
    #[must_use]
    pub fn gained(&self, rate: &Rate, offset: f64, guess: f64) -> f64 {
        if self.slots[1].is_empty() { 0.0 } else { self.stretch.gained(rate, offset, guess) }
    }

    /// When `thermal` of it had been gained, microseconds since 1970; its end if not within it.
    #[must_use]
    pub fn when(&self, thermal: f64, rate: &Rate, offset: f64, guess: f64) -> i64 {
        let end = if guess < 0.0 { &self.slots[0] } else { &self.slots[2] };
        let mut sum = 0.0;
        for (slot, (middle, end)) in self.slots[1].iter().zip(end).enumerate() {
            let gained = rate.per_day(middle + guess.abs() * (end - middle) + offset) * self.days_of(slot);
            if sum + gained >= thermal && gained > 0.0 {
                let part = (thermal - sum) / gained * self.days_of(slot) * MICROS_PER_DAY;
                return (self.from_us + slot as i64 * SLOT_US + part.round() as i64).min(self.until_us);
            }
            sum += gained;
        }
        self.until_us
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::MICROS_PER_HOUR;

    const DAY: i64 = 24 * MICROS_PER_HOUR;
    const RATE: Rate = Rate::Threshold { base: 10.0 };

    fn since(samples: Vec<Option<f64>>) -> SinceLook {
        SinceLook::new(0, DAY, [samples.clone(), samples.clone(), samples])
    }

    #[test]
    fn amounts_and_instants_answer_each_other() {
        let since = since(vec![Some(20.0); 96]);
        assert!((since.gained(&RATE, 0.0, 0.3) - 10.0).abs() < 1e-9);
        assert!((since.gained(&RATE, 2.0, 0.3) - 12.0).abs() < 1e-9, "warmer by the offset");
        assert_eq!(since.when(5.0, &RATE, 0.0, 0.3), DAY / 2);
        assert_eq!(since.when(10.5, &RATE, 0.0, 0.3), DAY, "no later than now");
        assert_eq!(since.when(0.0, &RATE, 0.0, 0.3), 0);
    }

    #[test]
    fn time_that_stands_still_is_passed_at_its_next_gain_and_a_hole_goes_on_as_before() {
        let cold_then_warm = (0..96).map(|slot| if slot < 48 { Some(5.0) } else { (slot < 72).then_some(20.0) });
        let since = since(cold_then_warm.collect());
        assert!(since.when(0.1, &RATE, 0.0, 0.0) > DAY / 2 && since.when(0.1, &RATE, 0.0, 0.0) < DAY * 13 / 24);
        assert!((since.gained(&RATE, 0.0, 0.0) - 5.0).abs() < 1e-9);
    }

    #[test]
    fn guessed_time_stands_between_its_bounds_and_measured_time_does_not_move() {
        let samples = |guessed: f64| (0..96).map(|slot| Some(if slot < 48 { 20.0 } else { guessed })).collect();
        let since = SinceLook::new(0, DAY, [samples(14.0), samples(16.0), samples(20.0)]);
        for (guess, expected) in [(-1.0, 7.0), (0.0, 8.0), (0.5, 9.0), (1.0, 10.0)] {
            assert!((since.gained(&RATE, 0.0, guess) - expected).abs() < 1e-9, "{guess}");
        }
        assert_eq!(since.when(7.5, &RATE, 0.0, 1.0), DAY * 3 / 4);
    }
}
