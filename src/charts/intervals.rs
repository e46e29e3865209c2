//! Intervals side by side: shares, differences, ratios.

use askama::Template;

use super::marks::{self, Mark};
use super::palette::SIGNS;
use super::scale::{self, Scale};
use super::sheet::{Area, Sheet, rendered};
use super::text::{clean, decimal, shortened};
use super::{Axis, Look, Size};

/// Estimates with their intervals, in one panel or several below each other.
#[derive(Debug, Clone, PartialEq)]
pub struct Intervals {
    /// What is shown.
    pub title: String,
    /// The panels, from the top.
    pub panels: Vec<IntervalPanel>,
}

/// What a panel's numbers are.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Measure {
    /// From 0 to 100 %.
    Share,
    /// About zero, whose line is drawn.
    Difference,
    /// About 1, whose line is drawn, on a logarithmic axis.
    Ratio,
}

/// One panel of [`Intervals`].
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalPanel {
    /// What is measured and its unit: the axis' caption.
    pub caption: String,
    /// What the numbers are.
    pub measure: Measure,
    /// Rows, from the top.
    pub rows: Vec<IntervalRow>,
}

/// One estimate.
#[derive(Debug, Clone, PartialEq)]
pub struct IntervalRow {
    /// A group, or a pair.
    pub name: String,
    /// The estimate; unknown is said so.
    pub estimate: Option<f64>,
    /// The interval's lower end; infinite where it has none.
    pub low: f64,
    /// The interval's upper end; infinite where it has none.
    pub high: f64,
}

#[derive(Template)]
#[template(path = "intervals.svg", config = "src/charts/askama.toml")]
struct Drawn {
    sheet: Sheet,
    guides: Vec<Mark>,
    spans: Vec<Mark>,
    estimates: Vec<Mark>,
}

/// Ratios beyond this, and below its reciprocal, are drawn at the edge.
const FARTHEST: f64 = 1e4;

/// Draws estimates with their intervals. The figure grows taller with its rows.
#[must_use]
pub fn intervals_svg(figure: &Intervals, look: Look, size: Size) -> String {
    let mut sheet = Sheet::new(&figure.title, look, size);
    sheet.description = description(figure);
    let stacked = size == Size::Narrow;
    let rows: usize = figure.panels.iter().map(|panel| panel.rows.len().max(1)).sum();
    let axis = Axis { caption: "caption".to_owned(), ticks: Vec::new() };
    let gap = 1.1 * sheet.text;
    let fixed = sheet.top + sheet.margin + figure.panels.len() as f64 * (sheet.axis_room(&axis) + gap);
    let low = sheet.leading() * if stacked { 2.1 } else { 1.25 };
    let each = ((sheet.height - fixed) / rows.max(1) as f64).clamp(low, 2.6 * sheet.leading());
    sheet.height = (fixed + rows as f64 * each).max(if stacked { 0.0 } else { sheet.height }).ceil();
    let mut drawn = Drawn { sheet, guides: Vec::new(), spans: Vec::new(), estimates: Vec::new() };
    if figure.panels.is_empty() {
        let area = Area { left: drawn.sheet.margin, right: drawn.sheet.width, top: drawn.sheet.top, bottom: drawn.sheet.height };
        drawn.sheet.nothing(area);
    }
    let mut top = drawn.sheet.top + 0.3 * gap;
    for panel in &figure.panels {
        let bottom = top + panel.rows.len().max(1) as f64 * each;
        drawn.panel(panel, top, bottom, each, stacked);
        top = bottom + drawn.sheet.axis_room(&axis) + gap;
    }
    rendered(&drawn)
}

impl Drawn {
    fn panel(&mut self, panel: &IntervalPanel, top: f64, bottom: f64, each: f64, stacked: bool) {
        let sheet = &mut self.sheet;
        let values: Vec<String> = panel.rows.iter().map(|row| said(row, panel.measure)).collect();
        let widest = values.iter().map(|words| sheet.room(words)).fold(0.0, f64::max);
        let share = if stacked { sheet.width - 2.0 * sheet.margin } else { 0.3 * sheet.width };
        let names: Vec<String> = panel
            .rows
            .iter()
            .zip(&values)
            .map(|(row, value)| {
                shortened(&row.name, if stacked { share - sheet.room(value) - sheet.text } else { share }, sheet.text)
            })
            .collect();
        let (mut left, mut right) = (sheet.margin + sheet.text, sheet.width - sheet.margin - sheet.text);
        if !stacked {
            left = sheet.margin + names.iter().map(|name| sheet.room(name)).fold(0.0, f64::max) + 1.2 * sheet.text;
            right = sheet.width - sheet.margin - widest - 1.2 * sheet.text;
        }
        let area = Area { left, right, top, bottom };
        let (from, to) = span(panel);
        let across = Scale::new(from, to, left, right);
        self.axis(area, panel, across);
        if panel.rows.is_empty() {
            self.sheet.nothing(area);
        }
        for (index, row) in panel.rows.iter().enumerate() {
            let upper = top + index as f64 * each;
            let (words, middle) = if stacked {
                (upper + 0.9 * self.sheet.leading(), upper + 1.45 * self.sheet.leading())
            } else {
                (upper + each / 2.0 + self.sheet.sink(), upper + each / 2.0)
            };
            let edge = self.sheet.margin;
            self.sheet.say(edge, words, "start", "", names[index].clone());
            let far = self.sheet.width - edge;
            self.sheet.say(far, words, "end", "", values[index].clone());
            self.row(row, if panel.measure == Measure::Share { index % SIGNS } else { 4 }, middle, panel.measure, across);
        }
    }

