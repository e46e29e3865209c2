//! Whether groups' times, known between looks, differ: the log-rank test.

use libm::erfc;
use nalgebra::{DMatrix, DVector};

use super::chi_squared_above;
use super::interval_times::{Window, turnbull};

/// A variance below this is none.
const NO_VARIANCE: f64 = 1e-12;

/// How groups compare.
#[derive(Debug, Clone, PartialEq)]
pub struct LogRank {
    /// Each window's score, in the order given; 0 on average. Above 0: sooner than others.
    pub scores: Vec<f64>,
    /// Each group's sum of scores: events seen less those to be expected.
    pub sums: Vec<f64>,
    /// The variance of the first group's sum, with the numbers at risk held fixed at each time.
    pub variance: f64,
    /// The same, had labels been dealt out anew among all.
    pub dealt_variance: f64,
    /// Of the first group's sum, in its standard deviations: above 0 it was sooner. None without variance.
    pub z: Option<f64>,
    /// Two-sided, of all groups: χ² with one degree of freedom less than there are groups. None without variance.
    pub p: Option<f64>,
}

/// Compares the groups of windows, each (window, how many, group from 0 on), by Sun's scores.
///
/// # Formula
/// ```text
/// cᵢ = (S(R) Λ(R) − S(L) Λ(L)) / (S(L) − S(R)),   Λ(sⱼ) = Σ over l ≤ j of pₗ / S(sₗ₋₁),
/// Vₐ = Σⱼ dⱼ (nₐⱼ/nⱼ)(1 − nₐⱼ/nⱼ)(nⱼ − dⱼ)/(nⱼ − 1)
/// ```
/// with S and p of all groups' curve together, dⱼ the events shared out over the pieces of their windows, and nⱼ the seeds still to come:
/// those whose share lies there or later, and those never seen, as long as they were looked at. Where all were looked at
/// together, this is the ordinary log-rank test for grouped times.
///
/// J. Sun 1996, "A non-parametric test for interval-censored failure time data with application to AIDS studies", Statistics in
/// Medicine 15:1387–1395, <https://doi.org/10.1002/(SICI)1097-0258(19960715)15:13%3C1387::AID-SIM268%3E3.0.CO;2-R>; M. P. Fay &
/// P. A. Shaw 2010, Journal of Statistical Software 36(2), <https://doi.org/10.18637/jss.v036.i02>.
#[must_use]
pub fn log_rank(windows: &[(Window, f64, usize)], groups: usize) -> LogRank {
    let all: Vec<(Window, f64)> = windows.iter().map(|(window, count, _)| (*window, *count)).collect();
    let curve = turnbull(&all);
    // Before and after each piece: what is still to come, and the hazard so far.
    let (mut still, mut hazard) = (1.0, 0.0);
    let mut steps = Vec::new();
    for piece in &curve.pieces {
        let before = (still, hazard);
        if piece.until.is_finite() {
            hazard += piece.mass / still;
            still -= piece.mass;
        } else {
            still = 0.0;
        }
        steps.push((before, (still, hazard)));
    }
    let mut scores = vec![0.0; windows.len()];
    let pieces = curve.pieces.len();
    let (mut events, mut at_risk) = (vec![vec![0.0; pieces]; groups], vec![vec![0.0; pieces]; groups]);
    for (at, (window, count, group)) in windows.iter().enumerate() {
        let within = |piece: usize| window.after <= curve.pieces[piece].after && curve.pieces[piece].until <= window.until;
        let held: Vec<usize> = (0..pieces).filter(|piece| within(*piece)).collect();
        let (Some(first), Some(last)) = (held.first(), held.last()) else { continue };
        let ((s_before, h_before), (s_after, h_after)) = (steps[*first].0, steps[*last].1);
        // Never seen: as much hazard as it went through unsprouted.
        scores[at] = if window.until.is_finite() {
            (s_after.max(0.0) * h_after - s_before * h_before) / (s_before - s_after)
        } else {
            -h_before
        };
        let Some(events) = events.get_mut(*group) else { continue };
        let mass: f64 = held.iter().map(|piece| curve.pieces[*piece].mass).sum();
        for piece in 0..pieces {
            let risk = if window.until.is_finite() {
                let share = |of: usize| if within(of) { curve.pieces[of].mass / mass } else { 0.0 };
                events[piece] += count * share(piece);
                (piece..pieces).map(share).sum()
            } else {
                f64::from(u8::from(curve.pieces[piece].until <= window.after))
            };
            at_risk[*group][piece] += count * risk;
        }
    }
    let mut sums = vec![0.0; groups];
    for (score, (_, count, group)) in scores.iter().zip(windows) {
        if let Some(sum) = sums.get_mut(*group) {
            *sum += score * count;
        }
    }
    let covariance = covariance(&events, &at_risk);
    let variance = covariance.get((0, 0)).copied().unwrap_or(0.0);
    let z = (variance > NO_VARIANCE && groups >= 2).then(|| sums[0] / variance.sqrt());
    let p = match (groups, z) {
        (2, Some(z)) => Some(erfc(z.abs() * std::f64::consts::FRAC_1_SQRT_2)),
        _ => overall(&sums, &covariance),
    };
    LogRank { dealt_variance: dealt_variance(windows, &scores), scores, sums, variance, z, p }
}

