//! The figures of a comparison.

use std::collections::BTreeMap;

use super::{
    Axis, Curve, Daily, DailyRow, IntervalPanel, IntervalRow, Intervals, Look, Measure, Seen, Size, Sprouted, Step, daily_svg,
    intervals_svg, sprouted_svg,
};
use crate::bench::Degrees;
use crate::experiment::{CompareAnswer, CurvePoint, GroupAnswer, PairAnswer, Reckoned};
use crate::wording::{factor_word, group_label};

/// Pairs that have rows of their own in the figure of differences; of more only the groups are drawn.
const PAIRS: usize = 10;

/// A figure of a comparison.
#[derive(Debug, Clone, PartialEq)]
pub enum ComparedFigure {
    /// Seeds up, on the clock or in thermal time.
    Sprouted(Sprouted),
    /// Sprouts a day.
    Daily(Daily),
    /// Shares, differences and ratios.
    Intervals(Intervals),
}

impl ComparedFigure {
    /// The figure as SVG.
    #[must_use]
    pub fn svg(&self, look: Look, size: Size) -> String {
        match self {
            Self::Sprouted(figure) => sprouted_svg(figure, look, size),
            Self::Daily(figure) => daily_svg(figure, look, size),
            Self::Intervals(figure) => intervals_svg(figure, look, size),
        }
    }
}

/// The figures of a comparison, each with the name for its file: sprouts a day, seeds up by day and (where temperatures are known) by
/// warmth, and the intervals side by side.
#[must_use]
pub fn compared(answer: &CompareAnswer, degrees: Degrees) -> Vec<(&'static str, ComparedFigure)> {
    let groups = &answer.comparison.groups;
    let of = format!("{}, by {}", answer.species, factor_word(answer.comparison.asked.factor));
    let days = Axis { caption: "days since wetting or leaving the cold".to_owned(), ticks: Vec::new() };
    let mut figures = vec![
        ("sprouts-a-day", ComparedFigure::Daily(daily(answer, format!("Sprouts found a day: {of}"), days.clone()))),
        (
            "up-by-day",
            ComparedFigure::Sprouted(curves(
                answer,
                format!("Seeds up by day, % of those sown: {of}"),
                days,
                |at| &groups[at].by_day,
                1.0,
            )),
        ),
    ];
    if groups.iter().any(|group| !group.by_warmth.is_empty()) {
        let per_celsius = 1.0 / degrees.difference_to_celsius(1.0);
        let warmth = Axis { caption: format!("warmth gathered, {}·d", degrees.sign()), ticks: Vec::new() };
        let title = format!("Seeds up by warmth gathered, % of those sown: {of}");
        figures.push((
            "up-by-warmth",
            ComparedFigure::Sprouted(curves(answer, title, warmth, |at| &groups[at].by_warmth, per_celsius)),
        ));
    }
    figures.push(("side-by-side", ComparedFigure::Intervals(intervals(answer, format!("How many came up, and how fast: {of}")))));
    figures
}

fn daily(answer: &CompareAnswer, title: String, axis: Axis) -> Daily {
    let row =
        |(at, group): (usize, &GroupAnswer)| DailyRow { name: group_label(answer, at).to_owned(), looks: by_day(&group.sprouts) };
    Daily { title, axis, rows: answer.comparison.groups.iter().enumerate().map(row).collect() }
}

/// Sprouts of all boxes of a group together, a day each: what was found days after the look before is shared out over those days. Looks of one
/// morning count as of one day, though some hours lie between boxes.
fn by_day(sprouts: &[(f64, f64, u32)]) -> Vec<Seen> {
    let mut days: BTreeMap<i64, f64> = BTreeMap::new();
    for (from, to, sprouted) in sprouts {
        let last = to.round() as i64;
        let first = (from.round() as i64).min(last - 1);
        for day in first..last {
            *days.entry(day).or_default() += f64::from(*sprouted) / (last - first) as f64;
        }
    }
    days.into_iter().map(|(day, sprouted)| Seen { from: day as f64, to: (day + 1) as f64, sprouted }).collect()
}

/// The curves of all groups; `scale` is what a unit of the points is on the axis.
fn curves<'a>(
    answer: &CompareAnswer,
    title: String,
    axis: Axis,
    points: impl Fn(usize) -> &'a [CurvePoint],
    scale: f64,
) -> Sprouted {
    let curve = |at: usize| {
        let mut from = 0.0;
        let step = |point: &CurvePoint| {
            let step = Step {
                from: scale * from,
                to: scale * point.at,
                percent: 100.0 * point.share,
                band: Some((100.0 * point.low, 100.0 * point.high)),
            };
            from = point.at;
            step
        };
        Curve { name: group_label(answer, at).to_owned(), steps: points(at).iter().map(step).collect() }
    };
    Sprouted { title, axis, curves: (0..answer.comparison.groups.len()).map(curve).collect() }
}

fn intervals(answer: &CompareAnswer, title: String) -> Intervals {
    let comparison = &answer.comparison;
    let row = |name: String, value: &Reckoned, scale: f64, unbounded: f64| IntervalRow {
        name,
        estimate: value.estimate.map(|middle| scale * middle),
        low: value.low.map_or(unbounded, |low| scale * low),
        high: value.high.map_or(f64::INFINITY, |high| scale * high),
    };
    let shares =
        (0..comparison.groups.len()).map(|at| row(group_label(answer, at).to_owned(), &comparison.groups[at].fraction, 100.0, 0.0));
    let mut panels = vec![IntervalPanel {
        caption: "came up, % of the sown, with 95 % intervals".to_owned(),
        measure: Measure::Share,
        rows: shares.collect(),
    }];
    if comparison.pairs.len() <= PAIRS {
        let pair = |pair: &PairAnswer| format!("{} beside {}", group_label(answer, pair.a), group_label(answer, pair.b));
        let differences = comparison.pairs.iter().map(|of| row(pair(of), &of.fraction_judged, 100.0, f64::NEG_INFINITY));
        panels.push(IntervalPanel {
            caption: "difference in % points, with 97.5 % intervals, boxes allowed to differ".to_owned(),
            measure: Measure::Difference,
            rows: differences.collect(),
        });
        let ratios = comparison.pairs.iter().map(|of| row(pair(of), &of.ratio_judged, 1.0, 0.0));
        panels.push(IntervalPanel {
            caption: "time to half of those that come up, first ÷ second, with 97.5 % intervals".to_owned(),
            measure: Measure::Ratio,
            rows: ratios.collect(),
        });
    }
    Intervals { title, panels }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn boxes_of_a_group_are_added_up_day_by_day_and_no_seed_is_lost() {
        let days = by_day(&[(5.5, 6.5, 4), (5.52, 6.53, 3), (3.6, 6.6, 3), (9.4, 9.6, 2)]);
        let told: Vec<(f64, f64, f64)> = days.iter().map(|seen| (seen.from, seen.to, seen.sprouted)).collect();
        assert_eq!(told, [(4.0, 5.0, 1.0), (5.0, 6.0, 1.0), (6.0, 7.0, 8.0), (9.0, 10.0, 2.0)]);
        assert!(by_day(&[]).is_empty());
    }
}
