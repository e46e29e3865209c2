//! The computer's clock goes wrong in every way it can, by a clock in hand.

use chrono::Duration;

use super::rig::{Rig, time};
use crate::bench::{Standing, WhyDoubted};
use crate::civil::Zone;
use crate::clock::{Clock, StoppedClock};
use crate::store::NotDated;
use crate::wording::undated_words;

const BOARD: Standing = Standing::Doubted(WhyDoubted::NotSetYet);

/// A logger on a computer whose clock shows this time and is believed so far.
fn rig(shows: &str, standing: Standing) -> Rig {
    let clock = StoppedClock::new(time(shows));
    clock.stand(standing);
    let mut rig = Rig::new(clock);
    rig.begin();
    rig
}

/// The network sets the clock to a time, as systemd-timesyncd does: first the clock, then the word.
fn set_by_network(rig: &Rig, now: &str) {
    rig.clock.set(time(now));
    rig.clock.stand(Standing::Synchronised { last_us: time(now).timestamp_micros() });
}

/// A line a minute, of the value given and those after it.
fn minutes(rig: &mut Rig, values: std::ops::Range<u32>) {
    for value in values {
        rig.print(format!("p1,0.{value:04}\n").as_bytes());
        rig.pass(Duration::minutes(1));
    }
    rig.commit();
}

#[test]
fn fault_36_a_plausible_clock_that_is_set_is_followed_and_no_reading_is_lost() {
    let mut rig = rig("2026-03-14 12:00", Standing::Plausible);
    minutes(&mut rig, 1..3);
    rig.clock.set(time("2026-03-14 11:02"));
    rig.pass(Duration::seconds(10));
    // The same times come again, with the same values.
    minutes(&mut rig, 1..3);
    rig.clock.set(time("2026-03-15 11:04:10"));
    rig.pass(Duration::seconds(10));
    minutes(&mut rig, 3..5);
    assert_eq!(rig.finish().stored, 6);
    assert_eq!(
        rig.rows(),
        ["03-14 11:02:10 1", "03-14 11:03:10 2", "03-14 12:00:00 1", "03-14 12:01:00 2", "03-15 11:04:20 3", "03-15 11:05:20 4"]
    );
    assert_eq!(
        rig.told()[1..],
        [
            "note: the clock of this computer was set back by 60 minutes; readings go by it from then on, those before stay as they are",
            "note: the clock of this computer was set forward by 24 hours; readings go by it from then on, those before stay as they are",
        ]
    );
    let steps = rig.store().clock_steps(time("2026-03-01 00:00"), time("2026-04-01 00:00")).unwrap();
    let steps: Vec<_> = steps.iter().map(|step| (step.ahead_us / 1_000_000, step.followed)).collect();
    assert_eq!(steps, [(-3_600, true), (86_400, true)], "a row for each");
}

#[test]
fn fault_36_a_clock_set_by_hand_after_the_network_had_set_it_misdates_nothing() {
    let mut rig = rig("2026-03-14 12:00", BOARD);
    set_by_network(&rig, "2026-03-14 12:00");
    rig.pass(Duration::seconds(10));
    for (wrong, values) in [("2026-03-14 11:00:10", 1..2), ("2026-03-15 12:01:10", 2..3), ("1970-01-01 00:00", 3..4)] {
        rig.clock.set(time(wrong));
        minutes(&mut rig, values);
    }
    assert_eq!(rig.rows(), ["03-14 12:00:10 1", "03-14 12:01:10 2", "03-14 12:02:10 3"]);
    // Also by a process that begins while the clock is wrong.
    rig.kill();
    rig.begin();
    minutes(&mut rig, 4..5);
    // The network sets it right, and a second off.
    set_by_network(&rig, "2026-03-14 12:04:11");
    minutes(&mut rig, 5..6);
    rig.finish();
    assert_eq!(rig.rows()[3..], ["03-14 12:03:10 4", "03-14 12:04:10 5"], "one second is led back by nobody, and no step");
    let steps = rig.store().clock_steps(time("2026-03-01 00:00"), time("2026-04-01 00:00")).unwrap();
    assert!(steps.len() >= 3 && steps.iter().all(|step| !step.followed), "{steps:?}");
    assert!(
        rig.told()[3].starts_with("note: the clock of this computer was set back by 60 minutes, by no network;"),
        "{:?}",
        rig.told()
    );
}

