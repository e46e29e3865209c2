//! Many groups: a frame each, all on the same axes.

use super::scale::Scale;
use super::sheet::{Area, Sheet};
use super::{Axis, Size};

/// One small frame.
#[derive(Debug, Clone, Copy)]
pub(super) struct Panel {
    pub(super) area: Area,
    pub(super) across: Scale,
    pub(super) up: Scale,
}

/// Lays out so many frames in rows below the sheet's top, and draws their axes; the sheet grows as tall as they need.
pub(super) fn laid_out(sheet: &mut Sheet, count: usize, axis: &Axis, notes: &str, highest: f64, span: (f64, f64)) -> Vec<Panel> {
    let columns = match (sheet.size, count) {
        (Size::Wide, ..=6) => 3,
        (Size::Wide, _) => 4,
        (Size::Narrow, _) => 2,
    };
    let rows = count.div_ceil(columns);
    let low = match sheet.size {
        Size::Wide => 110.0,
        Size::Narrow => 62.0,
    };
    let (name, gap) = (sheet.leading() + 0.3 * sheet.text, 1.0 * sheet.text);
    let bare = Axis { caption: String::new(), ticks: axis.ticks.clone() };
    let note = super::text::wrapped(notes, sheet.width - 2.0 * sheet.margin, sheet.text, 4).len() as f64 * sheet.leading();
    let fixed = sheet.top + note + sheet.leading() + 0.5 * sheet.text + sheet.margin + 0.5 * sheet.text;
    let each = name + sheet.axis_room(&bare) + 0.4 * sheet.text;
    let room = (sheet.height - fixed) / rows as f64 - each;
    let tall = room.max(low);
    sheet.height = (fixed + rows as f64 * (each + tall)).max(sheet.height).ceil();
    let foot = sheet.notes(notes);
    let ticks = sheet.ticks_up(0.0, highest, tall);
    let left = sheet.margin + sheet.widest(&ticks) + 0.6 * sheet.text;
    let each_wide = (sheet.width - sheet.margin - left + gap) / columns as f64 - gap;
    let mut panels = Vec::with_capacity(count);
    for index in 0..count {
        let (row, column) = ((index / columns) as f64, (index % columns) as f64);
        let x = left + column * (each_wide + gap);
        let y = sheet.top + row * (each + tall) + name;
        let area = Area { left: x, right: x + each_wide, top: y, bottom: y + tall };
        let (across, up) = (Scale::new(span.0, span.1, area.left, area.right), Scale::new(0.0, highest, area.bottom, area.top));
        sheet.axis_left(area, up, &ticks, index % columns == 0);
        sheet.axis_in_panel(area, &bare, across, index + columns >= count);
        panels.push(Panel { area, across, up });
    }
    let caption = super::text::shortened(&axis.caption, sheet.width - 2.0 * sheet.margin, sheet.text);
    if !caption.is_empty() {
        sheet.say(sheet.width / 2.0, foot - 0.6 * sheet.text, "middle", "quiet", caption);
    }
    panels
}
