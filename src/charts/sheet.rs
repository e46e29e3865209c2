//! What all figures share: ground, heading, axes, words.

use super::marks::{self, Mark};
use super::palette;
use super::scale::{self, Scale};
use super::text::{clean, shortened, width, wrapped};
use super::{Axis, Look, Size};

/// Words at a place.
#[derive(Debug, Clone)]
pub(super) struct Label {
    pub(super) x: f64,
    /// Of the base line.
    pub(super) y: f64,
    pub(super) anchor: &'static str,
    pub(super) class: &'static str,
    pub(super) words: String,
}

/// A figure's sheet; places are in its own units.
#[derive(Debug, Clone)]
pub(super) struct Sheet {
    pub(super) look: Look,
    pub(super) size: Size,
    pub(super) width: f64,
    pub(super) height: f64,
    pub(super) title: String,
    pub(super) description: String,
    pub(super) labels: Vec<Label>,
    pub(super) rules: Vec<Mark>,
    /// Between the sheet's edge and anything on it.
    pub(super) margin: f64,
    /// Size of words.
    pub(super) text: f64,
    heading: f64,
    /// Where the heading ends.
    pub(super) top: f64,
}

/// Where data are drawn.
#[derive(Debug, Clone, Copy)]
pub(super) struct Area {
    pub(super) left: f64,
    pub(super) right: f64,
    pub(super) top: f64,
    pub(super) bottom: f64,
}

impl Sheet {
    /// A sheet with its heading set.
    pub(super) fn new(title: &str, look: Look, size: Size) -> Self {
        let (width, height, margin, text, heading) = match size {
            Size::Wide => (1280.0, 720.0, 36.0, 24.0, 32.0),
            Size::Narrow => (360.0, 300.0, 10.0, 13.0, 15.0),
        };
        let lines = wrapped(title, width - 2.0 * margin, heading, if size == Size::Wide { 2 } else { 3 });
        let mut sheet = Self {
            look,
            size,
            width,
            height,
            title: clean(title),
            description: String::new(),
            labels: Vec::new(),
            rules: Vec::new(),
            margin,
            text,
            heading,
            top: margin,
        };
        for words in lines {
            sheet.top += 1.35 * heading;
            sheet.say(margin, sheet.top - 0.35 * heading, "start", "heading", words);
        }
        if size == Size::Narrow {
            sheet.height += sheet.top - margin - 1.35 * heading;
        }
        sheet
    }

    /// For the style sheet in the template.
    pub(super) fn style(&self) -> String {
        palette::style_sheet(self.look, self.size, self.text, self.heading)
    }

    pub(super) fn classes(&self) -> String {
        format!("figure {} {}", palette::look_class(self.look), palette::size_class(self.size))
    }

    /// How far apart base lines stand.
    pub(super) fn leading(&self) -> f64 {
        1.42 * self.text
    }

    /// From the middle of letters down to their base line.
    pub(super) fn sink(&self) -> f64 {
        0.36 * self.text
    }

    /// Radius of a marker.
    pub(super) fn dot(&self) -> f64 {
        match self.size {
            Size::Wide => 7.0,
            Size::Narrow => 3.6,
        }
    }

    /// The width that words take.
    pub(super) fn room(&self, words: &str) -> f64 {
        width(words, self.text)
    }

    pub(super) fn say(&mut self, x: f64, y: f64, anchor: &'static str, class: &'static str, words: impl Into<String>) {
        self.labels.push(Label { x, y, anchor, class, words: words.into() });
    }

    /// Quiet lines below everything, which say how to read the figure; returns where they begin.
    pub(super) fn notes(&mut self, notes: &str) -> f64 {
        let lines = wrapped(notes, self.width - 2.0 * self.margin, self.text, 4);
        let begin = self.height - self.margin - self.leading() * lines.len() as f64;
        for (index, words) in lines.into_iter().enumerate() {
            let y = begin + self.leading() * (index as f64 + 1.0) - 0.3 * self.text;
            self.say(self.margin, y, "start", "quiet", words);
        }
        begin
    }

    /// A line of quiet words at the top of what is drawn: the vertical axis' caption. Returns where it ends.
    pub(super) fn caption_above(&mut self, caption: &str) -> f64 {
        let words = shortened(caption, self.width - 2.0 * self.margin, self.text);
        if words.is_empty() {
            return self.top;
        }
        self.say(self.margin, self.top + self.leading() - 0.35 * self.text, "start", "quiet", words);
        self.top + self.leading()
    }

    /// Room that a horizontal axis needs below what is drawn: ticks, and the caption.
    pub(super) fn axis_room(&self, axis: &Axis) -> f64 {
        0.45 * self.text + self.leading() * if clean(&axis.caption).is_empty() { 1.0 } else { 2.0 }
    }

