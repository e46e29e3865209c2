//! At which speed a board prints, found from what comes: nothing but counting, so that it can be tried without a port.

use super::LONGEST_JSON;

/// Speeds tried, in bits a second, after the one remembered of the port; the commonest first (common practice, no source).
const RATES: [u32; 7] = [9600, 115_200, 57_600, 38_400, 19_200, 230_400, 4800];
/// So many lines in a row that can be read settle the speed.
const SETTLED_AFTER: u32 = 2;
/// Bytes by which a burst can be judged; fewer are counted to the next one.
const LEAST_BYTES: usize = 4;
/// A burst without an end is judged after so many bytes.
const MOST_BYTES: usize = 1024;
/// One byte in so many that is no text makes a burst garbage. A coloured line has one in ten, a loose contact few.
const GARBAGE_ONE_IN: usize = 4;
/// Garbled bursts that speak against a speed not settled. A board's own boot program, at another speed, is one.
const STRIKES: u32 = 2;
/// Garbled bursts in a row that speak against a speed at which lines were read: only a new board or sketch prints so many.
const STRIKES_ONCE_SETTLED: u32 = 8;

/// What to do about the speed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Verdict {
    /// Read on.
    Stay,
    /// Read on at another speed.
    Try(u32),
    /// This is the one.
    Found(u32),
}

/// A hunt for the speed of one port. Silence is no evidence: boards print once a minute, and are plugged in later.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Hunt {
    rates: Vec<u32>,
    at: usize,
    settled: bool,
    strikes: u32,
    burst: Burst,
    /// Bytes since a line ended: more than the longest pack are none.
    since_line_end: usize,
}

/// Bytes that came together.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
struct Burst {
    bytes: usize,
    no_text: usize,
    /// Bytes that a multi-byte character of UTF-8 still wants.
    wanted: u8,
}

impl Hunt {
    /// A hunt that begins at the speed remembered, if any.
    pub(super) fn new(remembered: Option<u32>) -> Self {
        let others = RATES.into_iter().filter(|rate| Some(*rate) != remembered);
        Self {
            rates: remembered.into_iter().chain(others).collect(),
            at: 0,
            settled: false,
            strikes: 0,
            burst: Burst::default(),
            since_line_end: 0,
        }
    }

    /// The speed to read at.
    pub(super) fn rate(&self) -> u32 {
        self.rates.get(self.at).copied().unwrap_or(RATES[0])
    }

    /// The port is opened anew: maybe another board is there now.
    pub(super) fn is_opened(&mut self) {
        (self.settled, self.strikes, self.burst, self.since_line_end) = (false, 0, Burst::default(), 0);
    }

    /// Bytes came, after which so many lines in a row could be read.
    pub(super) fn heard(&mut self, bytes: &[u8], readable_in_a_row: u32) -> Verdict {
        for byte in bytes {
            self.burst.take(*byte);
            self.since_line_end = if matches!(byte, b'\n' | b'\r') { 0 } else { self.since_line_end + 1 };
            if self.since_line_end > LONGEST_JSON {
                (self.strikes, self.since_line_end) = (self.strikes + 1, 0);
            }
            if self.burst.bytes >= MOST_BYTES {
                self.judge();
            }
        }
        if readable_in_a_row >= SETTLED_AFTER {
            self.strikes = 0;
            if !std::mem::replace(&mut self.settled, true) {
                return Verdict::Found(self.rate());
            }
        }
        self.next_if_wrong()
    }

    /// Nothing came for a moment: what came before was a burst.
    pub(super) fn silent(&mut self) -> Verdict {
        if self.burst.bytes >= LEAST_BYTES {
            self.judge();
        }
        self.next_if_wrong()
    }

    fn judge(&mut self) {
        let Burst { bytes, no_text, .. } = std::mem::take(&mut self.burst);
        if no_text * GARBAGE_ONE_IN >= bytes {
            self.strikes += 1;
        }
    }

    fn next_if_wrong(&mut self) -> Verdict {
        if self.strikes < if self.settled { STRIKES_ONCE_SETTLED } else { STRIKES } {
            return Verdict::Stay;
        }
        self.at = (self.at + 1) % self.rates.len().max(1);
        self.is_opened();
        Verdict::Try(self.rate())
    }
}