#[test]
fn fault_37_readings_from_before_the_clock_was_right_get_their_dates_once_and_in_order() {
    // At 1970, and at the last time that was kept before the power was cut.
    for shows in ["1970-01-01 00:00", "2026-03-01 08:00"] {
        let mut rig = rig(shows, BOARD);
        minutes(&mut rig, 1..4);
        let kept = rig.store().undated_starts().unwrap();
        assert_eq!((rig.rows().len(), kept.len(), kept[0].readings), (0, 1, 3), "stored at once, and among no sums");
        // Killed and begun again in the same start: what lay on the disk counts as much as what waits in memory.
        rig.print(b"p1,0.0004\n");
        assert_eq!(rig.kill().len(), 1, "was not stored yet");
        rig.pass(Duration::minutes(1));
        rig.begin();
        minutes(&mut rig, 5..7);
        rig.print(b"p1,0.0007\n");
        set_by_network(&rig, "2026-03-14 12:06");
        rig.pass(Duration::seconds(2));
        rig.print(b"p1,0.0008\n");
        rig.commit();
        let rows = ["12:00:00 1", "12:01:00 2", "12:02:00 3", "12:04:00 5", "12:05:00 6", "12:06:00 7", "12:06:02 8"];
        let expected = rows.map(|row| format!("03-14 {row}"));
        assert_eq!(rig.rows(), expected, "{shows}");
        assert_eq!(rig.store().undated_starts().unwrap(), []);
        assert_eq!(
            rig.told().last().unwrap(),
            "the clock of this computer is right now: 5 readings that were kept without dates have theirs"
        );
        // Nothing is dated twice.
        rig.kill();
        rig.begin();
        rig.commit();
        assert_eq!(rig.finish().undated, 0);
        assert_eq!(rig.rows(), expected);
    }
}

/// An empty battery leaves a clock plausible that begins where the computer was shut down: the newest reading gives it away.
#[test]
fn fault_37_a_plausible_clock_behind_the_newest_reading_is_not_believed_until_the_network_has_set_it() {
    let mut rig = rig("2026-03-14 12:00", Standing::Plausible);
    minutes(&mut rig, 1..3);
    rig.finish();
    rig.clock.restart(time("2026-03-14 11:30"), Standing::Plausible);
    rig.begin();
    minutes(&mut rig, 3..5);
    assert_eq!(rig.rows().len(), 2);
    set_by_network(&rig, "2026-03-17 09:02");
    rig.pass(Duration::seconds(2));
    assert_eq!(rig.finish().undated, 0);
    assert_eq!(rig.rows()[2..], ["03-17 09:00:00 3", "03-17 09:01:00 4"]);
}

