//! Commands that are refused: for each the whole complaint, exit code 2, and nothing recorded.

use super::Desk;
use crate::readme::words_of;

#[test]
fn a_refused_command_says_why_and_records_nothing() {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 18:00"]);
    desk.says(&["check", "A3", "18", "--at", "2026-03-09 08:00"]);
    let refusals: [(&[&str], &str); 9] = [
        (
            &["check", "A3", "7", "--at", "2026-03-10 08:00"],
            "seedclock: 25 sprouts in box 'A3', which holds 20 seeds\n  nothing was recorded; next: give only what is new since \
             the last look; 18 had sprouted by then\n",
        ),
        (
            &["check", "A3", "1", "--removed", "2", "--at", "2026-03-10 08:00"],
            "seedclock: 19 sprouts, 2 removed, together 21, in box 'A3', which holds 20 seeds\n  nothing was recorded; next: \
             give only what is new since the last look; 18 had sprouted by then\n",
        ),
        (
            &["check", "A3", "none", "--potted-on", "19", "--at", "2026-03-10 08:00"],
            "seedclock: 19 potted on and 0 died in box 'A3', where only 18 had sprouted by then\n  nothing was recorded\n",
        ),
        (&["check", "B9", "none"], "seedclock: there is no box 'B9' on this bench\n  nothing was recorded\n"),
        (
            &["check", "A3", "none", "--at", "2026-03-08 08:00"],
            "seedclock: the last check of box 'A3' is on record for 2026-03-09 08:00: one on 2026-03-08 08:00 comes before that\n  \
             nothing was recorded\n",
        ),
        (
            &["check", "A3", "1", "--at", "2026-03-09 08:00"],
            "seedclock: the check of box 'A3' on 2026-03-09 08:00 is known already, with other values: sprouted 18, here 1\n  \
             nothing was recorded\n",
        ),
        (
            &["move", "A3", "attic", "--at", "2026-03-10 08:00"],
            "seedclock: there is no spot 'attic': a box can only be moved to a spot that exists; `sow --spot` and `probe place` \
             make new ones\n  nothing was recorded\n",
        ),
        (
            &["sow", "A4", "--species", "leek", "--seeds", "0", "--spot", "sill", "--at", "2200-01-01 08:00"],
            "seedclock: 2 things are wrong\n  0 is out of range: the number of seeds in one box lies from 1 to 100000\n  \
             the sowing of box 'A4', 2200-01-01 08:00, lies in the future\n  nothing was recorded\n",
        ),
        (
            &["check", "A3", "none", "--at", "2026-03-29 02:30"],
            "seedclock: 2026-03-29 02:30 did not exist in Europe/Berlin: the clocks jumped over it\n",
        ),
    ];
    desk.says(&["export", "before"]);
    for (arguments, complaint) in refusals {
        let answer = desk.run(arguments);
        assert_eq!((answer.code, answer.out.as_str(), answer.err.as_str()), (2, "", complaint), "{arguments:?}");
    }
    desk.says(&["export", "after"]);
    assert_eq!(desk.files("before"), desk.files("after"));
}

#[test]
fn a_slip_in_the_first_command_leaves_no_bench_behind() {
    let desk = Desk::new();
    let answer = desk.run(&["sow", "A3", "--species", "leek", "--seeds", "0", "--spot", "sill"]);
    assert_eq!(answer.code, 2);
    assert!(!desk.bench().exists());
    let answer = desk.run(&["check", "A3", "none"]);
    assert_eq!(
        (answer.code, answer.err.as_str()),
        (
            2,
            "seedclock: there is no bench at bench.db\n  next: `seedclock sow` or `seedclock import` begins one, or name another \
             with --bench\n"
        )
    );
    assert!(!desk.bench().exists());
}

