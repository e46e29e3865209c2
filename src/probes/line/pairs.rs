//! `air:21.5,soil:19.8`, as sketches print it for a plotter.

use super::value::{NO_VALUE, Unit, from_text, number};
use super::{Measured, Shape};
use crate::bench::Name;

/// Pairs between commas or tabs. Blanks are allowed around a pair but not within: "Probes found: 2" is talk, not a
/// temperature. With nothing after the last colon the probe is there, but its number is not.
pub(super) fn pairs(text: &str) -> Shape {
    let pairs: Option<Vec<_>> = text.split([',', '\t']).map(|part| pair(part.trim())).collect();
    let measured = |(label, text): (&str, &str)| {
        let value = if text.is_empty() { Some(Ok(NO_VALUE)) } else { from_text(text, Unit::Celsius) };
        value.map(|value| value.and_then(|value| Ok(Measured::now(Some(Name::new(label)?), value))))
    };
    let measured: Option<Vec<_>> = pairs?.into_iter().map(measured).collect();
    Some(measured?.into_iter().collect())
}

/// The two sides of a pair. A label that is a number is none: "12:30" is a time.
fn pair(part: &str) -> Option<(&str, &str)> {
    let (label, value) = part.split_once(':')?;
    let has = |text: &str, bad: fn(char) -> bool| text.contains(bad);
    let is_label = !label.is_empty() && number(label).is_none() && !has(label, |c| c.is_whitespace() || "{}[]\"".contains(c));
    (is_label && !has(value, char::is_whitespace)).then_some((label, value))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;

    fn read(text: &str) -> Option<Vec<(String, Option<i64>, Proof)>> {
        let all = pairs(text)?.unwrap();
        Some(all.into_iter().map(|one| (one.probe.unwrap().to_string(), one.raw_c_e4, one.proof)).collect())
    }

    #[test]
    fn labels_and_values_are_read_in_order() {
        let air = ("air".to_owned(), Some(215_000), Proof::Plain);
        let soil = |raw, proof| ("soil".to_owned(), raw, proof);
        assert_eq!(read("air:21.5"), Some(vec![air.clone()]));
        for text in ["air:21.5,soil:19.8", "air:21.5, soil:19.8", "air:21.5\tsoil:19.8"] {
            assert_eq!(read(text), Some(vec![air.clone(), soil(Some(198_000), Proof::Plain)]), "{text:?}");
        }
        assert_eq!(read("soil:-127,air:21.5"), Some(vec![soil(Some(-1_270_000), Proof::Disconnected), air.clone()]));
        for text in ["air:21.5,soil:nan", "air:21.5,soil:"] {
            assert_eq!(read(text), Some(vec![air.clone(), soil(None, Proof::NotANumber)]), "{text:?}");
        }
    }

    #[test]
    fn talk_with_colons_is_not_taken_for_temperatures() {
        for talk in [
            "12:30",
            "12:30:05",
            "Probes found: 2",
            "found: 2",
            "rst:0x1 (POWERON),boot:0x13",
            "clock div:1",
            "air:21.5,soil",
            "air:21.5,,soil:19.8",
            "air:21.5 soil:19.8",
            "air:21.5C",
            ":21.5",
            "28:ff:64:02",
        ] {
            assert_eq!(read(talk), None, "{talk:?}");
        }
    }
}
