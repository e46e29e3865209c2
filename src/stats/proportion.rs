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

/// Newcombe's hybrid score interval for the difference of two shares, `a` − `b`, each (count, of): his method 10. Counts may be
/// fractions, where seeds that share containers count for less.
///
/// # Formula
/// ```text
/// p₁ − p₂ − √((p₁ − l₁)² + (u₂ − p₂)²)  to  p₁ − p₂ + √((u₁ − p₁)² + (p₂ − l₂)²),   lᵢ, uᵢ Wilson's interval of pᵢ
/// ```
/// R. G. Newcombe 1998, "Interval estimation for the difference between independent proportions: comparison of eleven methods",
/// Statistics in Medicine 17:873–890, <https://doi.org/10.1002/(SICI)1097-0258(19980430)17:8%3C873::AID-SIM779%3E3.0.CO;2-I>. Without
/// trials in a group all that the other group leaves possible.
#[must_use]
pub fn newcombe(a: (f64, f64), b: (f64, f64), level: f64) -> (f64, f64) {
    let (p_a, p_b) = (a.0 / a.1, b.0 / b.1);
    let ((low_a, high_a), (low_b, high_b)) = (wilson(p_a, a.1, level), wilson(p_b, b.1, level));
    if a.1 <= 0.0 || b.1 <= 0.0 {
        return (low_a - high_b, high_a - low_b);
    }
    let apart = p_a - p_b;
    (apart - (p_a - low_a).hypot(high_b - p_b), apart + (high_a - p_a).hypot(p_b - low_b))
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

    /// 95 % intervals worked out by scipy and R's formulas, as they are commonly tabled.
    #[test]
    fn it_gives_the_usual_intervals_for_few_seeds() {
        for (count, of, low, high) in [
            (0.0, 10.0, 0.0, 0.2775),
            (5.0, 10.0, 0.2366, 0.7634),
            (8.0, 10.0, 0.4902, 0.9433),
            (10.0, 10.0, 0.7225, 1.0),
            (0.0, 25.0, 0.0, 0.1332),
            (16.0, 20.0, 0.5840, 0.9193),
            (20.0, 25.0, 0.6087, 0.9114),
            (40.0, 50.0, 0.6696, 0.8876),
            (80.0, 100.0, 0.7112, 0.8666),
            (320.0, 400.0, 0.7580, 0.8363),
        ] {
            let found = wilson(count / of, of, 0.95);
            assert!((found.0 - low).abs() < 6e-5 && (found.1 - high).abs() < 6e-5, "{count} of {of}: {found:?}");
        }
    }

    /// R. G. Newcombe 1998, Statistics in Medicine 17:873–890, table II, method 10 (from memory; recomputed).
    #[test]
    fn differences_have_the_published_intervals() {
        for (a, b, low, high) in [
            ((56.0, 70.0), (48.0, 80.0), 0.0524, 0.3339),
            ((9.0, 10.0), (3.0, 10.0), 0.1705, 0.8090),
            ((6.0, 7.0), (2.0, 7.0), 0.0582, 0.8062),
            ((5.0, 56.0), (0.0, 29.0), -0.0381, 0.1926),
            ((0.0, 10.0), (0.0, 20.0), -0.1611, 0.2775),
            ((0.0, 10.0), (0.0, 10.0), -0.2775, 0.2775),
            ((10.0, 10.0), (0.0, 20.0), 0.6791, 1.0),
            ((10.0, 10.0), (0.0, 10.0), 0.6075, 1.0),
        ] {
            let found = newcombe(a, b, 0.95);
            assert!((found.0 - low).abs() < 6e-5 && (found.1 - high).abs() < 6e-5, "{a:?} {b:?}: {found:?}");
            let back = newcombe(b, a, 0.95);
            assert!((back.0 + found.1).abs() < 1e-12 && (back.1 + found.0).abs() < 1e-12);
        }
        assert_eq!(newcombe((0.0, 0.0), (0.0, 0.0), 0.95), (-1.0, 1.0));
    }
}