fn covariance(events: &[Vec<f64>], at_risk: &[Vec<f64>]) -> DMatrix<f64> {
    let groups = events.len();
    let mut covariance = DMatrix::zeros(groups, groups);
    for piece in 0..events.first().map_or(0, Vec::len) {
        let sum = |of: &[Vec<f64>]| of.iter().map(|group| group[piece]).sum::<f64>();
        let (came, risk) = (sum(events), sum(at_risk));
        if came <= 0.0 || risk <= 1.0 {
            continue;
        }
        let spread = came * (risk - came).max(0.0) / (risk - 1.0);
        for a in 0..groups {
            for b in 0..groups {
                let (share_a, share_b) = (at_risk[a][piece] / risk, at_risk[b][piece] / risk);
                covariance[(a, b)] += spread * (if a == b { share_a } else { 0.0 } - share_a * share_b);
            }
        }
    }
    covariance
}

/// The variance of the first group's sum when scores are dealt out among all, without those of other groups lost.
fn dealt_variance(windows: &[(Window, f64, usize)], scores: &[f64]) -> f64 {
    let n: f64 = windows.iter().map(|(_, count, _)| count).sum();
    let first: f64 = windows.iter().filter(|(_, _, group)| *group == 0).map(|(_, count, _)| count).sum();
    let mean = windows.iter().zip(scores).map(|((_, count, _), score)| count * score).sum::<f64>() / n;
    let squares: f64 = windows.iter().zip(scores).map(|((_, count, _), score)| count * (score - mean).powi(2)).sum();
    if n > 1.0 { first * (n - first) / (n * (n - 1.0)) * squares } else { 0.0 }
}

/// χ² of all groups' sums.
fn overall(sums: &[f64], covariance: &DMatrix<f64>) -> Option<f64> {
    let free = sums.len().checked_sub(1).filter(|free| *free > 0)?;
    // The last group's sum is what the others leave.
    let (some, square) = (DVector::from_column_slice(&sums[..free]), covariance.view((0, 0), (free, free)).into_owned());
    if (0..free).any(|at| square[(at, at)] <= NO_VARIANCE) {
        return None;
    }
    let solved = square.cholesky()?.solve(&some);
    Some(chi_squared_above(some.dot(&solved), free as f64))
}

#[cfg(test)]
mod tests {
    use super::super::interval_times::tests::deterioration;
    use super::*;
    use proptest::prelude::*;

