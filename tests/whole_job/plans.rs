//! `plan`, asked of the demo's bench and of benches of a few lines.

use std::collections::{BTreeMap, BTreeSet};

use chrono::NaiveDate;
use serde_json::Value;

use super::written_shapes::written;
use super::{STORY_ENDS, demo_files};
use crate::asking::{Asked, Files, named, number};

fn date(text: &Value) -> NaiveDate {
    text.as_str().unwrap_or_else(|| panic!("no date in {text}")).parse().unwrap()
}

fn plan<'a>(more: &[&'a str]) -> Vec<&'a str> {
    [&["plan", "--as-of", STORY_ENDS][..], more].concat()
}

#[test]
fn plans_and_trials_have_the_fields_that_are_written_down() {
    let (asked, shapes) = (Asked::about(&demo_files()), written());
    let mut seen = BTreeSet::new();
    for more in [
        &["--species", "tomato", "--plants", "12", "--by", "2026-05-20", "--last-frost", "2026-05-10", "--chill", "14"][..],
        &["--species", "leek", "--plants", "12", "--by", "2027-04-20"],
        &["--lot", "long red", "--plants", "3", "--by", "2026-04-10"],
    ] {
        shapes["plan"].holds(&asked.json(&plan(more)), "plan", &mut seen);
    }
    let late = asked.not_enough(&plan(&["--species", "tomato", "--plants", "12", "--by", "2026-03-24"]));
    shapes["plan"].holds(&late, "plan", &mut seen);
    let untold: Vec<String> = shapes["plan"].paths("plan").into_iter().filter(|path| !seen.contains(path)).collect();
    // No lot of the demo has a note on light.
    assert_eq!(untold, ["plan.lots[].light"], "null or empty whenever asked");
    let mut seen = BTreeSet::new();
    let trial = ["plan", "trial", "none", "soaked", "--species", "leek", "--lot", "winter giant", "--seeds", "25", "--boxes", "8"];
    let trial =
        [&trial[..], &["--spot", "shelf", "--spot", "heat mat", "--shuffle", "11", "--difference", "40", "--as-of", STORY_ENDS]]
            .concat();
    shapes["trial"].holds(&asked.json(&trial), "trial", &mut seen);
    assert!(seen.contains("trial.boxes[].position") && seen.contains("trial.could_show"));
}

#[test]
fn on_the_demo_bench_dates_seeds_and_confidence_hang_together() {
    let asked = Asked::about(&demo_files());
    let of =
        |more: &[&str]| asked.json(&plan(&[&["--species", "tomato", "--lot", "own saved", "--plants", "12"][..], more].concat()));
    let (sure, surer) = (of(&["--by", "2026-05-01"]), of(&["--by", "2026-05-01", "--confidence", "90%"]));
    let spots = |answer: &Value| -> BTreeMap<String, Value> {
        let list = answer["lots"][0]["spots"].as_array().unwrap();
        list.iter().map(|spot| (spot["spot"].as_str().unwrap().to_owned(), spot.clone())).collect()
    };
    let (at_80, at_90) = (spots(&sure), spots(&surer));
    assert_eq!(at_80.len(), 4);
    for (name, spot) in &at_80 {
        let (seeds, fewest) = (number(spot, "/seeds").unwrap(), number(spot, "/fewest_seeds").unwrap());
        assert!((12.0..=fewest * 1.2 + 1.0).contains(&seeds) && fewest <= seeds, "{name}: {seeds} seeds, {fewest} at the least");
        assert!((0.8..0.95).contains(&number(spot, "/chance").unwrap()), "{name}");
        assert!(number(&at_90[name], "/fewest_seeds").unwrap() >= fewest, "{name}: surer takes no fewer");
        let [sow, first, half] = [&spot["sow"], &spot["first"]["p10"], &spot["half"]["p50"]].map(date);
        assert!(sow < first && first <= half && half <= date(&sure["by"]), "{name}: {sow} {first} {half}");
    }
    let sown = |name: &str| date(&at_80[name]["sow"]);
    assert!(sown("heat mat") > sown("shelf") && sown("shelf") > sown("porch sill"), "the warmer the later");
    assert_eq!(sure["lots"][0]["spot"], "heat mat");
    // A week's wish later is a sowing a week later, about: the mat is the same every day.
    let later = spots(&of(&["--by", "2026-05-08"]));
    assert_eq!((date(&later["heat mat"]["sow"]) - sown("heat mat")).num_days(), 7);
    // Growing on is counted back from the wish.
    let grown = of(&["--by", "2026-06-12", "--grow-on", "6w"]);
    assert_eq!(grown["up_by"], "2026-05-01");
    assert_eq!(spots(&grown)["heat mat"]["sow"], at_80["heat mat"]["sow"]);
    // Next year's spring is that of the years before.
    let next = spots(&of(&["--by", "2027-04-20"]));
    assert_eq!((next["porch sill"]["basis"].as_str(), next["porch sill"]["years"].as_u64()), (Some("earlier-years"), Some(2)));
    // Every number is the same again.
    assert_eq!(sure, of(&["--by", "2026-05-01"]));
}

