//! Whole lines out of bytes that come as they like.

use std::ops::ControlFlow;

/// The longest line, in bytes. What boards print is ten times shorter; the bound keeps memory small on endless garbage.
pub const LONGEST_LINE: usize = 512;
/// The longest line that begins as JSON does, in bytes: a pack may hold what was measured over hours.
pub const LONGEST_JSON: usize = 64 * 1024;

/// What the bytes so far came to.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Found<'a> {
    /// A whole line, without its end.
    Line(&'a [u8]),
    /// A line longer than it may be ([`LONGEST_LINE`], [`LONGEST_JSON`]) has ended; its beginning, which is as long as it may be.
    TooLong(&'a [u8]),
}

/// Collects bytes until a line is whole.
///
/// A line ends with LF or CR (so CRLF ends a line and then an empty one, which is no line at all). What stands before the
/// first end after opening may be the second half of a line, "1.5" of "21.5", and is dropped; a last line that never ends
/// is never given out, for it may be "21" of "21.5".
#[derive(Debug, Default)]
pub struct LineBuffer {
    line: Vec<u8>,
    state: State,
}

#[derive(Debug, Default, Clone, Copy, PartialEq, Eq)]
enum State {
    /// Nothing has ended yet since the port was opened.
    #[default]
    Opened,
    /// Within a line.
    Collecting,
    /// Within a line that has become too long.
    Skipping,
}

impl LineBuffer {
    /// An empty buffer for a port just opened.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Takes bytes in and hands out each line that they complete, in order, until `take` says enough.
    pub fn push(&mut self, bytes: &[u8], mut take: impl FnMut(Found<'_>) -> ControlFlow<()>) -> ControlFlow<()> {
        for &byte in bytes {
            if byte == b'\n' || byte == b'\r' {
                let ended = std::mem::replace(&mut self.state, State::Collecting);
                let flow = match ended {
                    State::Collecting if !self.line.is_empty() => take(Found::Line(&self.line)),
                    State::Skipping => take(Found::TooLong(&self.line)),
                    State::Opened | State::Collecting => ControlFlow::Continue(()),
                };
                self.line.clear();
                flow?;
            } else if self.state == State::Collecting {
                if self.line.len() < LONGEST_LINE || self.line.len() < self.longest() {
                    self.line.push(byte);
                } else {
                    self.state = State::Skipping;
                }
            }
        }
        ControlFlow::Continue(())
    }

    /// How long the line in hand may become, by its first byte that is neither blank nor a byte-order mark.
    fn longest(&self) -> usize {
        match self.line.iter().find(|byte| !b" \t\xef\xbb\xbf".contains(byte)) {
            Some(b'[' | b'{') => LONGEST_JSON,
            _ => LONGEST_LINE,
        }
    }

    /// Bytes of the line that has not ended yet: for tests of the bound.
    #[cfg(test)]
    pub(super) fn unfinished(&self) -> usize {
        self.line.len()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Every line found when `chunks` come in one after the other; a line too long is shown by its length.
    fn found(chunks: &[&[u8]]) -> Vec<String> {
        let mut buffer = LineBuffer::new();
        let mut lines = Vec::new();
        for chunk in chunks {
            let _ = buffer.push(chunk, |found| {
                lines.push(match found {
                    Found::Line(line) => String::from_utf8_lossy(line).into_owned(),
                    Found::TooLong(line) => format!("too long: {}", line.len()),
                });
                ControlFlow::Continue(())
            });
        }
        lines
    }

    #[test]
    fn the_first_fragment_and_an_unended_last_line_are_never_given_out() {
        assert_eq!(found(&[b"1.5\n21.5\n21"]), ["21.5"]);
        assert_eq!(found(&[b"21.5"]), [""; 0]);
        assert_eq!(found(&[b"\n21.5\n"]), ["21.5"]);
    }

    #[test]
    fn cr_lf_and_both_end_a_line_once() {
        assert_eq!(found(&[b"\na\r\nb\rc\n\n\nd\r\n"]), ["a", "b", "c", "d"]);
    }

    #[test]
    fn fault_21_a_line_too_long_is_skipped_to_its_end_and_the_next_one_kept() {
        let long = vec![b'x'; 8_000_000];
        let exactly = vec![b'y'; LONGEST_LINE];
        assert_eq!(found(&[b"\n", &long, b"\n21.5\n"]), ["too long: 512", "21.5"]);
        assert_eq!(found(&[b"\n", &exactly, b"\n"]), [String::from_utf8(exactly.clone()).unwrap()]);
        let mut buffer = LineBuffer::new();
        let _ = buffer.push(b"\n", |_| ControlFlow::Continue(()));
        let _ = buffer.push(&long, |_| ControlFlow::Continue(()));
        assert!(buffer.unfinished() <= LONGEST_LINE && buffer.line.capacity() <= 2 * LONGEST_LINE);
    }

    #[test]
    fn a_line_that_begins_as_json_may_be_longer() {
        for beginning in ["[", "{", " \t[", "\u{feff}{"] {
            let fits = format!("{beginning}{}", "x".repeat(LONGEST_JSON - beginning.len()));
            assert_eq!(found(&[b"\n", fits.as_bytes(), b"\n"]), [fits.as_str()]);
            assert_eq!(found(&[b"\n", fits.as_bytes(), b"x\n21.5\n"]), [&format!("too long: {LONGEST_JSON}"), "21.5"]);
        }
        let blank = " ".repeat(LONGEST_LINE) + "[";
        assert_eq!(found(&[b"\n", blank.as_bytes(), b"\n"]), ["too long: 512"], "nothing but blanks is no beginning");
    }

    #[test]
    fn taking_stops_when_told() {
        let mut buffer = LineBuffer::new();
        let mut taken = 0;
        let flow = buffer.push(b"\na\nb\nc\n", |_| {
            taken += 1;
            if taken == 2 { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
        });
        assert_eq!((taken, flow), (2, ControlFlow::Break(())));
    }

    proptest! {
        #[test]
        fn how_the_bytes_are_cut_changes_nothing(
            bytes in prop::collection::vec(prop_oneof![Just(b'\n'), Just(b'\r'), any::<u8>()], 0..2000),
            cut in 1usize..64,
        ) {
            let pieces: Vec<&[u8]> = bytes.chunks(cut).collect();
            prop_assert_eq!(found(&pieces), found(&[&bytes]));
        }
    }
}
