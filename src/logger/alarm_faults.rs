//! Alarms from the line on a port to the letter, with the clock in hand: stops, kills, carriers that fail.

use std::sync::mpsc::Receiver;

use chrono::Duration;

use super::post::{Carried, Letter, Post};
use super::rig::{Rig, time};
use crate::bench::rules::{Conflict, Entry, Origin, admit};
use crate::bench::{Container, Name, Placement, Setting, Siting, SpotKind, Standing};
use crate::clock::StoppedClock;
use crate::store::Why;

const BEGIN: &str = "2026-03-20 12:00";

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

/// A mat with a box of lettuce and probe p1, a fridge with a bag and p2; a logger that runs.
fn rig() -> Rig {
    let clock = StoppedClock::new(time(BEGIN));
    clock.stand(Standing::Vouched);
    let rig = Rig::new(clock);
    let mut store = rig.store();
    let entries = [("mat", "p1", "C1", SpotKind::Indoors), ("fridge", "p2", "F1", SpotKind::Fridge)].into_iter().flat_map(
        |(spot, probe, boxed, kind)| {
            let (spot, since) = (name(spot), time("2026-03-19 12:00"));
            [
                Entry::Spot(spot.clone(), Setting { kind, ..Setting::NOTHING_SAID }),
                Entry::Placement(Placement {
                    probe: name(probe),
                    spot: spot.clone(),
                    since,
                    calibration: None,
                    siting: Siting::Beside,
                }),
                Entry::Container(Container::new(name(boxed), name("b"), name("lettuce"), spot, since)),
            ]
        },
    );
    let entries = entries.map(|entry| (Origin::Typed, entry)).collect();
    let admitted = admit(&store.bench().unwrap(), entries, Conflict::Refused, time(BEGIN)).unwrap();
    let mut change = store.change().unwrap();
    change.record(&admitted, Why::Corrected, time(BEGIN)).unwrap();
    change.commit().unwrap();
    rig
}

/// Opens a way whose carrier is this test.
fn way(rig: &mut Rig) -> Receiver<Letter> {
    rig.post = Post::default();
    rig.post.open_way("command")
}

/// Minutes go by in which the probes say these.
fn minutes(rig: &mut Rig, count: i64, mat_c: f64, fridge_c: f64) {
    for _ in 0..count {
        rig.pass(Duration::minutes(1));
        rig.print(format!("p1,{mat_c}\np2,{fridge_c}\n").as_bytes());
        rig.commit();
        rig.look_after();
    }
}

fn alarms_told(rig: &Rig) -> Vec<String> {
    rig.told().into_iter().filter(|told| told.starts_with("At '")).collect()
}

#[test]
fn heat_goes_out_once_with_what_to_do_and_a_caution_and_its_end_too() {
    let mut rig = rig();
    let letters = way(&mut rig);
    rig.begin();
    minutes(&mut rig, 20, 22.0, 4.0);
    minutes(&mut rig, 40, 30.5, 4.0);
    let letter = letters.try_recv().unwrap();
    assert_eq!(
        letter.text,
        "At 'mat' it has been over 27.8\u{a0}°C for 30 minutes, 30.5\u{a0}°C at most: too hot for C1; check the thermostat and where its \
         probe lies, or move them somewhere cooler. Heat mat or lamp: thermostat with its probe in the mix, an RCD/GFCI in the supply, \
         nothing over the mat."
    );
    let json: serde_json::Value = serde_json::from_str(&letter.json).unwrap();
    let alarm = &json["alarms"][0];
    assert_eq!((&json["test"], &alarm["kind"], &alarm["event"]), (&false.into(), &"too-hot".into(), &"begun".into()));
    assert_eq!((&alarm["subject"], &alarm["celsius"], &alarm["limit_c"]), (&"mat".into(), &30.5.into(), &27.8.into()));
    assert_eq!(alarm["since"], "2026-03-20T12:21:00Z");
    rig.post.tray().put(Carried { way: "command".to_owned(), about: letter.about, outcome: Ok("exit 0".to_owned()) });
    minutes(&mut rig, 60, 22.0, 4.0);
    assert_eq!(
        alarms_told(&rig)[1..],
        [
            "At 'mat' it was over 27.8\u{a0}°C for 40 minutes, until Fri 20 Mar 2026, 13:01, 30.5\u{a0}°C at most; that is over; look what it \
          did to C1."
        ]
    );
    let ended = letters.try_recv().unwrap();
    assert!(ended.json.contains("\"event\": \"ended\"") && letters.try_recv().is_err());
    let store = rig.store();
    let delivery = &store.deliveries().unwrap()[0];
    assert_eq!((delivery.tries, delivery.way.as_str()), (0, "command"), "its end is on its way");
}

