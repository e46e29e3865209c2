//! What boards print, each recording with where it is from and, beside it, what must come of it.
//!
//! A recording `NAME.log` begins with `#` lines telling its provenance, up to `# --`; the bytes after that line are what the
//! board printed. `NAME.expected` lists every reading as `probe,1/10 000 °C,proof` by probe and in order, where `PORT` is the
//! port's own probe, and last the number of lines that could not be read.

use std::collections::BTreeSet;
use std::fmt::Write;
use std::path::{Path, PathBuf};

use seedclock::bench::Proof;
use seedclock::probes::Player;

use super::harness::{Desk, Logging, own_probe};

const HEADER_END: &[u8] = b"# --\n";

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/devices")
}

fn with_ending(ending: &str) -> BTreeSet<PathBuf> {
    let paths = std::fs::read_dir(folder()).unwrap().map(|entry| entry.unwrap().path());
    paths.filter(|path| path.extension().is_some_and(|found| found == ending)).map(|path| path.with_extension("")).collect()
}

#[test]
fn every_recording_has_its_expectation_and_every_expectation_its_recording() {
    assert!(!with_ending("log").is_empty());
    assert_eq!(with_ending("log"), with_ending("expected"));
}

#[test]
fn fault_20_22_and_34_every_recording_comes_out_as_expected() {
    for recording in with_ending("log") {
        let bytes = std::fs::read(recording.with_extension("log")).unwrap();
        let header = bytes.windows(HEADER_END.len()).position(|window| window == HEADER_END).expect("a header's end");
        let (header, printed) = bytes.split_at(header + HEADER_END.len());
        assert!(String::from_utf8_lossy(header).contains("# Provenance: "), "{recording:?} does not say where it is from");
        let expected = std::fs::read_to_string(recording.with_extension("expected")).unwrap();
        assert_eq!(what_comes_of(printed), expected, "{recording:?}");
    }
}

fn what_comes_of(printed: &[u8]) -> String {
    let desk = Desk::new();
    let mut board = Player::new().unwrap();
    let port = desk.plug("board", board.path());
    let mut logging = Logging::start(&desk, &[&port], &[]);
    logging.wait_for_words("listening", 1);
    board.print(printed).unwrap();
    let (status, said) = logging.stop("TERM");
    assert_eq!(status.code(), Some(0), "{said}");

    let mut came = String::new();
    let own = own_probe(&port);
    for (probe, reading) in desk.readings() {
        let probe = if probe == own { "PORT" } else { probe.as_str() };
        let raw = reading.raw_c_e4.map(|raw| raw.to_string()).unwrap_or_default();
        let proof = match reading.proof {
            Proof::Plain => "plain",
            Proof::PowerOn => "power-on",
            Proof::Disconnected => "disconnected",
            Proof::NotANumber => "not a number",
        };
        writeln!(came, "{probe},{raw},{proof}").unwrap();
    }
    let unread = said.lines().last().and_then(|summary| summary.split("; ").find_map(|part| part.split_once(" line")));
    writeln!(came, "unread {}", unread.map_or("0", |(count, _)| count)).unwrap();
    came
}
