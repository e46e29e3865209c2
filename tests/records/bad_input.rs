//! Bad folders: for each the whole complaint, exit code 2, and nothing kept.

use super::Desk;
use super::bad_columns::COLUMNS;

const CONTAINERS: &str = "container,batch,species,lot,treatment,seeds,sown,spot\n\
                          A1,b,leek,,,20,2026-03-01 18:00,sill\nA2,b,leek,,,20,2026-03-01 18:00,sill\n";
const CHECKS: &str = "container,time,sprouted\nA1,2026-03-05 08:00,3\nA1,2026-03-06 08:00,4\n";
const PROBES: &str = "probe,spot,since\np1,sill,2026-02-01 08:00\n";
const MOVES: &str = "container,time,spot\nA1,2026-03-04 08:00,sill\n";
const READINGS: &str = "time,probe,celsius\n2026-03-01T00:00:00Z,p1,18.5\n";

/// One file of a sound folder replaced (none: taken away), and the complaint.
pub(super) struct Case {
    file: &'static str,
    bytes: Option<&'static [u8]>,
    complaint: &'static str,
}

pub(super) const fn case(file: &'static str, bytes: &'static [u8], complaint: &'static str) -> Case {
    Case { file, bytes: Some(bytes), complaint }
}

const CASES: &[Case] = &[
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-05 08:00,3\nA1,2026-03-06 08:00,22\nA1,2026-03-07 08:00,1\n",
        "checks.csv:3: 25 sprouts in container 'A1', which holds 20 seeds\n  nothing was imported; next: correct line 3, or the \
         number of seeds in containers.csv:2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted,removed,lost\nA1,2026-03-05 08:00,12,5,4\n",
        "checks.csv:2: 12 sprouts, 5 removed, 4 lost, together 21, in container 'A1', which holds 20 seeds\n  nothing was imported; \
         next: correct line 2, or the number of seeds in containers.csv:2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted,potted_on,died\nA1,2026-03-05 08:00,3,2,2\n",
        "checks.csv:2: 2 potted on and 2 died in container 'A1', where only 3 had sprouted by then\n  nothing was imported; next: \
         correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted,colour\nA1,2026-03-05 08:00,3,green\n",
        "checks.csv:1: unknown column 'colour': the columns of checks.csv are container, time, sprouted, sprouted_total, removed, \
         lost, potted_on, died, condition, note\n  nothing was imported; next: correct line 1\n",
    ),
    case(
        "checks.csv",
        b"container,time,time,sprouted\nA1,2026-03-05 08:00,2026-03-05 08:00,3\n",
        "checks.csv:1: the column 'time' stands there twice\n  nothing was imported; next: correct line 1\n",
    ),
    case(
        "checks.csv",
        b"container,time\nA1,2026-03-05 08:00\n",
        "checks.csv:1: a column 'sprouted' (new since the last check) or 'sprouted_total' must be there, and not both\n  nothing \
         was imported; next: correct line 1\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,spot\nA1,b,leek,,,20,sill\n",
        "containers.csv:1: the column is missing: sown\n  nothing was imported; next: correct line 1\n",
    ),
    Case {
        file: "checks.csv",
        bytes: None,
        complaint: "checks.csv: the file is missing: a bench folder has containers.csv, checks.csv and probes.csv\n  nothing was \
                    imported\n",
    },
    case(
        "chekcs.csv",
        b"",
        "chekcs.csv: unknown file: the tables of a bench folder are containers.csv, checks.csv, probes.csv, spots.csv, moves.csv, \
         lots.csv, doubts.csv, limits.csv, away.csv, bench.csv, readings.csv and readings-*.csv\n  nothing was imported\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nB9,2026-03-05 08:00,3\n",
        "checks.csv:2: there is no container 'B9': neither containers.csv nor the bench names it\n  nothing was imported; next: \
         correct line 2\n",
    ),
    case(
        "moves.csv",
        b"container,time,spot\nA1,2026-03-04 08:00,attic\n",
        "moves.csv:2: there is no spot 'attic': neither probes.csv, spots.csv or containers.csv nor the bench names it\n  nothing \
         was imported; next: correct line 2\n",
    ),
    case(
        "moves.csv",
        b"container,time,spot\nA1,2026-02-04 08:00,sill\n",
        "moves.csv:2: container 'A1' was sown on 2026-03-01 18:00: a move on 2026-02-04 08:00 comes before that\n  nothing was \
         imported; next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-02-28 08:00,0\n",
        "checks.csv:2: container 'A1' was sown on 2026-03-01 18:00: a check on 2026-02-28 08:00 comes before that\n  nothing was \
         imported; next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-06 08:00,4\nA2,2026-03-04 08:00,0\nA1,2026-03-05 08:00,2\n",
        "checks.csv:4: the check of container 'A1' on 2026-03-05 08:00 stands below the one on 2026-03-06 08:00: checks go on in \
         time\n  nothing was imported; next: correct line 4\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted_total\nA1,2026-03-05 08:00,4\nA1,2026-03-06 08:00,3\n",
        "checks.csv:3: 3 sprouts in total in container 'A1', where 4 had been counted before: a total never falls\n  nothing was \
         imported; next: correct line 3\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-05 08:00,NaN\n",
        "checks.csv:2: sprouted: 'NaN' is not a whole number from 0 up\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-05 08:00,\n",
        "checks.csv:2: the number of sprouts is empty: write 0 for none new\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-29 02:30,1\n",
        "checks.csv:2: time: 2026-03-29 02:30 did not exist in Europe/Berlin: the clocks jumped over it\n  nothing was imported; \
         next: correct line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2100-03-05 08:00,1\n",
        "checks.csv:2: the check of container 'A1', 2100-03-05 08:00, lies in the future\n  nothing was imported; next: correct \
         line 2\n",
    ),
    case(
        "checks.csv",
        b"container,time,sprouted\nA1,2026-03-05 08:00,3\n\xE4\xF6,2026-03-06 08:00,3\n",
        "checks.csv:3: byte E4 (hexadecimal) is not text: bench folders are written in UTF-8\n  nothing was imported; next: correct \
         line 3\n",
    ),
    case(
        "checks.csv",
        b"",
        "checks.csv:1: the file is empty: its first line names the columns container, time\n  nothing was imported; next: correct \
         line 1\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,ended\nA1,b,leek,,,20,2026-03-01 18:00,sill,2026-03-05 12:00\n",
        "checks.csv:3: container 'A1' ended on 2026-03-05 12:00: a check on 2026-03-06 08:00 comes after that\n  nothing was \
         imported; next: correct line 3\n",
    ),
    case(
        "containers.csv",
        b"container,batch,species,lot,treatment,seeds,sown,spot,ended\nA1,b,leek,,,0,2026-03-01 18:00,sill,2026-02-05 12:00\n",
        "2 things are wrong\n  containers.csv:2: 0 is out of range: the number of seeds in one box lies from 1 to 100000\n  \
         containers.csv:2: container 'A1' ended on 2026-02-05 12:00, before it was sown on 2026-03-01 18:00\n  nothing was \
         imported\n",
    ),
    case(
        "probes.csv",
        b"probe,spot,since,offset_c\np1,sill,2026-02-01 08:00,0.1\np1,mat,2026-02-01 08:00,0.1\n",
        "probes.csv:3: probe 'p1' is known already from 2026-02-01 08:00 on, with other values: spot sill, here mat\n  nothing was \
         imported; next: correct line 3\n",
    ),
    case(
        "probes.csv",
        b"probe,spot,since,offset_c,gain,siting\np1,sill,2026-02-01 08:00,15,1,in\np2,sill,2026-02-01 08:00,0,1,under\n",
        "2 things are wrong\n  probes.csv:3: siting: 'under' is none of in, beside, room\n  probes.csv:2: 15 \u{b0}C is out of \
         range: a calibration offset lies from -10 to 10 \u{b0}C\n  nothing was imported\n",
    ),
    case(
        "spots.csv",
        b"spot,set_c,set_sd_c\nsill,,2\n",
        "spots.csv:2: set_sd_c is 2 but set_c is empty: the uncertainty of a set temperature needs the temperature\n  nothing was \
         imported; next: correct line 2\n",
    ),
    case(
        "bench.csv",
        b"key,value\nzone,Europe/Atlantis\n",
        "bench.csv:2: value: 'Europe/Atlantis' is no zone of the IANA time zone database: write for example Europe/Berlin\n  \
         nothing was imported; next: correct line 2\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,NaN\n",
        "readings.csv:2: celsius: 'NaN' is not a number\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,21,5\n",
        "readings.csv:2: 4 cells where the header names 3 columns; a decimal comma makes two cells of one number: write numbers \
         with a decimal point\n  nothing was imported; next: correct line 2\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,\"21,5\"\n2026-03-01T00:01:00Z,p1,-2000\n2026-03-01T00:02:00Z,p1,\n",
        "3 things are wrong\n  readings.csv:2: celsius: '21,5' has a comma: write numbers with a decimal point\n  readings.csv:3: \
         celsius: -2000 \u{b0}C is no reading: readings lie from -1000 to 1000 \u{b0}C\n  readings.csv:4: celsius is empty\n  \
         nothing was imported\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius\n2026-03-01T00:00:00Z,p1,18\n2026-03-01T00:00:00Z,p1,19\n",
        "readings.csv:3: probe 'p1' cannot read 19 \u{b0}C here and 18 \u{b0}C in readings.csv:2, both at one time\n  nothing was \
         imported; next: correct line 3\n",
    ),
    case(
        "readings.csv",
        b"time,probe,celsius\n2126-03-01T00:00:00Z,p1,18\n",
        "readings.csv:2: the last reading of probe 'p1', 2126-03-01 01:00, lies in the future\n  nothing was imported; next: \
         correct line 2\n",
    ),
];

