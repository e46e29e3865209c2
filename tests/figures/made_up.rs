//! Figures of made-up sowings: peppers, leeks and a shelf that never was.

use seedclock::charts::{
    Ahead, Axis, Curve, Daily, DailyRow, IntervalPanel, IntervalRow, Intervals, Look, Measure, Outlook, Seen, Size, Sprouted, Step,
    Temperature, Warmth, daily_svg, intervals_svg, outlook_svg, sprouted_svg, thinned, warmth_svg,
};

/// A curve that rises about `half`, looked at every `every` days until `until`, in % of `seeds`.
pub(crate) fn curve(name: &str, half: f64, ceiling: f64, every: f64, until: f64, banded: bool) -> Curve {
    let looks = (1..=(until / every) as usize).map(|look| look as f64 * every);
    let steps = looks.map(|to| {
        let percent = (ceiling / (1.0 + (to / half).powi(-6))).round();
        let spread = 4.0 + 9.0 * (percent / 100.0 * (1.0 - percent / 100.0)).sqrt() * 2.0;
        Step { from: to - every, to, percent, band: banded.then_some(((percent - spread).max(0.0), (percent + spread).min(100.0))) }
    });
    Curve { name: name.to_owned(), steps: steps.collect() }
}

/// Group names of unlike lengths.
pub(crate) fn names(count: usize) -> Vec<String> {
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

pub(crate) fn sprouted(count: usize, banded: bool) -> Sprouted {
    let names = names(count);
    let curves = names.iter().enumerate().map(|(index, name)| {
        let shift = index as f64;
        curve(name, 6.0 + 1.3 * shift % 9.0, 88.0 - 7.0 * (shift % 7.0), if index % 3 == 2 { 3.0 } else { 1.0 }, 21.0, banded)
    });
    Sprouted {
        title: "Pepper ‘Ferenc Tender’: seeds sprouted, by treatment".to_owned(),
        axis: Axis { caption: "days since wetting".to_owned(), ticks: Vec::new() },
        curves: curves.collect(),
    }
}

pub(crate) fn axis(caption: &str) -> Axis {
    Axis { caption: caption.to_owned(), ticks: Vec::new() }
}

pub(crate) fn daily(count: usize) -> Daily {
    let rows = sprouted(count, false).curves.into_iter().map(|curve| {
        let mut before = 0.0;
        let looks = curve.steps.iter().map(|step| {
            let new = (step.percent * 0.4).round() - before;
            before += new;
            Seen { from: step.from, to: step.to, sprouted: new }
        });
        DailyRow { name: curve.name.clone(), looks: looks.collect() }
    });
    Daily { title: "Leek: newly sprouted seeds, by treatment".to_owned(), axis: axis("days since wetting"), rows: rows.collect() }
}

pub(crate) fn intervals(count: usize) -> Intervals {
    let rows = |estimate: fn(f64) -> (f64, f64, f64)| {
        let row = |(index, name): (usize, String)| {
            let (estimate, low, high) = estimate(index as f64);
            IntervalRow { name, estimate: Some(estimate), low, high }
        };
        names(count).into_iter().enumerate().map(row).collect::<Vec<_>>()
    };
    let panel = |caption: &str, measure, rows| IntervalPanel { caption: caption.to_owned(), measure, rows };
    Intervals {
        title: "Leek: share sprouted, differences and how much faster, with 95 % intervals".to_owned(),
        panels: vec![
            panel(
                "sprouted, % of seeds sown",
                Measure::Share,
                rows(|index| (70.0 - 4.0 * (index % 9.0), 48.0 - 4.0 * (index % 9.0), 88.0 - 4.0 * (index % 9.0))),
            ),
            panel(
                "difference to the first, points",
                Measure::Difference,
                rows(|index| (-9.0 + 7.0 * (index % 9.0), -31.0 + 7.0 * (index % 9.0), 17.0 + 7.0 * (index % 9.0))),
            ),
            panel(
                "time to half, ratio to the first",
                Measure::Ratio,
                rows(|index| (0.7 + 0.2 * (index % 9.0), 0.4, if index == 1.0 { f64::INFINITY } else { 1.3 + 0.3 * index })),
            ),
        ],
    }
}

pub(crate) fn outlook() -> Outlook {
    let ahead = (0..=14).map(|day| {
        let rise = |shift: f64| (3.0 + 17.0 * (1.0 - (-(f64::from(day) * shift / 5.0)).exp())).round();
        Ahead { day: 8.0 + f64::from(day), quantiles: [0.15, 0.25, 0.5, 0.8, 1.2, 1.7, 2.2].map(rise) }
    });
    Outlook {
        title: "Box B3, leek on the west sill: sprouted so far and expected".to_owned(),
        axis: axis("days since wetting"),
        seeds: Some(20.0),
        seen: vec![(1.0, 0.0), (3.0, 0.0), (5.0, 1.0), (6.0, 1.0), (7.0, 2.0), (8.0, 3.0)],
        ahead: ahead.collect(),
        now: Some((8.0, "today".to_owned())),
    }
}

pub(crate) fn warmth() -> Warmth {
    let reading = |index: usize| {
        let day = index as f64 / 288.0;
        let degrees = 17.0 + 7.0 * (day * std::f64::consts::TAU).sin() + 4.0 * (day / 3.0).sin() + (index % 5) as f64 / 10.0;
        Temperature { day, degrees: if index % 1201 == 700 { 33.0 } else { degrees }, doubtful: index % 1201 == 700 }
    };
    let readings: Vec<Temperature> = (0..288 * 18).filter(|index| !(1500..2100).contains(index)).map(reading).collect();
    Warmth {
        title: "West sill: temperature beside the boxes".to_owned(),
        axis: axis("days since wetting"),
        unit: "°C".to_owned(),
        readings: thinned(&readings, 1000),
        gap_days: 0.25,
        base: Some(7.5),
        optimum: Some(26.0),
        ceiling: Some(35.0),
    }
}

/// Every figure in a look and size, by name.
pub(crate) fn figures(look: Look, size: Size) -> Vec<(String, String)> {
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
    for count in [0, 1, 4, 12] {
        drawn.push((format!("daily-{count}"), daily_svg(&daily(count), look, size)));
        drawn.push((format!("intervals-{count}"), intervals_svg(&intervals(count), look, size)));
    }
    drawn.push(("outlook".to_owned(), outlook_svg(&outlook(), look, size)));
    drawn.push(("warmth".to_owned(), warmth_svg(&warmth(), look, size)));
    drawn
}
