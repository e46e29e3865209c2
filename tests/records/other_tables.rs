//! Tables of temperatures that other programs wrote.

use super::Desk;

const LOG: &[u8] = b"Attic logger\r\nWhen;In \xB0C;Out \xB0C\r\n14.03.2026 07:30;21,5;3,25\r\n14.03.2026 07:40;21,5;3,5\r\n";

#[test]
fn columns_are_asked_once_and_remembered() {
    let desk = Desk::new();
    desk.write_folder("", &[("march.csv", LOG)]);
    let answer = desk.run(&["import", "--readings", "march.csv"]);
    assert_eq!(
        (answer.code, answer.err.as_str()),
        (
            2,
            "seedclock: march.csv:2: the header does not tell the time and the temperature and the probe: its columns are 1 'When', \
             2 'In °C', 3 'Out °C'\n  nothing was imported; next: add --time-column N --temp-column N --probe NAME or \
             --probe-column N; it is asked only once for tables with this header\n"
        )
    );
    assert!(!desk.bench().exists());
    let told = ["import", "--readings", "march.csv", "--time-column", "1", "--temp-column", "In °C", "--probe", "attic"];
    let answer = desk.run(&told);
    assert_eq!(
        (answer.code, answer.out.as_str(), answer.err.as_str()),
        (
            0,
            "imported 2 readings\n",
            "seedclock: note: march.csv: time from 'When', temperature from 'In °C' in °C, all of probe 'attic'\n"
        )
    );
    let april = String::from_utf8_lossy(LOG).replace("14.03.", "01.04.").replace('\u{FFFD}', "°");
    desk.write_folder("", &[("april.csv", april.as_bytes())]);
    assert_eq!(desk.run(&["import", "--readings", "april.csv"]).out, "imported 2 readings\n", "remembered");
    assert_eq!(desk.run(&["import", "--readings", "march.csv"]).out, "imported nothing new; 2 rows were on record already\n");
    let other = ["import", "--readings", "march.csv", "--temp-column", "3"];
    assert_eq!(
        desk.run(&other).err.lines().next().unwrap(),
        "seedclock: 2 things are wrong",
        "another column for the same probe contradicts what is on record"
    );
    desk.says(&["export", "out"]);
    assert_eq!(
        std::fs::read_to_string(desk.path("out").join("readings.csv")).unwrap(),
        "time,probe,celsius\n2026-03-14T06:30:00Z,attic,21.5\n2026-03-14T06:40:00Z,attic,21.5\n\
         2026-04-01T05:30:00Z,attic,21.5\n2026-04-01T05:40:00Z,attic,21.5\n"
    );
}

#[test]
fn bad_tables_are_refused_whole() {
    let cases: [(&[u8], &[&str], &str); 5] = [
        (b"", &[], "log.csv: this is no table: its lines have only one cell each\n  nothing was imported\n"),
        (
            b"\x7FELF\x02\x01\x01\0\0",
            &[],
            "log.csv: this is no plain text: save the table as CSV in UTF-8\n  nothing was imported\n",
        ),
        (
            b"time,probe,temp\n2026-03-14 07:30,p1,70\n",
            &[],
            "log.csv:1: 1 of 1 readings lie above 45 °C, too warm for seeds: are they in Fahrenheit?\n  nothing was imported; next: \
             add --units fahrenheit if they are, else --units celsius\n",
        ),
        (
            b"time,probe,temp\n3/4/2026 07:30,p1,20\n",
            &[],
            "log.csv:1: its dates do not tell whether the day or the month goes first\n  nothing was imported; next: add --dates \
             day-first or --dates month-first\n",
        ),
        (
            b"time,probe,temp\n2026-03-29 02:30,p1,20\n2026-03-14 07:30,,20\nnoon,p1,20\n",
            &["--temp-column", "temp"],
            "3 things are wrong\n  log.csv:2: 2026-03-29 02:30 did not exist in Europe/Berlin: the clocks jumped over it\n  \
             log.csv:3: a name is missing\n  log.csv:4: 'noon' is not a time that is known here: write 2026-03-14 07:30\n  nothing \
             was imported\n",
        ),
    ];
    for (bytes, options, complaint) in cases {
        let desk = Desk::new();
        desk.write_folder("", &[("log.csv", bytes)]);
        let answer = desk.run(&[&["import", "--readings", "log.csv"], options].concat());
        assert_eq!((answer.code, answer.out.as_str(), answer.err.as_str()), (2, "", &*format!("seedclock: {complaint}")));
        assert!(!desk.bench().exists());
    }
}

#[test]
fn degrees_that_are_sworn_to_are_taken() {
    let desk = Desk::new();
    desk.write_folder("", &[("log.csv", b"time,probe,temp\n2026-03-14T07:30:00Z,heap,60\n")]);
    assert_eq!(desk.run(&["import", "--readings", "log.csv", "--units", "celsius"]).out, "imported 1 reading\n");
    desk.says(&["export", "out"]);
    std::fs::remove_file(desk.bench()).unwrap();
    assert_eq!(desk.run(&["import", "out"]).code, 2);
    assert_eq!(desk.says(&["import", "out", "--units", "celsius"]), "imported 1 reading\n", "nothing exported is lost");
}