    /// The ticks of a horizontal axis over a span that do not touch: those given, else round numbers.
    pub(super) fn ticks_across(&self, axis: &Axis, scale: Scale) -> Vec<(f64, String)> {
        if axis.ticks.is_empty() {
            let most = ((scale.end - scale.start) / (3.2 * self.text)).clamp(2.0, 10.0) as usize;
            let found =
                (2..=most).rev().map(|want| scale::ticks(scale.from, scale.to, want)).find(|ticks| self.clear(scale, ticks));
            return found.unwrap_or_default();
        }
        let given: Vec<(f64, String)> = axis
            .ticks
            .iter()
            .filter(|(value, _)| value.is_finite() && *value >= scale.from && *value <= scale.to)
            .map(|(value, words)| (*value, shortened(words, (scale.end - scale.start) / 2.0, self.text)))
            .collect();
        (1..=given.len().max(1))
            .map(|every| given.iter().step_by(every).cloned().collect::<Vec<_>>())
            .find(|ticks| self.clear(scale, ticks))
            .unwrap_or_default()
    }

    /// Whether tick labels stand clear of each other.
    fn clear(&self, scale: Scale, ticks: &[(f64, String)]) -> bool {
        let spans: Vec<_> = ticks.iter().map(|(value, words)| self.tick_span(scale.at(*value), words)).collect();
        spans.windows(2).all(|pair| pair[0].1 + 0.4 * self.text <= pair[1].0)
    }

    /// From where to where a tick's label runs: about its place, but within the sheet.
    fn tick_span(&self, at: f64, words: &str) -> (f64, f64) {
        let half = self.room(words) / 2.0;
        let middle = at.clamp(self.margin.min(half) + half, (self.width - self.margin / 2.0 - half).max(half));
        (middle - half, middle + half)
    }

    /// Draws a horizontal axis below an area, with upright hairlines where `hairs`.
    pub(super) fn axis_below(&mut self, area: Area, axis: &Axis, scale: Scale, hairs: bool) {
        self.rules.push(Mark::new("axis", marks::line(&[(area.left, area.bottom), (area.right, area.bottom)])));
        for (value, words) in self.ticks_across(axis, scale) {
            let x = scale.at(value);
            if hairs {
                self.rules.push(Mark::new("hair", marks::line(&[(x, area.top), (x, area.bottom)])));
            }
            self.rules.push(Mark::new("axis", marks::line(&[(x, area.bottom), (x, area.bottom + 0.3 * self.text)])));
            let (from, to) = self.tick_span(x, &words);
            self.say((from + to) / 2.0, area.bottom + 0.45 * self.text + 0.75 * self.leading(), "middle", "", words);
        }
        let caption = shortened(&axis.caption, self.width - 2.0 * self.margin, self.text);
        if !caption.is_empty() {
            let half = self.room(&caption) / 2.0;
            let middle = ((area.left + area.right) / 2.0).clamp(self.margin + half, self.width - self.margin - half);
            let y = area.bottom + 0.45 * self.text + 1.75 * self.leading();
            self.say(middle, y, "middle", "quiet", caption);
        }
    }

    /// Draws the horizontal axis of one small frame among others: few ticks, which keep within the frame's own width.
    pub(super) fn axis_in_panel(&mut self, area: Area, axis: &Axis, scale: Scale, labelled: bool) {
        self.rules.push(Mark::new("axis", marks::line(&[(area.left, area.bottom), (area.right, area.bottom)])));
        for (value, words) in self.ticks_across(axis, scale) {
            let x = scale.at(value);
            self.rules.push(Mark::new("axis", marks::line(&[(x, area.bottom), (x, area.bottom + 0.25 * self.text)])));
            let half = self.room(&words) / 2.0;
            if labelled && x - half >= area.left - 0.45 * self.text && x + half <= area.right + 0.45 * self.text {
                self.say(x, area.bottom + 0.4 * self.text + 0.75 * self.leading(), "middle", "", words);
            }
        }
    }

    /// Ticks of a vertical axis that suit a height.
    pub(super) fn ticks_up(&self, from: f64, to: f64, height: f64) -> Vec<(f64, String)> {
        scale::ticks(from, to, ((height / (2.2 * self.text)) as usize).clamp(1, 6))
    }

    /// The width of the widest of these labels.
    pub(super) fn widest(&self, ticks: &[(f64, String)]) -> f64 {
        ticks.iter().map(|(_, words)| self.room(words)).fold(0.0, f64::max)
    }

    /// Draws hairlines across an area and their labels left of it.
    pub(super) fn axis_left(&mut self, area: Area, scale: Scale, ticks: &[(f64, String)], labelled: bool) {
        for (value, words) in ticks {
            let y = scale.at(*value);
            self.rules.push(Mark::new("hair", marks::line(&[(area.left, y), (area.right, y)])));
            if labelled {
                self.say(area.left - 0.5 * self.text, y + self.sink(), "end", "", words.clone());
            }
        }
    }

    /// Says in the middle of an area that there is nothing to draw.
    pub(super) fn nothing(&mut self, area: Area) {
        let words = shortened("nothing to show yet", area.right - area.left, self.text);
        self.say((area.left + area.right) / 2.0, (area.top + area.bottom) / 2.0, "middle", "quiet", words);
    }
}

/// Text of a template that failed, which writing into memory does not.
pub(super) fn rendered(template: &impl askama::Template) -> String {
    template.render().unwrap_or_default()
}