/// A bench with a chilling bag, an open and a closed box, and a placed probe.
fn desk() -> Desk {
    let desk = Desk::new();
    for line in [
        "sow F2 --species primrose --seeds 50 --spot fridge --at \"2026-01-03 10:00\"",
        "sow A3 --species leek --seeds 20 --spot sill --box \"blue lid\" --at \"2026-03-01 18:00\"",
        "sow A5 --species leek --seeds 20 --spot sill --at \"2026-03-01 18:00\"",
        "check A3 5 --at \"2026-03-06 08:00\"",
        "check A3 2 --potted-on 6 --at \"2026-03-07 08:00\"",
        "close A5 --at \"2026-03-20 08:00\"",
        "sow B1 --from F2 --seeds 40 --spot sill --at \"2026-03-04 09:00\"",
        "move A3 fridge --at \"2026-03-08 08:00\"",
        "probe place p1 sill --since \"2026-01-01 08:00\"",
        "probe place p2 sill --since \"2026-01-01 08:00\"",
        "probe name p2 west",
        "doubt p1 --from \"2026-02-01 08:00\"",
    ] {
        desk.says(&words_of(line).iter().map(String::as_str).collect::<Vec<_>>());
    }
    desk
}

/// Lines typed, and what is said to each after "seedclock: ".
const REFUSALS: &[(&str, &str)] = &[
    // sow
    (
        "sow A3..B5 --species leek --spot sill",
        "'A3..B5' names no boxes: a range goes up by the number at the end, as in A3..A8, over at most 200 boxes\n  nothing was \
         recorded\n",
    ),
    ("sow D1 D1 --species leek --spot sill", "box 'D1' is named twice\n  nothing was recorded\n"),
    ("sow D1 --from F9 --seeds 3 --spot sill", "there is no box 'F9' on this bench\n  nothing was recorded\n"),
    ("sow D1 --like F9 --spot sill", "there is no box 'F9' on this bench\n  nothing was recorded\n"),
    (
        "sow D1 D2 --from F2 --seeds 6 --spot sill --at \"2026-03-05 09:00\"",
        "6 seeds taken out of box 'F2' on 2026-03-05 09:00, where 4 of 50 were left\n  nothing was recorded\n",
    ),
    (
        "sow D1 --from F2 --spot sill --at \"2026-03-05 09:00\"",
        "the seeds of box 'D1' are not counted, and those of 'F2', which they came out of, are: say how many were taken\n  nothing \
         was recorded\n",
    ),
    (
        "sow D1 --from F2 --species leek --seeds 2 --spot sill --at \"2026-03-05 09:00\"",
        "box 'D1' holds leek, and 'F2', which its seeds came out of, primrose\n  nothing was recorded\n",
    ),
    (
        "sow D1 --from F2 --seeds 2 --spot sill --at \"2026-01-01 09:00\"",
        "box 'D1' was taken out of 'F2' on 2026-01-01 09:00: that must come after 'F2' was sown, on 2026-01-03 10:00\n  nothing was \
         recorded\n",
    ),
    (
        "sow D1 --species leek --seeds-low 80 --seeds-high 50 --spot sill --at \"2026-03-05 09:00\"",
        "box 'D1' is said to have seeds_low 80, seeds_high 50: these never fall\n  nothing was recorded\n",
    ),
    (
        "sow D1 --species leek --depth 400 --spot sill --at \"2026-03-05 09:00\"",
        "400 mm is out of range: the depth of sowing lies from 0 to 300 mm\n  nothing was recorded\n",
    ),
    (
        "sow D1 D2 --species leek --box \"red lid\" --spot sill",
        "one lid, 'red lid', cannot lie on 2 boxes\n  nothing was recorded\n",
    ),
    (
        "sow D1 --species leek --box \"blue lid\" --spot sill --at \"2026-03-09 09:00\"",
        "box 'blue lid' cannot hold 'D1' from 2026-03-09 09:00 on: it holds 'A3' without an end\n  nothing was recorded\n",
    ),
    (
        "sow D1 A3 --species leek --seeds 20 --spot sill --at \"2026-03-09 09:00\"",
        "box 'A3' is known already, with other values: sown 2026-03-01 18:00, here 2026-03-09 09:00; box blue lid, here none\n  \
         nothing was recorded\n",
    ),
    // check
    ("check A3", "how many are new since the last look? Write the box, then a number or none, as in `seedclock check A3 2`\n"),
    ("check A3 two", "how many are new since the last look? Write the box, then a number or none, as in `seedclock check A3 2`\n"),
    (
        "check A3 B1 2 --at \"2026-03-09 08:00\"",
        "of several boxes at once only `none` can be said\n  nothing was recorded; next: one command a box\n",
    ),
    (
        "check A3 --total 6 --at \"2026-03-09 08:00\"",
        "6 sprouts in total in box 'A3', where 7 had been counted before: a total never falls\n  nothing was recorded\n",
    ),
    ("check --spot attic --rest none", "there is no spot 'attic' on this bench\n  nothing was recorded\n"),
    ("check --spot sill --rest none --at \"2026-02-01 08:00\"", "no box stands at 'sill'\n  nothing was recorded\n"),
    (
        "check A5 none --at \"2026-03-22 08:00\"",
        "box 'A5' ended on 2026-03-20 08:00: a check on 2026-03-22 08:00 comes after that\n  nothing was recorded; next: `seedclock \
         reopen A5`, then check it\n",
    ),
    (
        "check A5 21 --at \"2026-03-22 08:00\"",
        "21 sprouts in box 'A5', which holds 20 seeds\n  nothing was recorded; next: give only what is new since the last look; 0 \
         had sprouted by then\n",
    ),
    ("check B1 --undo", "nobody has looked at box 'B1' yet: there is no look to take back\n  nothing was taken back\n"),
    (
        "check A3 --undo --at \"2026-03-07 09:00\"",
        "there is nothing to take back: there is no check of box 'A3' on 2026-03-07 09:00\n  nothing was taken back\n",
    ),
    ("check A3 3 --undo", "the look at box 'A3' on 2026-03-07 08:00 found 2 new, not 3\n  nothing was taken back\n"),
    (
        "check A3 --undo --at \"2026-03-06 08:00\"",
        "6 potted on and 0 died in box 'A3', where only 2 had sprouted by then; the check on 2026-03-07 08:00 is in the way\n  \
         nothing was taken back; next: `seedclock correct check A3 --at \"2026-03-07 08:00\"` first\n",
    ),
    // correct
    (
        "correct check A3 --at \"2026-03-06 08:00\" --sprouted 3",
        "6 potted on and 0 died in box 'A3', where only 5 had sprouted by then; the check on 2026-03-07 08:00 is in the way\n  \
         nothing was recorded; next: `seedclock correct check A3 --at \"2026-03-07 08:00\"` first\n",
    ),
    (
        "correct check A3 --at \"2026-03-06 08:00\" --time \"2026-02-06 08:00\"",
        "2 things are wrong\n  box 'A3' was sown on 2026-03-01 18:00: a check on 2026-02-06 08:00 comes before that\n  6 potted on \
         and 0 died in box 'A3', where only 2 had sprouted by then; the check on 2026-03-07 08:00 is in the way\n  nothing was \
         recorded\n",
    ),
    (
        "correct check A3 --at \"2026-03-06 08:00\" --time \"2026-03-07 08:00\"",
        "the look at A3 on 2026-03-07 08:00 is on record already: two cannot be of one time\n  nothing was recorded\n",
    ),
    (
        "correct check A3 --at \"2026-03-06 09:00\" --sprouted 3",
        "there is nothing to correct: there is no check of box 'A3' on 2026-03-06 09:00\n  nothing was recorded\n",
    ),
    ("correct check A3 --sprouted 2", "the look at A3 on 2026-03-07 08:00 says so already\n  nothing was recorded\n"),
    (
        "correct box A3 --seeds 6",
        "7 sprouts in box 'A3', which holds 6 seeds; the check on 2026-03-07 08:00 is in the way\n  nothing was recorded; next: \
         `seedclock correct check A3 --at \"2026-03-07 08:00\"` first\n",
    ),
    (
        "correct box F2 --seeds 39",
        "40 seeds taken out of box 'F2' on 2026-03-04 09:00, where 39 of 39 were left; box 'B1', sown out of it, is in the way\n  \
         nothing was recorded\n",
    ),
    (
        "correct box A3 --sown \"2026-03-06 09:00\"",
        "box 'A3' was sown on 2026-03-06 09:00, and something is on record of it for 2026-03-06 08:00, before that\n  nothing was \
         recorded\n",
    ),
    ("correct move B1 --spot fridge", "box 'B1' was never moved: there is no move to correct\n  nothing was recorded\n"),
    ("correct probe p9 --spot sill", "probe 'p9' was never placed: there is nothing to correct\n  nothing was recorded\n"),
    // undo
    ("undo plan A3", "no move of box 'A3' is planned\n  nothing was taken back\n"),
    ("undo box F2", "box 'F2' cannot be taken back: on record of it are 1 box sown out of it\n  nothing was taken back\n"),
    ("undo box A3", "box 'A3' cannot be taken back: on record of it are 2 checks, 1 move\n  nothing was taken back\n"),
    ("undo lot none", "there is nothing to take back: no lot 'none' is on record\n  nothing was taken back\n"),
    // close, reopen, move
    (
        "close A5 --at \"2026-03-21 08:00\"",
        "box 'A5' is closed already, since 2026-03-20 08:00\n  nothing was recorded; next: `seedclock correct box A5 --closed TIME`, \
         or `seedclock reopen A5`\n",
    ),
    (
        "close A3 --at \"2026-03-06 09:00\"",
        "box 'A3' ended on 2026-03-06 09:00, and a check is on record for 2026-03-07 08:00, after that\n  nothing was recorded\n",
    ),
    ("close A9", "there is no box 'A9' on this bench\n  nothing was recorded\n"),
    (
        "move A3 A5 attic --at \"2026-03-10 08:00\"",
        "there is no spot 'attic': a box can only be moved to a spot that exists; `sow --spot` and `probe place` make new ones\n  \
         nothing was recorded\n",
    ),
    (
        "move A3 sill --planned --at \"2026-03-10 08:00\"",
        "2026-03-10 08:00 has passed: a planned move lies in the future\n  next: leave --planned out if it was made then\n",
    ),
    // probes
    (
        "probe calibrate p9 --ice 0.4 --since \"2026-03-10 08:00\"",
        "probe 'p9' stands nowhere on 2026-03-10 08:00\n  nothing was recorded; next: `seedclock probe place p9 SPOT`\n",
    ),
    (
        "probe calibrate p1 --ice 14 --since \"2026-03-10 08:00\"",
        "-14 °C is out of range: a calibration offset lies from -10 to 10 °C\n  nothing was recorded\n",
    ),
    (
        "probe calibrate p1 --point 20=20.5 --point 24=24.4",
        "the two points lie less than 5 °C apart: a factor worked out from them would be chance\n  nothing was recorded\n",
    ),
    (
        "probe calibrate p1 --ice 0 --point 20=20.5 --point 30=30.4",
        "3 points are given: one gives the offset, two give the factor too\n  nothing was recorded\n",
    ),
    ("probe name p9 north", "there is no probe 'p9' on this bench\n  nothing was recorded\n"),
    ("probe name p1 west", "there is a probe 'west' already: each has its own name\n  nothing was recorded\n"),
    (
        "probe name p1 p2",
        "'p2' is what the board of probe 'west' calls it: another probe cannot have that name\n  nothing was recorded\n",
    ),
    (
        "probe place p2 sill",
        "'p2' is what its board calls probe 'west'\n  nothing was recorded; next: `seedclock probe place west …`\n",
    ),
    ("doubt p9 --from \"2026-03-10 08:00\"", "there is no probe 'p9' on this bench\n  nothing was recorded\n"),
    (
        "doubt p1 --from \"2026-03-10 08:00\" --to \"2026-03-09 08:00\"",
        "probe 'p1' is doubted from 2026-03-10 08:00 to 2026-03-09 08:00: the end comes before the beginning\n  nothing was recorded\n",
    ),
    // spots, lots, settings
    ("spot sill --set 158F", "70 °C is out of range: a set temperature lies from -20 to 60 °C\n  nothing was recorded\n"),
    ("spot sill --sd 2", "of spot 'sill' no temperature is set that --sd could be about\n  nothing was recorded\n"),
    ("lot own --packet-days 10-14", "lot 'own' is new: say which plant it is, with --species\n  nothing was recorded\n"),
    (
        "lot own --species leek --packet-days 14-10",
        "the packet's days of lot 'own' run from 14 to 10: the lower comes first\n  nothing was recorded\n",
    ),
    (
        "lot own --species leek --packet-percent 120",
        "120 % is out of range: a share lies from 0 to 100 %\n  nothing was recorded\n",
    ),
    (
        "set colour green",
        "there is no setting 'colour'\n  nothing was recorded; next: the settings are zone, units, too-hot, freezing, alarm-after, \
         look-every, quiet-hours, quiet-urgent, no-alarm\n",
    ),
    ("set too-hot 90C", "90 °C is out of range: what is too hot for seeds lies from 15 to 60 °C\n  nothing was recorded\n"),
    ("set quiet-hours 22", "'22' cannot be meant: write from when to when, as in 22:00-07:00, or none\n  nothing was recorded\n"),
    ("spot sill --too-hot 5", "5 °C is out of range: what is too hot for seeds lies from 15 to 60 °C\n  nothing was recorded\n"),
    (
        "set zone Berlin",
        "'Berlin' is no zone that is known\n  nothing was recorded; next: write it as in Europe/Dublin or America/Chicago\n",
    ),
    ("set units kelvin", "'kelvin' are no units that are known\n  nothing was recorded; next: write celsius or fahrenheit\n"),
];