#[test]
fn a_kill_at_any_minute_neither_repeats_nor_loses_an_alarm() {
    for killed_at in (25..75).step_by(7) {
        let mut rig = rig();
        let mut letters = way(&mut rig);
        rig.begin();
        let mut carried = 0;
        for minute in 0..110 {
            if minute == killed_at || minute == killed_at + 3 {
                rig.kill();
                letters = way(&mut rig);
                rig.begin();
            }
            minutes(&mut rig, 1, if (20..70).contains(&minute) { 30.5 } else { 22.0 }, 4.0);
            for letter in letters.try_iter() {
                carried += 1;
                rig.post.tray().put(Carried { way: "command".to_owned(), about: letter.about, outcome: Ok(String::new()) });
            }
            // The carrier's word is taken up at once.
            rig.look_after();
        }
        assert_eq!(alarms_told(&rig).len(), 2, "killed at {killed_at}: {:?}", alarms_told(&rig));
        assert_eq!(carried, 2, "killed at {killed_at}");
    }
}

#[test]
fn a_letter_that_did_not_arrive_goes_out_again_also_by_the_next_start() {
    let mut rig = rig();
    let letters = way(&mut rig);
    rig.begin();
    minutes(&mut rig, 5, 22.0, 4.0);
    minutes(&mut rig, 31, 22.0, -1.0);
    let letter = letters.try_recv().unwrap();
    assert!(
        letter.text.starts_with("At 'fridge' it has been below 0.0\u{a0}°C for 30 minutes, −1.0\u{a0}°C at least: F1 may freeze")
    );
    minutes(&mut rig, 3, 22.0, -1.0);
    assert!(letters.try_recv().is_err(), "one that is on its way is not sent again");
    rig.post.tray().put(Carried { way: "command".to_owned(), about: letter.about, outcome: Err("exit 1".to_owned()) });
    minutes(&mut rig, 1, 22.0, -1.0);
    assert!(letters.try_recv().is_err(), "not at once");
    minutes(&mut rig, 1, 22.0, -1.0);
    let again = letters.try_recv().unwrap();
    let store = rig.store();
    assert_eq!(store.deliveries().unwrap()[0].failure.as_deref(), Some("exit 1"));
    // Nobody ever says how that one went.
    drop(again);
    rig.kill();
    let letters = way(&mut rig);
    rig.begin();
    minutes(&mut rig, 1, 22.0, -1.0);
    assert!(letters.try_recv().unwrap().json.contains("freezing"));
    assert_eq!(alarms_told(&rig).len(), 1, "in the journal once");
}

#[test]
fn readings_that_wait_for_the_disk_count_and_a_slow_commit_is_no_silence() {
    let mut rig = rig();
    let letters = way(&mut rig);
    rig.begin();
    for _ in 0..60 {
        rig.pass(Duration::minutes(1));
        rig.print(b"p1,30.5\np2,4\n");
        rig.look_after();
    }
    let text: Vec<String> = letters.try_iter().map(|letter| letter.text).collect();
    assert_eq!(text.len(), 1, "{text:?}");
    assert!(text[0].starts_with("At 'mat'"));
}

#[test]
fn a_probe_that_falls_silent_by_night_is_told_in_the_morning() {
    let mut rig = rig();
    rig.begin();
    rig.pass(Duration::hours(11));
    minutes(&mut rig, 15, 22.0, 4.0);
    for _ in 0..(9 * 60) {
        rig.pass(Duration::minutes(1));
        rig.print(b"p2,4\n");
        rig.commit();
        rig.look_after();
    }
    let silent: Vec<String> = rig.told().into_iter().filter(|told| told.contains("silent")).collect();
    // At seven: eight hours less a quarter.
    assert_eq!(silent, ["Probe p1 at 'mat' has been silent for 7 hours; see to plug, cable and battery."]);
}
