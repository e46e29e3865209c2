//! The daily commands, told as a short season.

use super::Desk;

#[test]
fn a_season_is_kept_by_daily_commands() {
    let desk = Desk::new();
    assert_eq!(
        desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 18:00"]),
        "A3: 20 seeds of leek sown on 2026-03-01 18:00 at 'sill', batch 2026-03; 'sill' is a new spot\n"
    );
    assert_eq!(
        desk.says(&["probe", "place", "p1", "mat", "--since", "2026-02-01 08:00", "--offset", "-0.5", "--siting", "in"]),
        "probe p1: in a box at 'mat' from 2026-02-01 08:00 on, true = 1 × shown -0.5 °C; 'mat' is a new spot\n"
    );
    assert_eq!(
        desk.says(&["check", "A3", "none", "--at", "2026-03-04 08:00", "--condition", "dry"]),
        "A3: none new; 0 of 20 have sprouted\n"
    );
    assert_eq!(desk.says(&["move", "A3", "mat", "--at", "2026-03-04 08:10"]), "A3: at 'mat' from 2026-03-04 08:10 on\n");
    assert_eq!(
        desk.says(&["check", "A3", "5", "--removed", "1", "--at", "2026-03-09 08:00"]),
        "A3: 5 new; 5 of 20 have sprouted, 1 removed\n"
    );
    assert_eq!(
        desk.says(&["check", "A3", "2", "--potted-on", "4", "--died", "1", "--lost", "1", "--at", "2026-03-11 08:00"]),
        "A3: 2 new; 7 of 20 have sprouted, 1 removed, 1 lost, 4 potted on, 1 died\n"
    );
    assert_eq!(
        desk.says(&["check", "A3", "2", "--potted-on", "4", "--died", "1", "--lost", "1", "--at", "2026-03-11 08:00"]),
        "A3: 2 new; 7 of 20 have sprouted, 1 removed, 1 lost, 4 potted on, 1 died (on record already)\n"
    );
    desk.says(&["export", "out"]);
    let text = |file: &str| String::from_utf8(std::fs::read(desk.path("out").join(file)).unwrap()).unwrap();
    assert_eq!(
        text("checks.csv"),
        "container,time,sprouted,removed,lost,potted_on,died,condition,note\n\
         A3,2026-03-04T07:00:00Z,0,0,0,0,0,dry,\n\
         A3,2026-03-09T07:00:00Z,5,1,0,0,0,,\n\
         A3,2026-03-11T07:00:00Z,2,0,1,4,1,,\n"
    );
    assert_eq!(
        text("containers.csv"),
        "container,batch,species,lot,treatment,seeds,sown,spot,seeds_low,seeds_high,event,depth_mm,from,box,owner,ended\n\
         A3,2026-03,leek,,,20,2026-03-01T17:00:00Z,sill,,,radicle,,,,,\n"
    );
    assert_eq!(text("moves.csv"), "container,time,spot,planned\nA3,2026-03-04T07:10:00Z,mat,no\n");
    assert_eq!(text("probes.csv"), "probe,spot,since,offset_c,gain,siting\np1,mat,2026-02-01T07:00:00Z,-0.5,1,in\n");
    assert_eq!(text("bench.csv"), "key,value\nzone,Europe/Berlin\n");
    assert_eq!(text("readings.csv"), "time,probe,celsius\n");
}

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
