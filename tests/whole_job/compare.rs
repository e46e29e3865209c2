//! Boxes compared, through the built program: two treatments at two spots, and what can go wrong.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use chrono::{DateTime, Duration, Utc};
use serde_json::Value;

use super::written_shapes::written;
use crate::asking::{Asked, Files, named, number};

/// A year later, when all has ended.
const AFTER: &str = "2026-06-01T12:00:00Z";

/// A box of campion seeds, looked at each morning.
struct Sown {
    name: &'static str,
    treatment: &'static str,
    spot: &'static str,
    seeds: &'static str,
    sprouts: &'static [(i64, u32)],
    until: i64,
    ended: bool,
}

const CHILLED: &str = "40 d cold moist";

const fn sown(name: &'static str, treatment: &'static str, spot: &'static str, sprouts: &'static [(i64, u32)]) -> Sown {
    Sown { name, treatment, spot, seeds: "20", sprouts, until: 40, ended: true }
}

/// Each treatment at each spot.
const BOXES: [Sown; 4] = [
    sown("C1", CHILLED, "shelf", &[(8, 2), (9, 5), (10, 5), (11, 3), (13, 1)]),
    sown("C2", CHILLED, "mat", &[(6, 3), (7, 5), (8, 5), (9, 2), (10, 1), (33, 1)]),
    sown("N1", "", "shelf", &[(11, 1), (12, 2), (13, 2), (15, 1)]),
    sown("N2", "", "mat", &[(9, 2), (10, 2), (12, 1)]),
];

fn morning(day: i64) -> DateTime<Utc> {
    DateTime::parse_from_rfc3339("2026-03-01T08:00:00Z").unwrap().to_utc() + Duration::days(day)
}

fn bench(boxes: &[Sown]) -> Files {
    let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot,ended\n".to_owned();
    let mut checks = "container,time,sprouted\n".to_owned();
    let time = |day: i64| morning(day).format("%Y-%m-%dT%H:%M:%SZ").to_string();
    for one in boxes {
        let ended = if one.ended { time(one.until + 1) } else { String::new() };
        let (treatment, seeds, spot) = (one.treatment, one.seeds, one.spot);
        let _ = writeln!(containers, "{},spring,campion,meadow,{treatment},{seeds},{},{spot},{ended}", one.name, time(0));
        for day in 1..=one.until {
            let new: u32 = one.sprouts.iter().filter(|(on, _)| *on == day).map(|(_, seeds)| seeds).sum();
            let _ = writeln!(checks, "{},{},{new}", one.name, time(day));
        }
    }
    let spots = "spot,kind,set_c\nshelf,indoors,20\nmat,indoors,24\n".to_owned();
    let files = [
        ("bench.csv", "key,value\nzone,Europe/Dublin\n".to_owned()),
        ("probes.csv", "probe,spot,since\n".to_owned()),
        ("containers.csv", containers),
        ("checks.csv", checks),
        ("spots.csv", spots),
    ];
    files.map(|(name, text)| (name.to_owned(), text)).into()
}

fn flat(text: &str) -> String {
    text.split_whitespace().collect::<Vec<_>>().join(" ")
}

#[test]
fn two_treatments_at_two_spots_are_told_in_a_dozen_lines_how_many_and_how_fast_apart() {
    let asked = Asked::about(&bench(&BOXES));
    let said = asked.says(&["compare", "--as-of", AFTER]);
    assert!(said.lines().count() <= 14, "{said}");
    let words = flat(&said);
    for part in [
        "campion (root tip showing), batch spring: untreated beside 40 d cold moist, 4 boxes.",
        "untreated 11 of 40 up",
        "40 d cold moist 33 of 40 up",
        "How many: more of 40 d cold moist came up, shown. 33 of 40 beside 11 of 40; the true gap is",
        "How fast: 40 d cold moist came up sooner by the warmth they had, shown: half of its sprouts took",
        "note: a sprout of 40 d cold moist came late, day 33,",
        "it is counted.",
    ] {
        assert!(words.contains(part), "no '{part}' in {said}");
    }
    let all = asked.says(&["compare", "--detail", "--as-of", AFTER]);
    for part in ["log-rank by warmth", "half of the sown", "97.5 in 100, boxes allowed to differ", "to show 20 points"] {
        assert!(all.contains(part), "no '{part}' in {all}");
    }
    let indices = asked.says(&["compare", "--indices", "--as-of", AFTER]);
    assert!(
        indices.contains("40 d cold moist, indices in common use") && indices.lines().count() > said.lines().count() + 20,
        "{indices}"
    );
    // What luck and the needed seeds are said of, where it is not shown.
    let by_spot = flat(&asked.says(&["compare", "--by", "spot", "--difference", "30", "--as-of", AFTER]));
    for part in [
        "note: they were not equally warm: mat stood at 24.0 °C, shelf at 20.0 °C on the average",
        "How many: no difference to be seen",
        "To show a gap of 30 points 4 times in 5: about",
        "Heat mat or lamp: thermostat",
    ] {
        assert!(by_spot.contains(part), "no '{part}' in {by_spot}");
    }
}

