//! Which of several probes somebody holds in the hand.

use crate::units::MICROS_PER_SECOND;

/// A hand warms a probe by several degrees within two minutes; a heater or a morning takes a quarter of an hour for it.
const WITHIN_US: i64 = 120 * MICROS_PER_SECOND;
/// So many °C within that time are a rise.
const RISE_C: f64 = 1.5;
/// And so many times its own unrest before.
const TIMES_UNREST: f64 = 6.0;
/// The next one may have risen by this share of it at most.
const NEXT_AT_MOST: f64 = 0.4;
/// As many readings at least.
const LEAST_READINGS: usize = 5;

/// What is to be seen of a hand.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Warming {
    /// No probe rises as in a hand.
    None,
    /// This one does, by its place in the list.
    One(usize),
    /// Several do.
    Several(Vec<usize>),
}

/// Which of several series (microseconds and °C, each in order of time, since the watching began) is warmed by a hand: it rose by 1.5 °C
/// or more within two minutes, by six times its own unrest, still rises or holds, and no other rose by more than two fifths of that.
#[must_use]
pub fn warming(series: &[&[(i64, f64)]]) -> Warming {
    let rises: Vec<f64> = series.iter().map(|points| rise_c(points)).collect();
    let highest = rises.iter().copied().fold(0.0, f64::max);
    if highest < RISE_C {
        return Warming::None;
    }
    let risen: Vec<usize> =
        (0..rises.len()).filter(|at| rises.get(*at).is_some_and(|rise| *rise > NEXT_AT_MOST * highest)).collect();
    match risen[..] {
        [one] => Warming::One(one),
        _ => Warming::Several(risen),
    }
}

/// By how much a probe rose within the last two minutes, °C; 0 where that is not clear of its own unrest, or is over.
fn rise_c(points: &[(i64, f64)]) -> f64 {
    let Some((last_us, _)) = points.last() else { return 0.0 };
    let recent = &points[points.partition_point(|(time_us, _)| *time_us < last_us.saturating_sub(WITHIN_US))..];
    if recent.len() < LEAST_READINGS {
        return 0.0;
    }
    let mut lowest = (0, f64::INFINITY);
    for (at, (_, celsius)) in recent.iter().enumerate() {
        if *celsius < lowest.1 {
            lowest = (at, *celsius);
        }
    }
    // The lower of the last two, so that one odd value is no rise.
    let now_c = recent.iter().rev().take(2).map(|(_, celsius)| *celsius).fold(f64::INFINITY, f64::min);
    let after = recent.get(lowest.0..).unwrap_or_default();
    let highest = after.iter().map(|(_, celsius)| *celsius).fold(f64::NEG_INFINITY, f64::max);
    let rise = now_c - lowest.1;
    // Its unrest: how it goes down again between readings while it rises as a whole.
    let falls: f64 = after.windows(2).map(|pair| (pair[0].1 - pair[1].1).max(0.0)).fold(0.0, f64::max);
    let holds = highest - now_c <= rise / 4.0;
    if holds && rise >= TIMES_UNREST * falls { rise } else { 0.0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Readings of a probe every two seconds for five minutes, by sixteenths.
    fn shown(celsius: impl Fn(f64) -> f64) -> Vec<(i64, f64)> {
        (0..150).map(|n| (n * 2 * MICROS_PER_SECOND, (celsius(n as f64 * 2.0) * 16.0).round() / 16.0)).collect()
    }

    /// Held from `from_s` on, in a hand of 32 °C, with a time constant of a minute.
    fn held(from_s: f64) -> Vec<(i64, f64)> {
        shown(|at| if at < from_s { 20.0 } else { 32.0 - 12.0 * (-(at - from_s) / 60.0).exp() })
    }

    fn at(series: &[&Vec<(i64, f64)>], seconds: i64) -> Warming {
        let until = |points: &Vec<(i64, f64)>| points.partition_point(|(time_us, _)| *time_us <= seconds * MICROS_PER_SECOND);
        let cut: Vec<&[(i64, f64)]> = series.iter().map(|points| &points[..until(points)]).collect();
        warming(&cut)
    }

    #[test]
    fn the_one_in_the_hand_is_named_within_a_quarter_of_a_minute() {
        let (still, hand) = (shown(|_| 19.4), held(100.0));
        assert_eq!(at(&[&still, &hand], 98), Warming::None);
        assert_eq!(at(&[&still, &hand], 116), Warming::One(1));
        assert_eq!(at(&[&hand, &still], 200), Warming::One(0));
    }

    #[test]
    fn none_is_named_where_none_is_held() {
        let still = shown(|at| 19.4 + 0.06 * (at / 3.0).sin());
        let heated = shown(|at| 22.0 + 1.2 * (at / 300.0 * std::f64::consts::TAU).sin());
        let noisy = shown(|at| 20.0 + 2.0 * (at * 12.9898).sin());
        assert_eq!(at(&[&still, &heated, &noisy], 290), Warming::None);
        for seconds in (0..300).step_by(6) {
            assert_eq!(at(&[&still, &heated, &noisy], seconds), Warming::None, "at {seconds} s");
        }
        assert_eq!(warming(&[]), Warming::None);
        assert_eq!(warming(&[&[], &[(0, 20.0), (1, 30.0)]]), Warming::None, "two readings are too few");
    }

    #[test]
    fn two_in_two_hands_are_both_named_and_a_heater_beside_is_not() {
        let (one, two, still) = (held(60.0), held(70.0), shown(|_| 19.0));
        assert_eq!(at(&[&one, &still, &two], 120), Warming::Several(vec![0, 2]));
        let heated = shown(|at| 22.0 + 0.006 * at);
        assert_eq!(at(&[&heated, &one], 120), Warming::One(1));
    }

    #[test]
    fn one_odd_value_is_no_hand() {
        let mut odd = shown(|_| 20.0);
        odd[100].1 = 28.0;
        assert_eq!(at(&[&odd], 200), Warming::None);
        assert_eq!(at(&[&odd], 202), Warming::None);
    }
}
