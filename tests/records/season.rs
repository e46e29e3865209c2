//! The daily commands, told as seasons.

use std::fmt::Write as _;

use chrono::{DateTime, Duration, Timelike};

use super::Desk;
use crate::readme::words_of;

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

/// Sowings of two plants over one winter and spring, as one would type them.
const SEASON: &str = r#"
sow F2 --species primrose --seeds 54 --spot fridge --lot "garden 2024" --at "2024-12-14 10:00"
lot "garden 2024" --species primrose --source "own garden, north bed" --chill-days 60 --light needed
spot fridge --kind fridge --set 4 --sd 1 --capacity 6
status --as-of "2025-01-20 08:30"
check F2 none --condition "a little mould" --at "2025-01-20 09:00"
probe place p7 shelf --since "2025-02-01 09:00"
probe place p8 mat --since "2025-02-01 09:00" --siting in
probe calibrate p7 --ice 0.3 --since "2025-02-01 10:00"
probe name p7 white
probe name p8 black
lot "leek packet" --species leek --packet-days 10-14 --packet-c 68F --packet-percent 85
sow L1 L2 --species leek --seeds 20 --spot shelf --depth 8 --at "2025-02-10 18:00"
correct box L1 --lot "leek packet" --seeds 22
sow L3 --like L1 --at "2025-02-10 18:20"
sow B1..B3 --from F2 --seeds 18 --spot shelf --treatment "63 d cold moist" --depth 0 --at "2025-02-15 09:00"
import --readings winter.csv --probe-column board
check --spot shelf --rest none --at "2025-02-17 08:00"
check B2 none --removed 2 --condition mould --at "2025-02-19 08:00"
check --spot shelf --rest none --at "2025-02-19 08:10"
move B1 L1 mat --at "2025-02-19 08:20"
check L1 2 --at "2025-02-21 08:00"
check B1 7 --at "2025-02-23 08:00"
check B1 2 --at "2025-02-24 08:00"
correct check B1 --at "2025-02-23 08:00" --sprouted 1
doubt black --from "2025-02-24 07:00" --why "fell out of the box"
status --as-of "2025-02-24 09:00"
doubt black --from "2025-02-24 07:00" --to "2025-02-24 18:00"
check B3 4 --at "2025-02-25 08:00"
undo
check B2 4 --at "2025-02-25 08:00"
check B1 --total 6 --potted-on 5 --at "2025-02-26 08:00"
check L1 9 --at "2025-02-26 08:05"
check --spot shelf --rest none --at "2025-02-26 08:10"
check B2 1 --potted-on 5 --died 0 --at "2025-02-27 08:00"
check B3 none --condition dry --at "2025-02-27 08:01"
move B3 mat --planned --at "2100-03-01 08:00"
undo plan B3
close B3 --at "2025-03-08 08:00"
check B3 1 --at "2025-03-16 08:00"
close B1 B2 B3 L1..L3 --at "2025-03-20 08:00"
status --as-of "2025-03-20 09:00"
"#;

/// Six weeks of two probes, every half hour: a shelf in a room that is cool by night, and a mat.
fn readings() -> String {
    let mut table = "time;board;temperature (°C)\n".to_owned();
    let start = DateTime::parse_from_rfc3339("2025-02-01T09:00:00Z").unwrap();
    for step in 0..45 * 48 {
        let time = start + Duration::minutes(30 * step);
        let warmer_by_day = if (8..20).contains(&time.hour()) { 2.5 } else { -1.5 };
        let _ = writeln!(table, "{};white;{:.2}", time.format("%Y-%m-%d %H:%M:%S"), 16.3 + warmer_by_day);
        let _ = writeln!(table, "{};black;{:.2}", time.format("%Y-%m-%d %H:%M:%S"), 21.0 + 0.4 * warmer_by_day);
    }
    table
}

#[test]
fn a_season_told_through_the_commands_alone() {
    let desk = Desk::new();
    std::fs::write(desk.path("winter.csv"), readings()).unwrap();
    let mut told = String::new();
    for line in SEASON.lines().filter(|line| !line.is_empty()) {
        let words = words_of(line);
        let answer = desk.run(&words.iter().map(String::as_str).collect::<Vec<_>>());
        let _ = write!(told, "$ seedclock {line}\n{}{}", answer.out, answer.err);
        if answer.code != 0 {
            let _ = writeln!(told, "(exit code {})", answer.code);
        }
    }
    insta::assert_snapshot!(told);
    let forecast = desk.says(&["forecast", "--as-of", "2025-02-25 09:00"]);
    assert!(["B1", "B2", "B3"].iter().all(|name| forecast.contains(name)), "{forecast}");
    desk.says(&["export", "out"]);
    let again = Desk::new();
    let out = desk.path("out");
    again.says(&["import", out.to_str().unwrap()]);
    again.says(&["export", "again"]);
    assert!(desk.files("out") == again.files("again"), "the bench comes back from its folder as it went");
}
