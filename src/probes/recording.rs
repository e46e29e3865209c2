//! What a port printed, read from a file as if it came from one.

use std::fs::File;
use std::io::{BufRead, BufReader, ErrorKind, Read as _};
use std::ops::ControlFlow;
use std::path::PathBuf;
use std::time::Duration;

use super::outlet::Outlet;
use super::source::{Listener, own_probe};
use super::{LONGEST_JSON, LineFault, LineReader, News, Opening, SourceState};
use crate::bench::{EARLIEST_US, Name, NameFault, Stamp};

/// The line that ends a recording's own header.
const HEADER_END: &[u8] = b"# --";
/// The longest line with its time, in bytes.
const LONGEST: u64 = LONGEST_JSON as u64 + 64;
/// A recorded time may be ahead of ours by so much, in microseconds (a day, for zones taken for another).
const AHEAD_US: i64 = 86_400_000_000;

/// A file with what a port printed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Recording {
    /// The file.
    pub path: PathBuf,
    /// So many times as fast as it was recorded, where lines have times; none: as fast as can be.
    pub faster: Option<u32>,
}

pub(super) fn listener(recording: Recording) -> Result<impl Listener, NameFault> {
    Ok(RecordingListener { own: own_probe(&recording.path)?, recording, done: 0 })
}

struct RecordingListener {
    recording: Recording,
    own: Name,
    /// Lines played, so that a break-down does not play them again.
    done: usize,
}

impl Listener for RecordingListener {
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()> {
        match self.play(outlet) {
            Ok(flow) => flow,
            Err(error) if error.kind() == ErrorKind::NotFound => outlet.say(SourceState::Absent),
            Err(error) => outlet.say(SourceState::Failing(error.to_string())),
        }?;
        ControlFlow::Break(())
    }
}

impl RecordingListener {
    fn play(&mut self, outlet: &mut Outlet) -> std::io::Result<ControlFlow<()>> {
        let mut lines = Lines::open(&self.recording.path)?;
        if outlet.say(SourceState::Listening).is_break() {
            return Ok(ControlFlow::Break(()));
        }
        let mut reader = LineReader::new();
        let mut opening = Opening::new(self.own.clone(), &mut reader);
        let (mut first, mut before_us) = (true, None);
        while let Some(line) = lines.next_line()? {
            let skip = lines.count <= self.done;
            self.done = self.done.max(lines.count);
            let timed = timed(&line);
            if std::mem::take(&mut first) && timed.is_some() {
                // A line with its time is whole: what stands before the first line end is not dropped.
                let _ = opening.push(b"\n", || (0, Stamp::Source), |_| ControlFlow::Continue(()));
            }
            if skip {
                continue;
            }
            let flow = match timed {
                None => opening.push(&line, || outlet.stamp(), |told| outlet.tell(outlet.news_of(told))),
                Some((time_us, printed)) => {
                    let before = if is_credible(outlet, time_us) { before_us.replace(time_us) } else { None };
                    let pause = before.map_or(0, |before: i64| time_us.saturating_sub(before));
                    if self.pause(outlet, pause).is_break() {
                        return Ok(ControlFlow::Break(()));
                    }
                    at_its_time(&mut opening, outlet, time_us, printed)
                }
            };
            if flow.is_break() {
                return Ok(ControlFlow::Break(()));
            }
        }
        let flow = opening.finish(|told| outlet.tell(outlet.news_of(told)));
        Ok(if flow.is_break() { flow } else { outlet.say(SourceState::Ended) })
    }

    fn pause(&self, outlet: &Outlet, us: i64) -> ControlFlow<()> {
        let wait = |faster: u32| Duration::from_micros(u64::try_from(us).unwrap_or(0) / u64::from(faster.max(1)));
        outlet.wait(self.recording.faster.map_or(Duration::ZERO, wait))
    }
}

fn is_credible(outlet: &Outlet, time_us: i64) -> bool {
    (EARLIEST_US..=outlet.now_us().saturating_add(AHEAD_US)).contains(&time_us)
}

/// A line recorded with its time is a reading of then, and the same one however often it is played.
fn at_its_time(opening: &mut Opening<'_>, outlet: &Outlet, time_us: i64, printed: &[u8]) -> ControlFlow<()> {
    if !is_credible(outlet, time_us) {
        return outlet.tell(outlet.unread(printed.trim_ascii_end(), LineFault::RecordedTime));
    }
    let of_then = |news: News| match news {
        News::Reading(probe, reading, _) => News::Reading(probe, reading, Stamp::Source),
        other => other,
    };
    opening.push(printed, || (time_us, Stamp::Source), |told| outlet.tell(of_then(outlet.news_of(told))))
}

/// A line's time, RFC 3339 up to the first blank or tab, and what was printed then.
fn timed(line: &[u8]) -> Option<(i64, &[u8])> {
    let blank = line.iter().position(|byte| matches!(byte, b' ' | b'\t'))?;
    let (time, printed) = line.split_at(blank);
    let time = chrono::DateTime::parse_from_rfc3339(std::str::from_utf8(time).ok()?).ok()?;
    Some((time.timestamp_micros(), printed.get(1..).unwrap_or_default()))
}

/// The lines of a file with their ends, without the header that says where a recording is from.
struct Lines {
    file: BufReader<File>,
    count: usize,
}

impl Lines {
    fn open(path: &std::path::Path) -> std::io::Result<Self> {
        let mut lines = Self { file: BufReader::new(File::open(path)?), count: 0 };
        while let Some(line) = lines.next_line()?.filter(|line| line.starts_with(b"#")) {
            if line.trim_ascii_end() == HEADER_END {
                return Ok(lines);
            }
        }
        // There is no header, or it does not end: everything was printed.
        Ok(Self { file: BufReader::new(File::open(path)?), count: 0 })
    }

    /// The next line, or a piece of one that is too long.
    fn next_line(&mut self) -> std::io::Result<Option<Vec<u8>>> {
        let mut line = Vec::new();
        self.file.by_ref().take(LONGEST).read_until(b'\n', &mut line)?;
        self.count += usize::from(!line.is_empty());
        Ok((!line.is_empty()).then_some(line))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_line_may_begin_with_its_time() {
        let us = 1_773_489_600_000_000;
        assert_eq!(timed(b"2026-03-14T12:00:00Z mat,26.5\r\n"), Some((us, &b"mat,26.5\r\n"[..])));
        assert_eq!(timed(b"2026-03-14T13:00:00.5+01:00\tmat,26.5\n"), Some((us + 500_000, &b"mat,26.5\n"[..])));
        for none in [&b"mat,26.5\n"[..], b"21.5\n", b"2026-03-14 12:00:00 mat,26.5\n", b"2026-03-14T12:00:00Z", b"\xff 21.5\n", b""]
        {
            assert_eq!(timed(none), None);
        }
    }
}