#[test]
fn the_answer_has_the_fields_that_are_written_down_and_the_numbers_of_the_textbooks() {
    let (asked, shapes) = (Asked::about(&bench(&BOXES)), written());
    let answer = asked.json(&["compare", "--as-of", AFTER]);
    let mut seen = BTreeSet::new();
    shapes["compare"].holds(&answer, "compare", &mut seen);
    let one = sown("A1", "soaked", "shelf", &[(8, 9)]);
    let three = Asked::about(&bench(&[one, BOXES[0].again(), BOXES[2].again()])).json(&["compare", "--as-of", AFTER]);
    shapes["compare"].holds(&three, "compare", &mut seen);
    assert_eq!((three["groups"].as_array().unwrap().len(), three["pairs"].as_array().unwrap().len()), (3, 3));
    let untold: Vec<String> = shapes["compare"].paths("compare").into_iter().filter(|path| !seen.contains(path)).collect();
    assert_eq!(untold, [""; 0], "null or empty in both answers");

    let pair = &answer["pairs"][0];
    assert_eq!((pair["a"].as_str(), pair["b"].as_str()), (Some("untreated"), Some(CHILLED)));
    let near = |pointer: &str, expected: f64, within: f64| {
        let found = number(&answer, pointer).unwrap();
        assert!((found - expected).abs() <= within, "{pointer}: {found}, expected {expected}");
    };
    near("/pairs/0/fraction_difference/estimate", -0.55, 1e-9);
    // By exact fractions in Python: the tables no likelier than [[11, 29], [33, 7]].
    near("/pairs/0/fisher_p", 1.286_093e-6, 1e-11);
    near("/groups/0/fraction/low", 0.161_080, 1e-6);
    near("/groups/1/half_days/estimate", 8.4, 0.6);
    assert!(number(&answer, "/groups/0/half_days/estimate").is_none(), "never half of the sown");
    assert_eq!((pair["verdict"]["fraction"].as_str(), pair["verdict"]["speed"].as_str()), (Some("shown"), Some("shown")));
    assert_eq!(pair["judged_in"], "thermal");
    assert!(number(pair, "/log_rank/z").unwrap() < 0.0, "b came sooner and more");
    assert!(pair["words"].as_str().unwrap().starts_with("How many: more of 40 d cold moist came up, shown."));
    assert_eq!(named(&answer["groups"], "group", "untreated")["finished"], true);
}

impl Sown {
    fn again(&self) -> Self {
        Self { ..*self }
    }
}

fn verdicts(answer: &Value) -> (String, String) {
    let of = |which: &str| answer["pairs"][0]["verdict"][which].as_str().unwrap().to_owned();
    (of("fraction"), of("speed"))
}

#[test]
fn before_the_end_nothing_is_concluded() {
    let boxes = BOXES.map(|one| Sown { ended: false, ..one });
    let asked = Asked::about(&bench(&boxes));
    let answer = asked.not_enough(&["compare", "--as-of", "2026-03-11T12:00:00Z"]);
    assert_eq!(verdicts(&answer), ("cannot-tell".to_owned(), "cannot-tell".to_owned()));
    assert!(answer["groups"].as_array().unwrap().iter().all(|group| group["finished"] == false));
    let said = asked.run(&["compare", "--as-of", "2026-03-11T12:00:00Z"]);
    let words = flat(&String::from_utf8(said.stdout).unwrap());
    assert!(words.contains("How many, and how fast: cannot be told; untreated and 40 d cold moist may still sprout."), "{words}");
    // Forgotten for a month: ended then, and judged.
    assert_eq!(verdicts(&asked.json(&["compare", "--as-of", AFTER])).0, "shown");
}

#[test]
fn treatment_and_spot_that_go_together_are_said_not_to_be_told_apart() {
    let asked = Asked::about(&bench(&[BOXES[1].again(), BOXES[2].again()]));
    let words = flat(&asked.says(&["compare", "--as-of", AFTER]));
    for part in [
        "untreated stood at shelf, 40 d cold moist at mat: treatment and spot cannot be told apart, beyond what temperature explains",
        "they were not equally warm",
        "one box only of",
    ] {
        assert!(words.contains(part), "no '{part}' in {words}");
    }
}

