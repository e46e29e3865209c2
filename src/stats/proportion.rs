//! A share that was counted, and how sure it is.

use super::normal_quantile;

/// Wilson's score interval for a share seen in `trials` independent trials, at a two-sided `level`.
///
/// # Formula
/// ```text
/// (p + z²/2n ± z √(p(1 − p)/n + z²/4n²)) / (1 + z²/n),   z = Φ⁻¹((1 + level)/2)
/// ```
/// E. B. Wilson 1927, "Probable inference, the law of succession, and statistical inference", Journal of the American Statistical
/// Association 22:209–212, <https://doi.org/10.1080/01621459.1927.10502953>. Without trials it is 0 to 1.
#[must_use]
pub fn wilson(share: f64, trials: f64, level: f64) -> (f64, f64) {
    if trials <= 0.0 {
        return (0.0, 1.0);
    }
    let z = normal_quantile(0.5 * (1.0 + level));
    let square = z * z / trials;
    let middle = share + 0.5 * square;
    let reach = z * (share * (1.0 - share) / trials + 0.25 * square / trials).sqrt();
    (((middle - reach) / (1.0 + square)).max(0.0), ((middle + reach) / (1.0 + square)).min(1.0))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// R. G. Newcombe 1998, "Two-sided confidence intervals for the single proportion", Statistics in Medicine 17:857–872,
    /// <https://doi.org/10.1002/(SICI)1097-0258(19980430)17:8%3C857::AID-SIM777%3E3.0.CO;2-E>, table I, method 3 (from memory): 81
    /// of 263, 15 of 148, 0 of 20 and 1 of 29 at 95 %.
    #[test]
    fn it_gives_the_published_intervals() {
        for (count, trials, low, high) in
            [(81.0, 263.0, 0.2553, 0.3662), (15.0, 148.0, 0.0624, 0.1605), (0.0, 20.0, 0.0, 0.1611), (1.0, 29.0, 0.0061, 0.1718)]
        {
            let found = wilson(count / trials, trials, 0.95);
            assert!((found.0 - low).abs() < 6e-5 && (found.1 - high).abs() < 6e-5, "{count} of {trials}: {found:?}");
        }
        assert_eq!(wilson(0.0, 0.0, 0.9), (0.0, 1.0));
    }
}