#[test]
fn a_day_that_cannot_be_met_is_answered_with_the_first_that_can_and_that_one_can() {
    let asked = Asked::about(&demo_files());
    for by in ["2026-03-25", "2026-03-01"] {
        let question = ["--species", "tomato", "--lot", "own saved", "--plants", "12", "--spot", "shelf"];
        let late = asked.not_enough(&plan(&[&question[..], &["--by", by]].concat()));
        let spot = &late["lots"][0]["spots"][0];
        assert_eq!((spot["answer"].as_str(), spot["sow"].as_str()), (Some("too-late"), None), "{spot}");
        let earliest = date(&spot["earliest"]).to_string();
        let met = asked.json(&plan(&[&question[..], &["--by", &earliest]].concat()));
        assert_eq!(met["lots"][0]["spots"][0]["answer"], "sow", "by {earliest}");
        let told = asked.run(&plan(&[&question[..], &["--by", by]].concat()));
        let told = String::from_utf8(told.stderr).unwrap();
        assert!(told.contains(&earliest) && told.contains("next: "), "{told}");
    }
}

/// A lot that wants chilling, one that never was warm enough, spots of all kinds.
fn shelf_of_natives() -> Files {
    let files = [
        ("bench.csv", "key,value\nzone,Europe/Berlin\n"),
        (
            "spots.csv",
            "spot,kind,set_c,set_sd_c\nroom,indoors,20,0\ncellar,indoors,2,0\noven,indoors,55,0\nattic,indoors,,\ncrisper,fridge,4,1\n",
        ),
        (
            "lots.csv",
            "lot,species,packet_days_low,packet_days_high,packet_c,packet_percent,chill_days,light,note\n\
             ridge,blazing star,14,21,20,70,60,\"on the surface, in light\",\n\
             meadow,blazing star,14,21,20,70,30,,\nbought,tomato,6,10,24,90,,,dressed with thiram\n",
        ),
        ("containers.csv", "container,batch,species,lot,treatment,seeds,sown,spot\n"),
        ("checks.csv", "container,time,sprouted\n"),
        ("probes.csv", "probe,spot,since\n"),
    ];
    files.map(|(name, text)| (name.to_owned(), text.to_owned())).into()
}

#[test]
fn chilled_lots_come_out_of_the_cold_together_and_the_days_go_over_a_leap_day() {
    let asked = Asked::about(&shelf_of_natives());
    let answer = asked.json(&[
        "plan",
        "--species",
        "blazing star",
        "--plants",
        "8",
        "--by",
        "2028-04-20",
        "--as-of",
        "2027-11-01T12:00:00Z",
        "--spot",
        "room",
    ]);
    let lots = answer["lots"].as_array().unwrap();
    assert_eq!(lots.len(), 2);
    for lot in lots {
        let spot = &lot["spots"][0];
        let days = lot["chill"]["days"].as_i64().unwrap();
        assert_eq!((date(&spot["sow"]) - date(&spot["chill_in"])).num_days(), days, "{lot}");
        assert_eq!(lot["chill"]["source"], "lot");
    }
    let out = date(&answer["together"]["out"]);
    let into: Vec<(String, NaiveDate)> = answer["together"]["lots"]
        .as_array()
        .unwrap()
        .iter()
        .map(|lot| (lot["lot"].as_str().unwrap().to_owned(), date(&lot["chill_in"])))
        .collect();
    assert_eq!(into.iter().map(|(lot, _)| lot.as_str()).collect::<Vec<_>>(), ["ridge", "meadow"], "60 days, then 30");
    assert!(lots.iter().all(|lot| out <= date(&lot["spots"][0]["sow"])));
    assert_eq!(into.iter().map(|(_, into)| (out - *into).num_days()).collect::<Vec<_>>(), [60, 30]);
    let leap: NaiveDate = "2028-02-29".parse().unwrap();
    assert!(into.iter().all(|(_, into)| *into < leap) && out > leap, "{into:?} {out}");
    // Too near for chilling: the first day counts from the end of it.
    let near = asked.not_enough(&[
        "plan",
        "--lot",
        "ridge",
        "--plants",
        "8",
        "--by",
        "2027-12-01",
        "--as-of",
        "2027-11-01T12:00:00Z",
        "--spot",
        "room",
    ]);
    assert!(
        date(&near["lots"][0]["spots"][0]["earliest"]) > "2027-12-31".parse().unwrap(),
        "60 days from 1 November are 31 December"
    );
}