    /// Events on whole days and days after which nobody looked any more, as windows.
    fn days(group: usize, seen: &[f64], unseen: &[f64]) -> Vec<(Window, f64, usize)> {
        let came = seen.iter().map(|day| (Window { after: day - 1.0, until: *day }, 1.0, group));
        let not = unseen.iter().map(|day| (Window { after: *day, until: f64::INFINITY }, 1.0, group));
        came.chain(not).collect()
    }

    /// Remissions of leukaemia with and without 6-MP (E. J. Freireich et al. 1963, Blood 21:699–716, as in D. R. Cox 1972, Journal of
    /// the Royal Statistical Society B 34:187–220, from memory): χ² 16.7929, 9 relapses against 19.2505 expected.
    #[test]
    fn the_leukaemia_trial_comes_out_as_in_the_textbooks() {
        let treated = days(
            0,
            &[6.0, 6.0, 6.0, 7.0, 10.0, 13.0, 16.0, 22.0, 23.0],
            &[6.0, 9.0, 10.0, 11.0, 17.0, 19.0, 20.0, 25.0, 32.0, 32.0, 34.0, 35.0],
        );
        let placebo: Vec<f64> = [1, 1, 2, 2, 3, 4, 4, 5, 5, 8, 8, 8, 8, 11, 11, 12, 12, 15, 17, 22, 23].map(f64::from).into();
        let windows = [treated, days(1, &placebo, &[])].concat();
        let told = log_rank(&windows, 2);
        let z = told.z.unwrap();
        assert!((told.sums[0] - (9.0 - 19.2505)).abs() < 6e-5, "{:?}", told.sums);
        assert!((told.variance - 6.256_96).abs() < 6e-6 && (z * z - 16.7929).abs() < 6e-5, "{told:?}");
        assert!((told.p.unwrap() - 4.17e-5).abs() < 5e-8 && z < 0.0, "those who were treated relapsed later");
    }

    /// Twenty treated and twenty untreated seeds looked at every day to day 21; worked out with plain numpy.
    #[test]
    fn a_growers_trial() {
        let group = |of: usize, seen: &[(f64, f64)], left: f64| {
            let mut windows: Vec<(Window, f64, usize)> =
                seen.iter().map(|(day, count)| (Window { after: day - 1.0, until: *day }, *count, of)).collect();
            windows.push((Window { after: 21.0, until: f64::INFINITY }, left, of));
            windows
        };
        let treated = [(6.0, 1.0), (7.0, 3.0), (8.0, 4.0), (9.0, 4.0), (10.0, 2.0), (11.0, 1.0), (14.0, 1.0)];
        let control = [(9.0, 1.0), (11.0, 2.0), (12.0, 2.0), (13.0, 1.0), (15.0, 1.0), (18.0, 1.0)];
        let told = log_rank(&[group(0, &treated, 4.0), group(1, &control, 12.0)].concat(), 2);
        assert!((told.sums[0] - (16.0 - 8.352_13)).abs() < 6e-6 && (told.variance - 4.854_98).abs() < 6e-6, "{told:?}");
        let z = told.z.unwrap();
        assert!((z * z - 12.0474).abs() < 6e-5 && z > 0.0 && (told.p.unwrap() - 0.000_518_65).abs() < 6e-9);
    }

    /// As printed by Fay & Shaw 2010 (`permutation form, Sun's scores`): Z −2.6684, p .007622; the sum of scores recomputed.
    #[test]
    fn the_published_example_between_looks() {
        let [radiation, with_chemotherapy] = deterioration();
        let of = |group: usize, windows: Vec<(Window, f64)>| windows.into_iter().map(move |(window, count)| (window, count, group));
        let windows: Vec<(Window, f64, usize)> = of(0, radiation).chain(of(1, with_chemotherapy)).collect();
        let told = log_rank(&windows, 2);
        assert!((told.sums[0] + 9.141_846).abs() < 6e-7 && (told.sums[1] - 9.141_846).abs() < 6e-7, "{:?}", told.sums);
        let z = told.sums[0] / told.dealt_variance.sqrt();
        assert!((z + 2.6684).abs() < 6e-5, "{z}");
        assert!((erfc(z.abs() * std::f64::consts::FRAC_1_SQRT_2) - 0.007_622).abs() < 6e-7);
    }

