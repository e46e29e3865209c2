//! Several tests at once.

/// The p-values adjusted for having made all of these tests, in their order: no more than `level` of families with no difference at all
/// have one at or below `level`.
///
/// # Formula
/// ```text
/// p̃₍ᵢ₎ = max over j ≤ i of min(1, (m − j + 1) p₍ⱼ₎),   p₍₁₎ ≤ p₍₂₎ ≤ … ≤ p₍ₘ₎
/// ```
/// S. Holm 1979, "A simple sequentially rejective multiple test procedure", Scandinavian Journal of Statistics 6:65–70,
/// <https://www.jstor.org/stable/4615733>.
#[must_use]
pub fn holm(p: &[f64]) -> Vec<f64> {
    let mut order: Vec<usize> = (0..p.len()).collect();
    order.sort_by(|a, b| p[*a].total_cmp(&p[*b]));
    let mut adjusted = vec![1.0; p.len()];
    let mut largest: f64 = 0.0;
    for (rank, at) in order.into_iter().enumerate() {
        largest = largest.max(((p.len() - rank) as f64 * p[at]).min(1.0));
        adjusted[at] = largest;
    }
    adjusted
}

#[cfg(test)]
mod tests {
    use super::*;

    /// By hand: .01 × 4, .03 × 3 (the next, .04 × 2, is smaller and so raised), .005 × … as statsmodels' multipletests(method="holm").
    #[test]
    fn worked_by_hand() {
        let adjusted = holm(&[0.01, 0.04, 0.03, 0.005]);
        for (found, expected) in adjusted.iter().zip([0.03, 0.06, 0.06, 0.02]) {
            assert!((found - expected).abs() < 1e-12, "{adjusted:?}");
        }
        assert_eq!(holm(&[0.9, 0.8]), [1.0, 1.0]);
        assert!(holm(&[]).is_empty());
    }
}
