//! What other programs read: the answers' fields, as DEVELOPERS.md lists them, no more and no fewer.

use std::collections::BTreeSet;

use chrono::{DateTime, Duration};
use serde_json::Value;

use super::written_shapes::{section, written};
use super::{STORY_ENDS, demo_files};
use crate::asking::{Asked, Files, named, number};

/// Fields that a bench as the demo's leaves null or empty, with why; anything else must have had a value somewhere.
const NEVER_TOLD: [&str; 10] = [
    // Its seeds were all treated alike.
    "fit.effects",
    "fit.germinable",
    // Nothing was ever chilled there (chilling.rs has a bench on which it was).
    "fit.chilling",
    "containers[].chilling",
    // Nothing is wanting on that bench; the one of which hardly anything is known has them.
    "fit.warnings",
    "forecast.containers[].warnings",
    // Nothing was forecast on it before.
    "forecast.ledger",
    // Odd readings are counted, and what to do about a probe is in the same sentence.
    "probes[].findings[].chance",
    "probes[].findings[].advice",
    "probes[].findings[].caution",
];
/// A time of the last season when the plug of a probe had worked loose.
const LOOSE_PLUG: &str = "2025-03-20T12:00:00Z";

#[test]
fn the_answers_have_the_fields_that_are_written_down() {
    let (asked, shapes) = (Asked::about(&demo_files()), written());
    for command in ["fit", "forecast", "diagnose"] {
        let shape = &shapes[command];
        let mut seen = BTreeSet::new();
        for time in [STORY_ENDS, LOOSE_PLUG] {
            shape.holds(&asked.json(&[command, "--as-of", time]), command, &mut seen);
        }
        if command == "diagnose" {
            shape.holds(&Asked::about(&few_places()).json(&[command, "--as-of", STORY_ENDS]), command, &mut seen);
        }
        if command == "forecast" {
            let assuming = ["forecast", "--as-of", STORY_ENDS, "--assume", "porch sill=18±1", "--assume", "boiler top=shelf"];
            shape.holds(&asked.json(&assuming), command, &mut seen);
        }
        let told =
            |path: &String| seen.contains(path) || NEVER_TOLD.iter().any(|never| path.replace("fits[].", "").contains(never));
        let untold: Vec<String> = shape.paths(command).into_iter().filter(|path| !told(path)).collect();
        assert_eq!(untold, [""; 0], "{command}: null or empty whenever asked of the demo's bench");
    }
}

/// The demo's bench with no more room on the mat, the shelf and the boiler than their boxes take.
fn few_places() -> Files {
    let mut files = demo_files();
    let spots = files.get_mut("spots.csv").unwrap();
    let with_room = |line: &str| match line {
        "spot,kind,set_c,set_sd_c,note" => format!("{line},capacity"),
        _ if line.starts_with("heat mat,") => format!("{line},3"),
        _ if line.starts_with("porch sill,") => format!("{line},"),
        _ => format!("{line},2"),
    };
    *spots = spots.lines().map(|line| with_room(line) + "\n").collect();
    files
}

#[test]
fn where_places_are_few_boxes_that_gain_more_take_those_of_boxes_that_have_what_they_need() {
    let asked = Asked::about(&few_places());
    let diagnosis = asked.json(&["diagnose", "--as-of", STORY_ENDS]);
    let moves = diagnosis["swaps"]["moves"].as_array().unwrap();
    let from = |spot: &str| moves.iter().filter(|carried| carried["from"] == spot).count();
    let to = |spot: &str| moves.iter().filter(|carried| carried["to"] == spot).count();
    for full in ["heat mat", "shelf", "boiler top"] {
        assert!(to(full) <= from(full), "no more come to {full} than leave it: {moves:?}");
    }
    assert!(moves.iter().any(|carried| carried["container"] == "C3"), "the slowest box is carried away: {moves:?}");
    assert!(to("porch sill") >= 1, "another one takes its place: {moves:?}");
    assert!(number(&diagnosis, "/swaps/more_sprouts").unwrap() >= 1.0);
    let gain = &named(&named(&diagnosis["containers"], "container", "C3")["gain_if_moved"], "spot", "heat mat")["doubts"];
    assert_eq!(gain[0]["kind"], "full");
    let words = asked.says(&["diagnose", "--as-of", STORY_ENDS]);
    assert!(words.contains("Where places are few: carry ") && words.contains("C3 from porch sill to "), "{words}");
}

