//! What was typed is taken back whole, and what was corrected or taken back is kept beside.

use seedclock::bench::{Bench, Name, Stamp};
use seedclock::store::{Store, Why};

use super::Desk;
use crate::readme::words_of;

fn bench(desk: &Desk) -> Bench {
    Store::open_read_only(&desk.bench()).unwrap().bench().unwrap()
}

fn type_in(desk: &Desk, line: &str) -> String {
    desk.says(&words_of(line).iter().map(String::as_str).collect::<Vec<_>>())
}

/// A bench on which there is something of every kind.
fn full_desk() -> Desk {
    let desk = Desk::new();
    for line in [
        "sow F2 --species primrose --seeds 50 --spot fridge --lot own --at \"2026-01-03 10:00\"",
        "sow A3 --species leek --seeds 20 --spot sill --depth 5 --box \"blue lid\" --at \"2026-03-01 18:00\"",
        "sow B1 B2 --from F2 --seeds 12 --spot sill --at \"2026-03-04 09:00\"",
        "check A3 5 --condition dry --at \"2026-03-06 08:00\"",
        "check A3 2 --potted-on 6 --at \"2026-03-07 08:00\"",
        "move A3 fridge --at \"2026-03-07 08:10\"",
        "move A3 sill --planned --at \"2100-03-07 08:10\"",
        "close B2 --at \"2026-03-20 08:00\"",
        "lot own --species primrose --packet-days 10-14 --packet-c 70F",
        "spot fridge --kind fridge --set 40F --sd 1.7F --changed \"2026-02-01 08:00\" --note salad",
        "spot sill --day 20.3 --night 16.1 --since \"2026-02-01 08:00\" --capacity 9",
        "probe place p1 sill --since \"2026-01-01 08:00\" --siting in",
        // A factor that no short decimal can hold.
        "probe calibrate p1 --point 0.4=0 --point 31=30.5 --since \"2026-01-02 08:00\"",
        "doubt p1 --from \"2026-02-01 08:00\" --to \"2026-02-02 08:00\" --why \"fell out\"",
        "probe limits p1 --place 40F..170F --change 5F..25F --repeat 12",
        "set units F",
    ] {
        type_in(&desk, line);
    }
    desk
}

#[test]
fn whatever_was_typed_last_is_taken_back_whole() {
    let desk = full_desk();
    for line in [
        "sow D1..D4 --species kale --spot attic --seeds-low 50 --seeds-high 80 --at \"2026-03-08 08:00\"",
        "sow D1 --like A3 --at \"2026-03-08 08:00\"",
        "sow D1 D2 --from F2 --seeds 13 --spot attic --at \"2026-03-08 08:00\"",
        "check A3 1 --removed 2 --note \"on the lid\" --at \"2026-03-08 08:00\"",
        "check A3 --total 9 --at \"2026-03-08 08:00\"",
        "check --spot sill --rest none --at \"2026-03-05 08:00\"",
        "check B2 1 --at \"2026-03-22 08:00\"",
        "correct check A3 --sprouted 3 --condition none --note moved",
        "correct check A3 --condition wet --at \"2026-03-06 08:00\"",
        "correct check A3 --time \"2026-03-07 09:00\"",
        "correct check A3 --at \"2026-03-06 08:00\" --time \"2026-03-06 09:00\" --sprouted 6",
        "correct box A3 --seeds 30 --spot porch --lot \"from Ann\" --treatment soaked --depth none --box none --sown \"2026-03-01 19:00\"",
        "correct box B1 --from none --seeds-high 14",
        "correct move A3 --spot porch",
        "correct move A3 --spot sill --time \"2026-03-07 09:00\"",
        "correct probe p1 --since \"2026-01-01 08:00\" --spot attic --time \"2026-01-01 09:00\"",
        "correct probe p1 --offset none --siting room",
        "close A3 B1 --at \"2026-03-20 08:00\"",
        "reopen B2",
        "move A3 B1 sill --at \"2026-03-09 08:00\"",
        "move B1 fridge --planned --at \"2100-03-09 08:00\"",
        "lot own --packet-percent 80.5 --light dark",
        "lot new --species kale",
        "spot sill --set 18.3C --since \"2026-02-01 08:00\"",
        "spot sill --capacity 8",
        "spot loft --kind outdoors",
        "probe place p1 loft --since \"2026-02-03 08:00\"",
        "probe calibrate p1 --ice 33F --since \"2026-02-03 08:00\"",
        "probe name p1 west",
        "doubt p1 --from \"2026-02-01 08:00\" --to \"2026-02-03 08:00\"",
        "doubt p1 --from \"2026-02-05 08:00\"",
        "probe limits p1 --spike 3..7 --place usual",
        "probe limits p1 --none",
        "set units celsius",
        "set zone America/Chicago",
    ] {
        let before = bench(&desk);
        let line = if line.starts_with("correct move A3 --spot porch") {
            type_in(&desk, "spot porch --kind outdoors");
            line
        } else {
            line
        };
        let known = bench(&desk);
        type_in(&desk, line);
        assert_ne!(bench(&desk), known, "{line} changes something");
        assert!(type_in(&desk, "undo").starts_with("taken back: "), "{line}");
        assert_eq!(bench(&desk), known, "{line} is taken back whole");
        if known != before {
            type_in(&desk, "undo");
        }
        assert_eq!(bench(&desk), before);
    }
}

