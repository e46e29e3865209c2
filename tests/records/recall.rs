//! Past sowings that nobody measured, told from memory.

use super::Desk;
use crate::asking::number;

/// "About 17 ± 2 °C, first on day 12, 14 of 20 by day 30."
const TRAY: [&str; 18] = [
    "recall",
    "2023 tray",
    "--species",
    "leek",
    "--sown",
    "2023-03-10",
    "--seeds",
    "20",
    "--about",
    "17",
    "--give-or-take",
    "2",
    "--first-on",
    "12",
    "--by-day",
    "30",
    "--sprouted",
    "14",
];

/// The tray with some of its words in place of others; a name alone leaves that option out.
fn tray<'a>(changes: &[(&str, Option<&'a str>)]) -> Vec<&'a str> {
    let mut words: Vec<&str> = TRAY[..2].to_vec();
    for pair in TRAY[2..].chunks(2) {
        match changes.iter().find(|(option, _)| *option == pair[0]) {
            Some((_, None)) => {}
            Some((_, Some(value))) => words.extend([pair[0], value]),
            None => words.extend(pair),
        }
    }
    words
}

#[test]
fn a_remembered_sowing_is_ordinary_entries_and_one_command() {
    let desk = Desk::new();
    let said = "2023 tray: 20 seeds of leek sown about 2023-03-10, from memory, at 'where 2023 tray stood'; 14 of 20 have sprouted by day 30; \
                3 looks on record";
    assert_eq!(desk.says(&TRAY), format!("{said}\n"), "it begins a bench where there is none");
    assert_eq!(desk.says(&TRAY), format!("{said} (on record already)\n"));
    desk.says(&["export", "out"]);
    let text = |file: &str| std::fs::read_to_string(desk.path("out").join(file)).unwrap();
    assert_eq!(
        text("containers.csv").lines().nth(1).unwrap(),
        "2023 tray,remembered,leek,,,20,2023-03-10T07:00:00Z,where 2023 tray stood,,,radicle,,,,,2023-04-09T07:00:00Z"
    );
    assert_eq!(
        text("checks.csv"),
        "container,time,sprouted,removed,lost,potted_on,died,condition,note\n\
         2023 tray,2023-03-21T07:00:00Z,0,0,0,0,0,,\n\
         2023 tray,2023-03-22T07:00:00Z,1,0,0,0,0,,\n\
         2023 tray,2023-04-09T07:00:00Z,13,0,0,0,0,,\n"
    );
    assert_eq!(
        text("spots.csv"),
        "spot,kind,since,set_c,set_sd_c,day_c,night_c,capacity,changed,note,too_hot_c\n\
         where 2023 tray stood,indoors,2023-03-10T07:00:00Z,17,2,,,,,remembered,\n\
         where 2023 tray stood,indoors,2023-04-09T07:00:00Z,,,,,,,,\n"
    );
    let again = Desk::new();
    again.says(&["import", desk.path("out").to_str().unwrap()]);
    again.says(&["export", "again"]);
    assert!(desk.files("out") == again.files("again"), "it comes back from its folder as it went");
    desk.says(&["undo"]);
    desk.says(&["export", "after"]);
    let after = |file: &str| std::fs::read_to_string(desk.path("after").join(file)).unwrap().lines().count();
    assert_eq!([after("containers.csv"), after("checks.csv")], [1, 1], "one command takes all of it back");
    assert!(!desk.path("after/spots.csv").exists() || after("spots.csv") == 1, "its spot too");
}

#[test]
fn degrees_fahrenheit_are_understood() {
    let spots = |words: &[&str], units: Option<&str>| {
        let desk = Desk::new();
        desk.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2023-03-01 08:00"]);
        units.iter().for_each(|units| drop(desk.says(&["set", "units", units])));
        desk.says(words);
        desk.says(&["export", "out"]);
        let table = std::fs::read_to_string(desk.path("out/spots.csv")).unwrap();
        let row = table.lines().find(|line| line.starts_with("where")).unwrap().to_owned();
        row.split(',').skip(3).take(2).map(|cell| cell.parse().unwrap()).collect::<Vec<f64>>()
    };
    assert_eq!(
        spots(&tray(&[("--about", Some("68F")), ("--give-or-take", Some("9"))]), None),
        [20.0, 5.0],
        "said once, it holds for both"
    );
    assert_eq!(spots(&tray(&[("--about", Some("68")), ("--give-or-take", Some("9"))]), Some("fahrenheit")), [20.0, 5.0]);
    assert_eq!(spots(&tray(&[("--give-or-take", None)]), None), [17.0, 2.0], "where nothing is said of how unsure it is");
}