fn sound(desk: &Desk) {
    desk.write_folder(
        "in",
        &[
            ("containers.csv", CONTAINERS.as_bytes()),
            ("checks.csv", CHECKS.as_bytes()),
            ("probes.csv", PROBES.as_bytes()),
            ("moves.csv", MOVES.as_bytes()),
            ("readings.csv", READINGS.as_bytes()),
        ],
    );
}

#[test]
fn the_sound_folder_is_imported() {
    let desk = Desk::new();
    sound(&desk);
    assert_eq!(desk.says(&["import", "in"]), "imported 2 boxes, 2 checks, 1 move, 1 spot, 1 placing of a probe, 1 reading\n");
}

#[test]
fn each_bad_folder_is_refused_whole_with_file_line_value_and_rule() {
    for Case { file, bytes, complaint } in CASES.iter().chain(COLUMNS) {
        let desk = Desk::new();
        sound(&desk);
        match bytes {
            Some(bytes) => std::fs::write(desk.path("in").join(file), bytes).unwrap(),
            None => std::fs::remove_file(desk.path("in").join(file)).unwrap(),
        }
        let answer = desk.run(&["import", "in"]);
        assert_eq!((answer.code, answer.out.as_str()), (2, ""), "{file}: {answer:?}");
        assert_eq!(answer.err, format!("seedclock: {complaint}"));
        assert!(!desk.bench().exists(), "{complaint}: no bench is begun for it");
    }
}

