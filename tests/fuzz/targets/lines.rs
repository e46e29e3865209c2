//! What a port prints, of every line format: no bytes may break the reader down, and how they are cut must change nothing.
#![no_main]

use std::ops::ControlFlow;

use libfuzzer_sys::fuzz_target;
use seedclock::bench::{Name, Stamp};
use seedclock::probes::{LineReader, Opening, Told};

/// No temperature is farther from 0, in 1/10 000 °C.
const MOST_RAW: i64 = 10_000_000;

fn told(bytes: &[u8], cut: usize) -> Vec<String> {
    let mut all = Vec::new();
    let mut reader = LineReader::new();
    let mut opening = Opening::new(Name::new("port").expect("a name"), &mut reader);
    for piece in bytes.chunks(cut) {
        let flow = opening.push(
            piece,
            || (1_773_489_600_000_000, Stamp::Arrival),
            |told| {
                if let Told::Reading(probe, reading, _) = &told {
                    assert!(reading.raw_c_e4.is_none_or(|raw| raw.abs() <= MOST_RAW), "{told:?}");
                    assert!(!probe.as_str().is_empty() && probe.as_str().chars().count() <= 80, "{told:?}");
                }
                if let Told::Unread { fault, .. } = &told {
                    assert!(!fault.to_string().is_empty());
                }
                all.push(format!("{told:?}"));
                ControlFlow::Continue(())
            },
        );
        assert!(flow.is_continue());
    }
    all
}

fuzz_target!(|bytes: &[u8]| {
    let Some((first, rest)) = bytes.split_first() else { return };
    assert_eq!(told(rest, usize::from(*first).max(1)), told(rest, rest.len().max(1)));
});