#[test]
fn each_bad_line_has_its_complaint_and_changes_nothing() {
    let desk = desk();
    desk.says(&["export", "before"]);
    let mut wrong = Vec::new();
    for (line, complaint) in REFUSALS {
        let answer = desk.run(&words_of(line).iter().map(String::as_str).collect::<Vec<_>>());
        let expected = format!("seedclock: {complaint}");
        if (answer.code, answer.out.as_str(), answer.err.as_str()) != (2, "", expected.as_str()) {
            wrong.push(format!("{line}\n  said     {answer:?}\n  expected {expected:?}"));
        }
    }
    assert!(wrong.is_empty(), "{} of {}:\n{}", wrong.len(), REFUSALS.len(), wrong.join("\n"));
    desk.says(&["export", "after"]);
    assert_eq!(desk.files("before"), desk.files("after"));
}

/// What cannot be understood at all is refused before the bench is opened; each line says what should have been written.
#[test]
fn lines_that_cannot_be_understood_say_what_to_write() {
    let desk = desk();
    for (line, says) in [
        ("spot sill --set warm", "'warm' is no temperature: write 21, 21C or 70F"),
        ("lot own --species leek --packet-c 21,5", "'21,5' is no temperature: write it with a decimal point, as in 21.5"),
        ("lot own --species leek --packet-days ten", "write days as in 10-14, or 10"),
        ("probe calibrate p1 --point 20", "write what it shows = what is true, as in 25.4=25.0"),
        ("probe calibrate p1", "the following required arguments were not provided:"),
        ("spot sill --day 20", "--night <DEGREES>"),
        ("spot sill --set 20 --day 20 --night 16", "cannot be used with"),
        ("spot sill --kind cellar", "write indoors, fridge or outdoors"),
        ("check --spot sill", "--rest <none>"),
        ("check --spot sill --rest 3", "[possible values: none]"),
        ("correct box A3 --seeds many", "write a whole number, or none"),
        ("sow D1 --spot sill", "--species <SPECIES>"),
        ("move A3 sill --planned", "--at <TIME>"),
        ("set zone", "<VALUE>"),
    ] {
        let answer = desk.run(&words_of(line).iter().map(String::as_str).collect::<Vec<_>>());
        assert!(answer.code == 2 && answer.err.contains(says), "{line} said {}", answer.err);
    }
}
