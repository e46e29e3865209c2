//! `mat,26.5*A1`: the plain forms with a checksum, so that a line with one byte garbled is never read.

use super::super::crc8::maxim;
use super::{LineFault, Shape, plain};

/// One of the plain forms, `*`, and the CRC-8/MAXIM of the bytes before it as two capital hexadecimal digits. A line that ends
/// so is of this form, whatever stands before.
pub(super) fn checked(text: &str) -> Shape {
    let (body, given) = text.rsplit_once('*')?;
    let is_digit = |byte: u8| byte.is_ascii_digit() || (b'A'..=b'F').contains(&byte);
    if given.len() != 2 || !given.bytes().all(is_digit) {
        return None;
    }
    let found = format!("{:02X}", maxim(body.as_bytes()));
    if found != given {
        return Some(Err(LineFault::Checksum { given: given.to_owned(), found }));
    }
    Some(plain::bare(body).or_else(|| plain::named(body)).unwrap_or(Err(LineFault::Unknown)))
}

#[cfg(test)]
mod tests {
    use super::super::{LineFormat, LineReader, Read};
    use super::*;

    fn with_checksum(body: &str) -> String {
        format!("{body}*{:02X}", maxim(body.as_bytes()))
    }

    #[test]
    fn a_line_with_its_checksum_is_read_and_one_with_another_is_not() {
        let raw = |text: &str| checked(text).unwrap().map(|all| (all[0].probe.as_ref().map(ToString::to_string), all[0].raw_c_e4));
        assert_eq!(raw(&with_checksum("mat,26.5")), Ok((Some("mat".to_owned()), Some(265_000))));
        assert_eq!(raw(&with_checksum("-3.0625")), Ok((None, Some(-30_625))));
        assert_eq!(raw(&with_checksum("a*b,1")), Ok((Some("a*b".to_owned()), Some(10_000))));
        let words = |text: &str| checked(text).unwrap().unwrap_err().to_string();
        // The check value of the algorithm over "123456789" is A1.
        assert_eq!(words("123456789*A0"), "its checksum is A0, that of what came is A1");
        assert_eq!(words("123456789*A1"), "123456789 is no temperature and no code known");
        assert_eq!(words(&with_checksum("hello")), LineFault::Unknown.to_string());
        for none in ["mat,26.5", "mat,26.5*", "mat,26.5*a1", "mat,26.5*A", "mat,26.5*A11", "mat,26.5*G1"] {
            assert_eq!(checked(none), None, "{none}");
        }
    }

    /// Every byte of a line replaced by every other, which holds every single bit error: nothing but the line itself is ever
    /// read. A line end that comes up in its middle makes two lines of it.
    #[test]
    fn fault_24_no_garbled_byte_in_a_line_with_a_checksum_is_ever_read() {
        let whole = with_checksum("sill,21.5");
        let mut reader = LineReader::new();
        for _ in 0..3 {
            assert!(reader.read(whole.as_bytes()).is_ok());
        }
        for place in 0..whole.len() {
            for other in (0..=u8::MAX).filter(|other| *other != whole.as_bytes()[place]) {
                let mut bytes = whole.clone().into_bytes();
                bytes[place] = other;
                for line in bytes.split(|byte| *byte == b'\n' || *byte == b'\r') {
                    let read = reader.read(line);
                    let measured = read.as_ref().map_or(0, |read: &Read| read.measured.len());
                    assert_eq!(measured, 0, "{:?}: {read:?}", String::from_utf8_lossy(line));
                }
            }
        }
        assert!(reader.read(whole.as_bytes()).is_ok(), "and the whole one is read again");
    }

    #[test]
    fn once_lines_carry_checksums_those_without_are_not_read_until_the_port_is_opened_anew() {
        let mut reader = LineReader::new();
        for line in ["a,1", &with_checksum("a,1"), &with_checksum("a,1"), &with_checksum("a,1")] {
            assert!(reader.read(line.as_bytes()).is_ok(), "{line}");
        }
        for _ in 0..10 {
            assert_eq!(reader.read(b"a,1"), Err(LineFault::NoChecksum));
        }
        assert!(reader.read(with_checksum("a,1").as_bytes()).is_ok());
        reader.is_opened();
        assert_eq!(reader.read(b"a,1").unwrap().measured.len(), 1);
        assert_eq!(LineFormat::Checked.to_string(), "'probe,21.5*A1' with a checksum");
    }
}
