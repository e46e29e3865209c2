//! What one opening of a port remembers: half lines, whether what comes is text, and which probes have spoken.

use std::ops::ControlFlow;

use super::dating::{Dated, Dating};
use super::line::{LineFormat, Measured, Read};
use super::{Found, LineBuffer, LineFault, LineReader};
use crate::bench::{Name, Reading, Stamp};

/// Garbage makes a line shorter than this that can be read every few million bytes, and a longer one hardly ever.
const LEAST_BELIEVED: usize = 6;

/// What the bytes of a port came to.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Told<'a> {
    /// A probe was read.
    Reading(Name, Reading, Stamp),
    /// A line could not be read.
    Unread {
        /// As received; of a line too long the beginning.
        line: &'a [u8],
        /// Why.
        fault: LineFault,
    },
    /// The port prints another format than before.
    FormatChanged {
        /// The one before.
        from: LineFormat,
        /// The one now.
        to: LineFormat,
    },
    /// A line gives a time that cannot be; the time of its arrival was taken. Said once for each opening.
    ClockDiffers {
        /// By how much it is ahead of ours, in microseconds.
        ahead_us: i64,
    },
}

/// The bytes of one port from its opening to its closing.
///
/// Among bytes that are no text (a wrong speed, a loose plug) some make a line such as `5` by chance. So after a line that was no
/// text, a short one that can be read is held back, and counts once the next one can be read too.
#[derive(Debug)]
pub struct Opening<'r> {
    own: Name,
    buffer: LineBuffer,
    reader: &'r mut LineReader,
    dating: Dating,
    /// Whether lines that were no text came since two in a row could be read.
    garbled: bool,
    held: Option<Held>,
    in_a_row: u32,
}

/// A line that waits to be believed.
#[derive(Debug)]
struct Held {
    line: Vec<u8>,
    arrived: (i64, Stamp),
    measured: Vec<Measured>,
}

impl<'r> Opening<'r> {
    /// A port just opened, whose unnamed lines are of the probe `own`. `reader` knows what the port printed before.
    #[must_use]
    pub fn new(own: Name, reader: &'r mut LineReader) -> Self {
        reader.is_opened();
        let (buffer, dating) = (LineBuffer::new(), Dating::default());
        Self { own, buffer, reader, dating, garbled: false, held: None, in_a_row: 0 }
    }

    /// How many lines in a row could be read, up to now.
    #[must_use]
    pub fn readable_in_a_row(&self) -> u32 {
        self.in_a_row
    }

    /// What comes from now on was sent otherwise, at another speed: what is in hand is no beginning of it.
    pub fn begin_anew(&mut self) {
        self.reader.is_opened();
        self.buffer = LineBuffer::new();
        (self.held, self.in_a_row, self.garbled) = (None, 0, true);
    }

