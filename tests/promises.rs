//! The table of faults in DEVELOPERS.md and the tests that hold its promises, kept together.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

/// Faults are numbered from 1 to this.
const FAULTS: usize = 50;

struct Row {
    promise: String,
    held_by: String,
}

/// The rows of the table under "What the logger promises".
fn rows() -> BTreeMap<usize, Row> {
    let document = std::fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let (_, section) = document.split_once("\n## What the logger promises\n").expect("the section is there");
    let section = section.split("\n## ").next().unwrap();
    let mut rows = BTreeMap::new();
    for line in section.lines() {
        let cells: Vec<&str> = line.trim_matches('|').split(" | ").map(str::trim).collect();
        let Some(number) = cells.first().and_then(|cell| cell.parse().ok()) else { continue };
        let [_, fault, promise, held_by] = cells[..] else { panic!("not four cells: {line}") };
        assert!(!fault.is_empty(), "{line}");
        let row = Row { promise: promise.to_owned(), held_by: held_by.to_owned() };
        assert!(rows.insert(number, row).is_none(), "{number} stands there twice");
    }
    rows
}

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn sources(folder: &Path, found: &mut Vec<String>) {
    for entry in std::fs::read_dir(folder).unwrap() {
        let path = entry.unwrap().path();
        if path.is_dir() {
            sources(&path, found);
        } else if path.extension().is_some_and(|ending| ending == "rs") {
            found.push(std::fs::read_to_string(path).unwrap());
        }
    }
}

/// Every function marked as a test whose name says which faults it is about (`fault_2_and_3_…`), with their numbers.
fn tests() -> BTreeMap<String, Vec<usize>> {
    let mut files = Vec::new();
    ["src", "tests"].iter().for_each(|folder| sources(&root().join(folder), &mut files));
    let mut tests = BTreeMap::new();
    for file in &files {
        let mut marked = false;
        for line in file.lines().map(str::trim) {
            marked |= line == "#[test]";
            let Some(rest) = line.strip_prefix("fn ") else { continue };
            let name = rest.split('(').next().unwrap();
            let numbers = numbers_in(name);
            if !numbers.is_empty() {
                assert!(marked, "{name} is no test");
                tests.insert(name.to_owned(), numbers);
            }
            marked = false;
        }
    }
    tests
}

fn numbers_in(name: &str) -> Vec<usize> {
    let words = name.strip_prefix("fault_").into_iter().flat_map(|rest| rest.split('_'));
    words.filter(|word| *word != "and").map_while(|word| word.parse().ok()).collect()
}

#[test]
fn every_fault_has_its_promise_and_every_promise_a_test_or_the_reason_why_not() {
    let (rows, tests) = (rows(), tests());
    assert_eq!(rows.keys().copied().collect::<Vec<_>>(), (1..=FAULTS).collect::<Vec<_>>());
    for (number, Row { promise, held_by }) in &rows {
        let named: BTreeSet<&str> = held_by.split('`').skip(1).step_by(2).collect();
        let there: BTreeSet<&str> = tests.iter().filter(|(_, of)| of.contains(number)).map(|(name, _)| name.as_str()).collect();
        if promise.starts_with("not promised") {
            assert!(promise.contains(": "), "why {number} is not promised");
        } else {
            assert!(!named.is_empty(), "no test holds {number}");
        }
        assert_eq!(named, there, "the tests of fault {number}");
    }
}
