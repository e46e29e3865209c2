//! Counts: binomial ones and mixtures of them, their quantiles, and the loss of a forecast.

/// The levels at which counts are forecast.
pub(crate) const LEVELS: [f64; 7] = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];

/// Counts at the [`LEVELS`].
pub(crate) type Levels = [u32; 7];

/// Probabilities of 0 to `n` successes.
///
/// # Formula
/// ```text
/// P(k) = n! / (k! (n − k)!) · p^k (1 − p)^(n − k)
/// ```
pub(crate) fn binomial(n: u32, p: f64) -> Vec<f64> {
    let (mut ln_choose, mut all) = (0.0, Vec::with_capacity(n as usize + 1));
    // 0 · ln 0 = 0.
    let times_ln = |k: u32, p: f64| if k == 0 { 0.0 } else { f64::from(k) * p.ln() };
    for k in 0..=n {
        all.push((ln_choose + times_ln(k, p) + times_ln(n - k, 1.0 - p)).exp());
        ln_choose += (f64::from(n - k) / f64::from(k + 1)).ln();
    }
    all
}

/// `seen` and what comes of `left` seeds: the chance of each is one of `chances`, each of these as likely; the smallest counts that
/// reach the levels.
pub(crate) fn quantiles(seen: u32, left: u32, chances: &[f64]) -> Levels {
    let mut mixed = vec![0.0; left as usize + 1];
    for &chance in chances {
        for (sum, part) in mixed.iter_mut().zip(binomial(left, chance.clamp(0.0, 1.0))) {
            *sum += part / chances.len() as f64;
        }
    }
    LEVELS.map(|level| {
        let mut reached = 0.0;
        let found = mixed.iter().position(|part| {
            reached += part;
            // Rounding in the sum is some 1e-15 a term.
            reached >= level - 1e-12
        });
        seen + found.map_or(left, |found| found as u32)
    })
}

/// Mean over the levels of twice the pinball loss, by seed.
pub(crate) fn loss(levels: &Levels, truth: u32, seeds: u32) -> f64 {
    let one = |(level, count): (&f64, &u32)| {
        let above = f64::from(truth) - f64::from(*count);
        2.0 * if above >= 0.0 { level * above } else { (level - 1.0) * above }
    };
    LEVELS.iter().zip(levels).map(one).sum::<f64>() / (LEVELS.len() as f64 * f64::from(seeds))
}

/// Whether the truth lies in the 50, 80 and 90 % ranges.
pub(crate) fn held(levels: &Levels, truth: u32) -> [bool; 3] {
    let [p05, p10, p25, _, p75, p90, p95] = *levels;
    [(p25, p75), (p10, p90), (p05, p95)].map(|(low, high)| (low..=high).contains(&truth))
}
