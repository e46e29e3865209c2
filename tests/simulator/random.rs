//! Seeded random numbers, a stream of its own for every purpose: a change in one place leaves the others as they were.

use rand::rngs::ChaCha8Rng;
use rand::{RngExt, SeedableRng};

/// A stream of random numbers.
pub(crate) struct Stream(ChaCha8Rng);

impl Stream {
    /// The stream that belongs to a seed and a label (told apart by the label's first 24 bytes).
    pub(crate) fn new(seed: u64, label: &str) -> Self {
        let mut key = [0_u8; 32];
        key[..8].copy_from_slice(&seed.to_le_bytes());
        for (place, byte) in key[8..].iter_mut().zip(label.bytes()) {
            *place = byte;
        }
        Self(ChaCha8Rng::from_seed(key))
    }

    /// Uniform in (0, 1), never an end.
    pub(crate) fn uniform(&mut self) -> f64 {
        self.0.random::<f64>().clamp(1e-12, 1.0 - 1e-12)
    }

    /// Uniform between two values.
    pub(crate) fn between(&mut self, low: f64, high: f64) -> f64 {
        low + (high - low) * self.uniform()
    }

    /// True with a chance.
    pub(crate) fn chance(&mut self, chance: f64) -> bool {
        self.uniform() < chance
    }

    /// Normal with mean 0 and a standard deviation (Box & Muller 1958, Ann. Math. Statist. 29:610–611).
    pub(crate) fn normal(&mut self, sd: f64) -> f64 {
        let (u, v) = (self.uniform(), self.uniform());
        sd * (-2.0 * u.ln()).sqrt() * (std::f64::consts::TAU * v).cos()
    }
}
