//! The numbers in lines, and the words that stand where one should be.

use super::LineFault;
use crate::bench::{Proof, TENTHS_OF_MILLI};
use crate::quality;

/// Beyond this a number is no temperature and no code of any driver, in the unit it was printed in.
const LARGEST: f64 = 1000.0;

/// Words that stand for "no number" where one should be, compared without regard to case: what C libraries print for
/// not-a-number and infinity, and what sketches print by hand (common practice, no source).
const NO_NUMBER: [&str; 10] = ["nan", "-nan", "inf", "-inf", "+inf", "null", "none", "err", "error", "n/a"];

/// A raw temperature in 1/10 000 °C, none where there was no number, and what it proves by itself.
pub(super) type Value = (Option<i64>, Proof);

/// There is a probe, but no number.
pub(super) const NO_VALUE: Value = (None, Proof::NotANumber);

/// The unit that a number was printed in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Unit {
    Celsius,
    Fahrenheit,
}

/// What a number means; `shown` is how it was printed, for the message.
pub(super) fn measured(number: f64, unit: Unit, shown: impl FnOnce() -> String) -> Result<Value, LineFault> {
    // The check comes before the cast, which would turn not-a-number into 0 and infinity into the largest number.
    if !(number.is_finite() && number.abs() <= LARGEST) {
        return Err(LineFault::OutOfRange(shown()));
    }
    let in_tenths_of_milli = |celsius: f64| (celsius * TENTHS_OF_MILLI).round() as i64;
    let raw = in_tenths_of_milli(match unit {
        Unit::Celsius => number,
        Unit::Fahrenheit => (number - 32.0) / 1.8,
    });
    // A driver's code may have been printed as it was, or turned into Fahrenheit with the rest.
    let is_code = quality::is_code(raw) || quality::is_code(in_tenths_of_milli(number));
    Ok((Some(raw), if is_code { Proof::Disconnected } else { Proof::Plain }))
}

/// A number or a word for none; nothing where the text is neither.
pub(super) fn from_text(text: &str, unit: Unit) -> Option<Result<Value, LineFault>> {
    if NO_NUMBER.iter().any(|word| text.eq_ignore_ascii_case(word)) {
        return Some(Ok(NO_VALUE));
    }
    number(text).map(|number| measured(number, unit, || text.to_owned()))
}

/// A decimal number with digits on both sides of its point, with or without an exponent. Stricter than Rust's own, which
/// takes "21." and ".5": those look like halves of something.
pub(super) fn number(text: &str) -> Option<f64> {
    let unsigned = text.strip_prefix(['+', '-']).unwrap_or(text);
    let (mantissa, exponent) = unsigned.split_once(['e', 'E']).map_or((unsigned, None), |(m, e)| (m, Some(e)));
    let (whole, fraction) = mantissa.split_once('.').map_or((mantissa, None), |(w, f)| (w, Some(f)));
    let digits = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    let exponent_is_one = exponent.is_none_or(|e| digits(e.strip_prefix(['+', '-']).unwrap_or(e)));
    (digits(whole) && fraction.is_none_or(digits) && exponent_is_one).then(|| text.parse().ok())?
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fahrenheit_is_turned_into_celsius_and_its_codes_are_still_codes() {
        let read = |text| from_text(text, Unit::Fahrenheit).unwrap().unwrap();
        // 32 °F is 0 °C and 212 °F is 100 °C by definition; 70.7 °F = 21.5 °C follows.
        for (text, raw) in [("32", 0), ("212", 1_000_000), ("70.7", 215_000), ("-40", -400_000), ("185.0", quality::POWER_ON_C_E4)]
        {
            assert_eq!(read(text), (Some(raw), Proof::Plain), "{text}");
        }
        // -196.6 °F is a driver's -127 °C; the others were never turned.
        for text in ["-196.6", "-127", "-999"] {
            assert_eq!(read(text).1, Proof::Disconnected, "{text}");
        }
        assert_eq!(read("nan"), NO_VALUE);
        assert_eq!(from_text("1000.1", Unit::Fahrenheit), Some(Err(LineFault::OutOfRange("1000.1".to_owned()))));
    }
}