#[test]
fn spots_without_a_day_say_why_and_cautions_stand_beside_what_is_advised() {
    let asked = Asked::about(&shelf_of_natives());
    let question =
        ["plan", "--lot", "ridge", "--lot", "bought", "--plants", "8", "--by", "2028-06-20", "--as-of", "2027-11-01T12:00:00Z"];
    let answer = asked.json(&question);
    let of = |spot: &str| named(&answer["lots"][1]["spots"], "spot", spot)["answer"].as_str().unwrap().to_owned();
    assert_eq!(["room", "cellar", "oven", "attic"].map(of), ["sow", "too-cold", "too-hot", "no-temperatures"]);
    assert!(
        answer["lots"][0]["spots"].as_array().unwrap().iter().all(|spot| spot["spot"] != "crisper"),
        "a fridge is no place to sprout"
    );
    let words = asked.says(&question).split_whitespace().collect::<Vec<_>>().join(" ");
    for said in [
        "Chilled for 60 days first, by what is noted of the lot",
        "never the freezer",
        "nothing treated or poisonous loose",
        "Potting mix: open the bag away from your face",
        "Treated seed: gloves",
        "an RCD/GFCI",
        "Cellar: too cold (about 2.0\u{a0}°C): hardly any hour is warmer than where tomato starts. No day to sow.",
        "Oven: too hot",
        "Attic: no temperature is known there",
        "Light: on the surface, in light.",
        "All assumed: no sowing of tomato has taught anything yet",
        "none was recorded as potted on or died",
    ] {
        assert!(words.contains(&said.split_whitespace().collect::<Vec<_>>().join(" ")), "{said}\n{words}");
    }
    let at_all =
        ["plan", "--lot", "bought", "--plants", "8", "--by", "2028-06-20", "--as-of", "2027-11-01T12:00:00Z", "--spot", "attic"];
    let none = asked.run(&at_all);
    assert_eq!(
        (none.status.code(), String::from_utf8(none.stderr).unwrap().lines().next().unwrap().to_owned()),
        (Some(1), "seedclock: no spot has a temperature to plan by".to_owned())
    );
    // Assumed, it has one.
    let assumed = asked.json(&[&at_all[..], &["--assume", "attic=22"]].concat());
    assert_eq!(assumed["lots"][0]["spots"][0]["basis"], "assumed");
}

/// At one temperature the days from sowing to the wish are the same before, over and after the change of the clocks on 29 March 2026, and at any
/// hour of the day of asking.
#[test]
fn days_are_counted_by_the_calendar_over_a_change_of_the_clocks() {
    let asked = Asked::about(&shelf_of_natives());
    let days = |by: &str, as_of: &str| {
        let answer = asked.json(&["plan", "--lot", "bought", "--plants", "8", "--by", by, "--as-of", as_of, "--spot", "room"]);
        (date(&answer["by"]) - date(&answer["lots"][0]["spots"][0]["sow"])).num_days()
    };
    let before = days("2026-03-27", "2026-01-10T12:00:00Z");
    assert!((3..60).contains(&before), "{before}");
    for (by, as_of) in [
        ("2026-03-29", "2026-01-10T12:00:00Z"),
        ("2026-03-30", "2026-01-10T12:00:00Z"),
        ("2026-04-08", "2026-01-10T12:00:00Z"),
        ("2026-04-08", "2026-01-09T23:30:00Z"),
        ("2026-10-28", "2026-06-10T22:30:00Z"),
    ] {
        assert_eq!(days(by, as_of), before, "{by}, asked {as_of}");
    }
}

#[test]
fn last_frosts_are_chances_and_an_average_is_said_to_be_one_of_half() {
    let asked = Asked::about(&shelf_of_natives());
    let of = |more: &[&str]| {
        asked.json(
            &[&["plan", "--lot", "bought", "--plants", "8", "--as-of", "2027-11-01T12:00:00Z", "--spot", "room"][..], more]
                .concat(),
        )
    };
    let frost = of(&["--last-frost", "2028-05-10", "--last-frost-spread", "10", "--frost-risk", "10%"]);
    assert_eq!((frost["by"].as_str(), frost["frost"]["half"].as_str()), (Some("2028-05-23"), Some("2028-05-10")), "12.8 days on");
    let three = of(&["--last-frost", "2028-04-20,2028-05-05,2028-05-25", "--by", "2028-05-25"]);
    assert!((number(&three, "/frost/risk_after_by").unwrap() - 0.1).abs() < 1e-9);
    let words =
        asked.says(&["plan", "--lot", "bought", "--plants", "8", "--as-of", "2027-11-01T12:00:00Z", "--last-frost", "2028-05-10"]);
    assert!(
        words
            .split_whitespace()
            .collect::<Vec<_>>()
            .join(" ")
            .contains("is a 50 % date: in half of all years there is a frost after it"),
        "{words}"
    );
}

