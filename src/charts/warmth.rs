//! A spot's temperatures over days, between where progress starts and stops.

use askama::Template;

use super::marks::{self, Mark};
use super::scale::{self, Scale};
use super::sheet::{Area, Sheet, rendered};
use super::text::{clean, plain, shortened};
use super::{Axis, Look, Size, Temperature};

/// A spot's temperatures. Thin them first: [`super::thinned`].
#[derive(Debug, Clone, PartialEq)]
pub struct Warmth {
    /// What is shown.
    pub title: String,
    /// Days, or dates as ticks.
    pub axis: Axis,
    /// The sign of the degrees: "°C".
    pub unit: String,
    /// In order of time.
    pub readings: Vec<Temperature>,
    /// Readings farther apart than this many days are not joined by a line.
    pub gap_days: f64,
    /// Where progress starts.
    pub base: Option<f64>,
    /// Where it is fastest.
    pub optimum: Option<f64>,
    /// Where it stops.
    pub ceiling: Option<f64>,
}

#[derive(Template)]
#[template(path = "warmth.svg", config = "src/charts/askama.toml")]
struct Drawn {
    sheet: Sheet,
    still: Vec<Mark>,
    limits: Vec<Mark>,
    course: Vec<Mark>,
    doubted: Vec<Mark>,
}

/// Draws a spot's temperatures; where seeds stand still, below the base and above the ceiling, the ground is shaded.
#[must_use]
pub fn warmth_svg(figure: &Warmth, look: Look, size: Size) -> String {
    let readings: Vec<Temperature> = figure
        .readings
        .iter()
        .filter_map(|reading| {
            Some(Temperature { day: scale::finite(reading.day)?, degrees: scale::finite(reading.degrees)?, ..*reading })
        })
        .collect();
    let unit = clean(&figure.unit);
    let limits: Vec<(f64, &str, &str)> =
        [(figure.base, "starts at", "dash1"), (figure.optimum, "fastest at", ""), (figure.ceiling, "stops at", "dash1")]
            .into_iter()
            .filter_map(|(value, words, dash)| Some((scale::finite(value?)?, words, dash)))
            .collect();
    let mut sheet = Sheet::new(&figure.title, look, size);
    sheet.description = description(figure, &readings, &limits, &unit);
    let top = sheet.caption_above(&format!("temperature, {unit}")) + 0.75 * sheet.text;
    let doubtful = readings.iter().any(|reading| reading.doubtful);
    let mut note = if limits.is_empty() { String::new() } else { "Shaded: too cold or too hot for progress.".to_owned() };
    if doubtful {
        note += " Crosses: doubtful readings.";
    }
    let foot = sheet.notes(note.trim());
    let bottom = foot - sheet.axis_room(&figure.axis) - 0.3 * sheet.text;
    let values = || readings.iter().map(|reading| reading.degrees).chain(limits.iter().map(|limit| limit.0));
    let (low, high) = values().fold((f64::INFINITY, f64::NEG_INFINITY), |(low, high), value| (low.min(value), high.max(value)));
    let (low, high) = if low.is_finite() { scale::rounded(low - 0.5, high + 0.5, 5) } else { (0.0, 30.0) };
    let ticks = sheet.ticks_up(low, high, bottom - top);
    let names: Vec<String> =
        limits.iter().map(|(value, words, _)| shortened(&format!("{words} {value:.1}"), 0.3 * sheet.width, sheet.text)).collect();
    let words = names.iter().map(|name| sheet.room(name)).fold(0.0, f64::max);
    let left = sheet.margin + sheet.widest(&ticks) + 0.75 * sheet.text;
    let right = sheet.width - sheet.margin - if names.is_empty() { 0.0 } else { words + 0.3 * sheet.text };
    let area = Area { left, right, top, bottom };
    let days = || readings.iter().map(|reading| reading.day);
    let (from, to) = (days().fold(f64::INFINITY, f64::min), days().fold(f64::NEG_INFINITY, f64::max));
    let (from, to) = if from.is_finite() { (from, to) } else { (0.0, 1.0) };
    let (across, up) = (Scale::new(from, to, left, right), Scale::new(low, high, bottom, top));
    sheet.axis_left(area, up, &ticks, true);
    sheet.axis_below(area, &figure.axis, across, false);
    if readings.is_empty() {
        sheet.nothing(area);
    }
    let mut drawn = Drawn { sheet, still: Vec::new(), limits: Vec::new(), course: Vec::new(), doubted: Vec::new() };
    drawn.limits(figure, &limits, &names, area, up);
    drawn.course(figure, &readings, across, up);
    rendered(&drawn)
}

impl Drawn {
    fn limits(&mut self, figure: &Warmth, limits: &[(f64, &str, &str)], names: &[String], area: Area, up: Scale) {
        let edges = [(figure.base, area.bottom), (figure.ceiling, area.top)];
        for (value, edge) in edges.into_iter().filter_map(|(value, edge)| Some((scale::finite(value?)?, edge))) {
            self.still.push(Mark::new("still", marks::rectangle((area.left, up.at(value)), (area.right, edge))));
        }
        let wanted: Vec<f64> = limits.iter().map(|limit| up.at(limit.0)).collect();
        let places = scale::apart(&wanted, self.sheet.leading(), area.top, area.bottom);
        for (((value, _, dash), name), place) in limits.iter().zip(names).zip(places) {
            let y = up.at(*value);
            self.limits.push(Mark::new(format!("mid {dash}"), marks::line(&[(area.left, y), (area.right, y)])));
            let (x, sink) = (area.right + 0.5 * self.sheet.text, self.sheet.sink());
            self.sheet.say(x, place + sink, "start", "", name.clone());
        }
    }

    fn course(&mut self, figure: &Warmth, readings: &[Temperature], across: Scale, up: Scale) {
        let trusted: Vec<&Temperature> = readings.iter().filter(|reading| !reading.doubtful).collect();
        let mut outline = String::new();
        for stretch in trusted.chunk_by(|a, b| b.day - a.day <= figure.gap_days) {
            let mut places: Vec<(f64, f64)> =
                stretch.iter().map(|reading| (across.at(reading.day), up.at(reading.degrees))).collect();
            if let [alone] = places[..] {
                places.push(alone);
            }
            outline += &marks::line(&places);
        }
        self.course.push(Mark::new("fine stroke0", outline));
        let half = self.sheet.dot() * 0.8;
        let crosses: String = readings
            .iter()
            .filter(|reading| reading.doubtful)
            .map(|reading| marks::cross(across.at(reading.day), up.at(reading.degrees), half))
            .collect();
        if !crosses.is_empty() {
            self.doubted.push(Mark::new("doubt", crosses));
        }
    }
}

fn description(figure: &Warmth, readings: &[Temperature], limits: &[(f64, &str, &str)], unit: &str) -> String {
    let mut words = format!("Temperature in {unit}, against {}.", clean(&figure.axis.caption));
    let trusted = || readings.iter().filter(|reading| !reading.doubtful).map(|reading| reading.degrees);
    if trusted().next().is_some() {
        let (low, high) = (trusted().fold(f64::INFINITY, f64::min), trusted().fold(f64::NEG_INFINITY, f64::max));
        words += &format!(" From {} to {} {unit}.", plain(low), plain(high));
    } else {
        words += " No readings yet.";
    }
    for (value, said, _) in limits {
        words += &format!(" Progress {said} {value:.1} {unit}.");
    }
    let doubtful = readings.iter().filter(|reading| reading.doubtful).count();
    if doubtful > 0 {
        words += &format!(" Doubtful readings shown: {doubtful}.");
    }
    words
}
