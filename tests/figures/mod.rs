//! Every figure, read back by another reader of SVG: nothing outside, no words that touch, names as plain text.

mod labels;
pub(crate) mod made_up;

use std::sync::Arc;

use proptest::prelude::*;
use resvg::usvg::{Node, Options, Rect, Tree, fontdb};
use seedclock::charts::{
    Axis, Curve, Daily, DailyRow, FONT, FONT_FAMILY, IntervalPanel, IntervalRow, Intervals, Look, Measure, Seen, Size, Sprouted,
    Step, daily_svg, intervals_svg, sprouted_svg,
};
use seedclock::exchange::png;

fn tree(svg: &str) -> Tree {
    let mut fonts = fontdb::Database::new();
    fonts.load_font_data(FONT.to_vec());
    let options = Options { fontdb: Arc::new(fonts), font_family: FONT_FAMILY.to_owned(), ..Options::default() };
    Tree::from_str(svg, &options).unwrap_or_else(|error| panic!("{error}: {svg}"))
}

/// The boxes of all words.
fn words(tree: &Tree) -> Vec<(String, Rect)> {
    fn collect(nodes: &[Node], into: &mut Vec<(String, Rect)>) {
        for node in nodes {
            match node {
                Node::Group(group) => collect(group.children(), into),
                Node::Text(text) => {
                    let said = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    into.push((said, text.abs_bounding_box()));
                }
                Node::Path(_) | Node::Image(_) => {}
            }
        }
    }
    let mut found = Vec::new();
    collect(tree.root().children(), &mut found);
    found
}

/// What is wrong with the words of a figure: outside of it, or on each other.
fn ill_set(svg: &str) -> Vec<String> {
    let tree = tree(svg);
    let (width, height) = (tree.size().width(), tree.size().height());
    let words = words(&tree);
    let mut ill = Vec::new();
    for (at, (said, place)) in words.iter().enumerate() {
        if place.left() < -0.5 || place.top() < -0.5 || place.right() > width + 0.5 || place.bottom() > height + 0.5 {
            ill.push(format!("'{said}' lies outside: {place:?} of {width} × {height}"));
        }
        for (other_said, other) in &words[at + 1..] {
            let overlap = |low: f32, high: f32, other_low: f32, other_high: f32| high.min(other_high) - low.max(other_low);
            let across = overlap(place.left(), place.right(), other.left(), other.right());
            let down = overlap(place.top(), place.bottom(), other.top(), other.bottom());
            if across > 1.0 && down > 1.0 {
                ill.push(format!("'{said}' and '{other_said}' lie on each other by {across:.0} × {down:.0}"));
            }
        }
    }
    ill
}

#[test]
fn words_lie_within_every_figure_and_not_on_each_other() {
    let mut ill = Vec::new();
    for look in [Look::Light, Look::Dark, Look::Print] {
        for size in [Size::Wide, Size::Narrow] {
            for (name, svg) in made_up::figures(look, size) {
                ill.extend(ill_set(&svg).into_iter().map(|what| format!("{name}, {look:?}, {size:?}: {what}")));
                assert!(svg.contains("<title>") && svg.contains("<desc>") && svg.contains("role=\"img\""), "{name}");
                assert!(!svg.contains("NaN") && !svg.contains("inf"), "{name}: {svg}");
                assert!(!svg.contains("href") && !svg.contains("<script") && !svg.contains("url("), "{name}");
            }
        }
    }
    assert!(ill.is_empty(), "{}", ill.join("\n"));
}

#[test]
fn a_picture_has_words_and_lines_on_its_ground() {
    for (name, svg) in made_up::figures(Look::Light, Size::Narrow) {
        let picture = png(&svg, 2.0).unwrap();
        assert_eq!(&picture[1..4], b"PNG", "{name}");
        let drawn = resvg::tiny_skia::Pixmap::decode_png(&picture).unwrap();
        let dark = drawn.pixels().iter().filter(|pixel| pixel.red() < 100 && pixel.green() < 100 && pixel.blue() < 100).count();
        assert!(dark > 200, "{name}: {dark} dark pixels");
    }
}

fn one(name: &str, steps: Vec<Step>) -> Sprouted {
    let axis = Axis { caption: "days".to_owned(), ticks: Vec::new() };
    Sprouted { title: name.to_owned(), axis, curves: vec![Curve { name: name.to_owned(), steps }] }
}

#[test]
fn names_meant_ill_are_plain_text() {
    let ill = "</text><script>alert(1)</script>&amp;\"'";
    let step = Step { from: 0.0, to: 4.0, percent: 30.0, band: None };
    let svg = sprouted_svg(&one(ill, vec![step]), Look::Light, Size::Wide);
    assert!(!svg.contains("<script") && svg.contains("&#60;script"), "{svg}");
    let said: Vec<String> = words(&tree(&svg)).into_iter().map(|(said, _)| said).collect();
    assert!(said.iter().any(|said| said.contains("</text><script>")), "{said:?}");
}

fn number() -> impl Strategy<Value = f64> {
    prop_oneof![8 => 0.0..60.0, 1 => Just(0.0), 1 => any::<f64>(), 1 => prop::sample::select(vec![f64::NAN, f64::INFINITY, -3.0, 1e12])]
}

proptest! {
    #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(60), ..ProptestConfig::with_cases(60) })]
    #[test]
    fn whatever_is_drawn_can_be_read_and_lies_within(
        rows in prop::collection::vec(("[ -~°·]{0,40}", prop::collection::vec((number(), number(), number()), 0..12)), 0..14),
        wide in any::<bool>(),
    ) {
        let size = if wide { Size::Wide } else { Size::Narrow };
        let axis = Axis { caption: "days".to_owned(), ticks: Vec::new() };
        let curves = rows.iter().map(|(name, steps)| Curve {
            name: name.clone(),
            steps: steps.iter().map(|(from, to, percent)| Step { from: *from, to: *to, percent: *percent, band: Some((*from, *to)) }).collect(),
        });
        let title = "What was found".to_owned();
        let drawn = Sprouted { title: title.clone(), axis: axis.clone(), curves: curves.collect() };
        let daily = rows.iter().map(|(name, looks)| DailyRow {
            name: name.clone(),
            looks: looks.iter().map(|(from, to, sprouted)| Seen { from: *from, to: *to, sprouted: *sprouted }).collect(),
        });
        let daily = Daily { title: title.clone(), axis, rows: daily.collect() };
        let intervals = rows.iter().map(|(name, looks)| {
            let (low, high, estimate) = looks.first().copied().unwrap_or((0.0, 0.0, 0.0));
            IntervalRow { name: name.clone(), estimate: (estimate > 1.0).then_some(estimate), low, high }
        });
        let panel = IntervalPanel { caption: "points".to_owned(), measure: Measure::Ratio, rows: intervals.collect() };
        let intervals = Intervals { title, panels: vec![panel] };
        for svg in [
            sprouted_svg(&drawn, Look::Light, size),
            daily_svg(&daily, Look::Dark, size),
            intervals_svg(&intervals, Look::Print, size),
        ] {
            let read = tree(&svg);
            prop_assert!(!svg.contains("NaN") && !svg.contains("inf"), "{}", svg);
            let (width, height) = (read.size().width(), read.size().height());
            for (said, place) in words(&read) {
                let within = place.left() >= -1.0 && place.right() <= width + 1.0 && place.top() >= -1.0 && place.bottom() <= height + 1.0;
                prop_assert!(within, "'{}' lies outside: {:?} of {} × {}", said, place, width, height);
            }
        }
    }
}