#[test]
fn all_that_was_typed_can_be_taken_back_one_by_one() {
    let desk = full_desk();
    type_in(&desk, "correct check A3 --time \"2026-03-07 09:00\" --sprouted 3");
    type_in(&desk, "probe name p1 west");
    for _ in 0..18 {
        type_in(&desk, "undo");
    }
    let empty = bench(&desk);
    assert!(empty.trials.is_empty() && empty.spots.is_empty() && empty.placements.is_empty() && empty.doubts.is_empty());
    assert!(empty.lots.is_empty() && empty.limits.is_empty() && empty.units.is_none());
    let answer = desk.run(&["undo"]);
    let complaint = "seedclock: nothing that was typed is on record: there is nothing to take back\n  nothing was taken back\n";
    assert_eq!((answer.code, answer.err.as_str()), (2, complaint));
}

#[test]
fn any_entry_is_taken_back_by_its_name_and_time() {
    let desk = full_desk();
    for (line, says) in [
        ("check A3 2 --undo", "A3: taken back the look on 2026-03-07 08:00 (2 new, 6 potted on); 5 of 20 have sprouted\n"),
        (
            "undo check A3 --at \"2026-03-06 08:00\"",
            "A3: taken back the look on 2026-03-06 08:00 (5 new, dry); 0 of 20 have sprouted\n",
        ),
        ("undo move A3", "taken back: the move of A3 on 2026-03-07 08:10 (to 'fridge')\n"),
        ("undo plan A3", "taken back: the planned move of A3 on 2100-03-07 08:10 (to 'sill')\n"),
        ("undo box A3", "taken back: the sowing of A3 on 2026-03-01 18:00 (20 seeds of leek at 'sill')\n"),
        (
            "undo probe p1 --since \"2026-01-01 08:00\"",
            "taken back: the placing of probe p1 on 2026-01-01 08:00 (spot sill, siting in)\n",
        ),
        ("undo doubt p1", "taken back: the doubt of probe p1 from 2026-02-01 08:00 on (to 2026-02-02 08:00, why fell out)\n"),
        (
            "undo limits p1",
            "taken back: the limits of probe p1 (place 4.444 to 76.667 °C, change 2.778 to 13.889 °C a minute, repeat 12 hours)\n",
        ),
        (
            "undo spot fridge",
            "taken back: what is said of spot 'fridge' (kind fridge, temperature 4.444 ± 0.944 °C, changed 2026-02-01 08:00, note \
             salad)\n",
        ),
        (
            "undo lot own",
            "taken back: what is said of lot 'own' (species primrose, packet days 10-14, packet temperature 21.111 °C)\n",
        ),
    ] {
        assert_eq!(type_in(&desk, line), says, "{line}");
    }
    // What was taken back that way is not taken back again: the last one typed of what is left is the setting.
    assert_eq!(type_in(&desk, "undo"), "taken back: the setting units (fahrenheit)\n");
    assert_eq!(
        type_in(&desk, "undo"),
        "taken back: the placing of probe p1 on 2026-01-02 08:00 (spot sill, calibration true = 0.997 × shown -0.399 °C, siting in)\n"
    );
}

#[test]
fn a_late_sprout_taken_back_closes_its_box_again() {
    let desk = full_desk();
    let closed = bench(&desk);
    assert_eq!(
        type_in(&desk, "check B2 1 --at \"2026-03-22 08:00\""),
        "B2: 1 new; 1 of 12 has sprouted; a late sprout: it was closed on 2026-03-20 08:00 and is open again\n"
    );
    assert_eq!(
        type_in(&desk, "check B2 --undo"),
        "B2: taken back the look on 2026-03-22 08:00 (1 new); 0 of 12 have sprouted; closed again since 2026-03-20 08:00\n"
    );
    assert_eq!(bench(&desk), closed);
}

#[test]
fn old_values_are_kept_beside() {
    let desk = full_desk();
    type_in(&desk, "correct check A3 --sprouted 3");
    type_in(&desk, "check A3 --undo");
    let kept = Store::open_read_only(&desk.bench()).unwrap().superseded().unwrap();
    let last: Vec<(&str, Why, bool)> =
        kept.iter().rev().take(2).map(|kept| (kept.entry.as_str(), kept.why, kept.old.contains("\"sprouted\":2"))).collect();
    assert_eq!(last, [("check", Why::Undone, false), ("check", Why::Corrected, true)]);
}

#[test]
fn a_probe_keeps_its_lines_under_its_lasting_name() {
    let desk = full_desk();
    let name = |text: &str| Name::new(text).unwrap();
    type_in(&desk, "probe name p1 \"west sill\"");
    let reading = seedclock::bench::Reading { time_us: 5, raw_c_e4: Some(215_000), proof: seedclock::bench::Proof::Plain };
    let mut store = Store::open(&desk.bench()).unwrap();
    store.append_arrivals(&[(name("p1"), reading, Stamp::Arrival)]).unwrap();
    drop(store);
    type_in(&desk, "probe name \"west sill\" west");
    let mut store = Store::open(&desk.bench()).unwrap();
    store.append_arrivals(&[(name("p1"), reading, Stamp::Arrival)]).unwrap();
    assert_eq!(store.readings(&name("west"), 0, 9).unwrap().len(), 2);
    assert_eq!(store.bench().unwrap().probes, [name("west")].into());
    drop(store);
    assert_eq!(
        type_in(&desk, "probe name west p1"),
        "probe west: called p1 from now on; its readings so far and to come stay its own\n"
    );
    assert_eq!(Store::open(&desk.bench()).unwrap().probe_of_line(&name("p1")).unwrap(), None, "it goes by its line's name again");
}