#[test]
fn other_questions_have_the_same_fields_with_unknowns_null() {
    let (asked, shapes) = (Asked::about(&demo_files()), written());
    for options in [
        &["--clock", "days"][..],
        &["--clock", "days", "--prior", "none", "--distribution", "weibull"],
        &["--rate", "threshold", "--prior", "general", "--removed", "censored"],
        &["--rate", "tent", "--prior", "none", "--removed", "rotted"],
    ] {
        let answer = asked.json(&[&["fit", "--species", "tomato", "--as-of", STORY_ENDS], options].concat());
        shapes["fit"].holds(&answer, "fit", &mut BTreeSet::new());
        let fit = named(&answer["fits"], "species", "tomato");
        let no_base = options.contains(&"days");
        assert_eq!(number(fit, "/parameters/base_c/estimate").is_none(), no_base, "{options:?}");
        assert_eq!(fit["rate"].is_null(), no_base, "{options:?}");
        let no_top = no_base || options.contains(&"threshold");
        assert!(!no_top || number(fit, "/parameters/optimum_c/estimate").is_none(), "{options:?}");
        assert!(number(fit, "/parameters/half_requirement/estimate").is_some(), "{options:?}");
    }
}

/// A box of uncounted seeds of a plant never seen before, at a spot where nothing measures.
fn hardly_anything() -> Files {
    let files = [
        ("bench.csv", "key,value\nzone,UTC\n"),
        (
            "containers.csv",
            "container,batch,species,lot,treatment,seeds,sown,spot\nQ1,b,quamash,,,,2026-03-10T10:00:00Z,cellar\n\
             Q2,b,quamash,,,10,2026-03-10T10:00:00Z,cellar\n",
        ),
        ("checks.csv", "container,time,sprouted\nQ1,2026-03-12T10:00:00Z,0\n"),
        ("probes.csv", "probe,spot,since\n"),
    ];
    files.map(|(name, text)| (name.to_owned(), text.to_owned())).into()
}

#[test]
fn where_nothing_is_known_the_fields_are_there_and_null() {
    let (asked, shapes) = (Asked::about(&hardly_anything()), written());
    let mut seen = BTreeSet::new();
    for command in ["forecast", "diagnose"] {
        let answer = asked.not_enough(&[command, "--as-of", "2026-03-15T10:00:00Z"]);
        shapes[command].holds(&answer, command, &mut seen);
        assert_eq!(answer["containers"].as_array().unwrap().len(), 2, "{answer:#}");
    }
    for known in
        ["forecast.containers[].half.p50", "forecast.containers[].by_date[].quantiles.0.5", "diagnose.containers[].delay_days.p50"]
    {
        assert!(!seen.contains(known), "{known} is told, of which nothing is known");
    }
    assert!(seen.contains("forecast.containers[].by_date[].time") && seen.contains("forecast.containers[].warnings[].kind"));
}

#[test]
fn dates_go_by_whole_days_and_counts_and_chances_keep_their_bounds() {
    let asked = Asked::about(&demo_files());
    let answer = asked.json(&["forecast", "--days", "21", "--as-of", STORY_ENDS]);
    let as_of = time(&answer["as_of"]);
    assert_eq!(as_of, time(&STORY_ENDS.into()));
    for container in answer["containers"].as_array().unwrap() {
        let (seeds, sprouted) = (container["seeds"].as_u64().unwrap(), container["sprouted"].as_u64().unwrap());
        let by_date = container["by_date"].as_array().unwrap();
        assert_eq!(by_date.len(), 21);
        let mut yesterday = vec![sprouted; 7];
        for (at, day) in by_date.iter().enumerate() {
            assert_eq!(time(&day["time"]), as_of + Duration::days(at as i64 + 1));
            let counts: Vec<u64> = day["quantiles"].as_object().unwrap().values().map(|count| count.as_u64().unwrap()).collect();
            assert!(counts.is_sorted() && counts.iter().all(|count| *count <= seeds), "{container:#}");
            assert!(
                counts.iter().zip(&yesterday).all(|(count, before)| count >= before),
                "counts are of all so far: {container:#}"
            );
            yesterday = counts;
        }
        for event in ["first", "half", "last"] {
            let chance = number(container, &format!("/{event}/chance")).unwrap();
            assert!((0.0..=1.0).contains(&chance), "{event} {chance}");
            let points = ["p10", "p50", "p90"].map(|point| container[event][point].as_str().map(|text| time(&text.into())));
            let known: Vec<_> = points.into_iter().flatten().collect();
            assert!(known.is_sorted(), "{event}: {points:?}");
            if event == "first" && sprouted > 0 {
                assert!(known.len() == 3 && known[0] == known[2] && known[2] <= as_of && chance == 1.0, "seen already: {points:?}");
            }
        }
    }
}

