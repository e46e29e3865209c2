//! Good folders spoilt at random: each is taken in or refused with all its faults named, never half, never with a panic.

use std::borrow::Cow;

use proptest::prelude::*;
use proptest::sample::Index;
use seedclock::bench::Bench;
use seedclock::bench::rules::Conflict;
use seedclock::changes::{ChangeError, examine_folder};
use seedclock::civil::Zone;
use seedclock::exchange::{Document, Folder};

use super::Desk;
use super::round_trip::{Files, folder};

/// What people and programs put into cells.
const CELLS: [&str; 30] = [
    "",
    "0",
    "-1",
    "1000000",
    "99999999999999999999",
    "21,5",
    "NaN",
    "inf",
    "1e308",
    "'",
    "=1+1",
    "\"",
    "\n",
    "\"two\nlines\"",
    ";",
    "bag",
    "before",
    "p0",
    "yes",
    "2026-03-29 02:30",
    "2026-10-25 02:30",
    "2026-03-01",
    "07:30",
    "1969-12-31T00:00:00Z",
    "9999-12-31T23:59:59Z",
    "<b>sill</b>",
    "\u{FEFF}",
    "\u{202E}mat",
    "none",
    "fridge",
];

/// One spoiling: a cell replaced, a row doubled, a line cut, a file gone or full of bytes.
#[derive(Debug, Clone)]
enum Spoil {
    Cell(Index, Index, Index, Index),
    Long(Index, Index, Index),
    Twice(Index, Index),
    Cut(Index, Index),
    Gone(Index),
    Bytes(Index, Vec<u8>),
}

fn spoil() -> impl Strategy<Value = Spoil> {
    let at = any::<Index>;
    prop_oneof![
        12 => (at(), at(), at(), at()).prop_map(|(file, line, cell, with)| Spoil::Cell(file, line, cell, with)),
        1 => (at(), at(), at()).prop_map(|(file, line, cell)| Spoil::Long(file, line, cell)),
        2 => (at(), at()).prop_map(|(file, line)| Spoil::Twice(file, line)),
        1 => (at(), at()).prop_map(|(file, place)| Spoil::Cut(file, place)),
        1 => at().prop_map(Spoil::Gone),
        1 => (at(), prop::collection::vec(any::<u8>(), 0..40)).prop_map(|(file, bytes)| Spoil::Bytes(file, bytes)),
    ]
}

fn spoilt(files: Files, spoils: &[Spoil]) -> Vec<(&'static str, Vec<u8>)> {
    let mut files: Vec<(&'static str, Vec<u8>)> = files.into_iter().map(|(name, text)| (name, text.into_bytes())).collect();
    for spoil in spoils {
        if files.is_empty() {
            break;
        }
        let of = |file: &Index| file.index(files.len());
        match spoil {
            Spoil::Cell(file, line, cell, with) => {
                let file = of(file);
                replace_cell(&mut files[file].1, line, cell, CELLS[with.index(CELLS.len())]);
            }
            Spoil::Long(file, line, cell) => {
                let file = of(file);
                replace_cell(&mut files[file].1, line, cell, &"long ".repeat(60));
            }
            Spoil::Twice(file, line) => {
                let file = of(file);
                let bytes = &mut files[file].1;
                let lines: Vec<&[u8]> = bytes.split_inclusive(|byte| *byte == b'\n').collect();
                if !lines.is_empty() {
                    let line = lines[line.index(lines.len())].to_vec();
                    bytes.extend(line);
                }
            }
            Spoil::Cut(file, place) => {
                let file = of(file);
                let length = place.index(files[file].1.len() + 1);
                files[file].1.truncate(length);
            }
            Spoil::Gone(file) => {
                let file = of(file);
                files.remove(file);
            }
            Spoil::Bytes(file, bytes) => {
                let file = of(file);
                files[file].1 = bytes.clone();
            }
        }
    }
    files
}

fn replace_cell(bytes: &mut Vec<u8>, line: &Index, cell: &Index, with: &str) {
    let Ok(text) = std::str::from_utf8(bytes) else { return };
    let mut lines: Vec<String> = text.split('\n').map(str::to_owned).collect();
    let line = line.index(lines.len());
    let mut cells: Vec<&str> = lines[line].split(',').collect();
    let cell = cell.index(cells.len());
    cells[cell] = with;
    lines[line] = cells.join(",");
    *bytes = lines.join("\n").into_bytes();
}

fn config(cases: u32) -> ProptestConfig {
    let rng_seed = proptest::test_runner::RngSeed::Fixed(11);
    ProptestConfig { cases, rng_seed, failure_persistence: None, ..ProptestConfig::default() }
}

proptest! {
    #![proptest_config(config(1500))]
    #[test]
    fn a_spoilt_folder_is_read_without_a_panic_and_its_faults_have_places(
        files in folder(), spoils in prop::collection::vec(spoil(), 1..6)
    ) {
        let files = spoilt(files, &spoils);
        let documents: Vec<Document<'_>> =
            files.iter().map(|(name, bytes)| Document { name: (*name).to_owned(), bytes: Cow::Borrowed(&bytes[..]) }).collect();
        let now = "2026-11-20T12:00:00Z".parse().unwrap();
        for conflict in [Conflict::Refused, Conflict::Replaced] {
            let folder = Folder::read(&documents, Zone::Europe__Dublin);
            if let Err(ChangeError::Faults(faults)) = examine_folder(&Bench::empty(Zone::Europe__Dublin), &folder, conflict, now) {
                prop_assert!(!faults.is_empty());
                for fault in faults {
                    let said = fault.to_string();
                    prop_assert!(said.contains(".csv"), "no place: {said}");
                }
            }
        }
    }
}

proptest! {
    #![proptest_config(config(48))]
    #[test]
    fn a_spoilt_folder_is_imported_whole_or_not_at_all(files in folder(), spoils in prop::collection::vec(spoil(), 1..4)) {
        let desk = Desk::new();
        let files = spoilt(files, &spoils);
        let files: Vec<(&str, &[u8])> = files.iter().map(|(name, bytes)| (*name, &bytes[..])).collect();
        desk.write_folder("in", &files);
        let answer = desk.run(&["import", "in"]);
        prop_assert!(matches!(answer.code, 0 | 2), "{answer:?}");
        if answer.code == 0 {
            desk.says(&["export", "first"]);
            std::fs::remove_file(desk.bench()).unwrap();
            desk.says(&["import", "first"]);
            desk.says(&["export", "second"]);
            prop_assert_eq!(desk.files("first"), desk.files("second"));
        } else {
            prop_assert!(!desk.bench().exists(), "a refused import began a bench");
            prop_assert!(answer.err.contains("nothing was imported"), "{}", answer.err);
            prop_assert_eq!(answer.out, "");
        }
    }
}
