//! Times away, and what growers say of alarms.

use std::collections::BTreeSet;

use chrono::{DateTime, Duration, Utc};
use serde_json::Value;

use super::Desk;
use crate::whole_job::written;

/// A day so many days from today, in the words of the command line.
fn day(from_today: i64) -> String {
    let now = DateTime::<Utc>::from(std::time::SystemTime::now());
    (now + Duration::days(from_today)).format("%Y-%m-%d").to_string()
}

#[test]
fn before_a_time_away_it_is_said_what_will_sprout_and_what_could_wait_where_and_with_which_caution() {
    let desk = Desk::new();
    let sown = format!("{} 08:00", day(-4));
    desk.says(&["sow", "B1", "--species", "tomato", "--seeds", "20", "--spot", "mat", "--at", &sown]);
    desk.says(&["sow", "B2", "--species", "tomato", "--seeds", "20", "--spot", "fridge", "--at", &sown]);
    desk.says(&["spot", "mat", "--set", "24"]);
    desk.says(&["spot", "cellar", "--set", "10.5"]);
    desk.says(&["spot", "fridge", "--set", "5", "--kind", "fridge"]);
    let said = desk.says(&["away", &day(1), &day(9)]);
    assert!(said.starts_with("away from ") && said.contains("reminders to look wait so long"), "{said}");
    assert!(said.contains("B1, tomato, at 'mat': about ") && said.contains(" of 20 will sprout meanwhile"), "{said}");
    assert!(said.contains("Carried to 'cellar' today (about 10.5\u{a0}°C): "), "{said}");
    let words = said.split_whitespace().collect::<Vec<_>>().join(" ");
    assert!(
        words.contains("Caution: that is near where tomato stops for cold; seed that lies wet and cold for long may rot."),
        "of the fridge: {said}"
    );
    assert!(!words.contains("B2, tomato, at 'fridge': about"), "it waits in the cold anyway: {said}");
    let listed = desk.says(&["away", "--list"]);
    assert!(listed.starts_with("away from ") && listed.contains(", 00:00 to "), "{listed}");
    let meets = desk.run(&["away", &day(5), &day(12)]);
    assert_eq!(meets.code, 2);
    assert!(meets.err.contains(" meets the one from ") && meets.err.ends_with("nothing was recorded\n"), "{}", meets.err);
    assert!(desk.says(&["away", "--cancel"]).starts_with("taken back: away from "));
    assert_eq!(desk.says(&["away", "--list"]), "no time away is on record\n");
    desk.says(&["away", &day(2), &day(3)]);
    assert!(desk.says(&["undo"]).starts_with("taken back: the time away from "));
    assert_eq!(desk.says(&["away", "--list"]), "no time away is on record\n");
    let over = desk.run(&["away", &day(-9), &day(-7)]);
    assert!(over.code == 2 && over.err.ends_with("is over\n  nothing was recorded\n"), "{}", over.err);
    let backwards = desk.run(&["away", &day(9), &day(5)]);
    assert!(backwards.code == 2 && backwards.err.contains("which is not after its beginning"), "{}", backwards.err);
}

#[test]
fn a_time_away_is_answered_as_json_and_can_be_asked_about_without_being_recorded() {
    let desk = Desk::new();
    let sown = format!("{} 08:00", day(-4));
    desk.says(&["sow", "B1", "--species", "tomato", "--seeds", "20", "--spot", "mat", "--at", &sown]);
    desk.says(&["spot", "mat", "--set", "24"]);
    desk.says(&["spot", "cellar", "--set", "9"]);
    let shape = &written()["away"];
    let mut seen = BTreeSet::new();
    let mut json = |arguments: &[&str]| -> Value {
        let answer: Value = serde_json::from_str(&desk.says(arguments)).unwrap();
        shape.holds(&answer, "away", &mut seen);
        answer
    };
    let as_of = format!("{} 08:00", day(-2));
    let asked = json(&["away", &day(-1), &day(7), "--as-of", &as_of, "--json"]);
    assert_eq!((&asked["recorded"], asked["times"].as_array().map(Vec::len)), (&false.into(), Some(1)));
    let one = &asked["containers"][0];
    assert_eq!((&one["container"], &one["spot"], &one["seeds"]), (&"B1".into(), &"mat".into(), &20.into()));
    let (expected, colder) = (one["expected"].as_f64().unwrap(), &one["colder"][0]);
    assert!((1.0..=20.0).contains(&expected) && one["by_then"]["low"].as_u64() <= one["by_then"]["high"].as_u64(), "{one:#}");
    assert_eq!((&colder["spot"], &colder["mean_c"]), (&"cellar".into(), &9.0.into()));
    assert!(colder["expected"].as_f64().unwrap() < expected && colder["caution"].as_str().unwrap().contains("may rot"), "{one:#}");
    let words = desk.says(&["away", &day(-1), &day(7), "--as-of", &as_of]);
    assert!(words.contains("; nothing was recorded\n") && words.contains("B1, tomato, at 'mat': about "), "{words}");
    assert_eq!(json(&["away", "--list", "--json"])["times"].as_array().map(Vec::len), Some(0));
    let backwards = desk.run(&["away", &day(5), &day(3), "--as-of", &as_of]);
    assert!(backwards.code == 2 && backwards.err.contains("is not after its beginning"), "{}", backwards.err);
    let made = json(&["away", &day(1), &day(9), "--json"]);
    assert_eq!((&made["recorded"], made["containers"].as_array().map(Vec::len)), (&true.into(), Some(1)));
    assert_eq!(json(&["away", "--list", "--json"])["times"], made["times"]);
    assert!(seen.contains("away.containers[].colder[].days_later"), "{seen:?}");
}

#[test]
fn limits_of_alarms_are_set_shown_and_taken_back() {
    let desk = Desk::new();
    desk.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill"]);
    assert_eq!(
        desk.says(&["set"]),
        "zone Europe/Berlin\nunits celsius\ntoo-hot 35.0\u{a0}°C\nfreezing 0.0\u{a0}°C\nalarm-after 30m\nlook-every 3d\nquiet-hours \
         22:00-07:00\nquiet-urgent told\nno-alarm none\n"
    );
    assert_eq!(desk.says(&["set", "too-hot", "90F"]), "too-hot 32.2\u{a0}°C (before: 35.0\u{a0}°C)\n");
    assert_eq!(desk.says(&["set", "quiet-hours", "21:00-06:30"]), "quiet-hours 21:00-06:30 (before: 22:00-07:00)\n");
    assert_eq!(desk.says(&["set", "quiet-hours", "none"]), "quiet-hours none (before: 21:00-06:30)\n");
    assert_eq!(desk.says(&["undo"]), "taken back: the change of the setting quiet-hours: again quiet-hours 21:00-06:30\n");
    assert_eq!(desk.says(&["undo"]), "taken back: the setting quiet-hours (21:00-06:30)\n");
    assert!(desk.says(&["set"]).contains("quiet-hours 22:00-07:00"));
    assert_eq!(desk.says(&["spot", "sill", "--too-hot", "28"]), "spot sill: too hot above 28 °C (before: none)\n");
    assert_eq!(desk.says(&["alarms"]), "No alarm.\nNo logger runs: nothing is watched now.\n");
}