impl Burst {
    fn take(&mut self, byte: u8) {
        self.bytes += 1;
        if self.wanted > 0 {
            if (0x80..0xC0).contains(&byte) {
                self.wanted -= 1;
                return;
            }
            // The character that had begun was none.
            self.no_text += 1;
        }
        self.wanted = match byte {
            0xC2..0xE0 => 1,
            0xE0..0xF0 => 2,
            0xF0..0xF5 => 3,
            _ => 0,
        };
        let is_text = self.wanted > 0 || matches!(byte, b'\t' | b'\n' | b'\r' | 0x1B | 0x20..0x7F);
        if !is_text {
            self.no_text += 1;
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A burst, and the silence after it.
    fn burst(hunt: &mut Hunt, bytes: &[u8], readable_in_a_row: u32) -> Verdict {
        match hunt.heard(bytes, readable_in_a_row) {
            Verdict::Stay => hunt.silent(),
            verdict => verdict,
        }
    }

    const GARBAGE: &[u8] = b"\xf8\x00\x86\xe6\x00\xfe\x80\xf8";

    #[test]
    fn two_lines_in_a_row_that_can_be_read_settle_the_speed_once() {
        let mut hunt = Hunt::new(None);
        assert_eq!(burst(&mut hunt, b"mat,26.5\r\n", 1), Verdict::Stay);
        assert_eq!(burst(&mut hunt, b"mat,26.5\r\n", 2), Verdict::Found(9600));
        assert_eq!(burst(&mut hunt, b"mat,26.5\r\n", 3), Verdict::Stay);
        assert!(hunt.settled);
    }

    #[test]
    fn silence_and_talk_are_no_evidence() {
        let mut hunt = Hunt::new(None);
        for _ in 0..1000 {
            assert_eq!(hunt.silent(), Verdict::Stay);
            assert_eq!(burst(&mut hunt, b"\x1b[0;32mI (312) main: two probes found\x1b[0m\n", 0), Verdict::Stay);
            assert_eq!(burst(&mut hunt, "Fühler größer als 20 °C\n".as_bytes(), 0), Verdict::Stay);
        }
        assert_eq!(hunt.rate(), 9600);
    }

    #[test]
    fn boot_noise_before_good_lines_does_not_lead_away_and_later_noise_neither() {
        let mut hunt = Hunt::new(None);
        assert_eq!(burst(&mut hunt, &[0xfc; 70], 0), Verdict::Stay);
        assert_eq!(burst(&mut hunt, b"mat,26.5\n", 1), Verdict::Stay);
        assert_eq!(burst(&mut hunt, b"mat,26.5\n", 2), Verdict::Found(9600));
        for _ in 0..5 {
            for _ in 0..STRIKES_ONCE_SETTLED - 1 {
                assert_eq!(burst(&mut hunt, GARBAGE, 0), Verdict::Stay);
            }
            assert_eq!(burst(&mut hunt, b"mat,26.5\nmat,26.5\n", 2), Verdict::Stay);
        }
    }

    #[test]
    fn garbage_leads_through_every_speed_and_round_again_beginning_at_the_one_remembered() {
        let mut hunt = Hunt::new(Some(57_600));
        let mut tried = vec![hunt.rate()];
        for _ in 0..STRIKES * 7 {
            if let Verdict::Try(rate) = burst(&mut hunt, GARBAGE, 0) {
                tried.push(rate);
            }
        }
        assert_eq!(tried, [57_600, 9600, 115_200, 38_400, 19_200, 230_400, 4800, 57_600]);
        let mut unusual = Hunt::new(Some(74_880));
        assert_eq!((unusual.rate(), unusual.rates.len()), (74_880, 8));
        unusual.settled = true;
        for _ in 1..STRIKES_ONCE_SETTLED {
            assert_eq!(burst(&mut unusual, GARBAGE, 0), Verdict::Stay);
        }
        assert_eq!(burst(&mut unusual, GARBAGE, 0), Verdict::Try(9600), "a new sketch at another speed is found");
    }

    #[test]
    fn a_stream_without_a_pause_is_judged_and_text_without_a_line_end_is_a_long_line() {
        let mut hunt = Hunt::new(None);
        let verdicts: Vec<Verdict> = (0..8).map(|_| hunt.heard(&[0xf8; 512], 0)).collect();
        assert_eq!(verdicts[3], Verdict::Try(115_200), "{verdicts:?}");
        let mut endless = Hunt::new(None);
        let verdicts: Vec<Verdict> = (0..3).map(|_| endless.heard(&[b'x'; LONGEST_JSON], 0)).collect();
        assert_eq!(verdicts, [Verdict::Stay, Verdict::Stay, Verdict::Try(115_200)], "a pack may be long");
    }

    /// Bytes of a wrong speed, a few at a time as a board prints them, and stray single ones.
    #[test]
    fn bytes_recorded_at_a_wrong_speed_are_evidence() {
        let recorded = include_bytes!("../../tests/devices/port_at_a_wrong_speed.log");
        let begins = recorded.windows(5).position(|window| window == b"# --\n").unwrap() + 5;
        let mut hunt = Hunt::new(None);
        let mut changes = 0;
        for piece in recorded[begins..].chunks(9) {
            changes += u32::from(matches!(burst(&mut hunt, piece, 0), Verdict::Try(_)));
        }
        assert!(changes >= 7, "{changes}");
        let mut few = Hunt::new(None);
        let heard = (0..8).filter(|_| burst(&mut few, b"\xff", 0) != Verdict::Stay).count();
        assert_eq!(heard, 1, "single bytes add up to two bursts");
    }
}
