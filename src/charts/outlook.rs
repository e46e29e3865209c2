//! One box: sprouts so far, and how many to expect by when.

use askama::Template;

use super::marks::{self, Mark};
use super::scale::{self, Scale};
use super::sheet::{Area, Sheet, rendered};
use super::text::{clean, plain, shortened};
use super::{Axis, Look, Size};

/// A box's sprouts so far and those forecast.
#[derive(Debug, Clone, PartialEq)]
pub struct Outlook {
    /// What is shown.
    pub title: String,
    /// Days since wetting, or dates as ticks.
    pub axis: Axis,
    /// Seeds sown, if counted: the top of the axis.
    pub seeds: Option<f64>,
    /// Looks so far, in order: day, and sprouted in all.
    pub seen: Vec<(f64, f64)>,
    /// What is expected, in order of days.
    pub ahead: Vec<Ahead>,
    /// The day of the question and its name, as "today".
    pub now: Option<(f64, String)>,
}

/// What is expected of a day: quantiles of seeds sprouted in all.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ahead {
    /// The day, on the figure's axis.
    pub day: f64,
    /// 5, 10, 25, 50, 75, 90 and 95 in 100.
    pub quantiles: [f64; 7],
}

#[derive(Template)]
#[template(path = "outlook.svg", config = "src/charts/askama.toml")]
struct Drawn {
    sheet: Sheet,
    ranges: Vec<Mark>,
    edges: Vec<Mark>,
    seen: Vec<Mark>,
    now: Vec<Mark>,
}

/// The ranges, widest first: which quantiles bound them, their edges' dash and their name.
const RANGES: [(usize, usize, &str, &str); 3] = [(0, 6, "dash2", "9 in 10"), (1, 5, "dash1", "8 in 10"), (2, 4, "", "1 in 2")];

/// Draws a box's sprouts so far and the ranges that hold what comes 1 time in 2, 8 and 9 times in 10.
#[must_use]
pub fn outlook_svg(figure: &Outlook, look: Look, size: Size) -> String {
    let pair = |place: &(f64, f64)| Some((scale::finite(place.0)?, scale::finite(place.1)?.max(0.0)));
    let seen: Vec<(f64, f64)> = figure.seen.iter().filter_map(pair).collect();
    let ahead: Vec<Ahead> = figure
        .ahead
        .iter()
        .filter(|ahead| ahead.quantiles.iter().all(|quantile| quantile.is_finite()))
        .filter_map(|ahead| {
            Some(Ahead { day: scale::finite(ahead.day)?, quantiles: ahead.quantiles.map(|count| count.clamp(0.0, 1e9)) })
        })
        .collect();
    let now = figure.now.as_ref().and_then(|(day, words)| Some((scale::finite(*day)?, clean(words))));
    let mut sheet = Sheet::new(&figure.title, look, size);
    sheet.description = description(figure, &seen, &ahead);
    let counts = || {
        seen.iter()
            .map(|look| look.1)
            .chain(ahead.iter().map(|ahead| ahead.quantiles[6]))
            .chain(figure.seeds.and_then(scale::finite))
    };
    let highest = counts().fold(1.0, f64::max);
    let days = || seen.iter().map(|look| look.0).chain(ahead.iter().map(|ahead| ahead.day)).chain(now.iter().map(|now| now.0));
    let (from, to) = days().fold((0.0_f64, f64::NEG_INFINITY), |(from, to), day| (from.min(day), to.max(day)));
    let to = if to.is_finite() { to } else { 1.0 };

    let caption = figure
        .seeds
        .filter(|seeds| seeds.is_finite())
        .map_or("seeds sprouted".to_owned(), |seeds| format!("seeds sprouted, of {}", plain(seeds)));
    let top = sheet.caption_above(&caption) + if now.is_some() { sheet.leading() } else { 0.75 * sheet.text };
    let foot = if ahead.is_empty() { sheet.height - sheet.margin } else { sheet.notes(NOTE) };
    let bottom = foot - sheet.axis_room(&figure.axis) - 0.3 * sheet.text;
    let mut ticks = sheet.ticks_up(0.0, highest, bottom - top);
    ticks.retain(|(value, _)| value.fract() == 0.0);
    let left = sheet.margin + sheet.widest(&ticks) + 0.75 * sheet.text;
    let words = sheet.room("middle").max(RANGES.iter().map(|range| sheet.room(range.3)).fold(0.0, f64::max));
    let right = sheet.width - sheet.margin - if ahead.is_empty() { 0.0 } else { words + 0.4 * sheet.text };
    let area = Area { left, right, top, bottom };
    let (across, up) = (Scale::new(from, to, left, right), Scale::new(0.0, highest, bottom, top));
    sheet.axis_left(area, up, &ticks, true);
    sheet.axis_below(area, &figure.axis, across, false);
    if seen.is_empty() && ahead.is_empty() {
        sheet.nothing(area);
    }
    let mut drawn = Drawn { sheet, ranges: Vec::new(), edges: Vec::new(), seen: Vec::new(), now: Vec::new() };
    drawn.ahead(&ahead, area, across, up);
    drawn.so_far(&seen, now, area, across, up);
    rendered(&drawn)
}