#[test]
fn what_cannot_be_compared_is_refused_with_what_would_be_needed() {
    let all_chilled: Vec<Sown> = BOXES.iter().map(|one| Sown { treatment: "", ..one.again() }).collect();
    let asked = Asked::about(&bench(&all_chilled));
    let refused = |asked: &Asked, arguments: &[&str]| {
        let done = asked.run(arguments);
        (done.status.code(), String::from_utf8(done.stderr).unwrap())
    };
    assert_eq!(
        refused(&asked, &["compare", "--as-of", AFTER]),
        (
            Some(1),
            "seedclock: all 4 boxes of campion have one treatment (untreated): there is nothing to compare\n  next: --by spot (2 spots)\n"
                .to_owned()
        )
    );
    assert_eq!(asked.not_enough(&["compare", "--as-of", AFTER])["pairs"].as_array().unwrap().len(), 0);
    assert_eq!(
        refused(&asked, &["compare", "--species", "leek"]),
        (Some(2), "seedclock: no box of 'leek' stands on this bench\n  next: name one of its plants: campion\n".to_owned())
    );
    assert_eq!(
        refused(&asked, &["compare", "--batch", "autumn"]),
        (Some(2), "seedclock: there is no batch 'autumn' on this bench\n  next: name one of its batches: spring\n".to_owned())
    );
    assert_eq!(
        refused(&asked, &["compare", "--as-of", "2026-02-01T00:00:00Z"]),
        (
            Some(1),
            "seedclock: no box that was asked about has been looked at yet\n  next: seedclock sow, then seedclock check after each look\n"
                .to_owned()
        )
    );
    let mut bag = bench(&[Sown { ended: false, ..sown("F1", CHILLED, "fridge", &[]) }]);
    bag.get_mut("spots.csv").unwrap().push_str("fridge,fridge,4\n");
    let done = Asked::about(&bag).run(&["compare", "--as-of", "2026-04-12T12:00:00Z"]);
    assert_eq!(
        (done.status.code(), String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap()),
        (
            Some(1),
            "note: left out, still in the cold: F1.\n".to_owned(),
            "seedclock: no box of campion can be compared yet\n  next: sow boxes side by side that differ in treatment, in nothing else\n"
                .to_owned()
        )
    );
    let (code, said) = refused(&asked, &["compare", "--difference", "0"]);
    assert!(code == Some(2) && said.contains("1..=95"), "{said}");
}

/// Boxes that stood side by side are compared; a batch of one treatment only is left out, unless there is nothing else.
#[test]
fn batches_in_which_nothing_differs_are_left_out_and_named() {
    let mut files = bench(&[BOXES[0].again(), BOXES[2].again(), Sown { name: "N9", ..BOXES[2].again() }]);
    let containers = files.get_mut("containers.csv").unwrap();
    *containers = containers.replace("N9,spring", "N9,odd ones");
    let asked = Asked::about(&files);
    let counts = |answer: &Value| {
        answer["groups"].as_array().unwrap().iter().map(|group| group["containers"].as_u64().unwrap()).collect::<Vec<_>>()
    };
    let answer = asked.json(&["compare", "--as-of", AFTER]);
    assert_eq!(counts(&answer), [1, 1]);
    assert!(
        flat(&asked.says(&["compare", "--as-of", AFTER]))
            .contains("left out, since in them there is one treatment only: batch odd ones.")
    );
    assert_eq!(counts(&asked.json(&["compare", "--by", "batch", "--as-of", AFTER])), [1, 2]);
}

/// 14 of 20 beside 8 of 20.
#[test]
fn what_looks_better_and_is_not_shown_is_said_with_luck_and_what_it_would_take() {
    let few = sown("N1", "", "shelf", &[(9, 1), (10, 2), (11, 3), (12, 2)]);
    let more = sown("C1", CHILLED, "shelf", &[(8, 2), (9, 4), (10, 4), (11, 3), (12, 1)]);
    let words = flat(&Asked::about(&bench(&[few, more])).says(&["compare", "--as-of", AFTER]));
    for part in [
        "How many: 40 d cold moist looks better than untreated, not shown. 14 of 20 beside 8 of 20: luck alone makes a gap this big in about 1 \
         shuffle in 9; the true gap is anywhere from 1 point worse to 54 better, were boxes alike.",
        "To show a gap of 20 points 4 times in 5: about",
        "As it was sown it could show a gap of",
    ] {
        assert!(words.contains(part), "no '{part}' in {words}");
    }
}

