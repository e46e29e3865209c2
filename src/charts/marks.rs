//! Paths: lines, rectangles, and the markers by which groups differ without colour.

use std::fmt::Write as _;

/// One path of a figure: its classes and its outline.
#[derive(Debug, Clone)]
pub(super) struct Mark {
    pub(super) class: String,
    pub(super) outline: String,
}

impl Mark {
    pub(super) fn new(class: impl Into<String>, outline: String) -> Self {
        Self { class: class.into(), outline }
    }
}

/// A place as short as a tenth of a unit allows.
fn place(value: f64) -> String {
    let text = format!("{value:.1}");
    text.strip_suffix(".0").map_or(text.clone(), str::to_owned)
}

/// A line through places.
pub(super) fn line(places: &[(f64, f64)]) -> String {
    let mut outline = String::new();
    for (index, (x, y)) in places.iter().enumerate() {
        let _ = write!(outline, "{}{} {}", if index == 0 { 'M' } else { 'L' }, place(*x), place(*y));
    }
    outline
}

/// A closed outline through places.
pub(super) fn outline(places: &[(f64, f64)]) -> String {
    let mut closed = line(places);
    closed.push('Z');
    closed
}

/// An upright rectangle by two opposite corners.
pub(super) fn rectangle(a: (f64, f64), b: (f64, f64)) -> String {
    outline(&[a, (b.0, a.1), b, (a.0, b.1)])
}

/// A disc.
pub(super) fn disc(x: f64, y: f64, radius: f64) -> String {
    let (x, y, r, d) = (place(x - radius), place(y), place(radius), place(2.0 * radius));
    format!("M{x} {y}a{r} {r} 0 1 0 {d} 0a{r} {r} 0 1 0 -{d} 0Z")
}

/// Two strokes that cross.
pub(super) fn cross(x: f64, y: f64, half: f64) -> String {
    format!("{}{}", line(&[(x - half, y - half), (x + half, y + half)]), line(&[(x - half, y + half), (x + half, y - half)]))
}

/// The marker of a sign: full disc, square, triangle, diamond, triangle upside down, then hollow disc, square and triangle.
pub(super) fn marker(sign: usize, x: f64, y: f64, radius: f64) -> Mark {
    let r = radius;
    let outline = match sign {
        0 | 5 => disc(x, y, r),
        1 | 6 => rectangle((x - 0.85 * r, y - 0.85 * r), (x + 0.85 * r, y + 0.85 * r)),
        2 | 7 => outline(&[(x, y - 1.1 * r), (x + 1.1 * r, y + 0.8 * r), (x - 1.1 * r, y + 0.8 * r)]),
        3 => outline(&[(x, y - 1.25 * r), (x + 1.25 * r, y), (x, y + 1.25 * r), (x - 1.25 * r, y)]),
        _ => outline(&[(x, y + 1.1 * r), (x + 1.1 * r, y - 0.8 * r), (x - 1.1 * r, y - 0.8 * r)]),
    };
    let filling = if sign < 5 { "full" } else { "ring" };
    Mark::new(format!("dot {filling}{sign}"), outline)
}
