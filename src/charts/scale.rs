//! From values to places, and where ticks stand.

use super::text;

/// Values larger than this in size are drawn at it: no figure shows them, and places stay numbers.
const FAR: f64 = 1e9;

/// A finite value within what can be drawn.
pub(super) fn finite(value: f64) -> Option<f64> {
    value.is_finite().then(|| value.clamp(-FAR, FAR))
}

/// A span of values laid on a span of places; either may run backwards.
#[derive(Debug, Clone, Copy)]
pub(super) struct Scale {
    pub(super) from: f64,
    pub(super) to: f64,
    pub(super) start: f64,
    pub(super) end: f64,
}

impl Scale {
    /// A scale; a span of values without width is given one.
    pub(super) fn new(from: f64, to: f64, start: f64, end: f64) -> Self {
        let to = if to - from > 1e-9 * from.abs().max(1e-3) { to } else { from + from.abs().max(1.0) };
        Self { from, to, start, end }
    }

    /// The place of a value, held within the span.
    pub(super) fn at(&self, value: f64) -> f64 {
        let share = ((value - self.from) / (self.to - self.from)).clamp(0.0, 1.0);
        self.start + share * (self.end - self.start)
    }
}

/// Round numbers from the first at or above `from` to the last at or below `to`, about `want` of them, with their labels.
///
/// # Formula
/// ```text
/// the step is 1, 2 or 5 times a power of ten, the smallest for which (to − from) ÷ step ≤ want
/// ```
pub(super) fn ticks(from: f64, to: f64, want: usize) -> Vec<(f64, String)> {
    let step = step(to - from, want);
    let places = if step < 1.0 { (-step.log10()).ceil().clamp(0.0, 9.0) as usize } else { 0 };
    let (first, last) = ((from / step - 1e-6).ceil() as i64, (to / step + 1e-6).floor() as i64);
    (first..=last).map(|index| index as f64 * step).map(|value| (value, text::decimal(value, places))).collect()
}

/// The step of [`ticks`].
pub(super) fn step(span: f64, want: usize) -> f64 {
    let least = (span / want.max(1) as f64).max(1e-9);
    let power = 10_f64.powf((least.log10() + 1e-9).floor());
    [1.0, 2.0, 5.0, 10.0].map(|round| round * power).into_iter().find(|step| *step >= least * (1.0 - 1e-9)).unwrap_or(10.0 * power)
}

/// The span widened to whole steps.
pub(super) fn rounded(from: f64, to: f64, want: usize) -> (f64, f64) {
    let step = step((to - from).max(1e-6), want);
    ((from / step + 1e-6).floor() * step, (to / step - 1e-6).ceil() * step)
}

/// Ticks of a scale of ratios, given as natural logarithms.
pub(super) fn ratio_ticks(from: f64, to: f64) -> Vec<(f64, String)> {
    let within = |value: f64| value.ln() >= from - 1e-9 && value.ln() <= to + 1e-9;
    let of = |rounds: &[f64]| -> Vec<f64> {
        (-5..=5)
            .flat_map(|power| rounds.iter().map(move |round| round * 10_f64.powi(power)))
            .filter(|value| within(*value))
            .collect()
    };
    let chosen = if to - from < 1.0 {
        of(&[1.0, 1.25, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0])
    } else if to - from < 5.0 {
        of(&[1.0, 2.0, 5.0])
    } else {
        of(&[1.0])
    };
    chosen.into_iter().map(|value| (value.ln(), ratio_label(value))).collect()
}

/// A ratio as said: "0.5", "2", "0.001".
fn ratio_label(value: f64) -> String {
    let places = if value < 0.99 { (1.0 - value.log10().floor()).max(2.0) as usize } else { 2 };
    let text = text::decimal(value, places);
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

/// Moves places apart that are closer than `gap`, as little as will do, within `low` to `high` while there is room. The places come back in
/// the order given.
pub(super) fn apart(wanted: &[f64], gap: f64, low: f64, high: f64) -> Vec<f64> {
    let mut order: Vec<usize> = (0..wanted.len()).collect();
    order.sort_by(|a, b| wanted[*a].total_cmp(&wanted[*b]).then(a.cmp(b)));
    let mut places = vec![low; wanted.len()];
    let mut above = f64::NEG_INFINITY;
    for index in &order {
        places[*index] = wanted[*index].clamp(low, high.max(low)).max(above);
        above = places[*index] + gap;
    }
    let mut below = high;
    for index in order.iter().rev() {
        places[*index] = places[*index].min(below);
        below = places[*index] - gap;
    }
    places
}

#[cfg(test)]
mod tests {
    use super::*;

    fn labels(ticks: &[(f64, String)]) -> Vec<&str> {
        ticks.iter().map(|(_, label)| label.as_str()).collect()
    }

    #[test]
    fn ticks_are_round() {
        assert_eq!(labels(&ticks(0.0, 23.0, 6)), ["0", "5", "10", "15", "20"]);
        assert_eq!(labels(&ticks(-0.3, 0.41, 5)), ["−0.2", "0.0", "0.2", "0.4"]);
        assert_eq!(labels(&ticks(0.0, 100.0, 5)), ["0", "20", "40", "60", "80", "100"]);
        assert_eq!(rounded(3.0, 41.0, 5), (0.0, 50.0));
    }

    #[test]
    fn ratios_are_round_on_a_log_scale() {
        assert_eq!(labels(&ratio_ticks(0.2_f64.ln(), 5_f64.ln())), ["0.2", "0.5", "1", "2", "5"]);
        assert_eq!(labels(&ratio_ticks(0.75_f64.ln(), 1.5_f64.ln())), ["0.8", "0.9", "1", "1.25", "1.5"]);
        assert_eq!(labels(&ratio_ticks(0.001_f64.ln(), 100_f64.ln())), ["0.001", "0.01", "0.1", "1", "10", "100"]);
    }

    #[test]
    fn labels_move_apart_and_keep_their_order() {
        assert_eq!(apart(&[10.0, 10.0, 90.0], 20.0, 0.0, 100.0), [10.0, 30.0, 90.0]);
        assert_eq!(apart(&[95.0, 99.0, 50.0], 20.0, 0.0, 100.0), [80.0, 100.0, 50.0]);
    }

    #[test]
    fn a_span_of_nothing_still_has_places() {
        let scale = Scale::new(0.0, 0.0, 100.0, 200.0);
        assert_eq!([scale.at(0.0), scale.at(1.0), scale.at(9.0)], [100.0, 200.0, 200.0]);
        assert_eq!(finite(f64::NAN), None);
        assert_eq!(finite(f64::INFINITY), None);
    }
}
