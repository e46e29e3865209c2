//! A delay shared out among its causes.

/// Number of causes.
pub(super) const CAUSES: usize = 4;

/// Why a slot was slower than at the fastest spot.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Cause {
    /// Warmer than the optimum.
    AboveOptimum,
    /// Colder than the base.
    BelowBase,
    /// Neither, from 20 to 8 h local time.
    Night,
    /// Neither, by day.
    Day,
}

/// The Shapley values of the causes: `date(set)` is the half date in days when the slots of the causes in `set` (a bit each, in
/// the order of [`Cause`]) are given the fastest spot's temperatures. They add up to `date(∅) − date(all)`.
///
/// # Formula
/// ```text
/// φⱼ = Σ over S without j of |S|! (n − |S| − 1)! / n! · (v(S) − v(S ∪ j))
/// ```
/// Shapley 1953, "A value for n-person games", Contributions to the Theory of Games II, https://doi.org/10.1515/9781400881970-018.
pub(super) fn shares(date: impl Fn(usize) -> f64) -> [f64; CAUSES] {
    // |S|! (3 − |S|)! / 4! for |S| = 0 to 3.
    const WEIGHTS: [f64; CAUSES] = [6.0 / 24.0, 2.0 / 24.0, 2.0 / 24.0, 6.0 / 24.0];
    let dates: Vec<f64> = (0..1 << CAUSES).map(date).collect();
    std::array::from_fn(|cause| {
        let bit = 1 << cause;
        let without = (0..1usize << CAUSES).filter(|set| set & bit == 0);
        without.map(|set| WEIGHTS[set.count_ones() as usize] * (dates[set] - dates[set | bit])).sum()
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The glove game of three players (two left gloves, one right; textbook values 1/6, 1/6, 4/6, common knowledge of the
    /// field), with a fourth who adds nothing.
    #[test]
    fn the_glove_game_comes_out_as_in_the_textbooks() {
        let value = |set: usize| f64::from(u8::from(set & 0b100 != 0 && set & 0b011 != 0));
        let shares = shares(|set| -value(set));
        for (share, expected) in shares.iter().zip([1.0 / 6.0, 1.0 / 6.0, 4.0 / 6.0, 0.0]) {
            assert!((share - expected).abs() < 1e-12, "{shares:?}");
        }
    }

    #[test]
    fn shares_add_up_to_the_whole_delay() {
        let date = |set: usize| {
            30.0 - [7.0, 3.0, 2.0, 1.0].iter().enumerate().filter(|(at, _)| set >> at & 1 == 1).map(|(_, d)| d).sum::<f64>()
                - if set == 0b1111 { 2.0 } else { 0.0 }
        };
        assert!((shares(date).iter().sum::<f64>() - 15.0).abs() < 1e-12);
    }
}
