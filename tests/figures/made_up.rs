//! Figures of made-up sowings: peppers, leeks and a shelf that never was.

use seedclock::charts::{Axis, Curve, Look, Size, Sprouted, Step, sprouted_svg};

/// A curve that rises about `half`, looked at every `every` days until `until`, in % of `seeds`.
pub fn curve(name: &str, half: f64, ceiling: f64, every: f64, until: f64, banded: bool) -> Curve {
    let looks = (1..=(until / every) as usize).map(|look| look as f64 * every);
    let steps = looks.map(|to| {
        let percent = (ceiling / (1.0 + (to / half).powi(-6))).round();
        let spread = 4.0 + 9.0 * (percent / 100.0 * (1.0 - percent / 100.0)).sqrt() * 2.0;
        Step { from: to - every, to, percent, band: banded.then_some(((percent - spread).max(0.0), (percent + spread).min(100.0))) }
    });
    Curve { name: name.to_owned(), steps: steps.collect() }
}

/// Group names of unlike lengths.
pub fn names(count: usize) -> Vec<String> {
    let known = [
        "chilled 30 days",
        "not chilled",
        "scarified",
        "soaked overnight",
        "shelf, back",
        "window sill",
        "mat",
        "a treatment with a very long name that goes on to eighty characters, bed 7",
    ];
    (0..count).map(|index| known.get(index).map_or_else(|| format!("box {}", index + 1), ToString::to_string)).collect()
}

pub fn sprouted(count: usize, banded: bool) -> Sprouted {
    let curves = names(count).iter().enumerate().map(|(index, name)| {
        let shift = index as f64;
        curve(name, 6.0 + 1.3 * shift % 9.0, 88.0 - 7.0 * (shift % 7.0), if index % 3 == 2 { 3.0 } else { 1.0 }, 21.0, banded)
    });
    Sprouted {
        title: "Pepper ‘Ferenc Tender’: seeds sprouted, by treatment".to_owned(),
        axis: Axis { caption: "days since wetting".to_owned(), ticks: Vec::new() },
        curves: curves.collect(),
    }
}

/// Every figure in a look and size, by name.
pub fn figures(look: Look, size: Size) -> Vec<(String, String)> {
    let mut drawn = Vec::new();
    for (count, banded) in [(0, false), (1, true), (2, true), (3, true), (5, true), (8, false), (12, false), (50, false)] {
        drawn.push((format!("sprouted-{count}"), sprouted_svg(&sprouted(count, banded), look, size)));
    }
    let mut warm = sprouted(3, false);
    warm.axis.caption = "warmth gathered, °C·d above 8 °C".to_owned();
    for step in warm.curves.iter_mut().flat_map(|curve| &mut curve.steps) {
        (step.from, step.to) = (step.from * 11.3, step.to * 11.3);
    }
    drawn.push(("sprouted-thermal".to_owned(), sprouted_svg(&warm, look, size)));
    drawn
}
