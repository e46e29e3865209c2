//! Labels rasterised, and their codes read by another library than the one that made them.

use proptest::prelude::*;
use resvg::tiny_skia::{Pixmap, Rect, Transform};
use resvg::usvg::Node;
use seedclock::bench::{Bench, Container, Name, Spot, Trial};
use seedclock::charts::{Label, Paper, code, label_sheets};
use seedclock::civil::{Time, Zone};
use seedclock::report::{Tally, by_spot, labels, path_part, tally_html};

use super::tree;

/// Where words begin, dots at 20 a mm.
const WORDS_AT: u32 = 486;

/// About 200 dots an inch, half of what printers do.
const DOTS_A_MM: f32 = 8.0;

fn drawn(svg: &str, dots: f32) -> Pixmap {
    let tree = tree(svg);
    // Sizes in mm come out at 96 units an inch.
    let scale = dots * 25.4 / 96.0;
    let (width, height) = ((tree.size().width() * scale).round() as u32, (tree.size().height() * scale).round() as u32);
    let mut picture = Pixmap::new(width, height).unwrap();
    resvg::render(&tree, Transform::from_scale(scale, scale), &mut picture.as_mut());
    picture
}

/// What another reader finds within a part of a picture, and how many dots wide the code is.
fn read(picture: &Pixmap, left: u32, top: u32, width: u32, height: u32) -> Result<(String, f64), String> {
    let grey = |x: usize, y: usize| picture.pixel(left + x as u32, top + y as u32).map_or(255, |pixel| pixel.green());
    let mut image = rqrr::PreparedImage::prepare_from_greyscale(width as usize, height as usize, grey);
    let grids = image.detect_grids();
    let [grid] = &grids[..] else { return Err(format!("{} codes found", grids.len())) };
    let (about, words) = grid.decode().map_err(|error| error.to_string())?;
    assert_eq!(about.ecc_level, 0, "error correction M (ISO/IEC 18004, table 25: 00)");
    let [first, second, ..] = grid.bounds;
    Ok((words, f64::from((second.x - first.x).pow(2) + (second.y - first.y).pow(2)).sqrt()))
}

fn trials(names: &[&str]) -> Vec<Trial> {
    let name = |text: &str| Name::new(text).unwrap();
    let sown = Time::UNIX_EPOCH + chrono::Duration::days(20_000);
    names
        .iter()
        .map(|one| Trial::new(Container::new(name(one), name("b"), name("Leek 'Blue <Solaise>', saved 2019"), name("sill"), sown)))
        .collect()
}

#[test]
fn every_code_on_a_sheet_is_read_back_by_another_reader_and_is_18_mm_wide() {
    let names = ["A1", "B 3/½?#", "красный лук", "a box with quite a long name of its own, north bed"];
    let boxes = trials(&names);
    let address = "http://192.168.1.5:7333";
    let made = labels(&boxes.iter().collect::<Vec<_>>(), address, Zone::UTC);
    let sheet = &label_sheets(&made, Paper::A4)[0];
    let picture = drawn(sheet, DOTS_A_MM);
    assert_eq!((picture.width(), picture.height()), (4 * 48 * 8, 25 * 8));
    for (at, name) in names.into_iter().enumerate() {
        let (words, dots) = read(&picture, at as u32 * 48 * 8, 0, 25 * 8, 25 * 8).unwrap_or_else(|error| panic!("{name}: {error}"));
        assert_eq!(words, format!("{address}/lid/{}", path_part(name)));
        assert!(dots / f64::from(DOTS_A_MM) >= 17.9, "{name}: {dots} dots");
    }
}

#[test]
fn around_a_code_four_modules_are_clear() {
    let made =
        Label { name: "A1".to_owned(), species: "leek".to_owned(), more: vec![], address: "http://bench.lan/lid/A1".to_owned() };
    let picture = drawn(&label_sheets(std::slice::from_ref(&made), Paper::Letter)[0], 20.0);
    let dark = |x: u32, y: u32| picture.pixel(x, y).is_some_and(|pixel| pixel.green() < 100);
    // Without the cut lines, which are grey and thin, and up to where the words begin.
    let inked: Vec<(u32, u32)> = (0..500).flat_map(|y| (0..WORDS_AT).map(move |x| (x, y))).filter(|(x, y)| dark(*x, *y)).collect();
    let (left, right) = (inked.iter().map(|at| at.0).min().unwrap(), inked.iter().map(|at| at.0).max().unwrap());
    let (top, bottom) = (inked.iter().map(|at| at.1).min().unwrap(), inked.iter().map(|at| at.1).max().unwrap());
    let module = f64::from(right + 1 - left) / code(&made.address).unwrap().modules as f64;
    for (clear, what) in [(left, "left"), (WORDS_AT - right - 1, "right"), (top, "above"), (500 - bottom - 1, "below")] {
        assert!(f64::from(clear) >= 4.0 * module, "{what}: {clear} dots, a module {module}");
    }
}