fn time(text: &Value) -> DateTime<chrono::FixedOffset> {
    let text = text.as_str().unwrap();
    assert!(text.ends_with('Z'), "{text} is to be in UTC");
    DateTime::parse_from_rfc3339(text).unwrap()
}

/// The kinds named in the section's lines that begin with `what`.
fn kinds(what: &str) -> BTreeSet<String> {
    let section = section();
    let line = section.split("\n- ").find(|line| line.starts_with(what)).unwrap_or_else(|| panic!("no line on {what}"));
    let word = |text: &str| text.trim_matches(|c: char| !c.is_ascii_lowercase()).to_owned();
    line.split([',', ';', '.', ':', ' ', '\n']).map(word).filter(|word| !word.is_empty()).collect()
}

#[test]
fn every_kind_of_warning_and_finding_is_written_down() {
    let asked = Asked::about(&demo_files());
    let mut found = 0;
    let mut hold = |list: &Value, known: &BTreeSet<String>| {
        for one in list.as_array().unwrap() {
            let kind = one["kind"].as_str().unwrap();
            assert!(known.contains(kind), "{kind} is not written down among {known:?}");
            found += 1;
        }
    };
    let (findings, warnings) = (kinds("Finding kinds"), kinds("Warning kinds"));
    let diagnosis = asked.json(&["diagnose", "--as-of", STORY_ENDS]);
    diagnosis["containers"].as_array().unwrap().iter().for_each(|one| hold(&one["findings"], &findings));
    let diagnosis = asked.json(&["diagnose", "--as-of", LOOSE_PLUG]);
    diagnosis["probes"].as_array().unwrap().iter().for_each(|one| hold(&one["findings"], &findings));
    let fits = asked.json(&["fit", "--as-of", STORY_ENDS]);
    fits["fits"].as_array().unwrap().iter().for_each(|one| hold(&one["warnings"], &warnings));
    let forecast = Asked::about(&hardly_anything()).not_enough(&["forecast", "--as-of", "2026-03-15T10:00:00Z"]);
    forecast["containers"].as_array().unwrap().iter().for_each(|one| hold(&one["warnings"], &warnings));
    assert!(found > 10, "only {found} kinds were met");
}

#[test]
fn a_replay_has_the_fields_that_are_written_down() {
    let (asked, shapes) = (Asked::about(&demo_files()), written());
    // Of a batch's first mornings.
    let answer = asked.json(&["forecast", "--replay", "--days", "7", "--as-of", "2025-03-07T12:00:00Z"]);
    let mut seen = BTreeSet::new();
    shapes["replay"].holds(&answer, "replay", &mut seen);
    for told in ["replay.from", "replay.ledger.loss", "replay.ledger.held.0.8.share", "replay.by_days_ahead[].loss"] {
        assert!(seen.contains(told), "{told} is never told: {answer:#}");
    }
}

#[test]
fn status_has_the_fields_that_are_written_down() {
    let (asked, shapes) = (Asked::about(&demo_files()), written());
    let mut seen = BTreeSet::new();
    let kinds = kinds("In `status`");
    // At the story's end all is well but for the probes, which then fall silent; later the boxes are due.
    for arguments in [&["--as-of", STORY_ENDS][..], &["--as-of", "2026-05-01T08:00:00Z"], &[]] {
        let done = asked.run(&[&["status", "--json"], arguments].concat());
        let answer: Value = serde_json::from_slice(&done.stdout).unwrap();
        shapes["status"].holds(&answer, "status", &mut seen);
        let todo = answer["todo"].as_array().unwrap();
        assert_eq!(done.status.code(), Some(i32::from(!todo.is_empty())), "{answer:#}");
        assert!(todo.iter().all(|one| kinds.contains(one["kind"].as_str().unwrap())), "{answer:#}");
        assert_eq!(answer["logger"]["runs"].is_null(), !arguments.is_empty());
    }
    let answer: Value = serde_json::from_slice(&asked.run(&["alarms", "--json"]).stdout).unwrap();
    shapes["alarms"].holds(&answer, "alarms", &mut seen);
    for told in [
        "status.logger.runs",
        "status.free_bytes",
        "status.spots[].containers[].last_look",
        "status.probes[].last_reading",
        "status.todo[].next",
    ] {
        assert!(seen.contains(told), "{told} is never told");
    }
}
