//! When a probe that was put somewhere has come to rest.

use crate::units::MICROS_PER_SECOND;

/// As many readings at least are looked at, however long ago the first of them came.
const LEAST_READINGS: usize = 6;
/// From the lowest to the highest, in °C: two steps of a probe that shows sixteenths, and a crumb.
const MOST_SPREAD_C: f64 = 0.13;
/// °C a minute. What is still missing is about the slope times the probe's time constant: with a minute, two hundredths.
const MOST_SLOPE_C_PER_MINUTE: f64 = 0.02;

/// What a probe shows at rest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Settled {
    /// The mean of what it showed, °C.
    pub mean_c: f64,
    /// From its lowest to its highest, °C.
    pub spread_c: f64,
    /// How many readings that was.
    pub readings: usize,
}

/// Whether the last `steady_us` of points (in microseconds and °C, in order of time) are those of a probe at rest: that much time or
/// six readings, whichever is longer, within 0.13 °C and with a slope of at most 0.02 °C a minute, where a straight line through
/// readings that swing within one step of the probe may lean as much as that step.
///
/// # Formula
/// ```text
/// slope = Σ (t − t̄)(x − x̄) / Σ (t − t̄)²            least squares
/// ```
#[must_use]
pub fn settled(points: &[(i64, f64)], steady_us: i64) -> Option<Settled> {
    let (last_us, _) = *points.last()?;
    let by_time = points.partition_point(|(time_us, _)| *time_us <= last_us.saturating_sub(steady_us)).checked_sub(1)?;
    let first = by_time.min(points.len().checked_sub(LEAST_READINGS)?);
    let window = points.get(first..)?;
    let count = window.len() as f64;
    let (mut low, mut high, mut sum) = (f64::INFINITY, f64::NEG_INFINITY, 0.0);
    for (_, celsius) in window {
        (low, high, sum) = (low.min(*celsius), high.max(*celsius), sum + celsius);
    }
    let mean_c = sum / count;
    let minutes = |time_us: i64| (time_us - last_us) as f64 / (60 * MICROS_PER_SECOND) as f64;
    let middle = window.iter().map(|(time_us, _)| minutes(*time_us)).sum::<f64>() / count;
    let (mut along, mut spread) = (0.0, 0.0);
    for (time_us, celsius) in window {
        let apart = minutes(*time_us) - middle;
        along += apart * (celsius - mean_c);
        spread += apart * apart;
    }
    let slope = if spread > 0.0 { along / spread } else { return None };
    let settled = high - low <= MOST_SPREAD_C && slope.abs() <= MOST_SLOPE_C_PER_MINUTE;
    settled.then_some(Settled { mean_c, spread_c: high - low, readings: window.len() })
}

#[cfg(test)]
mod tests {
    use super::*;

    const STEADY_US: i64 = 180 * MICROS_PER_SECOND;

    /// A probe of time constant `tau_s` from 20 °C into what it shows as 0.4 °C, by sixteenths, every `every_s`.
    fn plunged(tau_s: f64, every_s: i64, for_s: i64) -> Vec<(i64, f64)> {
        let shown = |at: i64| ((0.4 + 19.6 * (-(at as f64) / tau_s).exp()) * 16.0).round() / 16.0;
        (0..=for_s / every_s).map(|n| (n * every_s * MICROS_PER_SECOND, shown(n * every_s))).collect()
    }

    #[test]
    fn a_probe_in_ice_has_settled_when_it_is_within_a_step_of_its_end_and_not_before() {
        for (tau_s, every_s) in [(30.0, 1), (30.0, 10), (60.0, 2), (90.0, 60)] {
            let all = plunged(tau_s, every_s, 3600);
            let first = (0..all.len()).find(|n| settled(&all[..=*n], STEADY_US).is_some()).expect("it settles");
            let at = settled(&all[..=first], STEADY_US).unwrap();
            assert!((at.mean_c - 0.4).abs() < 0.09, "{tau_s} s: {at:?}");
            let seconds = all[first].0 / MICROS_PER_SECOND;
            assert!((180..1200).contains(&seconds), "{tau_s} s, every {every_s} s: after {seconds} s");
        }
    }

    #[test]
    fn what_drifts_swings_or_has_only_begun_has_not_settled() {
        let line = |per_minute: f64, seconds: i64| -> Vec<(i64, f64)> {
            (0..seconds).map(|at| (at * MICROS_PER_SECOND, per_minute * at as f64 / 60.0)).collect()
        };
        assert!(settled(&line(0.03, 600), STEADY_US).is_none(), "a slow drift");
        assert!(settled(&line(0.0, 179), STEADY_US).is_none(), "too short");
        assert!(settled(&line(0.0, 181), STEADY_US).is_some());
        let swinging: Vec<(i64, f64)> = (0..600).map(|at| (at * MICROS_PER_SECOND, f64::from(at as i32 % 20) / 60.0)).collect();
        assert!(settled(&swinging, STEADY_US).is_none(), "not stirred");
        let rare: Vec<(i64, f64)> = (0..5).map(|at| (at * 100 * MICROS_PER_SECOND, 0.0)).collect();
        assert!(settled(&rare, STEADY_US).is_none() && settled(&[], STEADY_US).is_none(), "five readings are too few");
    }
}