#[test]
fn a_bench_that_exists_keeps_what_it_had() {
    let desk = Desk::new();
    sound(&desk);
    desk.says(&["import", "in"]);
    desk.says(&["export", "before"]);
    for Case { file, bytes, .. } in CASES.iter().chain(COLUMNS) {
        sound(&desk);
        match bytes {
            Some(bytes) => std::fs::write(desk.path("in").join(file), bytes).unwrap(),
            None => std::fs::remove_file(desk.path("in").join(file)).unwrap(),
        }
        // Something new beside the fault, which must not get in either.
        let readings = desk.path("in").join("readings-more.csv");
        std::fs::write(&readings, "time,probe,celsius\n2026-03-02T00:00:00Z,p7,18.5\n").unwrap();
        assert_eq!(desk.run(&["import", "in"]).code, 2);
        std::fs::remove_dir_all(desk.path("in")).unwrap();
    }
    desk.says(&["export", "after"]);
    assert_eq!(desk.files("before"), desk.files("after"));
}

#[test]
fn a_folder_that_contradicts_the_bench_is_refused() {
    let desk = Desk::new();
    sound(&desk);
    desk.says(&["import", "in"]);
    let containers = CONTAINERS.replace("A2,b,leek,,,20", "A2,b,leek,own,,25");
    desk.write_folder("in", &[("containers.csv", containers.as_bytes()), ("bench.csv", b"key,value\nzone,Europe/Dublin\n")]);
    assert_eq!(
        desk.run(&["import", "in"]).err,
        "seedclock: bench.csv:2: the zone Europe/Dublin is not that of the bench, which is Europe/Berlin\n  nothing was imported; \
         next: correct line 2\n"
    );
    std::fs::remove_file(desk.path("in").join("bench.csv")).unwrap();
    assert_eq!(
        desk.run(&["import", "in"]).err,
        "seedclock: containers.csv:3: container 'A2' is known already, with other values: lot none, here own; seeds 20, here 25\n  \
         nothing was imported; next: correct line 3\n"
    );
}

#[test]
fn a_folder_that_is_not_there_is_named() {
    let desk = Desk::new();
    let answer = desk.run(&["import", "nowhere"]);
    assert_eq!(
        (answer.code, answer.err.as_str()),
        (2, "seedclock: cannot read the bench folder nowhere: No such file or directory (os error 2)\n")
    );
}
