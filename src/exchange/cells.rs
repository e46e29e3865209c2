//! Single cells of a bench folder, as text.

use std::borrow::Cow;

use crate::bench::{Degrees, Reading, TENTHS_OF_MILLI};

/// What spreadsheets take for the beginning of a formula.
const FORMULA: [char; 4] = ['=', '+', '-', '@'];

/// Makes free text harmless to spreadsheets: an apostrophe before what would start a formula. Text that begins with an
/// apostrophe and would be undone by [`armed`] gets one too, so that the way there and back is exact.
pub(super) fn defused(text: &str) -> Cow<'_, str> {
    let shielded = text.strip_prefix('\'').is_some_and(|rest| rest.starts_with(FORMULA) || rest.starts_with('\''));
    if text.starts_with(FORMULA) || shielded { Cow::Owned(format!("'{text}")) } else { Cow::Borrowed(text) }
}

/// Undoes [`defused`].
pub(super) fn armed(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if rest.starts_with(FORMULA) || rest.starts_with('\'') => rest,
        _ => text,
    }
}

/// A number with decimal point.
pub(super) fn number(text: &str) -> Result<f64, String> {
    match text.parse::<f64>() {
        Ok(value) if value.is_finite() => Ok(value),
        // Rust reads "nan" and "inf" as numbers.
        Ok(_) => Err(format!("'{text}' is not a number")),
        Err(_) if text.contains(',') => Err(format!("'{text}' has a comma: write numbers with a decimal point")),
        Err(_) => Err(format!("'{text}' is not a number")),
    }
}

/// A count: a whole number from 0.
pub(super) fn count(text: &str) -> Result<u32, String> {
    text.parse().map_err(|_| format!("'{text}' is not a whole number from 0 up"))
}

/// A raw temperature in 1/10 000 °C. Drivers print codes such as −127 for a silent probe and these are kept; but no driver
/// prints more than a thousand degrees.
pub(super) fn raw_c_e4(text: &str, degrees: Degrees) -> Result<i64, String> {
    let celsius = degrees.to_celsius(number(text)?);
    if celsius.abs() <= 1000.0 {
        Ok((celsius * TENTHS_OF_MILLI).round() as i64)
    } else {
        Err(format!("{text} {} is no reading: readings lie from -1000 to 1000 °C", degrees.sign()))
    }
}

/// A raw temperature as text, exact, without needless zeros; empty where there is none.
pub(super) fn celsius(reading: &Reading) -> String {
    let Some(raw) = reading.raw_c_e4 else { return String::new() };
    let sign = if raw < 0 { "-" } else { "" };
    let (whole, part) = (raw.unsigned_abs() / 10_000, raw.unsigned_abs() % 10_000);
    let text = format!("{sign}{whole}.{part:04}");
    text.trim_end_matches('0').trim_end_matches('.').to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use proptest::prelude::*;

    #[test]
    fn formulas_are_defused() {
        for (text, cell) in [("=1+1", "'=1+1"), ("-", "'-"), ("'=x", "''=x"), ("'tis", "'tis"), ("''", "'''"), ("sill", "sill")] {
            assert_eq!((defused(text).as_ref(), armed(cell)), (cell, text));
        }
    }

    #[test]
    fn not_a_number_is_no_number() {
        for text in ["NaN", "nan", "inf", "1e400", "21,5", "", "0x15", "1001"] {
            assert!(raw_c_e4(text, Degrees::Celsius).is_err(), "{text}");
        }
        assert_eq!(number("21,5"), Err("'21,5' has a comma: write numbers with a decimal point".to_owned()));
        assert_eq!(raw_c_e4("-127", Degrees::Celsius), Ok(-1_270_000), "a code for a silent probe is kept");
    }

    /// The fixed points by which the scale is defined, and the one where both scales meet.
    #[test]
    fn fahrenheit_becomes_celsius() {
        for (fahrenheit, celsius) in [("32", 0), ("212", 1_000_000), ("-40", -400_000), ("70.7", 215_000), ("185", 850_000)] {
            assert_eq!(raw_c_e4(fahrenheit, Degrees::Fahrenheit), Ok(celsius), "{fahrenheit} °F");
        }
        assert!(raw_c_e4("2000", Degrees::Fahrenheit).is_err());
    }

    proptest! {
        #[test]
        fn defusing_is_undone_exactly(text in "['=+@a-]{0,5}") {
            let there = defused(&text).into_owned();
            prop_assert!(!there.starts_with(FORMULA));
            prop_assert_eq!(armed(&there), text);
        }

        #[test]
        fn raw_temperatures_come_back_exactly(raw in -10_000_000_i64..=10_000_000) {
            let text = celsius(&Reading { time_us: 0, raw_c_e4: Some(raw), proof: Proof::Plain });
            prop_assert_eq!(raw_c_e4(&text, Degrees::Celsius), Ok(raw));
        }
    }
}