    fn axis(&mut self, area: Area, panel: &IntervalPanel, across: Scale) {
        let ticks = match panel.measure {
            Measure::Ratio => scale::ratio_ticks(across.from, across.to),
            Measure::Share | Measure::Difference => Vec::new(),
        };
        let axis = Axis { caption: clean(&panel.caption), ticks };
        self.sheet.axis_below(area, &axis, across, true);
        if panel.measure != Measure::Share {
            let x = across.at(0.0);
            self.guides.push(Mark::new("axis", marks::line(&[(x, area.top), (x, area.bottom)])));
        }
    }

    fn row(&mut self, row: &IntervalRow, sign: usize, y: f64, measure: Measure, across: Scale) {
        let place = |value: f64| placed(value, measure).map(|value| across.at(value));
        let (Some(low), Some(high)) = (place(row.low), place(row.high)) else { return };
        let (low, high) = (low.min(high), low.max(high));
        self.spans.push(Mark::new(format!("line stroke{sign}"), marks::line(&[(low, y), (high, y)])));
        let half = 0.28 * self.sheet.text;
        for (x, end, inwards) in [(low, row.low.min(row.high), 1.0), (high, row.low.max(row.high), -1.0)] {
            let open = placed(end, measure).is_some_and(|value| value < across.from - 1e-9 || value > across.to + 1e-9);
            let tip = inwards * 1.3 * half;
            let cap =
                if open { vec![(x + tip, y - half), (x, y), (x + tip, y + half)] } else { vec![(x, y - half), (x, y + half)] };
            self.spans.push(Mark::new(format!("line stroke{sign}"), marks::line(&cap)));
        }
        if let Some(x) = row.estimate.filter(|estimate| estimate.is_finite()).and_then(place) {
            self.estimates.push(marks::marker(sign, x, y, 1.25 * self.sheet.dot()));
        }
    }
}

/// A value on its axis, ratios as logarithms; `None` if it is not a number. Infinite ones lie beyond every axis.
fn placed(value: f64, measure: Measure) -> Option<f64> {
    let value = match measure {
        Measure::Ratio if value <= 0.0 => f64::NEG_INFINITY,
        Measure::Ratio => value.ln(),
        Measure::Share | Measure::Difference => value,
    };
    (!value.is_nan()).then_some(value)
}

/// The span of a panel's axis; a difference's and a ratio's holds the line of no difference.
fn span(panel: &IntervalPanel) -> (f64, f64) {
    let ends = panel.rows.iter().flat_map(|row| [Some(row.low), row.estimate, Some(row.high)]).flatten();
    let ends: Vec<f64> = ends.filter_map(|value| placed(value, panel.measure)).filter(|value| value.is_finite()).collect();
    let (low, high) = ends.iter().fold((0.0_f64, 0.0_f64), |(low, high), value| (low.min(*value), high.max(*value)));
    match panel.measure {
        Measure::Share => (0.0, 100.0),
        Measure::Difference => scale::rounded(low.clamp(-1e9, -1.0), high.clamp(1.0, 1e9), 6),
        Measure::Ratio => {
            let (low, high) = ((low - 0.1).max(-FARTHEST.ln()), (high + 0.1).min(FARTHEST.ln()));
            (low.min(-0.25), high.max(0.25))
        }
    }
}

/// "34 (20 to 51)"; ends that are infinite are "…".
fn said(row: &IntervalRow, measure: Measure) -> String {
    let number = |value: f64| match measure {
        _ if !value.is_finite() => "…".to_owned(),
        Measure::Ratio if value.abs() < 100.0 => decimal(value, 2),
        Measure::Share => format!("{} %", decimal(value, 0)),
        _ if value.abs() >= 10.0 => decimal(value, 0),
        _ => decimal(value, 1),
    };
    let sound = row.estimate.filter(|estimate| estimate.is_finite() && !row.low.is_nan() && !row.high.is_nan());
    let Some(estimate) = sound else { return "not known".to_owned() };
    let bare = |value: f64| number(value).trim_end_matches(" %").to_owned();
    format!("{} ({} to {})", number(estimate), bare(row.low), bare(row.high))
}

fn description(figure: &Intervals) -> String {
    let mut words = "Estimates with their intervals.".to_owned();
    for panel in &figure.panels {
        words += &format!(" {}.", clean(&panel.caption));
        for row in &panel.rows {
            words += &format!(" {}: {}.", clean(&row.name), said(row, panel.measure));
        }
        if panel.rows.is_empty() {
            words += " Nothing yet.";
        }
    }
    words
}
