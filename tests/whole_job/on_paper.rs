//! Labels and the tally sheet as files, written by the command.

use std::path::Path;

/// Runs the program; its exit code, and what it told.
fn run(folder: &Path, arguments: &[&str]) -> (i32, String) {
    let done = crate::asking::program(&folder.join("b.db")).args(arguments).current_dir(folder).output().unwrap();
    assert!(done.stdout.is_empty() || arguments[0] == "sow", "{}", String::from_utf8_lossy(&done.stdout));
    (done.status.code().unwrap_or(-1), String::from_utf8(done.stderr).unwrap())
}

#[test]
fn labels_and_a_tally_sheet_are_written_as_files_of_their_own_and_nothing_is_overwritten() {
    let folder = tempfile::tempdir().unwrap();
    let folder = folder.path();
    for (name, spot) in [("A1", "sill"), ("A2", "mat")] {
        assert_eq!(run(folder, &["sow", name, "--species", "leek", "--seeds", "20", "--spot", spot]).0, 0);
    }
    let url = ["--url", "http://bench.lan:7333/"];
    let (code, told) = run(folder, &[&["labels"][..], &url].concat());
    let words =
        "written: labels.html: 2 labels; open it in a browser and print it at 100 %\n  its codes lead to http://bench.lan:7333\n";
    assert_eq!((code, told.as_str()), (0, words));
    let html = std::fs::read_to_string(folder.join("labels.html")).unwrap();
    assert!(
        html.contains(">A1</text>") && html.contains(">A2</text>") && html.contains("paper-a4") && !html.contains("<script"),
        "{html}"
    );
    let (code, told) = run(folder, &["labels", "A1"]);
    assert_eq!((code, told.starts_with("seedclock: labels.html is there already")), (2, true), "{told}");
    assert_eq!(std::fs::read_to_string(folder.join("labels.html")).unwrap(), html);
    let (code, told) = run(folder, &[&["labels", "--spot", "mat", "--paper", "letter", "--output", "mat.html"][..], &url].concat());
    assert!(code == 0 && told.starts_with("written: mat.html: 1 label;"), "{told}");
    let html = std::fs::read_to_string(folder.join("mat.html")).unwrap();
    assert!(!html.contains(">A1</text>") && html.contains(">A2</text>") && html.contains("paper-letter"), "{html}");
    let sheet = ["labels", "--sheet", "--days", "14", "--from", "2026-03-14", "--output", "t.html"];
    assert_eq!(run(folder, &[&sheet[..], &url].concat()).0, 1, "no box was there on these days");
    let (code, told) = run(folder, &[&["labels", "--sheet"][..], &url].concat());
    assert!(code == 0 && told.starts_with("written: tally.html: a tally sheet of 2 boxes for 7 days from "), "{told}");
    assert!(std::fs::read_to_string(folder.join("tally.html")).unwrap().contains("http://bench.lan:7333/grid?from="));
    for (arguments, code, begins) in [
        (&["labels", "A9", "--output", "x.html"][..], 2, "seedclock: there is no box 'A9' on this bench\n  nothing was written"),
        (&["labels", "--batch", "none", "--output", "x.html"], 1, "seedclock: there is no such box on this bench now"),
        (&["labels", "--url", "bench.lan", "--output", "x.html"], 2, "error: invalid value 'bench.lan'"),
        (&["labels", "--paper", "a5", "--output", "x.html"], 2, "error: invalid value 'a5'"),
        (&["labels", "--days", "7", "--output", "x.html"], 2, "error: the following required arguments were not provided"),
    ] {
        let (was, told) = run(folder, arguments);
        assert!(was == code && told.starts_with(begins), "{arguments:?}: {was} {told}");
    }
    assert!(!folder.join("x.html").exists() && !folder.join("t.html").exists());
}