#[test]
fn uncounted_seeds_tell_how_fast_and_not_how_many() {
    let uncounted = Sown { seeds: "", ..BOXES[2].again() };
    let asked = Asked::about(&bench(&[BOXES[0].again(), uncounted]));
    let answer = asked.json(&["compare", "--as-of", AFTER]);
    assert_eq!(verdicts(&answer).0, "cannot-tell");
    assert_ne!(verdicts(&answer).1, "cannot-tell");
    assert!(answer["groups"][0]["seeds"].is_null() && answer["pairs"][0]["seeds_per_group_needed"].is_null(), "{answer:#}");
    assert!(answer["warnings"].as_array().unwrap().iter().any(|warning| warning["kind"] == "seeds-not-counted"));
}

/// A bag of 60 in the fridge, out of which two boxes of 20 came; one untreated box beside them.
#[test]
fn seeds_out_of_a_bag_count_from_leaving_the_cold_and_the_bag_is_no_box_of_its_own() {
    let mut files = bench(&[sown("N1", "", "shelf", &[(12, 1), (13, 1), (14, 1)])]);
    let more = |files: &mut Files, name: &str, text: &str| files.get_mut(name).unwrap().push_str(text);
    *files.get_mut("containers.csv").unwrap() = "container,batch,species,lot,treatment,seeds,sown,spot,ended,from\n\
         N1,spring,campion,meadow,,20,2026-03-01T08:00:00Z,shelf,2026-04-11T08:00:00Z,\n\
         bag,spring,campion,meadow,40 d cold moist,40,2026-01-20T08:00:00Z,fridge,,\n\
         C1,spring,campion,meadow,40 d cold moist,20,2026-03-01T08:00:00Z,shelf,2026-04-11T08:00:00Z,bag\n\
         C2,spring,campion,meadow,40 d cold moist,20,2026-03-01T08:00:00Z,shelf,2026-04-11T08:00:00Z,bag\n"
        .to_owned();
    more(&mut files, "spots.csv", "fridge,fridge,4\n");
    let mut checks = "bag,2026-02-20T08:00:00Z,0\n".to_owned();
    for container in ["C1", "C2"] {
        for day in 1..=40 {
            let new = match day {
                8 => 4,
                9 => 8,
                10 => 4,
                _ => 0,
            };
            let _ = writeln!(checks, "{container},{},{new}", morning(day).format("%Y-%m-%dT%H:%M:%SZ"));
        }
    }
    more(&mut files, "checks.csv", &checks);
    let answer = Asked::about(&files).json(&["compare", "--as-of", AFTER]);
    let chilled = named(&answer["groups"], "group", CHILLED);
    assert_eq!(
        (chilled["containers"].as_u64(), chilled["seeds"].as_u64(), chilled["sprouted"].as_u64()),
        (Some(2), Some(40), Some(32))
    );
    let half = number(chilled, "/half_days/estimate").unwrap();
    assert!((8.0..9.5).contains(&half), "days count from leaving the fridge: {half}");
    assert_eq!(verdicts(&answer), ("shown".to_owned(), "shown".to_owned()));
}

/// Sixty treatments: one line each for a dozen of them, and all is said in few lines.
#[test]
fn many_groups_are_told_in_few_words() {
    let names: Vec<&'static str> = (0..50).map(|nth| &*Box::leak(format!("soaked {nth:02} h").into_boxed_str())).collect();
    let boxes: Vec<Sown> =
        names.iter().map(|name| Sown { name, until: 20, ..sown("", name, "shelf", &[(7, 4), (8, 5), (9, 3)]) }).collect();
    let asked = Asked::about(&bench(&boxes));
    let said = asked.says(&["compare", "--as-of", AFTER]);
    assert!(said.lines().count() < 30 && said.contains("38 more groups"), "{said}");
    let words = flat(&said);
    assert!(words.contains("How many: that the treatments differ is not shown. No two of them are shown to differ."), "{words}");
}

#[test]
fn a_treatment_with_chemicals_comes_with_the_usual_caution() {
    let boxes = [Sown { treatment: "GA3 500 ppm", ..BOXES[0].again() }, BOXES[2].again()];
    let words = flat(&Asked::about(&bench(&boxes)).says(&["compare", "--as-of", AFTER]));
    assert!(words.contains("Chemicals: gloves and goggles"), "{words}");
    assert!(!flat(&Asked::about(&bench(&BOXES)).says(&["compare", "--as-of", AFTER])).contains("Chemicals"));
}
