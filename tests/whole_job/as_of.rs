//! `--as-of` uses nothing that happened later: a bench that knows what came after answers as one that cannot.

use super::demo_files;
use crate::asking::{Asked, Files};

/// The folder with nothing later than `time` in it. Times are all written alike (UTC, whole seconds), so that text order is time
/// order.
fn cut_at(files: &Files, time: &str) -> Files {
    let columns = |file: &str| -> &[&str] {
        match file {
            "containers.csv" => &["sown"],
            "checks.csv" | "moves.csv" => &["time"],
            "probes.csv" => &["since"],
            readings if readings.starts_with("readings") => &["time"],
            _ => &[],
        }
    };
    let cut = |(name, text): (&String, &String)| {
        let mut lines = text.lines();
        let header = lines.next().unwrap();
        let place = |column: &str| header.split(',').position(|named| named == column);
        let ended = place("ended");
        let mut kept = format!("{header}\n");
        for line in lines {
            let mut cells: Vec<&str> = line.split(',').collect();
            if columns(name).iter().any(|column| cells[place(column).unwrap()] > time) {
                continue;
            }
            // What was given up later had not been by then.
            if let Some(at) = ended.filter(|at| cells[*at] > time) {
                cells[at] = "";
            }
            kept += &format!("{}\n", cells.join(","));
        }
        (name.clone(), kept)
    };
    files.iter().map(cut).collect()
}

#[test]
fn an_answer_as_of_a_time_uses_nothing_later() {
    let files = demo_files();
    let whole = Asked::about(&files);
    // In the middle of the present batch, and of the last one, when some of its boxes had been given up and others not; at a
    // reading's own instant, which still counts.
    for time in ["2026-03-18T09:00:00Z", "2025-03-23T07:31:00Z"] {
        let cut_files = cut_at(&files, time);
        assert!(cut_files.iter().any(|(name, text)| text.len() < files[name].len()), "something was cut");
        let cut = Asked::about(&cut_files);
        for command in ["fit", "forecast", "diagnose"] {
            let arguments = [command, "--as-of", time];
            let (known, expected) = (whole.json(&arguments), cut.json(&arguments));
            assert!(known == expected, "{arguments:?}:\n{known:#}\nwithout what came later:\n{expected:#}");
        }
        // In words too.
        let words = |bench: &Asked| bench.says(&["diagnose", "--as-of", time]);
        assert_eq!(words(&whole), words(&cut), "as of {time}");
    }
    // And the time asked about matters.
    let at = |time| whole.json(&["forecast", "--as-of", time])["containers"].clone();
    assert_ne!(at("2026-03-18T09:00:00Z"), at("2026-03-20T09:00:00Z"));
}
