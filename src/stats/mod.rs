//! Distribution functions that cannot panic, and small exact statistics. The only room that knows `statrs` and `rayon`.

mod binomial;
mod chains;
mod chi_squared;
mod dispersion;
mod draws;
mod fisher;
mod holm;
mod interval_times;
mod log_rank;
mod normal;
mod outlying;
mod overdispersion;
mod parallel;
mod permutation;
mod proportion;
mod sample_size;
mod summary;

pub use binomial::{at_least, beta_quantile};
pub use chains::effective_draws;
pub use chi_squared::chi_squared_above;
pub use dispersion::{Dispersion, dispersion};
pub use draws::{Dice, seed_of};
pub use fisher::{fisher_power, fisher_two_sided, smallest_difference_shown};
pub use holm::holm;
pub use interval_times::{Curve, Piece, Window, turnbull};
pub use log_rank::{LogRank, log_rank};
pub use normal::{ln_normal_cdf, ln_normal_density, normal_cdf, normal_quantile};
pub use outlying::outlying;
pub use overdispersion::{Overdispersion, overdispersion};
pub use parallel::{parallel_map, parallel_take};
pub use permutation::{Permuted, Unit, permuted};
pub use proportion::{newcombe, wilson};
pub use sample_size::{design_effect, seeds_for_difference, seeds_for_difference_counted};
pub use summary::{
    Spread, mean_of, median_of, quantile_of, spread_of, standard_deviation_of, whole_quantile_of, whole_quantiles_of,
};

/// ln(1 + eˣ) without overflow.
#[must_use]
pub fn softplus(x: f64) -> f64 {
    if x > 0.0 { x + (-x).exp().ln_1p() } else { x.exp().ln_1p() }
}

/// 1 / (1 + e⁻ˣ).
#[must_use]
pub fn logistic(x: f64) -> f64 {
    if x >= 0.0 {
        1.0 / (1.0 + (-x).exp())
    } else {
        let e = x.exp();
        e / (1.0 + e)
    }
}

/// ln(p / (1 − p)).
#[must_use]
pub fn logit(p: f64) -> f64 {
    (p / (1.0 - p)).ln()
}

/// ln(1 − eˣ) for x ≤ 0; −∞ at 0. The switch at −ln 2 keeps both branches exact (Mächler 2012, "Accurately computing
/// log(1 − exp(−|a|))", R package Rmpfr).
#[must_use]
pub fn ln_one_minus_exp(x: f64) -> f64 {
    if x > -std::f64::consts::LN_2 { (-x.exp_m1()).ln() } else { (-x.exp()).ln_1p() }
}
