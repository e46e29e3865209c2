//! Draws by Hamiltonian Monte Carlo.

use super::Model;
use super::whitened::{Room, Whitened};
use crate::stats::{Dice, effective_draws, parallel_take};

/// Chains, from separate starts: they must agree.
const CHAINS: usize = 4;
/// Share of moves that are to be accepted.
const ACCEPTED: f64 = 0.8;
/// Steps of one move at the most.
const MOST_STEPS: usize = 40;
/// A move whose energy error is beyond this has left the posterior.
const LOST: f64 = 500.0;

/// How long the chains run.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Length {
    /// Moves of each chain to find its step, not kept.
    pub warm_up: usize,
    /// Moves of each chain kept.
    pub kept: usize,
    /// Effective draws below which the chains go on, up to four times as long.
    pub enough: usize,
    /// Draws handed on at the most.
    pub handed_on: usize,
}

impl Default for Length {
    fn default() -> Self {
        Self { warm_up: 80, kept: 300, enough: 400, handed_on: 1000 }
    }
}

/// Chains of points (coordinates, then own effects), and how many independent draws the worst coordinate is worth.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Sampled {
    pub(super) chains: Vec<Vec<Vec<f64>>>,
    pub(super) effective: f64,
}

/// Samples the posterior around `mode` (own effects not among its coordinates). None where the density around it is not finite.
pub(super) fn sample(model: &Model, mode: &[f64], length: Length, seed: u64) -> Option<Sampled> {
    let mut whitened = Whitened::new(model, mode)?;
    let mut seeds = Dice::new(seed);
    let mut chains: Vec<Chain> = Vec::new();
    for _ in 0..CHAINS {
        chains.push(Chain::new(&whitened, Dice::new(seeds.bits()))?);
    }
    let mut chains = parallel_take(chains, |mut chain| {
        chain.warm_up(&whitened, length.warm_up);
        chain.run(&whitened, length.warm_up);
        chain
    });
    let seen: Vec<&Vec<f64>> = chains.iter().flat_map(|chain| &chain.kept).collect();
    whitened = whitened.relearnt(&seen)?;
    chains.iter_mut().try_for_each(|chain| chain.begin_again(&whitened))?;
    let mut chains = parallel_take(chains, |mut chain| {
        chain.warm_up(&whitened, length.warm_up);
        chain.run(&whitened, length.kept);
        chain
    });
    for _ in 0..2 {
        let effective = worst(&chains, whitened.rest);
        if effective >= length.enough as f64 {
            break;
        }
        let more = chains[0].kept.len();
        chains = parallel_take(chains, |mut chain| {
            chain.run(&whitened, more);
            chain
        });
    }
    let effective = worst(&chains, whitened.rest);
    Some(Sampled { chains: chains.into_iter().map(|chain| chain.kept).collect(), effective })
}

fn worst(chains: &[Chain], coordinates: usize) -> f64 {
    let of = |at: usize| {
        let values: Vec<Vec<f64>> = chains.iter().map(|chain| chain.kept.iter().map(|point| point[at]).collect()).collect();
        effective_draws(&values)
    };
    (0..coordinates).map(of).fold(f64::INFINITY, f64::min)
}

struct Chain {
    dice: Dice,
    zeta: Vec<f64>,
    value: f64,
    gradient: Vec<f64>,
    point: Vec<f64>,
    step: f64,
    room: Room,
    kept: Vec<Vec<f64>>,
}

impl Chain {
    fn new(whitened: &Whitened<'_>, mut dice: Dice) -> Option<Self> {
        let size = whitened.model.joint_size();
        let mut room = Room::default();
        let start: Vec<f64> = (0..size).map(|_| dice.normal()).collect();
        // From as far out as is possible at all.
        let mut reach = 1.0;
        for _ in 0..20 {
            let zeta: Vec<f64> = start.iter().map(|at| reach * at).collect();
            if let Some(value) = whitened.at(&zeta, &mut room) {
                let (gradient, point) = (room.gradient.clone(), room.point.clone());
                let step = 1.4 / (size as f64).powf(0.25);
                return Some(Self { dice, zeta, value, gradient, point, step, room, kept: Vec::new() });
            }
            reach *= 0.6;
        }
        None
    }

