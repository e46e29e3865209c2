//! The QARTOD tests on bare values, their thresholds explicit.

use super::Flag;
use crate::units::Bounds;

/// How far a value may stand out from its two neighbours, in °C.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct SpikeLimits {
    /// More than this is suspect.
    pub suspect_c: f64,
    /// More than this fails.
    pub fail_c: f64,
}

/// Gross range test: outside `fail` 4, outside `suspect` 3, the edges pass. Missing is 9; not-a-number fails.
#[must_use]
pub fn gross_range(value_c: Option<f64>, fail: &Bounds, suspect: &Bounds) -> Flag {
    match value_c {
        None => Flag::Missing,
        Some(value) if fail.check(value).is_err() => Flag::Fail,
        Some(value) if suspect.check(value).is_err() => Flag::Suspect,
        Some(_) => Flag::Pass,
    }
}

/// Spike test: how far a value stands out from the mean of its neighbours. A missing neighbour leaves it not evaluated (2),
/// a missing value is 9.
///
/// # Formula
/// ```text
/// d = | x[n] − (x[n−1] + x[n+1]) / 2 |      d > suspect_c: 3;  d > fail_c: 4      (x, d in °C)
/// ```
#[must_use]
pub fn spike(before_c: Option<f64>, value_c: Option<f64>, after_c: Option<f64>, limits: SpikeLimits) -> Flag {
    let Some(value) = value_c else { return Flag::Missing };
    let (Some(before), Some(after)) = (before_c, after_c) else { return Flag::NotEvaluated };
    let stands_out = (value - (before + after) / 2.0).abs();
    if stands_out > limits.fail_c {
        Flag::Fail
    } else if stands_out > limits.suspect_c {
        Flag::Suspect
    } else {
        Flag::Pass
    }
}

/// Whether a value stands out from both of its neighbours to one side: the spike test that leaves the neighbours of a spike, and
/// both sides of a step, alone. The manual leaves the choice of the reference to the operator; this is the one that ioos_qc
/// calls "differential".
///
/// # Formula
/// ```text
/// d = max(0, | x[n] − (x[n−1] + x[n+1]) / 2 | − | x[n+1] − x[n−1] | / 2 )      how far it lies outside of x[n−1] … x[n+1]
/// ```
#[must_use]
pub fn lone_spike(before_c: Option<f64>, value_c: Option<f64>, after_c: Option<f64>, limits: SpikeLimits) -> Flag {
    let Some(value) = value_c else { return Flag::Missing };
    let (Some(before), Some(after)) = (before_c, after_c) else { return Flag::NotEvaluated };
    let outside = (value - before.max(after)).max(before.min(after) - value);
    if outside > limits.fail_c {
        Flag::Fail
    } else if outside > limits.suspect_c {
        Flag::Suspect
    } else {
        Flag::Pass
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn bounds(low: f64, high: f64) -> Bounds {
        Bounds { what: "a value", low, high, unit: "" }
    }

    /// Vector of the gross range test in the test file of ioos_qc (tests/test_qartod.py), the reference code of the QARTOD
    /// manual v2.0, <https://doi.org/10.7289/V5V40SD4>: fail span 10 to 50, suspect span 20 to 40.
    #[test]
    fn gross_range_gives_the_published_flags() {
        let values = [5.0, 10.0, 15.0, 20.0, 25.0, 30.0, 35.0, 40.0, 45.0, 51.0];
        let flags = values.map(|value| gross_range(Some(value), &bounds(10.0, 50.0), &bounds(20.0, 40.0)).number());
        assert_eq!(flags, [4, 3, 3, 1, 1, 1, 1, 1, 3, 4]);
        assert_eq!(gross_range(None, &bounds(10.0, 50.0), &bounds(20.0, 40.0)), Flag::Missing);
        assert_eq!(gross_range(Some(f64::NAN), &bounds(10.0, 50.0), &bounds(20.0, 40.0)), Flag::Fail);
    }

    /// Vector of the spike test in the same file: suspect above 25, fail above 50; the first and the last have one neighbour
    /// only. The neighbours of the published spike fail with it.
    #[test]
    fn spike_gives_the_published_flags() {
        let values = [10.0, 12.0, 999.99, 13.0, 15.0, 40.0, 9.0, 9.0];
        let limits = SpikeLimits { suspect_c: 25.0, fail_c: 50.0 };
        let at = |n: usize| values.get(n).copied();
        let flags: Vec<u8> =
            (0..values.len()).map(|n| spike(n.checked_sub(1).and_then(at), at(n), at(n + 1), limits).number()).collect();
        assert_eq!(flags, [2, 4, 4, 4, 1, 3, 1, 2]);
        assert_eq!(spike(at(0), None, at(1), limits), Flag::Missing);
    }

    /// The same series: now only what stands out by itself is flagged, with the published limits.
    #[test]
    fn a_lone_spike_is_flagged_without_its_neighbours_and_a_step_is_none() {
        let flags = |values: &[f64]| -> Vec<u8> {
            let at = |n: usize| values.get(n).copied();
            let limits = SpikeLimits { suspect_c: 25.0, fail_c: 50.0 };
            (0..values.len()).map(|n| lone_spike(n.checked_sub(1).and_then(at), at(n), at(n + 1), limits).number()).collect()
        };
        assert_eq!(flags(&[10.0, 12.0, 999.99, 13.0, 15.0, 40.0, 9.0, 9.0]), [2, 1, 4, 1, 1, 1, 1, 2]);
        assert_eq!(flags(&[10.0, 10.0, 41.0, 12.0, 12.0]), [2, 1, 3, 1, 2]);
        assert_eq!(flags(&[10.0, 10.0, 90.0, 90.0]), [2, 1, 1, 2]);
        assert_eq!(lone_spike(Some(1.0), None, Some(1.0), SpikeLimits { suspect_c: 1.0, fail_c: 2.0 }), Flag::Missing);
    }
}