    /// Finkelstein's scores of the same example, as printed there: 9.94418, |Z| 2.6839. She weighs by ln S, Sun by the summed hazard.
    #[test]
    fn the_curve_of_both_groups_gives_finkelsteins_scores_too() {
        let [radiation, with_chemotherapy] = deterioration();
        let all: Vec<(Window, f64)> = radiation.iter().chain(&with_chemotherapy).copied().collect();
        let curve = turnbull(&all);
        let left = |time: f64| if time.is_finite() { 1.0 - curve.by(time).0 } else { 0.0 };
        let weight = |left: f64| if left > 0.0 { left * left.ln() } else { 0.0 };
        let score = |(window, _): &(Window, f64)| {
            let (before, after) = (left(window.after), left(window.until));
            (weight(before) - weight(after)) / (before - after)
        };
        let scores: Vec<f64> = all.iter().map(score).collect();
        let sum: f64 = scores[..radiation.len()].iter().sum();
        assert!((sum.abs() - 9.944_18).abs() < 6e-5, "{sum}");
        let (first, n) = (radiation.len() as f64, all.len() as f64);
        let variance = first * (n - first) / (n * (n - 1.0)) * scores.iter().map(|score| score * score).sum::<f64>();
        assert!((sum.abs() / variance.sqrt() - 2.6839).abs() < 6e-5, "{}", sum / variance.sqrt());
    }

    #[test]
    fn where_nothing_can_be_compared_there_is_no_number() {
        let none = log_rank(&[], 2);
        assert!(none.z.is_none() && none.p.is_none());
        let unseen = days(0, &[], &[9.0; 20]).into_iter().chain(days(1, &[], &[9.0; 20])).collect::<Vec<_>>();
        assert!(log_rank(&unseen, 2).p.is_none(), "nothing sprouted");
        let at_once = days(0, &[5.0; 10], &[]).into_iter().chain(days(1, &[5.0; 10], &[])).collect::<Vec<_>>();
        assert!(log_rank(&at_once, 2).p.is_none(), "all of them at once");
        assert!(log_rank(&days(0, &[5.0, 6.0], &[9.0]), 1).p.is_none(), "one group");
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(48), ..ProptestConfig::with_cases(48) })]
        #[test]
        fn groups_may_be_named_in_any_order(
            one in prop::collection::vec((0u8..20, 1u8..5, any::<bool>()), 2..20),
            other in prop::collection::vec((0u8..20, 1u8..5, any::<bool>()), 2..20),
        ) {
            let of = |list: &[(u8, u8, bool)], group: usize| -> Vec<(Window, f64, usize)> {
                let until = |after: f64, span: u8, seen: bool| if seen { after + f64::from(span) } else { f64::INFINITY };
                list.iter().map(|(after, span, seen)| {
                    let after = f64::from(*after);
                    (Window { after, until: until(after, *span, *seen) }, 1.0, group)
                }).collect()
            };
            let there = log_rank(&[of(&one, 0), of(&other, 1)].concat(), 2);
            let back = log_rank(&[of(&one, 1), of(&other, 0)].concat(), 2);
            prop_assert!((there.sums[0] + there.sums[1]).abs() < 1e-5, "{:?}", there.sums);
            prop_assert!((there.sums[0] - back.sums[1]).abs() < 1e-6);
            match (there.z, back.z) {
                (Some(z), Some(other)) => prop_assert!((z + other).abs() < 1e-4),
                (z, other) => prop_assert_eq!(z.is_none(), other.is_none()),
            }
        }
    }
}
