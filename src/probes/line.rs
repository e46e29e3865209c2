//! What one whole line means.
//!
//! Either `21.5`, the reading of the port's own probe, or `id,21.5`. A line is read only if it can mean one thing: anything
//! else is handed back with the reason, to be kept as it came. Lines without a checksum can be garbled into other well-formed
//! lines; what that does is left to the flags of `quality`.

use thiserror::Error;

use crate::bench::{Name, NameFault, Proof, TENTHS_OF_MILLI};
use crate::quality;

/// Beyond this a number is no temperature and no code of any driver, in °C.
const LARGEST_C: f64 = 1000.0;

/// Words that stand for "no number" where one should be, compared without regard to case: what C libraries print for
/// not-a-number and infinity, and what sketches print by hand (common practice, no source).
const NO_NUMBER: [&str; 10] = ["nan", "-nan", "inf", "-inf", "+inf", "null", "none", "err", "error", "n/a"];

/// What a line measured.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Measured {
    /// The probe it names; none: the port's own.
    pub probe: Option<Name>,
    /// Raw temperature in 1/10 000 °C; none where the line held no number.
    pub raw_c_e4: Option<i64>,
    /// What the line proves by itself. That a value of 85 is the power-on one, a single line cannot prove: see
    /// [`super::Opening`].
    pub proof: Proof,
}

/// Why a line could not be read.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum LineFault {
    /// Bytes that are not text.
    #[error("it is not text (UTF-8)")]
    NotText,
    /// A control character that ends no line and colours nothing.
    #[error("it holds a control character")]
    Control,
    /// No number, and nothing that names a probe before one.
    #[error("it is neither a number nor 'probe,number'")]
    NotANumberLine,
    /// "21,5", or a probe named by a bare number.
    #[error("'{0}' before the comma is a number: a decimal comma? Write 21.5; a probe's name must not be a bare number")]
    DecimalComma(String),
    /// More than one comma.
    #[error("it has more than one comma")]
    ManyCommas,
    /// The name is none.
    #[error("{0}")]
    Name(#[from] NameFault),
    /// A number that is no temperature.
    #[error("{0} is no temperature and no code known")]
    OutOfRange(String),
    /// Longer than a line may be.
    #[error("it is longer than {} bytes", super::LONGEST_LINE)]
    TooLong,
}

/// Says what a line of its shape means; nothing of lines of other shapes.
type Format = fn(&str) -> Option<Result<Measured, LineFault>>;

/// The formats, tried in order: the first that knows the shape of a line decides what it means.
const FORMATS: [Format; 2] = [bare, named];

/// Reads one whole line, without its end. A line of nothing but blanks measures nothing.
///
/// # Errors
/// [`LineFault`]: the line cannot be read, and why.
pub fn read_line(bytes: &[u8]) -> Result<Option<Measured>, LineFault> {
    let text = std::str::from_utf8(bytes).map_err(|_| LineFault::NotText)?;
    let text = without_colours(text.trim_start_matches('\u{feff}'));
    let text = text.trim_matches([' ', '\t']);
    if text.chars().any(|c| c.is_control() && c != '\t') {
        return Err(LineFault::Control);
    }
    if text.is_empty() {
        return Ok(None);
    }
    FORMATS.iter().find_map(|format| format(text)).unwrap_or(Err(LineFault::NotANumberLine)).map(Some)
}

/// `21.5`
fn bare(text: &str) -> Option<Result<Measured, LineFault>> {
    value(text).map(|value| value.map(|(raw_c_e4, proof)| Measured { probe: None, raw_c_e4, proof }))
}

/// `id,21.5`. With nothing after the comma the probe is there, but its number is not.
fn named(text: &str) -> Option<Result<Measured, LineFault>> {
    let (id, rest) = text.split_once(',')?;
    let (id, rest) = (id.trim(), rest.trim());
    if number(id).is_some() {
        return Some(Err(LineFault::DecimalComma(id.to_owned())));
    }
    if rest.contains(',') {
        return Some(Err(LineFault::ManyCommas));
    }
    let value = if rest.is_empty() { Ok((None, Proof::NotANumber)) } else { value(rest)? };
    Some(value.and_then(|(raw_c_e4, proof)| Ok(Measured { probe: Some(Name::new(id)?), raw_c_e4, proof })))
}

