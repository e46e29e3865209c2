//! A forecast for seeds that are known to want moist cold and had none, or too little: that is said before any date.

use seedclock::answers::{Concerning, Known, Present, Tables, forecast};
use seedclock::exchange::forecast_json;
use seedclock::forecast::Ledger;
use seedclock::store::Store;
use serde_json::Value;

use super::chilling::{brought_in_early, three_lengths};
use crate::asking::{Asked, Files, named};

/// What is told of the cold of one box: the line of the forecast in words, and the warning.
fn told(asked: &Asked, as_of: &str, name: &str) -> (String, Option<String>) {
    let text = asked.says(&["forecast", "--as-of", as_of]);
    let lines: Vec<&str> = text.lines().collect();
    let begin =
        lines.iter().position(|line| line.starts_with(&format!("  {name}, "))).unwrap_or_else(|| panic!("no {name}: {text}"));
    let more = lines[begin + 1..].iter().take_while(|line| line.starts_with("      ") && line.contains(char::is_alphabetic));
    let line = std::iter::once(&lines[begin]).chain(more).map(|line| line.trim()).collect::<Vec<_>>().join(" ");
    let answer = asked.json(&["forecast", "--as-of", as_of]);
    let one = named(&answer["containers"], "container", name);
    let warning = one["warnings"].as_array().unwrap().iter().find(|warning| warning["kind"] == "wants-chilling");
    (line, warning.map(|warning| warning["message"].as_str().unwrap().to_owned()))
}

const CAUTION: &str =
    "Cold for damp seed: moist and just above freezing, never the freezer; nothing treated or poisonous loose among food.";
const DATES: &str = "most seeds may wait for it, and the dates are of those that come without. Where nothing shows, the cold can still be \
                     given: `seedclock move BOX SPOT` to a fridge.";

#[test]
fn a_lot_that_wants_cold_and_had_none_or_too_little_is_told_so_before_any_date() {
    let asked = Asked::about(&brought_in_early());
    let as_of = "2026-02-24T08:00:00Z";
    let (line, message) = told(&asked, as_of, "never");
    assert!(line.starts_with("never, gentian, shelf: 1 of 20 up. Wants 60 days of moist cold, and had none. "), "{line}");
    assert_eq!(message.unwrap(), format!("its lot is said to want 60 days of moist cold, and it had none: {DATES} {CAUTION}"));
    let (line, message) = told(&asked, as_of, "early");
    assert!(line.starts_with("early, gentian, shelf: 0 of 20 up. Wants 60 days of moist cold, and had 26 of them. "), "{line}");
    assert_eq!(message.unwrap(), format!("its lot is said to want 60 days of moist cold, and it had 26 days: {DATES} {CAUTION}"));
    // Chilled before by the words of its label; still in the cold; wanting none.
    for content in ["label", "bag", "wanting none", "dry"] {
        let (line, message) = told(&asked, as_of, content);
        assert!(!line.contains("moist cold") && message.is_none(), "{content}: {line} {message:?}");
    }
}

/// The same with seeds of which most have come without: then it is no longer what they want.
#[test]
fn seeds_that_came_without_are_not_told_to_want_cold() {
    let mut files = brought_in_early();
    files.get_mut("checks.csv").unwrap().push_str("never,2026-02-22T08:00:00Z,9\n");
    let (line, message) = told(&Asked::about(&files), "2026-02-24T08:00:00Z", "never");
    assert!(line.starts_with("never, gentian, shelf: 10 of 20 up.") && message.is_none(), "{line} {message:?}");
}

/// Nothing is said of the lot, but in the grower's own sowings of four lengths longer cold made more sprout.
fn taught_by_own_sowings() -> Files {
    let mut files = three_lengths();
    let containers = files.get_mut("containers.csv").unwrap();
    containers.push_str("new,next,gentian,alp,,30,2026-06-20T08:00:00Z,shelf,\n");
    containers.push_str("chilled,next,gentian,alp,90 d cold moist,30,2026-06-20T08:00:00Z,shelf,\n");
    files
}

#[test]
fn own_sowings_that_longer_cold_helped_speak_where_nothing_is_said_of_the_lot() {
    let asked = Asked::about(&taught_by_own_sowings());
    let as_of = "2026-06-30T08:00:00Z";
    let (line, message) = told(&asked, as_of, "new");
    assert!(
        line.starts_with("new, gentian, shelf: 0 of 30 up. Wants 7") && line.contains(" days of moist cold, and had none. "),
        "{line}"
    );
    let message = message.unwrap();
    assert!(
        message.starts_with("in your own sowings of gentian longer cold made more sprout, and nine tenths of that took 7"),
        "{message}"
    );
    assert!(message.contains(" days, and it had none: ") && message.ends_with(CAUTION), "{message}");
    let (line, message) = told(&asked, as_of, "chilled");
    assert!(!line.contains("moist cold") && message.is_none(), "{line} {message:?}");
}

/// What is told of the present is what is told of that time from all readings.
#[test]
fn the_cold_is_counted_alike_from_what_is_kept_and_from_all_readings() {
    for (files, now) in [
        (brought_in_early(), "2026-02-24T08:00:00Z"),
        (brought_in_early(), "2026-03-12T08:00:00Z"),
        (taught_by_own_sowings(), "2026-06-30T08:00:00Z"),
    ] {
        let asked = Asked::about(&files);
        let (store, now) = (Store::open_read_only(&asked.bench()).unwrap(), now.parse().unwrap());
        let whole = Known::as_of(&store, now).unwrap();
        let lately = Known::at_present(&store, now, Concerning::Present, Tables::Used, &mut |_, _| {}).unwrap();
        let [whole, lately] = [&whole, &lately].map(|known| {
            let answer = forecast(known, &Present::new(known), 60);
            forecast_json(&answer, &Ledger::default(), known.bench.units.unwrap_or_default())
        });
        assert_eq!(whole, lately);
        let whole: Value = serde_json::from_str(&whole).unwrap();
        let warned = whole["containers"].as_array().unwrap().iter().flat_map(|one| one["warnings"].as_array().unwrap());
        assert!(warned.filter(|warning| warning["kind"] == "wants-chilling").count() >= 1);
    }
}