#[test]
fn fault_38_readings_of_a_start_never_dated_are_kept_apart_and_shown_and_can_be_dated_by_hand() {
    let mut rig = rig("2026-03-14 12:00", Standing::Plausible);
    minutes(&mut rig, 1..2);
    rig.finish();
    rig.clock.restart(time("1970-01-01 00:00"), BOARD);
    rig.begin();
    minutes(&mut rig, 2..4);
    assert_eq!(rig.finish().undated, 2);
    rig.clock.restart(time("2026-03-20 12:00"), Standing::Plausible);
    rig.begin();
    minutes(&mut rig, 4..5);
    rig.finish();
    assert_eq!(rig.rows(), ["03-14 12:00:00 1", "03-20 12:00:00 4"], "among the readings there is none without a date");
    let mut store = rig.store();
    let starts = store.undated_starts().unwrap();
    assert_eq!(
        starts.iter().map(|start| undated_words(start, Zone::UTC)).collect::<Vec<_>>(),
        ["2 readings of p1 over 60 seconds, made after Sat 14 Mar 2026, 12:00 and before Fri 20 Mar 2026, 12:00"]
    );
    let (number, now) = (starts[0].number, rig.clock.now());
    let mut date = |first: &str| store.date_by_hand(number, time(first), now).unwrap();
    assert_eq!(date("2026-03-21 08:00"), Err(NotDated::InFuture(time("2026-03-21 08:01"))));
    assert_eq!(date("2026-03-14 11:00"), Err(NotDated::BeforeAnEarlierStart(time("2026-03-14 12:00"))));
    assert_eq!(date("2026-03-20 12:00:30"), Err(NotDated::InFuture(time("2026-03-20 12:01:30"))));
    assert_eq!(date("2026-03-20 11:59:30"), Err(NotDated::AfterALaterStart(time("2026-03-20 12:00"))));
    assert_eq!(date("2026-03-16 08:00"), Ok(2));
    assert_eq!(date("2026-03-16 08:00"), Err(NotDated::Unknown));
    assert_eq!(rig.rows()[1..3], ["03-16 08:00:00 2", "03-16 08:01:00 3"]);
}

/// The time since the start counts the computer's sleep, so that a reading after it has the right time even if the clock went wrong.
#[test]
fn fault_41_after_the_computer_slept_readings_have_their_right_times() {
    let mut rig = rig("2026-03-14 12:00", BOARD);
    set_by_network(&rig, "2026-03-14 12:00");
    rig.pass(Duration::seconds(60));
    minutes(&mut rig, 1..2);
    rig.clock.pass(Duration::hours(9));
    minutes(&mut rig, 2..3);
    // Longer than 2^32 ms, of which the counter of a board's milliseconds is full.
    rig.clock.pass(Duration::days(60));
    minutes(&mut rig, 3..4);
    rig.finish();
    assert_eq!(rig.rows(), ["03-14 12:01:00 1", "03-14 21:02:00 2", "05-13 21:03:00 3"]);
}

/// A board that counts milliseconds says how long ago it measured, which a subtraction that wraps gets right over the wrap; its
/// count itself, given as a time from now, lies in the future, and is not believed.
#[test]
fn fault_41_a_boards_counter_of_milliseconds_that_wraps_misdates_nothing() {
    for wraps_at in [1_u64 << 31, 1 << 32] {
        let mut rig = rig("2026-03-14 12:00", Standing::Plausible);
        rig.print(br#"[{"n":"p1","u":"Cel","v":0.0009,"t":0}]"#);
        rig.print(b"\n");
        for (value, since_start_ms) in [(1_u32, wraps_at - 90_000), (2, wraps_at - 30_000), (3, wraps_at + 30_000)] {
            let (measured, sent) = (since_start_ms as u32, (since_start_ms + 60_000) as u32);
            let ago = f64::from(sent.wrapping_sub(measured)) / 1000.0;
            rig.print(format!("[{{\"n\":\"p1\",\"u\":\"Cel\",\"v\":0.000{value},\"t\":-{ago}}}]\n").as_bytes());
            rig.pass(Duration::minutes(1));
        }
        rig.print(format!("[{{\"n\":\"p1\",\"u\":\"Cel\",\"v\":0.0004,\"t\":{}}}]\n", wraps_at / 1000).as_bytes());
        rig.finish();
        let rows = ["11:59:00 1", "12:00:00 2", "12:00:00 9", "12:01:00 3", "12:03:00 4"].map(|row| format!("03-14 {row}"));
        let mut got = rig.rows();
        got.sort();
        assert_eq!(got, rows);
    }
}
