//! How many independent draws chains of dependent ones are worth.

/// Effective number of draws in chains of equal length, from variances within and between them and autocorrelations summed while
/// neighbouring pairs stay positive and fall (Geyer 1992, Statist. Sci. 7:473–483; Gelman et al. 2013, Bayesian Data Analysis, 3rd ed.,
/// section 11.5).
///
/// # Formula
/// ```text
/// var⁺ = (n − 1)/n · W + B/n,   ρₜ = 1 − (W − mean over chains of autocovarianceₜ)/var⁺,   effective = m n / (1 + 2 Σ ρₜ)
/// ```
/// 0 for chains of fewer than four draws or that do not move.
#[must_use]
pub fn effective_draws(chains: &[Vec<f64>]) -> f64 {
    let count = chains.iter().map(Vec::len).min().unwrap_or(0);
    if count < 4 {
        return 0.0;
    }
    let n = count as f64;
    let means: Vec<f64> = chains.iter().map(|chain| chain[..count].iter().sum::<f64>() / n).collect();
    let covariance = |lag: usize| {
        let of = |(chain, mean): (&Vec<f64>, &f64)| {
            (0..count - lag).map(|at| (chain[at] - mean) * (chain[at + lag] - mean)).sum::<f64>() / n
        };
        chains.iter().zip(&means).map(of).sum::<f64>() / chains.len() as f64
    };
    let within = covariance(0) * n / (n - 1.0);
    let grand = means.iter().sum::<f64>() / means.len() as f64;
    let between =
        if means.len() > 1 { means.iter().map(|mean| (mean - grand).powi(2)).sum::<f64>() / (means.len() - 1) as f64 } else { 0.0 };
    let whole = (n - 1.0) / n * within + between;
    if whole <= 0.0 || !whole.is_finite() {
        return 0.0;
    }
    let rho = |lag: usize| 1.0 - (within - covariance(lag)) / whole;
    let (mut sum, mut before) = (0.0, f64::INFINITY);
    let mut lag = 0;
    while lag + 1 < count {
        let pair = rho(lag) + rho(lag + 1);
        if pair < 0.0 {
            break;
        }
        before = pair.min(before);
        sum += before;
        lag += 2;
    }
    let all = n * chains.len() as f64;
    // Draws that pull against each other are worth more than independent ones, but not without bound.
    all / (2.0 * sum - 1.0).max(1.0 / all.log10())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::stats::Dice;

    /// A first-order autoregression with coefficient a is worth n (1 − a)/(1 + a) draws.
    #[test]
    fn chains_that_remember_are_worth_what_their_memory_leaves() {
        for a in [-0.3f64, 0.0, 0.5, 0.9] {
            let mut dice = Dice::new(5);
            let chains: Vec<Vec<f64>> = (0..4)
                .map(|_| {
                    let mut at = dice.normal() / (1.0 - a * a).sqrt();
                    (0..5000)
                        .map(|_| {
                            at = a * at + dice.normal();
                            at
                        })
                        .collect()
                })
                .collect();
            let expected = 20_000.0 * (1.0 - a) / (1.0 + a);
            let found = effective_draws(&chains);
            assert!((found / expected - 1.0).abs() < 0.12, "{a}: {found}, expected {expected}");
        }
    }

    #[test]
    fn chains_that_disagree_or_stand_still_are_worth_little() {
        let mut dice = Dice::new(6);
        let apart: Vec<Vec<f64>> = (0..4).map(|chain| (0..500).map(|_| 5.0 * f64::from(chain) + dice.normal()).collect()).collect();
        assert!(effective_draws(&apart) < 20.0);
        assert_eq!(effective_draws(&[vec![1.0; 100]]), 0.0);
    }
}
