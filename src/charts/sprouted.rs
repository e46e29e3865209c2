//! Sprouted so far, by group: as seen at each look, with what may have happened between looks.

use askama::Template;

use super::marks::{self, Mark};
use super::palette::SIGNS;
use super::panels;
use super::scale::{self, Scale};
use super::sheet::{Area, Sheet, rendered};
use super::text::{clean, plain, shortened};
use super::{Axis, Look, Size};

/// More groups with bands than this are drawn in panels of their own: bands laid over each other say nothing.
const BANDED: usize = 3;

/// Seeds sprouted, in % of those sown, by group: on the clock or in thermal time, as its axis says.
#[derive(Debug, Clone, PartialEq)]
pub struct Sprouted {
    /// What is shown.
    pub title: String,
    /// Days since wetting, or thermal time in °C·d.
    pub axis: Axis,
    /// The groups, in the order they are named.
    pub curves: Vec<Curve>,
}

/// One group of [`Sprouted`].
#[derive(Debug, Clone, PartialEq)]
pub struct Curve {
    /// The group's name.
    pub name: String,
    /// Its looks, in order.
    pub steps: Vec<Step>,
}

/// What a look showed.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Step {
    /// The look before, on the axis: what sprouted since did so at an unknown moment after it.
    pub from: f64,
    /// This look.
    pub to: f64,
    /// Sprouted by this look, % of the seeds sown.
    pub percent: f64,
    /// A band about `percent`, low and high.
    pub band: Option<(f64, f64)>,
}

#[derive(Template)]
#[template(path = "sprouted.svg", config = "src/charts/askama.toml")]
struct Drawn {
    sheet: Sheet,
    background: Vec<Mark>,
    bands: Vec<Mark>,
    unknown: Vec<Mark>,
    curves: Vec<Mark>,
    looks: Vec<Mark>,
    keys: Vec<Mark>,
}

/// Draws seeds sprouted against days or thermal time. Up to eight groups (three with bands) share one frame and are named at their ends; more get
/// a frame each.
#[must_use]
pub fn sprouted_svg(figure: &Sprouted, look: Look, size: Size) -> String {
    let curves: Vec<Curve> = figure.curves.iter().map(sound).collect();
    let mut sheet = Sheet::new(&figure.title, look, size);
    sheet.description = description(figure, &curves);
    let mut drawn = Drawn {
        sheet,
        background: Vec::new(),
        bands: Vec::new(),
        unknown: Vec::new(),
        curves: Vec::new(),
        looks: Vec::new(),
        keys: Vec::new(),
    };
    let most = if curves.iter().any(|curve| curve.steps.iter().any(|step| step.band.is_some())) { BANDED } else { SIGNS };
    if curves.len() > most {
        drawn.in_panels(figure, &curves)
    } else {
        drawn.together(figure, &curves)
    }
    rendered(&drawn)
}

/// The curve in order, with finite numbers only, shares between 0 and 100 that do not fall.
fn sound(curve: &Curve) -> Curve {
    let percent = |value: f64| value.clamp(0.0, 100.0);
    let mut steps: Vec<Step> = curve
        .steps
        .iter()
        .filter(|step| step.percent.is_finite())
        .filter_map(|step| {
            let (from, to) = (scale::finite(step.from)?, scale::finite(step.to)?);
            let band = step.band.filter(|(low, high)| low.is_finite() && high.is_finite());
            let band = band.map(|(low, high)| (percent(low.min(high)), percent(low.max(high))));
            Some(Step { from: from.min(to), to, percent: percent(step.percent), band })
        })
        .collect();
    steps.sort_by(|a, b| a.to.total_cmp(&b.to));
    let mut before = 0.0;
    for step in &mut steps {
        before = step.percent.max(before);
        step.percent = before;
    }
    Curve { name: clean(&curve.name), steps }
}

