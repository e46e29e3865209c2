//! The vectors of the wire format.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};

use seedclock::bench::{Name, Proof, Stamp};
use seedclock::probes::{LineReader, Opening, Told};

pub(super) fn firmware(path: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("firmware-notes").join(path)
}

/// What comes of a line after the first line end, written as in the file.
pub(super) fn result_of(line: &str) -> String {
    let mut came = Vec::new();
    let mut reader = LineReader::new();
    let flow = Opening::new(Name::new("PORT").unwrap(), &mut reader).push(
        format!("\n{line}\n").as_bytes(),
        || (1_773_489_600_000_000, Stamp::Arrival),
        |told| {
            came.push(match told {
                Told::Reading(probe, reading, _) => {
                    let sound = if reading.proof == Proof::Plain { "" } else { "!" };
                    format!("{probe}={sound}{}", reading.raw_c_e4.map(|raw| raw.to_string()).unwrap_or_default())
                }
                Told::Unread { .. } => "unread".to_owned(),
                other => panic!("{other:?}"),
            });
            ControlFlow::Continue(())
        },
    );
    assert!(flow.is_continue());
    came.join(" ")
}

#[test]
fn every_vector_of_the_wire_format_is_read_as_it_says() {
    let mut vectors = csv::ReaderBuilder::new().comment(Some(b'#')).from_path(firmware("vectors.csv")).unwrap();
    let mut seen = 0;
    for row in vectors.records() {
        let row = row.unwrap();
        assert_eq!(result_of(&row[0]), row[1], "{}", &row[0]);
        seen += 1;
    }
    assert!(seen >= 30, "the vectors are there");
}