#[test]
fn what_cannot_be_meant_is_refused_with_what_value_and_rule() {
    let asked = Asked::about(&shelf_of_natives());
    let usual = ["plan", "--lot", "bought", "--by", "2028-05-20", "--as-of", "2027-11-01T12:00:00Z"];
    let refused = |more: &[&str], said: &str| {
        let done = asked.run(&[&usual[..], more].concat());
        let told = String::from_utf8(done.stderr).unwrap();
        assert_eq!((done.status.code(), done.stdout.len()), (Some(2), 0), "{more:?}: {told}");
        assert!(told.contains(said), "{more:?}: {told}");
    };
    refused(&["--plants", "0"], "0 is not in 1..=100000");
    refused(&["--plants", "5", "--survival", "0"], "0 % is out of range: the share of sprouts that live lies from 1 to 100 %");
    refused(&["--plants", "5", "--survival", "120%"], "120 % is out of range");
    refused(&["--plants", "5", "--survival", "0.85"], "write 85%");
    refused(
        &["--plants", "5", "--lot", "nobody's"],
        "seedclock: there is no lot 'nobody's' on this bench; it has 'bought', 'meadow', 'ridge'",
    );
    refused(
        &["--plants", "5", "--spot", "roof"],
        "seedclock: there is no spot 'roof' on this bench; it has 'attic', 'cellar', 'crisper', 'oven', 'room'",
    );
    refused(&["--plants", "5", "--spot", "crisper"], "'crisper' is a fridge");
    refused(&["--plants", "5", "--species", "blazing star"], "seedclock: lot 'bought' is tomato, not blazing star");
    refused(&["--plants", "5", "--last-frost", "2028-05-10,2028-05-01"], "takes one date, the average, or three");
    refused(&["--plants", "5", "--last-frost", "2028-05-10,2028-05-01,2028-05-20"], "follow each other");
    refused(&["--plants", "5", "--assume", "roof=20"], "there is no spot 'roof'");
    let far = asked.run(&["plan", "--lot", "bought", "--plants", "5", "--by", "2040-01-01", "--as-of", "2027-11-01T12:00:00Z"]);
    assert!(String::from_utf8(far.stderr).unwrap().contains("nothing is planned further than two years ahead"));
    let unknown =
        asked.run(&["plan", "--species", "tomatoe", "--plants", "5", "--by", "2028-05-20", "--as-of", "2027-11-01T12:00:00Z"]);
    assert_eq!(unknown.status.code(), Some(2));
    assert!(String::from_utf8(unknown.stderr).unwrap().contains("nothing is known of 'tomatoe'"));
}

#[test]
fn a_calendar_is_written_over_only_where_it_is_ones_own() {
    let asked = Asked::about(&shelf_of_natives());
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("plan.ics");
    let question = [
        "plan",
        "--lot",
        "bought",
        "--plants",
        "8",
        "--by",
        "2028-06-20",
        "--as-of",
        "2027-11-01T12:00:00Z",
        "--ics",
        file.to_str().unwrap(),
    ];
    std::fs::write(&file, "BEGIN:VCALENDAR\r\nPRODID:-//somebody//EN\r\nEND:VCALENDAR\r\n").unwrap();
    let done = asked.run(&question);
    assert_eq!(done.status.code(), Some(2));
    assert!(String::from_utf8(done.stderr).unwrap().contains("it was left as it is"));
    assert!(std::fs::read_to_string(&file).unwrap().contains("somebody"));
    std::fs::remove_file(&file).unwrap();
    asked.says(&question);
    asked.says(&question);
    assert_eq!(std::fs::read_dir(folder.path()).unwrap().count(), 1, "no draft is left behind");
}

#[test]
fn fifty_lots_are_planned_each_with_its_own_numbers() {
    let mut files = shelf_of_natives();
    let lots: String = (1..=50).map(|lot| format!("no {lot},tomato,{},{},24,90,,,\n", 5 + lot % 5, 9 + lot % 7)).collect();
    let heading = files["lots.csv"].lines().next().unwrap().to_owned();
    files.insert("lots.csv".to_owned(), format!("{heading}\n{lots}"));
    let answer = Asked::about(&files).json(&[
        "plan",
        "--species",
        "tomato",
        "--plants",
        "8",
        "--by",
        "2028-06-20",
        "--as-of",
        "2027-11-01T12:00:00Z",
    ]);
    let planned = answer["lots"].as_array().unwrap();
    assert_eq!(planned.len(), 50);
    assert!(planned.iter().all(|lot| lot["spot"] == "room"));
}
