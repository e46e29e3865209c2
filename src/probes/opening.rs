//! What one opening of a port remembers: half lines, and which probes have spoken.

use std::collections::BTreeSet;
use std::ops::ControlFlow;

use super::{Found, LineBuffer, LineFault, read_line};
use crate::bench::{Name, Proof, Reading};
use crate::quality;

/// Names remembered in one opening. Far more probes than a bus can carry; a bound, because garbage makes names too.
const MOST_PROBES: usize = 1000;

/// The bytes of one port from its opening to its closing.
#[derive(Debug)]
pub struct Opening {
    own: Name,
    buffer: LineBuffer,
    heard: BTreeSet<Name>,
}

impl Opening {
    /// A port just opened, whose unnamed lines are of the probe `own`.
    #[must_use]
    pub fn new(own: Name) -> Self {
        Self { own, buffer: LineBuffer::new(), heard: BTreeSet::new() }
    }

    /// Takes bytes in; hands out every reading, or the fault and the line, that they complete. `stamp` tells the time of
    /// arrival in microseconds since 1970.
    pub fn push(
        &mut self,
        bytes: &[u8],
        stamp: impl Fn() -> i64,
        mut take: impl FnMut(i64, Result<(Name, Reading), (LineFault, &[u8])>) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let Self { own, buffer, heard } = self;
        buffer.push(bytes, |found| {
            let time_us = stamp();
            let (line, read) = match found {
                Found::Line(line) => (line, read_line(line)),
                Found::TooLong(line) => (line, Err(LineFault::TooLong)),
            };
            let measured = match read {
                Ok(Some(measured)) => measured,
                Ok(None) => return ControlFlow::Continue(()),
                Err(fault) => return take(time_us, Err((fault, line))),
            };
            let probe = measured.probe.unwrap_or_else(|| own.clone());
            let is_first = !heard.contains(&probe);
            if is_first && heard.len() < MOST_PROBES {
                heard.insert(probe.clone());
            }
            let powered_up = is_first && measured.raw_c_e4 == Some(quality::POWER_ON_C_E4);
            let proof = if powered_up { Proof::PowerOn } else { measured.proof };
            take(time_us, Ok((probe, Reading { time_us, raw_c_e4: measured.raw_c_e4, proof })))
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    /// The readings in `bytes`, as (probe, 1/10 000 °C, proof).
    fn readings(bytes: &[u8]) -> Vec<(String, Option<i64>, Proof)> {
        let mut all = Vec::new();
        let _ = Opening::new(name("port")).push(
            bytes,
            || 7,
            |_, read| {
                if let Ok((probe, reading)) = read {
                    all.push((probe.to_string(), reading.raw_c_e4, reading.proof));
                }
                ControlFlow::Continue(())
            },
        );
        all
    }

    #[test]
    fn eighty_five_is_the_power_on_value_only_as_a_probes_first_word() {
        let heard = readings(b"\na,85.0\nb,21\na,85\nb,85.00\n85.0\n");
        let proofs: Vec<_> = heard.iter().map(|(probe, _, proof)| (probe.as_str(), *proof)).collect();
        assert_eq!(
            proofs,
            [("a", Proof::PowerOn), ("b", Proof::Plain), ("a", Proof::Plain), ("b", Proof::Plain), ("port", Proof::PowerOn)]
        );
    }

    const CORPUS: [&str; 10] = [
        "21.5",
        "-3.0625",
        "sill,21.5",
        "28-3d7de20264ff,19.0625",
        "p1,-127",
        "p1,85.0",
        "p1,nan",
        "p1,",
        "\u{1b}[32mp1,21.5\u{1b}[0m",
        "\u{feff}mat,28.25",
    ];

    /// Each line cut at every byte: opened too late (only the second half comes), and unplugged too early (only the first
    /// half comes). Neither half may ever count; the neighbours must.
    #[test]
    fn half_a_line_is_never_a_number() {
        let before = ("before".to_owned(), Some(10_000), Proof::Plain);
        let after = ("after".to_owned(), Some(20_000), Proof::Plain);
        for line in CORPUS {
            for ending in ["\n", "\r\n", "\r"] {
                for cut in 0..=line.len() {
                    let (first, second) = line.as_bytes().split_at(cut);
                    let late = [second, ending.as_bytes(), b"after,2\n"].concat();
                    assert_eq!(readings(&late), std::slice::from_ref(&after), "{line:?} opened at {cut}");
                    let early = [b"\nbefore,1\n", first].concat();
                    assert_eq!(readings(&early), std::slice::from_ref(&before), "{line:?} cut off at {cut}");
                }
            }
        }
    }

    #[test]
    fn a_bad_line_takes_none_of_its_neighbours_with_it() {
        for bad in [&b"\xff\xfe\x00"[..], b"21,5", b"1e400", b"\x1b[", b"rst:0x1 (POWERON),boot:0x13", &[b'z'; 5000]] {
            let bytes = [b"\na,1\r\n", bad, b"\r\nb,2\r\n"].concat();
            let heard: Vec<_> = readings(&bytes).into_iter().map(|(probe, raw, _)| (probe, raw)).collect();
            assert_eq!(heard, [("a".to_owned(), Some(10_000)), ("b".to_owned(), Some(20_000))]);
        }
    }

    proptest! {
        #[test]
        fn any_bytes_leave_little_behind(chunks in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..700), 0..20)) {
            let mut opening = Opening::new(name("port"));
            for chunk in &chunks {
                let _ = opening.push(chunk, || 0, |_, _| ControlFlow::Continue(()));
                prop_assert!(opening.buffer.unfinished() <= super::super::LONGEST_LINE);
                prop_assert!(opening.heard.len() <= MOST_PROBES);
            }
        }
    }
}
