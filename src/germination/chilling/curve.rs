//! A curve that only rises or only falls with days of moist cold, and draws of it.

use crate::stats::{Dice, effective_draws, parallel_map};

const CHAINS: u64 = 4;
const WARM_UP: usize = 1000;
const KEPT: usize = 500;
const EVERY: usize = 10;

/// One draw of a curve.
///
/// # Formula
/// ```text
/// f(d) = f₀ + (f_D − f₀) · (1 − e^(−d/τ)) / (1 − e^(−D/τ))
/// d days of moist cold, D the longest on record, f₀ and f_D its values there
/// share:  logit πᵢ = f(dᵢ) + σ εᵢ       f₀, f_D ~ N(0, 2²), ln(τ/D) ~ N(ln ½, 1), ln σ ~ N(ln .3, .7²)
/// speed:  ln Θ½ᵢ = f(dᵢ) + σ εᵢ         f₀, f_D ~ N(the species' ln Θ½, 1), ln(τ/D) as above, ln σ ~ N(ln .06, .6²)
/// ```
/// It only rises or only falls, as a straight line for a long τ and as a step for a short one. Assumed, no source but that responses to
/// 0 to 16 weeks are told as linear in one species and as a step by four weeks in another of the same genus (Native Plants Journal
/// 17(3):256). What boxes differ by (σ) is assumed as in a fit.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Curve {
    pub(super) first: f64,
    pub(super) last: f64,
    tau: f64,
    longest: f64,
    pub(super) sd: f64,
}

impl Curve {
    fn of(point: &[f64; 4], longest: f64) -> Self {
        Self { first: point[0], last: point[1], tau: point[2].exp() * longest, longest, sd: point[3].exp() }
    }

    fn rise(&self, days: f64) -> f64 {
        (-days / self.tau).exp_m1() / (-self.longest / self.tau).exp_m1()
    }

    pub(super) fn at(&self, days: f64) -> f64 {
        self.first + (self.last - self.first) * self.rise(days)
    }

    /// Days by which a share of the whole change is had.
    pub(super) fn days_for(&self, share: f64) -> f64 {
        -self.tau * (share * (-self.longest / self.tau).exp_m1()).ln_1p()
    }
}

/// Draws of a curve, and how many independent ones the worst of its ends is worth: random walks, one coordinate at a time (Metropolis
/// et al. 1953, J. Chem. Phys. 21:1087, <https://doi.org/10.1063/1.1699114>), with steps that are suited to about 44 in 100 taken while
/// warming up (Gelman, Roberts & Gilks 1996, Bayesian Statistics 5:599–607).
pub(super) fn draws(
    ln_likelihood: &(dyn Fn(&Curve) -> f64 + Sync),
    ends: [(f64, f64); 2],
    ln_sd: (f64, f64),
    longest: f64,
    seed: u64,
) -> (Vec<Curve>, f64) {
    let assumed = [ends[0], ends[1], (0.5f64.ln(), 1.0), ln_sd];
    let density = |point: &[f64; 4]| {
        let prior: f64 = point.iter().zip(&assumed).map(|(x, (mean, sd))| -0.5 * ((x - mean) / sd).powi(2)).sum();
        prior + ln_likelihood(&Curve::of(point, longest))
    };
    let chain = |chain: &u64| -> Vec<[f64; 4]> {
        let mut dice = Dice::new(seed.wrapping_add(chain.wrapping_mul(0x9E37_79B9_7F4A_7C15)));
        let mut point: [f64; 4] = std::array::from_fn(|at| assumed[at].0 + 0.5 * assumed[at].1 * dice.normal());
        let mut here = density(&point);
        let mut steps: [f64; 4] = assumed.map(|(_, sd)| 0.5 * sd);
        let mut kept = Vec::with_capacity(KEPT);
        for sweep in 0..WARM_UP + KEPT * EVERY {
            for at in 0..4 {
                let mut other = point;
                other[at] += steps[at] * dice.normal();
                let there = density(&other);
                let taken = dice.uniform().ln() < there - here;
                if taken {
                    (point, here) = (other, there);
                }
                if sweep < WARM_UP {
                    let pull = 4.0 / (20.0 + sweep as f64).sqrt();
                    steps[at] *= (pull * (f64::from(u8::from(taken)) - 0.44)).exp();
                }
            }
            if sweep >= WARM_UP && sweep % EVERY == 0 {
                kept.push(point);
            }
        }
        kept
    };
    let chains = parallel_map(&(0..CHAINS).collect::<Vec<_>>(), chain);
    let of = |at: usize| effective_draws(&chains.iter().map(|chain| chain.iter().map(|p| p[at]).collect()).collect::<Vec<_>>());
    let worth = of(0).min(of(1));
    (chains.into_iter().flatten().map(|point| Curve::of(&point, longest)).collect(), worth)
}
