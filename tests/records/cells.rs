//! Cells and lines of hand-made folders: what other programs write is read, and lines are counted as an editor counts them.

use super::Desk;

const CONTAINERS: &str = "container,batch,species,lot,treatment,seeds,sown,spot\n";

#[test]
fn what_spreadsheets_write_is_read() {
    let desk = Desk::new();
    // A byte order mark, Windows line ends, a note over two lines, blank cells, spaces round a name, columns in another order.
    let containers = "\u{FEFF}spot,container,batch,species,lot,treatment,seeds,sown\r\nsill, A3 ,b,leek,,,20,2026-03-01 18:00\r\n";
    let checks =
        "container,time,sprouted_total,note\r\nA3,2026-03-03 08:00,2,\"dry,\nwatered\"\r\n\r\nA3,2026-03-04 08:00,5,'=odd\r\n";
    desk.write_folder(
        "in",
        &[
            ("containers.csv", containers.as_bytes()),
            ("checks.csv", checks.as_bytes()),
            ("probes.csv", b"probe,spot,since\n"),
            ("spots.csv", b"spot,set_c\nsill,18\n"),
            ("notes.txt", b"none of ours"),
        ],
    );
    assert_eq!(desk.says(&["import", "in"]), "imported 1 box, 2 checks, 1 spot\n");
    desk.says(&["export", "out"]);
    let text = |file: &str| String::from_utf8(std::fs::read(desk.path("out").join(file)).unwrap()).unwrap();
    assert_eq!(
        text("checks.csv"),
        "container,time,sprouted,removed,lost,potted_on,died,condition,note\n\
         A3,2026-03-03T07:00:00Z,2,0,0,0,0,,\"dry,\nwatered\"\nA3,2026-03-04T07:00:00Z,3,0,0,0,0,,'=odd\n"
    );
    assert_eq!(
        text("spots.csv"),
        "spot,kind,since,set_c,set_sd_c,day_c,night_c,capacity,changed,note,too_hot_c\nsill,indoors,,18,0,,,,,,\n"
    );
    assert_eq!(desk.says(&["import", "in"]), "imported nothing new; 4 rows were on record already\n");
}

/// RFC 4180, section 2 (https://www.rfc-editor.org/rfc/rfc4180): lines end in CR LF, the last one need not (rules 1, 2); fields may be
/// quoted (5), must be where they hold commas, line breaks or quotes (6), and quotes within are doubled (7).
#[test]
fn quoted_fields_are_read_as_rfc_4180_has_them() {
    let desk = Desk::new();
    let containers = "\"container\",\"batch\",species,lot,treatment,seeds,sown,spot\r\n\"A, first\",\"the \"\"spring\"\" one\",leek,,,20,2026-03-01 18:00,\"sill\"";
    let checks = "container,time,sprouted,note\r\n\"A, first\",2026-03-03 08:00,2,\"said \"\"dry\"\",\r\nthen watered\"";
    desk.write_folder(
        "in",
        &[("containers.csv", containers.as_bytes()), ("checks.csv", checks.as_bytes()), ("probes.csv", b"probe,spot,since\n")],
    );
    assert_eq!(desk.says(&["import", "in"]), "imported 1 box, 1 check, 1 spot\n");
    desk.says(&["export", "out"]);
    let text = |file: &str| String::from_utf8(std::fs::read(desk.path("out").join(file)).unwrap()).unwrap();
    assert!(text("containers.csv").contains("\n\"A, first\",\"the \"\"spring\"\" one\",leek,"), "{}", text("containers.csv"));
    assert!(text("checks.csv").contains("\"said \"\"dry\"\",\r\nthen watered\""), "{}", text("checks.csv"));
}

#[test]
fn lines_are_counted_as_an_editor_counts_them() {
    for end in ["\n", "\r\n"] {
        let desk = Desk::new();
        let containers = format!("{CONTAINERS}A3,b,leek,,,20,2026-03-01 18:00,sill\n");
        let checks =
            ["container,time,sprouted,note", "A3,2026-03-03 08:00,0,\"two", "lines\"", "", "A3,2026-03-04 08:00,x,"].join(end);
        desk.write_folder(
            "in",
            &[("containers.csv", containers.as_bytes()), ("checks.csv", checks.as_bytes()), ("probes.csv", b"probe,spot,since\n")],
        );
        assert_eq!(
            desk.run(&["import", "in"]).err,
            "seedclock: checks.csv:5: sprouted: 'x' is not a whole number from 0 up\n  nothing was imported; next: correct line 5\n"
        );
    }
}

#[test]
fn a_local_time_that_came_twice_is_the_first_and_noted() {
    let desk = Desk::new();
    let containers = format!("{CONTAINERS}A3,b,leek,,,20,2025-10-26 02:30,sill\n");
    desk.write_folder(
        "in",
        &[
            ("containers.csv", containers.as_bytes()),
            ("checks.csv", b"container,time,sprouted\n"),
            ("probes.csv", b"probe,spot,since\n"),
        ],
    );
    let answer = desk.run(&["import", "in"]);
    assert_eq!(answer.code, 0);
    assert_eq!(answer.err, "seedclock: note: containers.csv:2: 2025-10-26 02:30 came twice in Europe/Berlin; the first is taken\n");
}