/// The spans of both axes.
fn spans(curves: &[Curve]) -> ((f64, f64), f64) {
    let steps = || curves.iter().flat_map(|curve| &curve.steps);
    let from = steps().map(|step| step.from).fold(0.0, f64::min);
    let to = steps().map(|step| step.to).fold(f64::NEG_INFINITY, f64::max);
    let highest = steps().map(|step| step.band.map_or(step.percent, |(_, high)| high.max(step.percent))).fold(0.0, f64::max);
    let top = if highest > 50.0 { 100.0 } else { scale::rounded(0.0, highest, 5).1.clamp(10.0, 60.0) };
    ((from, if to.is_finite() { to } else { 10.0 }), top)
}

impl Drawn {
    fn together(&mut self, figure: &Sprouted, curves: &[Curve]) {
        let sheet = &mut self.sheet;
        let ((from, to), highest) = spans(curves);
        let top = sheet.caption_above(CAPTION) + 0.75 * sheet.text;
        let foot = if curves.iter().any(|curve| !curve.steps.is_empty()) {
            sheet.notes(&note(curves))
        } else {
            sheet.height - sheet.margin
        };
        let bottom = foot - sheet.axis_room(&figure.axis) - 0.3 * sheet.text;
        let ticks = sheet.ticks_up(0.0, highest, bottom - top);
        let key = 2.6 * sheet.text;
        let share = sheet.width * if sheet.size == Size::Wide { 0.27 } else { 0.3 };
        let names: Vec<String> = curves.iter().map(|curve| shortened(&curve.name, share - key, sheet.text)).collect();
        let words = names.iter().map(|name| sheet.room(name)).fold(0.0, f64::max);
        let left = sheet.margin + sheet.widest(&ticks) + 0.75 * sheet.text;
        let right = if names.is_empty() {
            sheet.width - sheet.margin
        } else {
            sheet.width - 0.5 * sheet.margin - words - key - 0.8 * sheet.text
        };
        let area = Area { left, right, top, bottom };
        let (across, up) = (Scale::new(from, to, left, right), Scale::new(0.0, highest, bottom, top));
        sheet.axis_left(area, up, &ticks, true);
        sheet.axis_below(area, &figure.axis, across, false);
        if curves.iter().all(|curve| curve.steps.is_empty()) {
            sheet.nothing(area);
        }
        let ends: Vec<f64> = curves.iter().map(|curve| up.at(curve.steps.last().map_or(0.0, |step| step.percent))).collect();
        let places = scale::apart(&ends, sheet.leading(), top, bottom);
        for (sign, curve) in curves.iter().enumerate() {
            self.curve(curve, sign, across, up);
            let (x, y) = (right + 0.8 * self.sheet.text, places[sign]);
            self.keys.push(Mark::new(
                format!("line stroke{sign} dash{sign}"),
                marks::line(&[(x, y), (x + key - 0.5 * self.sheet.text, y)]),
            ));
            self.keys.push(marks::marker(sign, x + (key - 0.5 * self.sheet.text) / 2.0, y, self.sheet.dot()));
            self.sheet.say(x + key, y + self.sheet.sink(), "start", "", names[sign].clone());
        }
    }

    fn in_panels(&mut self, figure: &Sprouted, curves: &[Curve]) {
        let sheet = &mut self.sheet;
        let ((from, to), highest) = spans(curves);
        sheet.top = sheet.caption_above(CAPTION);
        let panels = panels::laid_out(
            sheet,
            curves.len(),
            &figure.axis,
            &format!("{} Grey: the other groups.", note(curves)),
            highest,
            (from, to),
        );
        for (index, (curve, panel)) in curves.iter().zip(&panels).enumerate() {
            let (area, across, up) = (panel.area, panel.across, panel.up);
            let name = shortened(&curve.name, area.right - area.left, self.sheet.text);
            self.sheet.say(area.left, area.top - 0.45 * self.sheet.text, "start", "", name);
            if curves.len() <= 2 * SIGNS {
                for other in curves.iter().enumerate().filter(|(other, _)| *other != index).map(|(_, other)| other) {
                    self.background.push(Mark::new("other", marks::line(&seen(other, across, up))));
                }
            }
            self.curve(curve, 0, across, up);
        }
    }