/// A number or a word for none; nothing where the text is neither.
fn value(text: &str) -> Option<Result<(Option<i64>, Proof), LineFault>> {
    if NO_NUMBER.iter().any(|word| text.eq_ignore_ascii_case(word)) {
        return Some(Ok((None, Proof::NotANumber)));
    }
    let celsius = number(text)?;
    // The check comes before the cast, which would turn not-a-number into 0 and infinity into the largest number.
    if !(celsius.is_finite() && celsius.abs() <= LARGEST_C) {
        return Some(Err(LineFault::OutOfRange(text.to_owned())));
    }
    let raw = (celsius * TENTHS_OF_MILLI).round() as i64;
    let proof = if quality::is_code(raw) { Proof::Disconnected } else { Proof::Plain };
    Some(Ok((Some(raw), proof)))
}

/// A decimal number with digits on both sides of its point, with or without an exponent. Stricter than Rust's own, which
/// takes "21." and ".5": those look like halves of something.
fn number(text: &str) -> Option<f64> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (mantissa, exponent) = unsigned.split_once(['e', 'E']).map_or((unsigned, None), |(m, e)| (m, Some(e)));
    let (whole, fraction) = mantissa.split_once('.').map_or((mantissa, None), |(w, f)| (w, Some(f)));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let exponent_is_one = exponent.is_none_or(|e| digits(e.strip_prefix(['+', '-']).unwrap_or(e)));
    (digits(whole) && fraction.is_none_or(digits) && exponent_is_one).then(|| text.parse().ok())?
}