    /// Takes bytes in; hands out every reading, or the fault and the line, that they complete. `stamp` tells the time of
    /// arrival in microseconds since 1970, or, as [`Stamp::Undated`], since the computer's start.
    pub fn push(
        &mut self,
        bytes: &[u8],
        stamp: impl Fn() -> (i64, Stamp),
        mut take: impl FnMut(Told<'_>) -> ControlFlow<()>,
    ) -> ControlFlow<()> {
        let Self { own, buffer, reader, dating, garbled, held, in_a_row } = self;
        buffer.push(bytes, |found| {
            let arrived = stamp();
            let (line, read) = match found {
                Found::Line(line) => (line, reader.read(line)),
                Found::TooLong(line) => {
                    reader.lost_track();
                    (line, Err(LineFault::TooLong(line.len())))
                }
            };
            let Read { measured, changed } = match read {
                Ok(read) => read,
                Err(fault) => {
                    if fault.is_no_text() {
                        (*garbled, *in_a_row) = (true, 0);
                        if let Some(Held { line, .. }) = held.take() {
                            take(Told::Unread { line: &line, fault: LineFault::AmongGarbage })?;
                        }
                    }
                    return take(Told::Unread { line, fault });
                }
            };
            if let Some((from, to)) = changed {
                take(Told::FormatChanged { from, to })?;
            }
            if measured.is_empty() {
                return ControlFlow::Continue(());
            }
            *in_a_row = in_a_row.saturating_add(1);
            if *garbled && held.is_none() && line.len() < LEAST_BELIEVED {
                *held = Some(Held { line: line.to_vec(), arrived, measured });
                return ControlFlow::Continue(());
            }
            *garbled = false;
            if let Some(Held { arrived, measured, .. }) = held.take() {
                hand_out(dating, own, measured, arrived, &mut take)?;
            }
            hand_out(dating, own, measured, arrived, &mut take)
        })
    }

    /// Hands out what was held back, where nothing has come since that speaks against it.
    pub fn finish(&mut self, mut take: impl FnMut(Told<'_>) -> ControlFlow<()>) -> ControlFlow<()> {
        match self.held.take() {
            Some(Held { arrived, measured, .. }) => hand_out(&mut self.dating, &self.own, measured, arrived, &mut take),
            None => ControlFlow::Continue(()),
        }
    }
}

fn hand_out(
    dating: &mut Dating,
    own: &Name,
    measured: Vec<Measured>,
    arrived: (i64, Stamp),
    take: &mut impl FnMut(Told<'_>) -> ControlFlow<()>,
) -> ControlFlow<()> {
    for one in measured {
        let Dated { probe, reading, stamp, clock_ahead_us } = dating.date(one, own, arrived);
        if let Some(ahead_us) = clock_ahead_us {
            take(Told::ClockDiffers { ahead_us })?;
        }
        take(Told::Reading(probe, reading, stamp))?;
    }
    ControlFlow::Continue(())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use proptest::prelude::*;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    /// The readings in `bytes`, as (probe, 1/10 000 °C, proof).
    fn readings(bytes: &[u8]) -> Vec<(String, Option<i64>, Proof)> {
        let mut all = Vec::new();
        let mut take = |told: Told<'_>| {
            if let Told::Reading(probe, reading, _) = told {
                all.push((probe.to_string(), reading.raw_c_e4, reading.proof));
            }
            ControlFlow::Continue(())
        };
        let mut reader = LineReader::new();
        let mut opening = Opening::new(name("port"), &mut reader);
        let _ = opening.push(bytes, || (7, Stamp::Arrival), &mut take);
        let _ = opening.finish(&mut take);
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

    const CORPUS: [&str; 22] = [
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
        "air:21.5",
        "air:21.5,soil:19.8",
        "air:21.5\tsoil:nan",
        r#"{"id":"a","t_c":21.5}"#,
        r#"{"t":21.5}"#,
        r#"{"id":"a","t_f":70.7}"#,
        r#"{"t_c":{"mat":26.5,"sill":9.25}}"#,
        r#"{"mat":{"t_c":26.5},"sill":{"t_c":9.25}}"#,
        r#"[{"n":"urn:dev:ow:10e2073a01080063","u":"Cel","v":23.1}]"#,
        r#"[{"bn":"a:","bu":"Cel","n":"x","v":21.5},{"n":"y","t":-10,"v":19.5}]"#,
        r#"[{"bn":"a","bu":"Cel","v":21.5},{"t":10,"v":21.25}"#,
        r#"[{"bn":"a","bu":"Cel","v":21.5},"#,
    ];

    /// Each line cut at every byte: opened too late (only the second half comes), and unplugged too early (only the first
    /// half comes). Neither half may ever count; the neighbours must.
    #[test]
    fn fault_23_half_a_line_is_never_a_number() {
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

    /// A stream of records over many lines, opened at every byte of it: what is heard is a beginning of the whole, or nothing.
    #[test]
    fn fault_23_a_stream_heard_from_its_middle_gives_nothing() {
        let stream =
            "[\n{\"bn\":\"a:\",\"bu\":\"Cel\",\"n\":\"x\",\"v\":21.5},\n{\"n\":\"x\",\"t\":10,\"v\":21.25},\n{\"t\":20,\"v\":2}\n";
        let whole = readings(format!("\n{stream}").as_bytes());
        let values: Vec<_> = whole.iter().map(|(probe, raw, _)| (probe.as_str(), *raw)).collect();
        assert_eq!(values, [("a:x", Some(215_000)), ("a:x", Some(212_500)), ("a:", Some(20_000))]);
        for cut in 0..=stream.len() {
            assert_eq!(readings(&stream.as_bytes()[cut..]), [], "opened at {cut}");
            let early = readings(&[b"\n", &stream.as_bytes()[..cut]].concat());
            assert!(whole.starts_with(&early), "cut off at {cut}: {early:?}");
        }
    }

    /// The readings and notes of one line that arrived at noon on 2026-03-14, as (seconds from arrival, stamp).
    fn stamped(line: &str) -> (Vec<(f64, Stamp)>, Vec<i64>) {
        stamped_by(line, Stamp::Arrival)
    }

    fn stamped_by(line: &str, stamp: Stamp) -> (Vec<(f64, Stamp)>, Vec<i64>) {
        const ARRIVAL_US: i64 = 1_773_489_600_000_000;
        let (mut times, mut notes) = (Vec::new(), Vec::new());
        let _ = Opening::new(name("port"), &mut LineReader::new()).push(
            format!("\n{line}\n").as_bytes(),
            || (ARRIVAL_US, stamp),
            |told| {
                match told {
                    Told::Reading(_, reading, stamp) => times.push(((reading.time_us - ARRIVAL_US) as f64 / 1e6, stamp)),
                    Told::ClockDiffers { ahead_us } => notes.push(ahead_us / 1_000_000),
                    other => panic!("{other:?}"),
                }
                ControlFlow::Continue(())
            },
        );
        (times, notes)
    }

    #[test]
    fn times_given_are_used_where_they_can_be_and_arrival_where_not() {
        let pack = |seconds: &str| format!(r#"[{{"n":"a","u":"Cel","v":21.5,"t":{seconds}}}]"#);
        let (arrival, source) = (Stamp::Arrival, Stamp::Source);
        for (seconds, expected, notes) in [
            ("0", (0.0, arrival), vec![]),
            ("-0.25", (-0.25, arrival), vec![]),
            ("-86400", (-86_400.0, arrival), vec![]),
            ("300", (300.0, arrival), vec![]),
            ("301", (0.0, arrival), vec![301]),
            ("268435455", (0.0, arrival), vec![268_435_455]),
            ("-200000000", (0.0, arrival), vec![-200_000_000]),
            ("1773489600", (0.0, source), vec![]),
            ("1773489300", (-300.0, source), vec![]),
            ("1773489900", (300.0, source), vec![]),
            ("1773489299.9", (0.0, arrival), vec![-300]),
            ("1773493200", (0.0, arrival), vec![3600]),
            ("1276020076", (0.0, arrival), vec![-497_469_524]),
        ] {
            assert_eq!(stamped(&pack(seconds)), (vec![expected], notes), "{seconds}");
        }
        let both = r#"[{"n":"a","u":"Cel","v":1,"t":1276020076},{"n":"a","u":"Cel","v":2,"t":1276020091}]"#;
        assert_eq!(stamped(both), (vec![(0.0, arrival); 2], vec![-497_469_524]), "said once");
        assert_eq!(stamped("a,21.5"), (vec![(0.0, arrival)], vec![]));
    }

    #[test]
    fn while_our_own_clock_is_doubted_times_from_now_are_used_and_no_absolute_one() {
        let pack = |seconds: &str| format!(r#"[{{"n":"a","u":"Cel","v":21.5,"t":{seconds}}}]"#);
        for (seconds, expected) in [("0", 0.0), ("-86400", -86_400.0), ("301", 0.0), ("1773489600", 0.0), ("1276020076", 0.0)] {
            assert_eq!(stamped_by(&pack(seconds), Stamp::Undated), (vec![(expected, Stamp::Undated)], vec![]), "{seconds}");
        }
        assert_eq!(stamped_by("a,21.5", Stamp::Undated), (vec![(0.0, Stamp::Undated)], vec![]));
    }

    #[test]
    fn fault_22_a_bad_line_takes_none_of_its_neighbours_with_it() {
        for bad in [&b"\xff\xfe\x00"[..], b"21,5", b"1e400", b"\x1b[", b"rst:0x1 (POWERON),boot:0x13", &[b'z'; 5000]] {
            let bytes = [b"\na,1\r\n", bad, b"\r\nb,2\r\n"].concat();
            let heard: Vec<_> = readings(&bytes).into_iter().map(|(probe, raw, _)| (probe, raw)).collect();
            assert_eq!(heard, [("a".to_owned(), Some(10_000)), ("b".to_owned(), Some(20_000))]);
        }
    }

    proptest! {
        #[test]
        fn any_bytes_leave_little_behind(chunks in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..700), 0..20)) {
            let mut reader = LineReader::new();
            let mut opening = Opening::new(name("port"), &mut reader);
            for chunk in &chunks {
                let _ = opening.push(chunk, || (0, Stamp::Arrival), |_| ControlFlow::Continue(()));
                prop_assert!(opening.buffer.unfinished() <= super::super::LONGEST_JSON);
                prop_assert!(opening.dating.is_bounded());
            }
        }
    }
}