#[test]
fn what_cannot_be_remembered_so_is_refused() {
    let nothing = "\n  nothing was recorded";
    type Changed<'a> = &'a [(&'a str, Option<&'a str>)];
    let refusals: [(Changed<'_>, String); 9] = [
        (&[("--sprouted", Some("21"))], format!("21 sprouts in box '2023 tray', which holds 20 seeds{nothing}; next: ")),
        (
            &[("--first-on", Some("31"))],
            format!(
                "a first sprout on day 31, and 14 by day 30: the day of the first cannot come after the day of the last count{nothing}\n"
            ),
        ),
        (&[("--first-on", Some("0"))], format!("0 is out of range: a day counted from sowing lies from 1 to 3000{nothing}\n")),
        (&[("--by-day", Some("4000"))], format!("4000 is out of range: a day counted from sowing lies from 1 to 3000{nothing}\n")),
        (
            &[("--sprouted", Some("0"))],
            format!(
                "a first sprout on day 12, and none had sprouted by day 30{nothing}; next: leave --first-on out, or say with --sprouted how many there were\n"
            ),
        ),
        (&[("--about", Some("95"))], format!("95 °C is out of range: a set temperature lies from -20 to 60 °C{nothing}\n")),
        (
            &[("--give-or-take", Some("25"))],
            format!("25 °C is out of range: the uncertainty of a set temperature lies from 0 to 20 °C{nothing}\n"),
        ),
        (
            &[("--sown", None)],
            format!("when was '2023 tray' sown? Its looks need a date{nothing}; next: say it roughly, as in --sown 2023-03-10\n"),
        ),
        (
            &[("--sown", Some("March"))],
            "'March' is not a time: write 2026-03-14T07:30:00+01:00, or 2026-03-14 07:30 in the bench's zone\n".to_owned(),
        ),
    ];
    for (changes, complaint) in refusals {
        let desk = Desk::new();
        let answer = desk.run(&tray(changes));
        assert_eq!((answer.code, answer.out.as_str()), (2, ""), "{changes:?}: {}", answer.err);
        assert!(answer.err.starts_with(&format!("seedclock: {complaint}")), "{changes:?} was refused so: {}", answer.err);
        assert!(!desk.bench().exists(), "a slip leaves no bench behind");
    }
    let desk = Desk::new();
    let answer = desk.run(&tray(&[("--sown", Some("2199-01-01"))]));
    assert!(
        answer.code == 2 && answer.err.contains("the sowing of box '2023 tray', 2199-01-01 08:00, lies in the future"),
        "{}",
        answer.err
    );
}

#[test]
fn no_more_than_is_remembered_is_needed() {
    let desk = Desk::new();
    desk.says(&tray(&[("--seeds", None), ("--first-on", None), ("--give-or-take", None)]));
    let none = tray(&[("--first-on", None), ("--sprouted", Some("0"))]);
    let none: Vec<&str> = none.into_iter().map(|word| if word == "2023 tray" { "2022 tray" } else { word }).collect();
    assert!(desk.says(&none).contains("0 of 20 have sprouted by day 30; 1 look on record"));
    let at_once = tray(&[("--first-on", Some("1")), ("--by-day", Some("1"))]);
    let at_once: Vec<&str> = at_once.into_iter().map(|word| if word == "2023 tray" { "quick" } else { word }).collect();
    assert!(desk.says(&at_once).contains("1 look on record"));
}

/// The surer one is of the warmth, the surer the requirement; and what was remembered is no place to move a box to.
#[test]
fn how_unsure_the_warmth_was_goes_into_what_is_learnt() {
    let fit = |unsure: &str| {
        let desk = Desk::new();
        desk.says(&tray(&[("--give-or-take", Some(unsure))]));
        let fit: serde_json::Value = serde_json::from_str(&desk.says(&["fit", "--json"])).unwrap();
        let ends = ["low", "high"].map(|end| number(&fit, &format!("/fits/0/parameters/half_requirement/{end}")).unwrap());
        assert_ne!(fit["fits"][0]["parameters"]["half_requirement"]["informed_by"], "prior", "it teaches");
        assert_eq!(fit["fits"][0]["parameters"]["optimum_c"]["informed_by"], "prior");
        (ends[1] / ends[0]).ln()
    };
    let (sure, unsure) = (fit("0.2"), fit("5"));
    assert!(unsure > 1.1 * sure, "{unsure} against {sure}");

    let desk = Desk::new();
    desk.says(&TRAY);
    desk.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    desk.says(&["spot", "sill", "--set", "12"]);
    desk.says(&["check", "A1", "none", "--at", "2026-03-08 08:00"]);
    let of = |command| -> serde_json::Value {
        serde_json::from_str(&desk.says(&[command, "--json", "--as-of", "2026-03-09 08:00"])).unwrap()
    };
    let forecast = of("forecast");
    assert_eq!(forecast["containers"].as_array().unwrap().len(), 1, "it is watched with no present box");
    assert!(!forecast["containers"][0]["half"]["p50"].is_null());
    let diagnosis = desk.says(&["diagnose", "--json", "--as-of", "2026-03-09 08:00"]);
    assert!(!diagnosis.contains("2023 tray"), "{diagnosis}");
}
