//! Seeded random draws: the same evidence gives the same answer on every machine.

use rand::rngs::ChaCha8Rng;
use rand::{Rng, RngExt, SeedableRng};

use super::normal_quantile;

/// A seeded source of random numbers.
#[derive(Debug)]
pub struct Dice(ChaCha8Rng);

/// A seed from text, so that what is drawn for one container does not depend on which others stand beside it
/// (FNV-1a, 64 bit: Fowler, Noll & Vo, IETF RFC 9923).
#[must_use]
pub fn seed_of(text: &str) -> u64 {
    text.bytes().fold(0xcbf2_9ce4_8422_2325, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3))
}

impl Dice {
    /// Dice that always fall alike for the same seed.
    #[must_use]
    pub fn new(seed: u64) -> Self {
        Self(ChaCha8Rng::seed_from_u64(seed))
    }

    /// Uniform on [0, 1).
    pub fn uniform(&mut self) -> f64 {
        self.0.random::<f64>()
    }

    /// A whole number below `bound`; 0 where the bound is 0.
    pub fn below(&mut self, bound: usize) -> usize {
        if bound == 0 { 0 } else { self.0.random_range(0..bound) }
    }

    /// Puts items into an order of which each is as likely (Fisher & Yates 1938; from the last place down: Durstenfeld 1964,
    /// https://doi.org/10.1145/364520.364540).
    pub fn shuffle<T>(&mut self, items: &mut [T]) {
        for last in (1..items.len()).rev() {
            items.swap(last, self.below(last + 1));
        }
    }

    /// Standard normal, by inversion: one uniform a draw keeps streams aligned.
    pub fn normal(&mut self) -> f64 {
        // The lowest uniform is 0, whose quantile is infinite: half a step up keeps the draw finite (8.3 sd at the most).
        normal_quantile(self.uniform() + 2f64.powi(-54))
    }

    /// The next 64 random bits.
    pub fn bits(&mut self) -> u64 {
        self.0.next_u64()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::{mean_of, standard_deviation_of};

    #[test]
    fn draws_repeat_and_have_their_moments() {
        let draws = |seed| {
            let mut dice = Dice::new(seed);
            (0..20_000).map(|_| dice.normal()).collect::<Vec<_>>()
        };
        let normal = draws(1);
        assert_eq!(normal, draws(1));
        assert!(mean_of(&normal).abs() < 4.0 / f64::sqrt(20_000.0), "within 4 standard errors");
        assert!((standard_deviation_of(&normal) - 1.0).abs() < 4.0 / f64::sqrt(40_000.0));
    }

    /// Vectors of RFC 9923: the empty string and "a".
    #[test]
    fn seeds_follow_fnv_1a() {
        assert_eq!(seed_of(""), 0xcbf2_9ce4_8422_2325);
        assert_eq!(seed_of("a"), 0xaf63_dc4c_8601_ec8c);
    }
}
