//! How the bench stands: what needs doing, and when nothing does.

use seedclock::bench::{Name, Proof, Reading, Stamp};
use seedclock::civil::{Time, Zone, read_time};
use seedclock::store::{LoggerLock, Store, UnreadLine};

use super::Desk;
use crate::readme::words_of;

fn type_in(desk: &Desk, line: &str) {
    desk.says(&words_of(line).iter().map(String::as_str).collect::<Vec<_>>());
}

fn at(text: &str) -> Time {
    read_time(text, Zone::Europe__Berlin).unwrap().time
}

/// What `status` says as of a time, and its exit code.
fn status(desk: &Desk, as_of: &str) -> (i32, String) {
    let answer = desk.run(&["status", "--as-of", as_of]);
    assert_eq!(answer.err, "");
    (answer.code, answer.out)
}

/// Two boxes at a spot whose probe speaks, looked at in the morning of 8 March.
fn well_kept() -> Desk {
    let desk = Desk::new();
    for line in [
        "sow A3 A4 --species leek --seeds 20 --spot \"west sill\" --at \"2026-03-01 18:00\"",
        "probe place p1 \"west sill\" --since \"2026-03-01 08:00\"",
        "check A3 2 --at \"2026-03-08 08:00\"",
        "check A4 none --at \"2026-03-08 08:00\"",
    ] {
        type_in(&desk, line);
    }
    let reading = Reading { time_us: at("2026-03-08 09:58").timestamp_micros(), raw_c_e4: Some(195_000), proof: Proof::Plain };
    Store::open(&desk.bench()).unwrap().append_arrivals(&[(Name::new("p1").unwrap(), reading, Stamp::Arrival)]).unwrap();
    desk
}

#[test]
fn where_all_is_well_nothing_needs_doing() {
    let desk = well_kept();
    assert_eq!(
        status(&desk, "2026-03-08 10:00"),
        (
            0,
            "The bench on Sun 8 Mar 2026, 10:00\nNothing needs doing.\n\n\
             west sill: 2 boxes\n  A3 leek: 2 of 20 have sprouted; looked at 2 hours ago\n  A4 leek: 0 of 20 have sprouted; looked \
             at 2 hours ago\n\nProbes\n  p1 at 'west sill': last reading 2 minutes ago\n"
                .to_owned()
        )
    );
}

