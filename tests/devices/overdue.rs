//! A box that keeps its seeds waiting: a forecast that was kept on the morning after its sowing, a look that finds none when its range is
//! over, a logger that tells of it, and the sprout that ends it.

use chrono::{DateTime, Duration, Utc};
use seedclock::answers::{Concerning, Keeping, Known, Present, Tables, forecast, to_keep};
use seedclock::diagnosis::alarms::due_by;
use seedclock::probes::Player;
use seedclock::store::{Keepsakes, Store};
use serde_json::Value;

use super::harness::{Desk, Logging, program};
use crate::whole_job::written;

type Time = DateTime<Utc>;

fn says(desk: &Desk, arguments: &[&str]) -> String {
    let done = program(&desk.bench()).args(arguments).output().unwrap();
    assert!(done.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&done.stderr));
    String::from_utf8(done.stdout).unwrap()
}

fn alarms(desk: &Desk, more: &[&str]) -> (Option<i32>, Value) {
    let done = program(&desk.bench()).args(["alarms", "--json"]).args(more).output().unwrap();
    (done.status.code(), serde_json::from_slice(&done.stdout).unwrap())
}

/// Logs from a board that says nothing until `done`; gives what the logger said.
fn log_until(desk: &Desk, what: &str, done: impl FnMut(&str) -> bool) -> String {
    let board = Player::new().unwrap();
    let letters = format!("cat >> {}", desk.port("letters").display());
    let mut logging = Logging::start(desk, &[board.path()], &["--baud", "9600", "--alarm-command", &letters]);
    logging.wait_until(what, done);
    let (status, said) = logging.stop("TERM");
    assert!(status.success(), "{said}");
    said
}

/// Two past sowings of cress, up within three to four days at 20 °C; the same sown again twelve days ago.
fn desk(now: Time) -> Desk {
    let desk = Desk::new();
    let ago = |days: i64| (now - Duration::days(days)).to_rfc3339();
    for name in ["P1", "P2"] {
        says(&desk, &["sow", name, "--species", "cress", "--seeds", "40", "--spot", "shelf", "--batch", "past", "--at", &ago(70)]);
        for (days, sprouts) in [(68, "none"), (67, "12"), (66, "20"), (65, "4"), (60, "none")] {
            says(&desk, &["check", name, sprouts, "--at", &ago(days)]);
        }
        says(&desk, &["close", name, "--at", &ago(60)]);
    }
    says(&desk, &["sow", "A1", "--species", "cress", "--seeds", "40", "--spot", "shelf", "--at", &ago(12)]);
    says(&desk, &["spot", "shelf", "--set", "20", "--since", &ago(90)]);
    says(&desk, &["set", "quiet-hours", "none"]);
    says(&desk, &["set", "no-alarm", "look"]);
    desk
}

#[test]
fn a_box_whose_range_is_over_without_a_sprout_is_told_until_one_is_found() {
    // On record in microseconds.
    let now = Time::from_timestamp_micros(Time::from(std::time::SystemTime::now()).timestamp_micros()).unwrap();
    let desk = desk(now);
    // As `seedclock forecast` kept it on the morning after the sowing.
    let morning = now - Duration::days(11);
    let mut store = Store::open(&desk.bench()).unwrap();
    let kept = {
        let known = Known::at_present(&store, morning, Concerning::Present, Tables::Used, &mut |_, _| {}).unwrap();
        let present = Present::new(&known);
        to_keep(&known, &present, &forecast(&known, &present, 60), morning, Keeping::FirstOfDay)
    };
    let due = due_by(kept.iter().find(|kept| kept.container.as_str() == "A1").unwrap()).unwrap();
    assert!(due > morning && due < now - Duration::days(5), "19 in 20 that one is up by {due}");
    store.keep(&Keepsakes { forecasts: &kept, ..Keepsakes::default() }, morning).unwrap();
    drop(store);
    // Nobody has looked since: that it is overdue is only told a day later, or when a look has found none.
    says(&desk, &["check", "A1", "none", "--at", &(now - Duration::hours(1)).to_rfc3339()]);
    let overdue = |_: &str| alarms(&desk, &[]).1["alarms"].as_array().unwrap().iter().any(|alarm| alarm["kind"] == "overdue");
    let said = log_until(&desk, "the box to be overdue", overdue);
    let words = "A1: its first sprout was to be there by ";
    assert_eq!(said.matches(words).count(), 1, "{said}");
    let (code, answer) = alarms(&desk, &[]);
    written()["alarms"].holds(&answer, "alarms", &mut std::collections::BTreeSet::new());
    let alarm = &answer["alarms"][0];
    assert_eq!((code, &alarm["kind"], &alarm["subject"]), (Some(1), &"overdue".into(), &"A1".into()));
    assert_eq!(alarm["since"].as_str().unwrap().parse::<Time>().unwrap(), due);
    assert!(alarm["message"].as_str().unwrap().ends_with(" (19 in 20), and none was found"), "{alarm}");
    assert!(alarm["caution"].as_str().unwrap().starts_with("Mould: "), "{alarm}");
    // Before its range was over there was none; as of then nothing is said of a logger.
    let (code, before) = alarms(&desk, &["--as-of", &(due - Duration::hours(1)).to_rfc3339()]);
    assert_eq!((code, before["alarms"].as_array().map(Vec::len)), (Some(0), Some(0)), "{before}");
    assert!(before["logger_runs"].is_null());
    written()["alarms"].holds(&before, "alarms", &mut std::collections::BTreeSet::new());
    let text = says(&desk, &["alarms", "--as-of", &(due - Duration::hours(1)).to_rfc3339()]);
    assert_eq!(text, "No alarm.\n");
    // The first is found: that it is over the grower knows, and no letter says it.
    let found: Time = std::time::SystemTime::now().into();
    says(&desk, &["check", "A1", "5"]);
    log_until(&desk, "its end", |_| alarms(&desk, &[]).1["alarms"].as_array().is_some_and(Vec::is_empty));
    let letters = std::fs::read_to_string(desk.port("letters")).unwrap();
    assert_eq!(
        (letters.matches("\"event\": \"begun\"").count(), letters.matches("\"event\": \"ended\"").count()),
        (1, 0),
        "{letters}"
    );
    let (code, after) = alarms(&desk, &[]);
    assert_eq!((code, after["alarms"].as_array().map(Vec::len)), (Some(0), Some(0)), "{after}");
    // It was one until the logger noticed.
    let (code, meanwhile) = alarms(&desk, &["--as-of", &found.to_rfc3339()]);
    assert_eq!((code, &meanwhile["alarms"][0]["kind"]), (Some(1), &"overdue".into()));
}
