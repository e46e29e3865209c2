//! Results → SVG figures: one template a figure, geometry in Rust, colour only by class.
//!
//! Each figure is a plain struct of numbers and names; [`Look`] says on which ground it stands and [`Size`] how wide it is. Every
//! figure carries a title that says what is shown, a description with its numbers in words, and nothing from outside. Groups differ by
//! colour, dash and marker at once, so that a figure still reads in grey. Numbers that are not finite are left out, names are
//! shortened visibly (the description keeps them whole), and a figure grows taller before its words would touch.

mod boxes;
mod compared;
mod daily;
mod intervals;
mod labels;
mod marks;
mod outlook;
mod palette;
mod panels;
mod qr;
mod scale;
mod sheet;
mod sprouted;
mod text;
mod thin;
mod warmth;

pub use boxes::{box_by_warmth, box_outlook, dates_axis, days_since};
pub use compared::{ComparedFigure, compared};
pub use daily::{Daily, DailyRow, Seen, daily_svg};
pub use intervals::{IntervalPanel, IntervalRow, Intervals, Measure, intervals_svg};
pub use labels::{Label, Paper, label_sheets};
pub use outlook::{Ahead, Outlook, outlook_svg};
pub use qr::{Code, QUIET_MODULES, code};
pub use sprouted::{Curve, Sprouted, Step, sprouted_svg};
pub use text::{FONT, FONT_FAMILY};
pub use thin::{Temperature, thinned};
pub use warmth::{Warmth, warmth_svg};

/// The ground a figure stands on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Look {
    /// Dark on white, for a screen.
    Light,
    /// Light on near black, for a screen.
    Dark,
    /// Black on white with heavier lines, for paper.
    Print,
}

/// How wide a figure is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Size {
    /// 1280 units across, 16:9 while its rows allow: a hall's wall, a report.
    Wide,
    /// 360 units across: a column on a phone.
    Narrow,
}

/// A horizontal axis.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Axis {
    /// What is counted and its unit, as "days since wetting" or "warmth gathered, °C·d".
    pub caption: String,
    /// Where ticks stand and what they say, such as dates; those that would touch are left out. Empty: round numbers.
    pub ticks: Vec<(f64, String)>,
}