#[test]
fn what_needs_doing_is_said_with_what_to_do() {
    let desk = well_kept();
    for line in [
        "sow N1 N2 --species kale --seeds-low 30 --spot porch --at \"2026-03-09 18:00\"",
        "spot porch --capacity 1",
        "sow F1 --species primrose --seeds 50 --spot fridge --at \"2026-01-20 18:00\"",
        "spot fridge --kind fridge --set 4",
        "sow B2 --species beet --seeds 9 --spot porch --at \"2026-01-09 18:00\"",
    ] {
        type_in(&desk, line);
    }
    let mut store = Store::open(&desk.bench()).unwrap();
    let reading = Reading { time_us: at("2026-03-10 09:00").timestamp_micros(), raw_c_e4: Some(195_000), proof: Proof::Plain };
    store.append_arrivals(&[(Name::new("board 7").unwrap(), reading, Stamp::Arrival)]).unwrap();
    let line = |time| UnreadLine {
        port: "/dev/ttyACM0".into(),
        time_us: at(time).timestamp_micros(),
        line: b"T=2x".to_vec(),
        why: "no number".into(),
    };
    store.keep_unread_lines(&[line("2026-03-09 08:00"), line("2026-03-10 11:00"), line("2026-03-10 11:30")]).unwrap();
    drop(store);
    let (code, said) = status(&desk, "2026-03-10 12:00");
    assert_eq!(code, 1);
    assert_eq!(
        said,
        "The bench on Tue 10 Mar 2026, 12:00\nTo do:\n\
         - Not looked at lately, at 'fridge': F1 (for 48 days).\n  next: look; what is new box by box, then `seedclock check --spot \
         fridge --rest none`\n\
         - Nothing tells the temperature at 'porch', where N1, N2 stand.\n  next: `seedclock probe place PROBE porch`, or `seedclock \
         spot porch --set DEGREES` if you know it\n\
         - 2 boxes stand at 'porch', which has room for 1.\n  next: `seedclock move BOX SPOT`, or `seedclock spot porch --capacity \
         N`\n\
         - Not looked at lately, at 'west sill': A3 (for 2 days), A4 (for 2 days).\n  next: look; what is new box by box, then \
         `seedclock check --spot \"west sill\" --rest none`\n\
         - Nobody has said where probe board 7 stands: its readings are kept, and not used.\n  next: `seedclock probe place \"board \
         7\" SPOT`\n\
         - Probe p1 at 'west sill' has been silent for 2 days.\n  next: start `seedclock log --port …` if it has stopped; else see to \
         plug, cable and battery\n\
         - Not looked at for over 30 days, and so counted as ended: B2 at 'porch' (for 59 days).\n  next: `seedclock check \
         BOX N` for each that is still there; for the others `seedclock close B2`\n\n\
         fridge: 1 box, fridge\n  F1 primrose: 0 of 50 have sprouted; sown 48 days ago, not looked at yet\n\n\
         porch: 2 of 1 boxes\n  N1 kale: 0 have sprouted (at least 30 seeds); sown 18 hours ago, not looked at yet\n  N2 kale: 0 \
         have sprouted (at least 30 seeds); sown 18 hours ago, not looked at yet\n\n\
         west sill: 2 boxes\n  A3 leek: 2 of 20 have sprouted; looked at 2 days ago\n  A4 leek: 0 of 20 have sprouted; looked at 2 \
         days ago\n\n\
         Probes\n  board 7 nowhere yet: last reading 3 hours ago\n  p1 at 'west sill': last reading 2 days ago\n\
         /dev/ttyACM0: 2 lines of the last day could not be read, the last on Tue 10 Mar 2026, 11:30 (no number); kept as received.\n"
    );
}

#[test]
fn a_move_that_was_planned_is_called_to_mind_until_it_is_made() {
    let desk = Desk::new();
    let folder: [(&str, &[u8]); 5] = [
        ("containers.csv", b"container,batch,species,lot,treatment,seeds,sown,spot\nA1,b,leek,,,20,2026-03-01 18:00,sill\n"),
        ("checks.csv", b"container,time,sprouted\nA1,2026-03-06 08:00,0\n"),
        ("probes.csv", b"probe,spot,since\n"),
        ("spots.csv", b"spot,set_c,set_sd_c\nsill,18,1\nmat,22,1\n"),
        ("moves.csv", b"container,time,spot,planned\nA1,2026-03-07 08:00,mat,yes\n"),
    ];
    desk.write_folder("in", &folder);
    desk.says(&["import", "in"]);
    assert_eq!(status(&desk, "2026-03-06 20:00").0, 0);
    let (code, said) = status(&desk, "2026-03-07 20:00");
    let reminder = "- A1 was to be moved to 'mat' on Sat 7 Mar 2026, 08:00.\n  next: move it, then `seedclock move A1 mat`; or `seedclock \
                    undo plan A1`\n";
    assert!(code == 1 && said.contains(reminder), "{said}");
    type_in(&desk, "move A1 mat --at \"2026-03-07 19:00\"");
    assert_eq!(status(&desk, "2026-03-07 20:00").0, 0);
}

#[test]
fn of_the_present_the_logger_and_the_disk_are_told() {
    let desk = well_kept();
    let stopped = desk.run(&["status"]).out;
    assert!(stopped.contains("\nNo logger runs. ") && stopped.contains(" GB left on the disk.\n"), "{stopped}");
    let _lock = LoggerLock::take(&desk.bench()).unwrap();
    let runs = format!("\nA logger runs (process {}). ", std::process::id());
    let said = desk.run(&["status"]).out;
    assert!(said.contains(&runs), "{said}");
}
