//! Readings made while the computer's clock was not known to be right: shown, dated, and not forgotten.

use seedclock::bench::{Anchor, AnchoredBy, ClockStep, Name, Proof, Reading, Stamp};
use seedclock::civil::{Time, Zone, read_time};
use seedclock::store::{Logged, Store};

use super::Desk;

const MINUTE_US: i64 = 60_000_000;

fn at(text: &str) -> Time {
    read_time(text, Zone::Europe__Berlin).unwrap().time
}

fn began(text: &str) -> Option<Anchor> {
    Some(Anchor { began_us: at(text).timestamp_micros(), by: AnchoredBy::Plausible })
}

fn reading(minute: i64, raw: i64) -> (Name, Reading, Stamp) {
    let reading = Reading { time_us: minute * MINUTE_US, raw_c_e4: Some(raw), proof: Proof::Plain };
    (Name::new("p1").unwrap(), reading, Stamp::Undated)
}

/// A bench with a probe at a spot, and readings of one start of the computer with dates and of the next without.
fn desk() -> Desk {
    let desk = Desk::new();
    desk.says(&["sow", "A1", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    desk.says(&["probe", "place", "p1", "sill", "--since", "2026-03-01 08:00"]);
    let mut store = Store::open(&desk.bench()).unwrap();
    let logged = Logged { start_id: "first", anchor: began("2026-03-02 08:00"), steps: &[], readings: &[], again: false };
    store.append_logged(&Logged { readings: &[reading(5, 180_000)], ..logged }).unwrap();
    let undated = [reading(1, 190_000), reading(31, 200_000), reading(31, 200_000)];
    store.append_logged(&Logged { start_id: "second", anchor: None, readings: &undated, ..logged }).unwrap();
    desk
}

fn rows(desk: &Desk) -> Vec<(i64, Option<i64>)> {
    let store = Store::open_read_only(&desk.bench()).unwrap();
    let readings = store.readings(&Name::new("p1").unwrap(), 0, i64::MAX).unwrap();
    let since_first = |us| (us - at("2026-03-02 08:00").timestamp_micros()) / MINUTE_US;
    readings.iter().map(|reading| (since_first(reading.time_us), reading.raw_c_e4)).collect()
}

#[test]
fn fault_38_readings_without_dates_are_listed_told_by_status_and_export_and_dated_by_hand() {
    let desk = desk();
    assert_eq!(rows(&desk), [(5, Some(180_000))], "no sum ever sees the others");
    let words = "3 readings of p1 over 30 minutes, made after Mon 2 Mar 2026, 08:05";
    assert_eq!(
        desk.says(&["undated"]),
        format!("2: {words}\n  next: if you know when the first was made, `seedclock undated 2 --began TIME`\n")
    );
    let status = desk.run(&["status"]);
    let told = format!(
        "- Readings without dates: {words}.\n  next: if you know when the first was made, `seedclock undated 2 --began TIME`\n"
    );
    let unwrapped = |text: &str| text.replace("\n  next:", "\u{1}").replace("\n  ", " ").replace('\u{1}', "\n  next:");
    assert!(unwrapped(&status.out).contains(&told), "{}", status.out);
    let export = desk.run(&["export", "out"]);
    assert!(
        export.err.ends_with(
            "seedclock: note: 3 readings without dates stay behind, as a bench folder has no place for them; a copy of the bench's file has \
             them\n  next: `seedclock undated` lists them\n"
        ),
        "{export:?}"
    );

    for (time, why) in [
        ("2126-03-03 08:00", "the last of them would have been made in the future, on Sun 3 Mar 2126, 08:30"),
        ("2026-03-01 08:00", "the computer was started after that, on Mon 2 Mar 2026, 08:00, and once more before they were made"),
    ] {
        let refused = desk.run(&["undated", "2", "--began", time]);
        let words = format!("seedclock: {time} cannot be when the first of them was made: {why}; nothing was dated\n");
        assert_eq!((refused.code, refused.err), (2, words));
    }
    let unknown = desk.run(&["undated", "7", "--began", "2026-03-03 08:00"]);
    assert_eq!(
        (unknown.code, unknown.err.as_str()),
        (2, "seedclock: there are no readings without dates of number 7\n  next: `seedclock undated` lists them\n")
    );
    let dated = desk.says(&["undated", "2", "--began", "2026-03-02 09:00"]);
    assert_eq!(dated, "dated: 3 readings from Mon 2 Mar 2026, 09:00 on\n");
    assert_eq!(rows(&desk), [(5, Some(180_000)), (60, Some(190_000)), (90, Some(200_000)), (90, Some(200_000))]);
    assert_eq!(desk.says(&["undated"]), "All readings have their dates.\n");
}

#[test]
fn fault_36_that_the_clock_was_set_is_told_for_some_days() {
    let desk = desk();
    let time = at("2026-03-02 09:00");
    let step = ClockStep { since_us: 60 * MINUTE_US, time_us: time.timestamp_micros(), ahead_us: 3_600_000_000, followed: true };
    let anchor = began("2026-03-02 08:00");
    let logged = Logged { start_id: "first", anchor, steps: &[step], readings: &[], again: false };
    let mut store = Store::open(&desk.bench()).unwrap();
    for again in [false, true] {
        store.append_logged(&Logged { again, ..logged }).unwrap();
    }
    let words = "Mon 2 Mar 2026, 09:00: the clock of this computer was set forward by 60 minutes; readings go by it from then on, \
                 those before stay as they are\n";
    let said = |as_of: &str| desk.run(&["status", "--as-of", as_of]).out;
    assert_eq!(said("2026-03-08 08:00").matches(words).count(), 1);
    assert_eq!(said("2026-03-10 08:00").matches(words).count(), 0);
    assert_eq!(said("2026-03-02 08:30").matches(words).count(), 0, "nothing later is used");
}
