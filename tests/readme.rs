//! The README's first session, run as printed.

use std::path::PathBuf;

use assert_cmd::Command;

#[test]
fn the_first_session_of_the_readme_runs_as_printed() {
    let readme = std::fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let session = readme.split("```sh\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("bench.db");
    let lines: Vec<&str> = session.lines().collect();
    assert!(lines.len() >= 8, "the session is there");
    for line in lines {
        let words = words_of(line);
        assert_eq!(words[0], "seedclock", "{line}");
        let run = Command::cargo_bin("seedclock").unwrap().env("SEEDCLOCK_BENCH", &bench).args(&words[1..]).output().unwrap();
        // No probe of it has been read yet: of dates and delays the answer may be "not enough".
        let may = if ["forecast", "diagnose"].contains(&words[1].as_str()) { 0..=1 } else { 0..=0 };
        assert!(
            run.status.code().is_some_and(|code| may.contains(&code)),
            "{line}\n{}{}",
            String::from_utf8_lossy(&run.stdout),
            String::from_utf8_lossy(&run.stderr)
        );
        assert!(!run.stdout.is_empty(), "{line} says nothing");
    }
}

/// A line as a shell would split it, double quotes only.
pub(crate) fn words_of(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(letter),
        }
    }
    words
}