/// The text without whole colour sequences (`ESC [ 32 ; 1 m`). A broken sequence leaves its escape character behind, which
/// spoils the line: its digits could be taken for a temperature.
fn without_colours(text: &str) -> String {
    let mut kept = String::with_capacity(text.len());
    let mut rest = text;
    while let Some((before, after)) = rest.split_once("\u{1b}[") {
        kept.push_str(before);
        let end = after.find(|c: char| !c.is_ascii_digit() && c != ';');
        match end.and_then(|end| after.get(end..)?.strip_prefix('m')) {
            Some(tail) => rest = tail,
            None => {
                kept.push('\u{1b}');
                rest = after;
            }
        }
    }
    kept + rest
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn plain(probe: Option<&str>, celsius: f64) -> Result<Option<Measured>, LineFault> {
        read(probe, Some(celsius), Proof::Plain)
    }

    fn read(probe: Option<&str>, celsius: Option<f64>, proof: Proof) -> Result<Option<Measured>, LineFault> {
        let raw_c_e4 = celsius.map(|celsius| (celsius * 1e4).round() as i64);
        Ok(Some(Measured { probe: probe.map(|name| Name::new(name).unwrap()), raw_c_e4, proof }))
    }

    #[test]
    fn the_two_simple_forms_are_read() {
        for (line, expected) in [
            ("21.5", plain(None, 21.5)),
            ("-0.0625", plain(None, -0.0625)),
            ("+7", plain(None, 7.0)),
            ("  21.5\t", plain(None, 21.5)),
            ("1.95e1", plain(None, 19.5)),
            ("sill,21.5625", plain(Some("sill"), 21.5625)),
            ("west sill , 21.5", plain(Some("west sill"), 21.5)),
            ("28-3d7de20264ff,19", plain(Some("28-3d7de20264ff"), 19.0)),
            ("p1,85.0", plain(Some("p1"), 85.0)),
            ("größe,0.5", plain(Some("größe"), 0.5)),
        ] {
            assert_eq!(read_line(line.as_bytes()), expected, "{line:?}");
        }
    }

    #[test]
    fn what_a_line_proves_is_kept_with_its_number() {
        for code in [-127.0, -196.6, 127.94, -254.0, -253.0, -252.0, -999.0] {
            assert_eq!(read_line(format!("p1,{code}").as_bytes()), read(Some("p1"), Some(code), Proof::Disconnected));
        }
        for none in ["nan", "NaN", "null", "ERR", "inf", "-inf", ""] {
            assert_eq!(read_line(format!("p1,{none}").as_bytes()), read(Some("p1"), None, Proof::NotANumber), "{none:?}");
        }
        assert_eq!(read_line(b"nan"), read(None, None, Proof::NotANumber));
        assert_eq!(read_line(b"p1,0.000"), plain(Some("p1"), 0.0));
    }

    #[test]
    fn dirt_around_a_line_is_taken_off_and_dirt_within_it_spoils_it() {
        assert_eq!(read_line("\u{feff}21.5".as_bytes()), plain(None, 21.5));
        assert_eq!(read_line(b"\x1b[32mp1,\x1b[0;1m21.5\x1b[m"), plain(Some("p1"), 21.5));
        assert_eq!(read_line(b"\x1b[321.5"), Err(LineFault::Control));
        assert_eq!(read_line(b"2\x001.5"), Err(LineFault::Control));
        assert_eq!(read_line(b"\x001.5"), Err(LineFault::Control), "a lost digit must not make a temperature");
        assert_eq!(read_line(b"p1,21.5\xff"), Err(LineFault::NotText));
        assert_eq!(read_line(b"   "), Ok(None));
    }

    #[test]
    fn what_could_mean_two_things_is_refused_with_the_reason() {
        for (line, words) in [
            ("21,5", "'21' before the comma is a number: a decimal comma? Write 21.5; a probe's name must not be a bare number"),
            ("-3,5", "'-3' before the comma is a number: a decimal comma? Write 21.5; a probe's name must not be a bare number"),
            ("p1,21,5", "it has more than one comma"),
            ("p1,1e400", "1e400 is no temperature and no code known"),
            ("1000.1", "1000.1 is no temperature and no code known"),
            ("21.", "it is neither a number nor 'probe,number'"),
            (".5", "it is neither a number nor 'probe,number'"),
            ("0x15", "it is neither a number nor 'probe,number'"),
            ("p1,70F", "it is neither a number nor 'probe,number'"),
            ("DS18B20 logger v2 ready", "it is neither a number nor 'probe,number'"),
            ("ets Jan  8 2013,rst cause:2, boot mode:(3,6)", "it has more than one comma"),
            ("AT", "it is neither a number nor 'probe,number'"),
            (",21.5", "a name is missing"),
        ] {
            assert_eq!(read_line(line.as_bytes()).map_err(|fault| fault.to_string()), Err(words.to_owned()), "{line:?}");
        }
        let long = format!("{},21.5", "x".repeat(81));
        assert!(matches!(read_line(long.as_bytes()), Err(LineFault::Name(NameFault::TooLong(81, _)))));
    }

    fn is_refused_or_in_range(bytes: &[u8]) -> bool {
        let measured = read_line(bytes).ok().flatten();
        measured.and_then(|measured| measured.raw_c_e4).is_none_or(|raw| raw.abs() <= 10_000_000)
    }

    proptest! {
        #[test]
        fn no_bytes_make_it_fail_or_read_what_is_no_temperature(bytes in prop::collection::vec(any::<u8>(), 0..600)) {
            prop_assert!(is_refused_or_in_range(&bytes));
        }

        #[test]
        fn near_misses_neither(text in "(\u{feff}|\u{1b}\\[[0-9;]{0,3}m?)?[a-z]{0,2},?[-+]?[0-9]{0,4}[.,]?[0-9eE]{0,4}(nan|inf)?") {
            prop_assert!(is_refused_or_in_range(text.as_bytes()));
        }

        #[test]
        fn a_probes_sixteenths_are_kept_exactly(sixteenths in -880i64..=2000) {
            let celsius = sixteenths as f64 / 16.0;
            let measured = read_line(format!("p1,{celsius:.4}").as_bytes()).unwrap().unwrap();
            prop_assert_eq!(measured.raw_c_e4, Some(sixteenths * 625));
        }
    }
}