#[test]
fn a_code_with_a_dirty_spot_is_still_read() {
    let made = labels(&trials(&["A1"]).iter().collect::<Vec<_>>(), "http://192.168.1.5:7333", Zone::UTC);
    let mut picture = drawn(&label_sheets(&made, Paper::A4)[0], DOTS_A_MM);
    let width = picture.width();
    let white = resvg::tiny_skia::PremultipliedColorU8::from_rgba(255, 255, 255, 255).unwrap();
    // 3 mm across in the middle.
    for y in 88..112 {
        picture.pixels_mut()[(y * width + 88) as usize..(y * width + 112) as usize].fill(white);
    }
    assert_eq!(read(&picture, 0, 0, 200, 200).unwrap().0, "http://192.168.1.5:7333/lid/A1");
}

#[test]
fn the_code_of_a_tally_sheet_opens_the_grid_of_its_days() {
    let boxes = trials(&["A1"]);
    let mut bench = Bench::empty(Zone::UTC);
    let spot = boxes[0].container.spot.clone();
    bench.spots.insert(spot.clone(), Spot::named(spot));
    bench.trials.insert(boxes[0].container.name.clone(), boxes[0].clone());
    let from = chrono::NaiveDate::from_ymd_opt(2024, 10, 7).unwrap();
    let now = Time::UNIX_EPOCH + chrono::Duration::days(20_004);
    let tally = Tally { from, days: 14, paper: Paper::A4, address: "http://bench.lan:7333".to_owned() };
    let html = tally_html(&bench, &by_spot(&bench, from, 14, now), &tally).unwrap();
    let svg = &html[html.find("<svg").unwrap()..html.find("</svg>").unwrap() + 6];
    let svg = svg.replacen("<svg ", "<svg xmlns=\"http://www.w3.org/2000/svg\" width=\"24mm\" height=\"24mm\" ", 1);
    let picture = drawn(&svg, DOTS_A_MM);
    assert_eq!(
        read(&picture, 0, 0, picture.width(), picture.height()).unwrap().0,
        "http://bench.lan:7333/grid?from=2024-10-07&days=14"
    );
}

/// The letters of a sheet as they are drawn that lie outside their label, on its code or on each other.
fn ill_drawn(svg: &str) -> Vec<String> {
    fn collect(nodes: &[Node], into: &mut Vec<(String, Rect)>) {
        for node in nodes {
            match node {
                Node::Group(group) => collect(group.children(), into),
                Node::Text(text) => {
                    let said = text.chunks().iter().map(|chunk| chunk.text()).collect();
                    into.push((said, text.flattened().abs_stroke_bounding_box()));
                }
                Node::Path(_) | Node::Image(_) => {}
            }
        }
    }
    let mut drawn = Vec::new();
    collect(tree(svg).root().children(), &mut drawn);
    let mm = |units: f32| units * 25.4 / 96.0;
    let mut ill = Vec::new();
    for (at, (said, place)) in drawn.iter().enumerate() {
        let (left, right, top, bottom) = (mm(place.left()), mm(place.right()), mm(place.top()), mm(place.bottom()));
        let (x, y) = ((left / 48.0).floor() * 48.0, (top / 25.0).floor() * 25.0);
        if left - x < 24.0 || right - x > 48.0 || bottom - y > 25.0 {
            ill.push(format!("'{said}' lies at {left:.1} to {right:.1}, {top:.1} to {bottom:.1} mm"));
        }
        for (other, there) in &drawn[at + 1..] {
            if place.left().max(there.left()) < place.right().min(there.right())
                && place.top().max(there.top()) < place.bottom().min(there.bottom())
            {
                ill.push(format!("'{said}' and '{other}' lie on each other"));
            }
        }
    }
    ill
}

/// Names of letters that the built-in font has: another's heights are not known to this reader.
const LETTERS: &str = "[a-zA-Z0-9 äöüßéÅøñçŁžЖдёλΩ'()<>&.,/#%-]{1,80}";

proptest! {
    #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(40), ..ProptestConfig::with_cases(40) })]

    #[test]
    fn labels_of_any_names_keep_their_words_on_them_and_their_codes_readable(
        mut names in prop::collection::vec(LETTERS, 1..6),
        species in LETTERS,
    ) {
        // What needs the most room of all.
        names.push("Žg".to_owned());
        let labels: Vec<Label> = names.iter().map(|name| Label {
            name: name.clone(),
            species: species.clone(),
            more: vec![format!("box {name}"), "sown 28 Nov 2026".to_owned()],
            address: format!("http://192.168.1.5:7333/lid/{}", path_part(name)),
        }).collect();
        let sheet = &label_sheets(&labels, Paper::A4)[0];
        prop_assert_eq!(ill_drawn(sheet), Vec::<String>::new());
        let picture = drawn(sheet, 12.0);
        for (at, label) in labels.iter().enumerate() {
            let (x, y) = ((at % 4) as u32 * 48 * 12, (at / 4) as u32 * 25 * 12);
            if label.has_code() {
                prop_assert_eq!(read(&picture, x, y, 300, 300).map(|(words, _)| words), Ok(label.address.clone()));
            }
        }
    }
}