impl Drawn {
    fn ahead(&mut self, ahead: &[Ahead], area: Area, across: Scale, up: Scale) {
        let Some(last) = ahead.last() else { return };
        let edge =
            |index: usize| ahead.iter().map(move |ahead| (across.at(ahead.day), up.at(ahead.quantiles[index]))).collect::<Vec<_>>();
        for (low, high, dash, _) in RANGES {
            let mut around = edge(high);
            around.extend(edge(low).into_iter().rev());
            self.ranges.push(Mark::new("band fill0", marks::outline(&around)));
            for bound in [low, high] {
                self.edges.push(Mark::new(format!("fine stroke0 {dash}"), marks::line(&edge(bound))));
            }
        }
        self.edges.push(Mark::new("line stroke0", marks::line(&edge(3))));
        // Named where each range ends above, and the middle.
        let names: Vec<(usize, &str)> = RANGES.iter().map(|range| (range.1, range.3)).chain([(3, "middle")]).collect();
        let wanted: Vec<f64> = names.iter().map(|(index, _)| up.at(last.quantiles[*index])).collect();
        let places = scale::apart(&wanted, self.sheet.leading(), area.top, area.bottom);
        let (x, sink) = (area.right + 0.5 * self.sheet.text, self.sheet.sink());
        for ((_, words), y) in names.into_iter().zip(places) {
            self.sheet.say(x, y + sink, "start", "", words);
        }
    }

    fn so_far(&mut self, seen: &[(f64, f64)], now: Option<(f64, String)>, area: Area, across: Scale, up: Scale) {
        let mut places: Vec<(f64, f64)> = Vec::new();
        let mut before = 0.0;
        for (day, count) in seen {
            let (x, y) = (across.at(*day), up.at(*count));
            places.extend([(x, up.at(before)), (x, y)]);
            self.seen.push(marks::marker(4, x, y, self.sheet.dot()));
            before = *count;
        }
        if !places.is_empty() {
            self.seen.insert(0, Mark::new("line stroke4", marks::line(&places)));
        }
        if let Some((day, words)) = now {
            let x = across.at(day);
            self.now.push(Mark::new("mid dash6", marks::line(&[(x, area.top), (x, area.bottom)])));
            let words = shortened(&words, (area.right - area.left) / 2.0, self.sheet.text);
            let half = self.sheet.room(&words) / 2.0;
            let middle = x.clamp(self.sheet.margin + half, self.sheet.width - self.sheet.margin - half);
            let y = area.top - 0.35 * self.sheet.text;
            self.sheet.say(middle, y, "middle", "", words);
        }
    }
}

const NOTE: &str = "Marks: seen so far. Ranges hold what comes 1 time in 2, 8 and 9 times in 10.";

fn description(figure: &Outlook, seen: &[(f64, f64)], ahead: &[Ahead]) -> String {
    let mut words = format!("Seeds sprouted, against {}.", clean(&figure.axis.caption));
    if let Some(seeds) = figure.seeds.filter(|seeds| seeds.is_finite()) {
        words += &format!(" {} seeds were sown.", plain(seeds));
    }
    match seen.last() {
        Some((day, count)) => words += &format!(" So far {} by {}.", plain(*count), plain(*day)),
        None => words += " No looks yet.",
    }
    if let Some(last) = ahead.last() {
        let [_, ten, quarter, middle, three_quarters, ninety, _] = last.quantiles.map(plain);
        words += &format!(
            " Expected by {}: {middle}, 8 times in 10 from {ten} to {ninety}, 1 time in 2 from {quarter} to {three_quarters}.",
            plain(last.day)
        );
    }
    words
}