    /// One group: its band, what is not known between looks, the line as seen and its looks.
    fn curve(&mut self, curve: &Curve, sign: usize, across: Scale, up: Scale) {
        let Some(last) = curve.steps.last() else { return };
        if let Some(band) = band(curve, across, up) {
            self.bands.push(Mark::new(format!("band fill{sign}"), band));
        }
        let mut before = 0.0;
        for step in &curve.steps {
            let (x, y) = (across.at(step.to), up.at(step.percent));
            if step.percent > before {
                let corner = (across.at(step.from), up.at(before));
                self.unknown.push(Mark::new(format!("area fill{sign}"), marks::rectangle(corner, (x, y))));
                self.looks.push(marks::marker(sign, x, y, self.sheet.dot()));
            }
            before = step.percent;
        }
        self.curves.push(Mark::new(format!("line stroke{sign} dash{sign}"), marks::line(&seen(curve, across, up))));
        if last.percent <= 0.0 {
            self.looks.push(marks::marker(sign, across.at(last.to), up.at(last.percent), self.sheet.dot()));
        }
    }
}

/// The line as seen: flat until a look, then up.
fn seen(curve: &Curve, across: Scale, up: Scale) -> Vec<(f64, f64)> {
    let Some(first) = curve.steps.first() else { return Vec::new() };
    let mut places = vec![(across.at(first.from), up.at(0.0))];
    let mut before = 0.0;
    for step in curve.steps.iter().filter(|step| step.percent > 0.0) {
        if step.percent > before {
            places.extend([(across.at(step.to), up.at(before)), (across.at(step.to), up.at(step.percent))]);
        }
        before = step.percent;
    }
    if let Some(last) = curve.steps.last() {
        places.push((across.at(last.to), up.at(last.percent)));
    }
    places
}

/// The outline of a curve's band, in steps like the curve.
fn band(curve: &Curve, across: Scale, up: Scale) -> Option<String> {
    let looks: Vec<(f64, f64, f64)> =
        curve.steps.iter().filter_map(|step| step.band.map(|(low, high)| (across.at(step.to), up.at(low), up.at(high)))).collect();
    if looks.len() < 2 {
        return None;
    }
    let edge = |of: fn(&(f64, f64, f64)) -> f64| {
        looks.windows(2).flat_map(move |pair| [(pair[0].0, of(&pair[0])), (pair[1].0, of(&pair[0]))]).collect::<Vec<_>>()
    };
    let mut places = edge(|look| look.2);
    let last = looks[looks.len() - 1];
    places.extend([(last.0, last.2), (last.0, last.1)]);
    places.extend(edge(|look| look.1).into_iter().rev());
    Some(marks::outline(&places))
}

const CAPTION: &str = "sprouted, % of seeds sown";
/// What the marks mean.
fn note(curves: &[Curve]) -> String {
    let banded = curves.iter().flat_map(|curve| &curve.steps).any(|step| step.band.is_some());
    let pale = if banded { " Pale: the band about it." } else { "" };
    format!("Line: what each look showed. Darker boxes: when between two looks is not known.{pale}")
}

fn description(figure: &Sprouted, curves: &[Curve]) -> String {
    let mut words = format!("Seeds sprouted, in % of those sown, against {}.", clean(&figure.axis.caption));
    for curve in curves {
        let Some(last) = curve.steps.last() else {
            words += &format!(" {}: no looks yet.", curve.name);
            continue;
        };
        words += &format!(" {}: {} % by {}", curve.name, plain(last.percent), plain(last.to));
        if let Some((low, high)) = last.band {
            words += &format!(" ({} to {} %)", plain(low), plain(high));
        }
        if let Some(first) = curve.steps.iter().find(|step| step.percent > 0.0) {
            words += &format!(", first between {} and {}", plain(first.from), plain(first.to));
        }
        if let Some(half) = curve.steps.iter().find(|step| step.percent >= 50.0) {
            words += &format!(", half of those sown between {} and {}", plain(half.from), plain(half.to));
        }
        words.push('.');
    }
    if curves.is_empty() {
        words += " No groups yet.";
    }
    words
}
