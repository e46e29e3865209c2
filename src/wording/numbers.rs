//! Numbers as growers say them.

use crate::bench::Degrees;
use crate::germination::Estimate;
use crate::stats::Spread;

/// A temperature in the grower's degrees: "21.4 °C", "70.5 °F"; a real minus sign for frost, and a space at which no line is broken.
pub(super) fn temperature(celsius: f64, degrees: Degrees) -> String {
    format!("{}\u{a0}{}", decimal(in_degrees(celsius, degrees)), sign(degrees))
}

/// A temperature in the grower's degrees, with their sign.
#[must_use]
pub fn degrees_words(celsius: f64, degrees: Degrees) -> String {
    temperature(celsius, degrees)
}

/// A difference of temperatures in the grower's degrees, with their sign.
#[must_use]
pub fn difference_words(celsius: f64, degrees: Degrees) -> String {
    format!("{}\u{a0}{}", decimal(difference_in(celsius, degrees)), sign(degrees))
}

/// °C in the grower's degrees.
pub(super) fn in_degrees(celsius: f64, degrees: Degrees) -> f64 {
    match degrees {
        Degrees::Celsius => celsius,
        Degrees::Fahrenheit => celsius * PER_DEGREE + 32.0,
    }
}

/// A difference or degree-days in the grower's degrees, without the 32.
pub(super) fn difference_in(celsius: f64, degrees: Degrees) -> f64 {
    match degrees {
        Degrees::Celsius => celsius,
        Degrees::Fahrenheit => celsius * PER_DEGREE,
    }
}

/// "°C" or "°F".
pub(super) fn sign(degrees: Degrees) -> &'static str {
    match degrees {
        Degrees::Celsius => "°C",
        Degrees::Fahrenheit => "°F",
    }
}

/// One decimal, with a real minus sign.
pub(super) fn decimal(value: f64) -> String {
    fixed(value, 1)
}

/// So many decimals, with a real minus sign, and none before a zero.
pub(super) fn fixed(value: f64, places: usize) -> String {
    let text = format!("{value:.places$}");
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|digit| matches!(digit, b'0' | b'.')) => digits.to_owned(),
        Some(digits) => format!("−{digits}"),
        None => text,
    }
}

/// "3", "3–5", "more than 4": whole days of a spread, never below 0.
pub(super) fn days(spread: &Spread) -> String {
    let whole = |value: f64| value.round().max(0.0);
    match (spread.p10.map(whole), spread.p90.map(whole)) {
        (Some(low), Some(high)) if low == high => format!("about {low}"),
        (Some(low), Some(high)) => format!("{low}–{high}"),
        (Some(low), None) => format!("more than {low}"),
        (None, _) => "many".to_owned(),
    }
}

/// The same with its unit: "3–5 days", "about 1 day", "many days".
pub(super) fn in_days(spread: &Spread) -> String {
    let text = days(spread);
    let unit = if text == "about 1" || text == "more than 1" { "day" } else { "days" };
    format!("{text} {unit}")
}

/// With a capital letter to begin with.
pub(super) fn capital(words: &str) -> String {
    let mut letters = words.chars();
    letters.next().map_or_else(String::new, |first| first.to_uppercase().chain(letters).collect())
}

/// A chance in words a grower uses: "about 1 in 8", "about 9 in 10", "hardly any chance", "almost certain".
pub(super) fn odds(chance: f64) -> String {
    if chance < 0.02 {
        "hardly any chance".to_owned()
    } else if chance > 0.98 {
        "almost certain".to_owned()
    } else if chance < 0.25 {
        format!("about 1 in {:.0}", 1.0 / chance)
    } else {
        format!("about {:.0} in 10", (chance * 10.0).clamp(3.0, 9.0))
    }
}

/// "9.8 (8.9–10.6)", or with what is missing left open.
pub(super) fn estimate(value: &Estimate, places: usize) -> String {
    let number = |value: f64| fixed(value, places);
    let Some(middle) = value.estimate else { return "not told by these sowings".to_owned() };
    match (value.low, value.high) {
        (Some(low), Some(high)) => format!("{} ({} to {})", number(middle), number(low), number(high)),
        (None, Some(high)) => format!("{} (at most {})", number(middle), number(high)),
        (Some(low), None) => format!("{} (at least {})", number(middle), number(low)),
        (None, None) => number(middle),
    }
}

/// Degrees Fahrenheit in a degree Celsius.
const PER_DEGREE: f64 = 1.8;
/// Width that text is broken at, in columns.
const WIDTH: usize = 96;

/// A paragraph as lines, the first behind `first`, the others behind `indent`.
pub(super) fn paragraph(words: &str, first: &str, indent: &str) -> String {
    let options = textwrap::Options::new(WIDTH).initial_indent(first).subsequent_indent(indent).break_words(false);
    textwrap::fill(words, options)
}

/// "1 box", "3 boxes".
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    if count == 1 { format!("1 {one}") } else { format!("{count} {many}") }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn chances_and_days_read_as_said() {
        assert_eq!(
            [0.01, 0.125, 0.2, 0.5, 0.93, 0.99].map(odds),
            ["hardly any chance", "about 1 in 8", "about 1 in 5", "about 5 in 10", "about 9 in 10", "almost certain"]
        );
        let spread = |p10, p90| Spread { p10, p50: p10, p90 };
        assert_eq!(days(&spread(Some(2.6), Some(5.2))), "3–5");
        assert_eq!(days(&spread(Some(2.6), None)), "more than 3");
        assert_eq!(in_days(&spread(Some(0.6), Some(1.4))), "about 1 day");
        assert_eq!(in_days(&spread(Some(0.6), Some(2.0))), "1–2 days");
        assert_eq!(in_days(&spread(Some(2.0), Some(2.0))), "about 2 days");
        assert_eq!(decimal(-0.04), "0.0");
        assert_eq!(temperature(-3.0, Degrees::Celsius), "−3.0\u{a0}°C");
        assert_eq!(temperature(-3.0, Degrees::Fahrenheit), "26.6\u{a0}°F");
        assert_eq!(difference_in(100.0, Degrees::Fahrenheit), 180.0);
    }
}
