//! Values far from all others, of many that would be normal.

use statrs::distribution::{ContinuousCDF, StudentsT};

use super::{mean_of, standard_deviation_of};

/// One step of the search: the value farthest from the mean of those not yet taken out.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Farthest {
    /// Its place among the values.
    at: usize,
    /// How far it lies from the mean, in standard deviations of those left.
    far: f64,
    /// How far it may lie.
    limit: f64,
}

/// The places of outlying values, at most `most` of them, by the generalised extreme studentised deviate test at a two-sided `level`: all
/// steps up to the last one whose value lies beyond its limit, though earlier ones may not (they hide each other). The limits are good for
/// 25 values and more. With one step it is Grubbs' test (F. E. Grubbs 1969, Technometrics 11:1–21,
/// <https://doi.org/10.1080/00401706.1969.10490657>).
///
/// # Formula
/// ```text
/// Rᵢ = max |x − x̄| / s of the n − i + 1 values left,   λᵢ = (n − i) t / √((n − i − 1 + t²)(n − i + 1)),
/// t = the 1 − level/(2(n − i + 1)) point of Student's t with n − i − 1 degrees of freedom
/// ```
/// B. Rosner 1983, "Percentage points for a generalized ESD many-outlier procedure", Technometrics 25:165–172,
/// <https://doi.org/10.1080/00401706.1983.10487848>.
#[must_use]
pub fn outlying(values: &[f64], most: usize, level: f64) -> Vec<usize> {
    let steps = farthest(values, most, level);
    let last = steps.iter().rposition(|step| step.far > step.limit).map_or(0, |last| last + 1);
    steps[..last].iter().map(|step| step.at).collect()
}

/// The steps of the search. Values that are not numbers are left out.
fn farthest(values: &[f64], most: usize, level: f64) -> Vec<Farthest> {
    let mut left: Vec<(usize, f64)> = values.iter().copied().enumerate().filter(|(_, value)| value.is_finite()).collect();
    let mut steps = Vec::new();
    while steps.len() < most && left.len() >= 3 {
        let numbers: Vec<f64> = left.iter().map(|(_, value)| *value).collect();
        let (mean, spread) = (mean_of(&numbers), standard_deviation_of(&numbers));
        let away = |value: f64| (value - mean).abs();
        let Some(place) = (0..left.len()).max_by(|a, b| away(left[*a].1).total_cmp(&away(left[*b].1))) else { break };
        let Some(limit) = limit(left.len(), level).filter(|_| spread > 0.0) else { break };
        let (at, value) = left.remove(place);
        steps.push(Farthest { at, far: away(value) / spread, limit });
    }
    steps
}

/// How far the farthest of `n` normal values lies at the most, in their standard deviations.
fn limit(n: usize, level: f64) -> Option<f64> {
    let count = n as f64;
    let t = StudentsT::new(0.0, 1.0, count - 2.0).ok()?.inverse_cdf(1.0 - level / (2.0 * count));
    let limit = (count - 1.0) * t / ((count - 2.0 + t * t) * count).sqrt();
    limit.is_finite().then_some(limit)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Rosner 1983, as in the NIST/SEMATECH e-Handbook of Statistical Methods, 1.3.5.17.3, <https://doi.org/10.18434/M32189>: 54 values
    /// and what is printed of the ten steps. The print is cut, not rounded.
    #[test]
    fn the_handbooks_54_values_have_three_outliers() {
        let values = [
            -0.25, 0.68, 0.94, 1.15, 1.20, 1.26, 1.26, 1.34, 1.38, 1.43, 1.49, 1.49, 1.55, 1.56, 1.58, 1.65, 1.69, 1.70, 1.76,
            1.77, 1.81, 1.91, 1.94, 1.96, 1.99, 2.06, 2.09, 2.10, 2.14, 2.15, 2.23, 2.24, 2.26, 2.35, 2.37, 2.40, 2.47, 2.54, 2.62,
            2.64, 2.90, 2.92, 2.92, 2.93, 3.21, 3.26, 3.30, 3.59, 3.68, 4.30, 4.64, 5.34, 5.42, 6.01,
        ];
        let steps = farthest(&values, 10, 0.05);
        let far = [3.118, 2.942, 3.179, 2.810, 2.815, 2.848, 2.279, 2.310, 2.101, 2.067];
        let limits = [3.158, 3.151, 3.143, 3.136, 3.128, 3.120, 3.111, 3.103, 3.094, 3.085];
        assert_eq!(steps.len(), 10);
        for (step, (far, limit)) in steps.iter().zip(far.into_iter().zip(limits)) {
            assert!((step.far - far).abs() < 1.5e-3 && (step.limit - limit).abs() < 1.5e-3, "{step:?}, printed {far} and {limit}");
        }
        assert_eq!(outlying(&values, 10, 0.05).iter().map(|at| values[*at]).collect::<Vec<_>>(), [6.01, 5.42, 5.34]);
    }

    /// Critical values of Grubbs' test, two-sided .05, worked out with scipy; and the handbook's example, 1.3.5.17.1 (from memory).
    #[test]
    fn with_one_step_it_is_grubbs_test() {
        for (n, critical) in [(3, 1.154), (5, 1.715), (8, 2.127), (10, 2.290), (15, 2.548), (20, 2.708), (30, 2.908)] {
            let found = limit(n, 0.05).unwrap();
            assert!((found - critical).abs() < 6e-4, "{n}: {found}");
        }
        let masses = [199.31, 199.53, 200.19, 200.82, 201.92, 201.95, 202.18, 245.57];
        let step = farthest(&masses, 1, 0.05)[0];
        assert!(step.at == 7 && (step.far - 2.4688).abs() < 6e-5, "{step:?}");
        assert_eq!(outlying(&masses, 1, 0.05), [7]);
    }

    #[test]
    fn alike_few_or_no_values_have_none() {
        assert!(outlying(&[1.0; 40], 5, 0.05).is_empty());
        assert!(outlying(&[1.0, 9.0], 5, 0.05).is_empty() && outlying(&[], 5, 0.05).is_empty());
        assert!(outlying(&[f64::NAN, f64::INFINITY, 1.0, 2.0], 5, 0.05).is_empty());
    }
}
