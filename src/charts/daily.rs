//! Sprouts per day, a row a group.

use askama::Template;

use super::marks::{self, Mark};
use super::palette::SIGNS;
use super::scale::{self, Scale};
use super::sheet::{Area, Sheet, rendered};
use super::text::{clean, plain, shortened};
use super::{Axis, Look, Size};

/// Sprouts per day by group. Looks several days apart are drawn as their mean a day over those days, so that areas are seeds.
#[derive(Debug, Clone, PartialEq)]
pub struct Daily {
    /// What is shown.
    pub title: String,
    /// Days since wetting, or dates.
    pub axis: Axis,
    /// The groups, from the top.
    pub rows: Vec<DailyRow>,
}

/// One group of [`Daily`].
#[derive(Debug, Clone, PartialEq)]
pub struct DailyRow {
    /// The group's name.
    pub name: String,
    /// Its looks.
    pub looks: Vec<Seen>,
}

/// What was new at a look.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Seen {
    /// The look before, days.
    pub from: f64,
    /// This look, days.
    pub to: f64,
    /// Newly sprouted, seeds.
    pub sprouted: f64,
}

#[derive(Template)]
#[template(path = "daily.svg", config = "src/charts/askama.toml")]
struct Drawn {
    sheet: Sheet,
    bars: Vec<Mark>,
    looks: Vec<Mark>,
}

/// The shortest time between two looks that a mean a day is taken over: seeds seen within the hour would tower over all else.
const SHORTEST: f64 = 0.5;

/// Draws sprouts per day, a row a group on shared axes; the figure grows taller with its rows.
#[must_use]
pub fn daily_svg(figure: &Daily, look: Look, size: Size) -> String {
    let rows: Vec<DailyRow> = figure.rows.iter().map(sound).collect();
    let mut sheet = Sheet::new(&figure.title, look, size);
    sheet.description = description(figure, &rows);
    let looks = || rows.iter().flat_map(|row| &row.looks);
    let from = looks().map(|seen| seen.from).fold(0.0, f64::min);
    let to = looks().map(|seen| seen.to).fold(f64::NEG_INFINITY, f64::max);
    let to = if to.is_finite() { to } else { 1.0 };
    let highest = scale::rounded(0.0, looks().map(a_day).fold(1.0, f64::max), 2).1;

    let top = sheet.caption_above("newly sprouted seeds a day");
    let name = sheet.leading() + 0.2 * sheet.text;
    let low = if size == Size::Wide { 62.0 } else { 40.0 };
    let count = rows.len().max(1) as f64;
    let note = "Looks days apart: their mean a day. Dots: looks that found none new.";
    let lines = super::text::wrapped(note, sheet.width - 2.0 * sheet.margin, sheet.text, 4).len() as f64;
    let fixed = top + sheet.axis_room(&figure.axis) + 0.3 * sheet.text + lines * sheet.leading() + sheet.margin;
    let tall = ((sheet.height - fixed) / count - name).max(low);
    sheet.height = (fixed + count * (name + tall)).max(sheet.height).ceil();
    sheet.notes(note);
    let ticks = scale::ticks(0.0, highest, if tall > 4.4 * sheet.text { 2 } else { 1 });
    let left = sheet.margin + sheet.widest(&ticks) + 0.6 * sheet.text;
    let right = sheet.width - sheet.margin;
    let across = Scale::new(from, to, left, right);
    let mut drawn = Drawn { sheet, bars: Vec::new(), looks: Vec::new() };
    for (index, row) in rows.iter().enumerate() {
        let floor = top + (index as f64 + 1.0) * (name + tall);
        let area = Area { left, right, top: floor - tall, bottom: floor };
        drawn.row(row, index, area, across, highest, &ticks);
    }
    let floor = top + count * (name + tall);
    let last = Area { left, right, top: floor - tall, bottom: floor };
    drawn.sheet.axis_below(last, &figure.axis, across, false);
    if looks().next().is_none() {
        drawn.sheet.nothing(last);
    }
    rendered(&drawn)
}

impl Drawn {
    fn row(&mut self, row: &DailyRow, index: usize, area: Area, across: Scale, highest: f64, ticks: &[(f64, String)]) {
        let up = Scale::new(0.0, highest, area.bottom, area.top);
        self.sheet.axis_left(area, up, ticks, true);
        self.sheet.rules.push(Mark::new("axis", marks::line(&[(area.left, area.bottom), (area.right, area.bottom)])));
        let seeds: f64 = row.looks.iter().map(|seen| seen.sprouted).sum();
        let count = format!("{} in all", plain(seeds));
        let room = area.right - area.left - self.sheet.room(&count) - self.sheet.text;
        let name = shortened(&row.name, room, self.sheet.text);
        let y = area.top - 0.4 * self.sheet.text;
        self.sheet.say(area.left, y, "start", "", name);
        if !row.looks.is_empty() {
            self.sheet.say(area.right, y, "end", "quiet", count);
        }
        let sign = index % SIGNS;
        for seen in &row.looks {
            if seen.sprouted > 0.0 {
                let (a, b) = (across.at(seen.to - days(seen)), across.at(seen.to));
                let bar = marks::rectangle((a, area.bottom), (b, up.at(a_day(seen))));
                self.bars.push(Mark::new(format!("bar fill{sign} edge"), bar));
            } else {
                self.looks.push(Mark::new("spot", marks::disc(across.at(seen.to), area.bottom, self.sheet.dot() * 0.55)));
            }
        }
    }
}

fn days(seen: &Seen) -> f64 {
    (seen.to - seen.from).max(SHORTEST)
}

fn a_day(seen: &Seen) -> f64 {
    seen.sprouted / days(seen)
}

fn sound(row: &DailyRow) -> DailyRow {
    let look = |seen: &Seen| {
        let (from, to) = (scale::finite(seen.from)?, scale::finite(seen.to)?);
        Some(Seen { from: from.min(to), to, sprouted: scale::finite(seen.sprouted)?.max(0.0) })
    };
    DailyRow { name: clean(&row.name), looks: row.looks.iter().filter_map(look).collect() }
}

fn description(figure: &Daily, rows: &[DailyRow]) -> String {
    let mut words = format!("Newly sprouted seeds a day, against {}.", clean(&figure.axis.caption));
    for row in rows {
        let seeds: f64 = row.looks.iter().map(|seen| seen.sprouted).sum();
        words += &format!(" {}: {} seeds in {} looks", row.name, plain(seeds), row.looks.len());
        if let Some(most) = row.looks.iter().filter(|seen| seen.sprouted > 0.0).max_by(|a, b| a_day(a).total_cmp(&a_day(b))) {
            words += &format!(", most a day ({}) between {} and {}", plain(a_day(most)), plain(most.from), plain(most.to));
        }
        words.push('.');
    }
    if rows.is_empty() {
        words += " No groups yet.";
    }
    words
}