    /// Stays where it is, in other coordinates, and forgets how it came there.
    fn begin_again(&mut self, whitened: &Whitened<'_>) -> Option<()> {
        self.zeta = whitened.zeta(&self.point)?;
        self.value = whitened.at(&self.zeta, &mut self.room)?;
        self.gradient.clone_from(&self.room.gradient);
        self.kept.clear();
        Some(())
    }

    /// One move; returns the chance with which it was accepted.
    ///
    /// Leapfrog over about a quarter of an orbit of the standard normal, its length drawn anew each time (Neal 2011, "MCMC using
    /// Hamiltonian dynamics", Handbook of Markov Chain Monte Carlo, https://doi.org/10.1201/b10905-6).
    fn go(&mut self, whitened: &Whitened<'_>) -> f64 {
        let length = std::f64::consts::FRAC_PI_2 * (0.6 + 0.8 * self.dice.uniform());
        // One move in five goes a short way in small steps: out of narrow places where every long move is turned down.
        let small = if self.dice.uniform() < 0.2 { 0.05 + 0.45 * self.dice.uniform() } else { 1.0 };
        let step = small * self.step;
        let steps = ((small * length / step).round() as usize).clamp(1, MOST_STEPS);
        let mut momentum: Vec<f64> = self.zeta.iter().map(|_| self.dice.normal()).collect();
        let chance = self.dice.uniform();
        let kinetic = |momentum: &[f64]| 0.5 * momentum.iter().map(|p| p * p).sum::<f64>();
        let before = self.value - kinetic(&momentum);
        let mut zeta = self.zeta.clone();
        self.room.gradient.clone_from(&self.gradient);
        let mut value = self.value;
        for _ in 0..steps {
            momentum.iter_mut().zip(&self.room.gradient).for_each(|(p, slope)| *p += 0.5 * step * slope);
            zeta.iter_mut().zip(&momentum).for_each(|(at, p)| *at += step * p);
            let Some(next) = whitened.at(&zeta, &mut self.room) else { return 0.0 };
            value = next;
            momentum.iter_mut().zip(&self.room.gradient).for_each(|(p, slope)| *p += 0.5 * step * slope);
            if before - (value - kinetic(&momentum)) > LOST {
                return 0.0;
            }
        }
        let accepted = (value - kinetic(&momentum) - before).exp().min(1.0);
        if chance < accepted {
            self.zeta = zeta;
            self.value = value;
            self.gradient.clone_from(&self.room.gradient);
            self.point.clone_from(&self.room.point);
        }
        if accepted.is_nan() { 0.0 } else { accepted }
    }

    /// Finds the step by dual averaging (Hoffman & Gelman 2014, J. Mach. Learn. Res. 15:1593–1623, section 3.2).
    fn warm_up(&mut self, whitened: &Whitened<'_>, moves: usize) {
        let (towards, mut error, mut average) = ((3.0 * self.step).ln(), 0.0, self.step.ln());
        for at in 1..=moves {
            let accepted = self.go(whitened);
            let count = at as f64;
            let share = 1.0 / (count + 10.0);
            error = (1.0 - share) * error + share * (ACCEPTED - accepted);
            let ln_step = towards - count.sqrt() / 0.05 * error;
            let weight = count.powf(-0.75);
            average = weight * ln_step + (1.0 - weight) * average;
            self.step = ln_step.exp().clamp(1e-4, 2.0);
        }
        self.step = average.exp().clamp(1e-4, 2.0);
    }

    fn run(&mut self, whitened: &Whitened<'_>, moves: usize) {
        for _ in 0..moves {
            self.go(whitened);
            self.kept.push(self.point.clone());
        }
    }
}