#[test]
fn readings_are_kept_raw_and_once() {
    let desk = Desk::new();
    let readings = "time,probe,celsius,proof\n2026-03-01T00:01:00Z,p1,85,power-on\n2026-03-01T00:00:00Z,p1,21.0625,\n\
                    2026-03-01T00:02:00Z,p1,-127,disconnected\n2026-03-01T00:03:00Z,p1,,not-a-number\n2026-03-01T00:00:00Z,p1,21.0625,\n";
    desk.write_folder(
        "in",
        &[
            ("containers.csv", CONTAINERS.as_bytes()),
            ("checks.csv", b"container,time,sprouted\n"),
            ("probes.csv", b"probe,spot,since\n"),
            ("readings-march.csv", readings.as_bytes()),
        ],
    );
    assert_eq!(desk.says(&["import", "in"]), "imported 4 readings\n");
    desk.says(&["export", "out"]);
    assert_eq!(
        std::fs::read_to_string(desk.path("out").join("readings.csv")).unwrap(),
        "time,probe,celsius,proof\n2026-03-01T00:00:00Z,p1,21.0625,\n2026-03-01T00:01:00Z,p1,85,power-on\n\
         2026-03-01T00:02:00Z,p1,-127,disconnected\n2026-03-01T00:03:00Z,p1,,not-a-number\n"
    );
    std::fs::write(desk.path("in").join("readings-march.csv"), "time,probe,celsius\n2026-03-01T00:00:00Z,p1,21.5\n").unwrap();
    assert_eq!(
        desk.run(&["import", "in"]).err,
        "seedclock: readings-march.csv:2: probe 'p1' cannot read 21.5 °C here and 21.0625 °C on record, both at one time\n  \
         nothing was imported; next: correct line 2\n"
    );
}

#[test]
fn an_export_does_not_mix_with_foreign_tables() {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--spot", "sill"]);
    desk.write_folder("out", &[("readings-2024.csv", b"time,probe,celsius\n")]);
    let answer = desk.run(&["export", "out"]);
    assert_eq!(
        (answer.code, answer.err.as_str()),
        (
            2,
            "seedclock: out holds readings-2024.csv, which an export does not write: nothing was written\n  next: name a new folder\n"
        )
    );
    assert_eq!(desk.files("out").len(), 1);
}

#[test]
fn markup_formulas_and_odd_letters_are_names_like_others() {
    let desk = Desk::new();
    let containers = format!("{CONTAINERS}<b>A3</b>,b & c,\"leek \"\"long\"\"\",'=HYPERLINK(1),,20,2026-03-01 18:00,../sill\n");
    desk.write_folder(
        "in",
        &[
            ("containers.csv", containers.as_bytes()),
            ("checks.csv", b"container,time,sprouted\n"),
            ("probes.csv", b"probe,spot,since\np1,../sill,2026-02-01 08:00\np2,../sill,2026-02-01 08:00\n"),
        ],
    );
    let imported = desk.says(&["import", "in"]);
    assert_eq!(imported, "imported 1 box, 1 spot, 2 placings of probes\n", "two probes may stand at one spot");
    desk.says(&["export", "out"]);
    let written = std::fs::read_to_string(desk.path("out").join("containers.csv")).unwrap();
    let row = "<b>A3</b>,b & c,\"leek \"\"long\"\"\",'=HYPERLINK(1),,20,2026-03-01T17:00:00Z,../sill,,,radicle,,,,,";
    assert_eq!(written.lines().nth(1), Some(row));
    let mut made: Vec<String> =
        std::fs::read_dir(desk.path("")).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    made.sort();
    assert_eq!(made, ["bench.db", "in", "out"], "a name is never a path");
}

#[test]
fn moves_may_stand_in_any_order_but_not_lead_to_two_spots_at_once() {
    let desk = Desk::new();
    let containers = format!("{CONTAINERS}A3,b,leek,,,20,2026-03-01 18:00,sill\nA4,b,leek,,,20,2026-03-01 18:00,mat\n");
    let moves = "container,time,spot\nA3,2026-03-06 08:00,sill\nA3,2026-03-04 08:00,mat\nA3,2026-03-05 08:00,sill\n\
                 A3,2026-03-05 08:00,sill\n";
    let folder: [(&str, &[u8]); 4] = [
        ("containers.csv", containers.as_bytes()),
        ("checks.csv", b"container,time,sprouted\n"),
        ("probes.csv", b"probe,spot,since\n"),
        ("moves.csv", moves.as_bytes()),
    ];
    desk.write_folder("in", &folder);
    assert_eq!(desk.says(&["import", "in"]), "imported 2 boxes, 3 moves, 2 spots; 1 row was on record already\n");
    desk.write_folder("in", &[("moves.csv", format!("{moves}A3,2026-03-05 08:00,mat\n").as_bytes())]);
    assert_eq!(
        desk.run(&["import", "in"]).err,
        "seedclock: moves.csv:6: the move of container 'A3' on 2026-03-05 08:00 is known already, with other values: spot sill, here \
         mat\n  nothing was imported; next: correct line 6\n"
    );
}
