//! Names that somebody means no good by.

use chrono::Duration;
use seedclock::bench::{Name, Proof, Reading, Stamp};
use seedclock::civil::{Time, Zone, read_time};
use seedclock::store::Store;
use serde_json::Value;

use super::Desk;

fn at(text: &str) -> Time {
    read_time(text, Zone::Europe__Berlin).unwrap().time
}

fn readings(from: &str, spacing: Duration, values: impl Iterator<Item = f64>) -> Vec<Reading> {
    let from_us = at(from).timestamp_micros();
    let times = (0..).map(|n: i64| from_us + n * spacing.num_microseconds().unwrap());
    let reading =
        |(time_us, value): (i64, f64)| Reading { time_us, raw_c_e4: Some((value * 10_000.0).round() as i64), proof: Proof::Plain };
    times.zip(values).map(reading).collect()
}

fn logged(desk: &Desk, probe: &str, read: &[Reading]) {
    let probe = Name::new(probe).unwrap();
    let read: Vec<_> = read.iter().map(|reading| (probe.clone(), *reading, Stamp::Arrival)).collect();
    Store::open(&desk.bench()).unwrap().append_arrivals(&read).unwrap();
}

fn sown() -> Desk {
    let desk = Desk::new();
    desk.says(&["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill", "--at", "2026-03-01 08:00"]);
    desk
}

/// A board's lines are anybody's text, and so are names in a folder that one is sent.
#[test]
fn fault_45_names_meant_ill_are_refused_or_come_out_as_plain_text() {
    let desk = sown();
    for (name, why) in [
        ("si\u{200b}ll".to_owned(), "holds a letter that cannot be seen (U+200B)"),
        ("\u{202e}llis".to_owned(), "holds a letter that cannot be seen (U+202E)"),
        ("\u{2066}sill".to_owned(), "holds a letter that cannot be seen (U+2066)"),
        ("si\u{1b}[31mll".to_owned(), "holds a line break or another control character"),
        ("x".repeat(300), "a name of 300 characters ('xxxxxxxxxxxxxxxxxxxx…') is too long: names have at most 80"),
    ] {
        let answer = desk.run(&["probe", "place", &name, "sill"]);
        assert_eq!((answer.code, answer.out.as_str()), (2, ""), "{answer:?}");
        assert!(answer.err.contains(why), "{answer:?}");
        let hidden = |letter: char| matches!(letter, '\u{200b}' | '\u{202e}' | '\u{2066}' | '\u{1b}');
        let ours = answer.err.split("for more information").next().unwrap();
        assert!(
            !ours.lines().any(|line| line.contains("the name") && line.split_once("the name").unwrap().1.contains(hidden)),
            "{ours}"
        );
    }
    let names = ["<script>alert(1)</script>", "../../x", "=1+1", "+1", "@SUM(A1)", "'=x", "\"quoted\", with comma", "אדן"];
    for name in names {
        desk.says(&["probe", "place", "--since", "2026-03-01 08:00", "--", name, "sill"]);
        logged(&desk, name, &readings("2026-03-02 00:00", Duration::minutes(10), [20.0].into_iter()));
    }
    let before: Vec<String> = desk.files("").into_iter().map(|file| file.0).collect();
    assert!(before.iter().all(|file| file.starts_with("bench.db")), "no name became a path: {before:?}");
    desk.says(&["export", "out"]);
    for (file, bytes) in desk.files("out") {
        let mut table = csv::ReaderBuilder::new().flexible(true).from_reader(&bytes[..]);
        for row in table.records() {
            let formula = |cell: &&str| cell.starts_with(['=', '+', '@']) || cell.starts_with('-') && cell.parse::<f64>().is_err();
            assert_eq!(row.unwrap().iter().find(formula), None, "{file}: a spreadsheet takes this for a formula");
        }
    }
    let json: Value = serde_json::from_str(&desk.run(&["status", "--json", "--as-of", "2026-03-02 00:01"]).out).unwrap();
    let mut told: Vec<&str> = json["probes"].as_array().unwrap().iter().map(|probe| probe["probe"].as_str().unwrap()).collect();
    let mut expected = names;
    told.sort_unstable();
    expected.sort_unstable();
    assert_eq!(told, expected, "each as it was given");
    // The folder comes back as the same bench.
    let other = Desk::new();
    let folder = desk.path("out");
    other.says(&["import", folder.to_str().unwrap()]);
    let probes = |desk: &Desk| Store::open_read_only(&desk.bench()).unwrap().bench().unwrap().probes;
    assert_eq!(probes(&other), probes(&desk));
}
