//! How wide words are, so that they can be set without touching.

use std::collections::HashMap;
use std::sync::LazyLock;

use skrifa::instance::{LocationRef, Size};
use skrifa::{FontRef, MetadataProvider as _};

/// The built-in font, TrueType: letters of Latin, Greek and Cyrillic, and the signs that figures use.
pub static FONT: &[u8] = include_bytes!("font/OpenSans-subset.ttf");

/// The family name of [`FONT`].
pub const FONT_FAMILY: &str = "Open Sans";

/// Families in the order wanted: a browser takes what it has.
pub(super) const FAMILIES: &str = "'Open Sans','Noto Sans','Segoe UI',system-ui,sans-serif";

/// Room for a browser whose font runs wider than the built-in one (DejaVu Sans, on names of ours, by an eighth).
const SLACK: f64 = 1.13;

/// Advances in em by character.
static ADVANCES: LazyLock<HashMap<char, f64>> = LazyLock::new(|| {
    let Ok(font) = FontRef::new(FONT) else { return HashMap::new() };
    let metrics = font.glyph_metrics(Size::new(1.0), LocationRef::default());
    font.charmap()
        .mappings()
        .filter_map(|(code, glyph)| Some((char::from_u32(code)?, f64::from(metrics.advance_width(glyph)?))))
        .collect()
});

/// The width that a text may take at a size, in units of the figure.
pub(super) fn width(text: &str, size: f64) -> f64 {
    text.chars().map(|letter| ADVANCES.get(&letter).copied().unwrap_or(1.05)).sum::<f64>() * size * SLACK
}

/// What XML cannot hold, and line ends, become spaces.
pub(super) fn clean(text: &str) -> String {
    let fit = |letter: char| !letter.is_control() && !matches!(letter, '\u{fffe}' | '\u{ffff}' | '\u{2028}' | '\u{2029}');
    text.chars().map(|letter| if fit(letter) { letter } else { ' ' }).collect::<String>().trim().to_owned()
}

/// The text, its middle replaced by "…" where it is wider than `room`: names differ at their ends as often as at their beginnings.
pub(super) fn shortened(text: &str, room: f64, size: f64) -> String {
    let text = clean(text);
    if width(&text, size) <= room {
        return text;
    }
    let letters: Vec<char> = text.chars().collect();
    for kept in (1..letters.len()).rev() {
        let tail = kept * 2 / 5;
        let head: String = letters[..kept - tail].iter().collect();
        let tail: String = letters[letters.len() - tail..].iter().collect();
        let short = format!("{}…{}", head.trim_end(), tail.trim_start());
        if width(&short, size) <= room {
            return short;
        }
    }
    "…".to_owned()
}

/// The text in lines no wider than `room`, at most `lines` of them; the last one is shortened if need be.
pub(super) fn wrapped(text: &str, room: f64, size: f64, lines: usize) -> Vec<String> {
    let text = clean(text);
    let mut done: Vec<String> = Vec::new();
    for word in text.split(' ').filter(|word| !word.is_empty()) {
        let full = done.len() == lines;
        match done.last_mut() {
            Some(line) if full || width(&format!("{line} {word}"), size) <= room => {
                line.push(' ');
                line.push_str(word);
            }
            _ => done.push(word.to_owned()),
        }
    }
    done.iter().map(|line| shortened(line, room, size)).collect()
}

/// A number with so many decimals, with a real minus sign, and none before a zero.
pub(super) fn decimal(value: f64, places: usize) -> String {
    // Nobody reads so many digits, and there is no room for them.
    let text = if value.abs() < LONG { format!("{value:.places$}") } else { format!("{value:.1e}") };
    match text.strip_prefix('-') {
        Some(digits) if digits.bytes().all(|digit| matches!(digit, b'0' | b'.')) => digits.to_owned(),
        Some(digits) => format!("−{digits}"),
        None => text,
    }
}

/// Numbers from here on are written with a power of ten.
const LONG: f64 = 1e7;

/// A number with up to two decimals, as short as it can be said.
pub(super) fn plain(value: f64) -> String {
    let places = if value.abs() >= 100.0 { 0 } else { 2 };
    let text = decimal(value, places);
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn widths_come_from_the_font() {
        // Open Sans: "i" 518 and "m" 1905 of 2048 units (its hmtx table).
        assert!((width("i", 2048.0) - 518.0 * SLACK).abs() < 1.0, "{}", width("i", 2048.0));
        assert!((width("m", 2048.0) - 1905.0 * SLACK).abs() < 1.0, "{}", width("m", 2048.0));
        assert!("°·–−×≤≥θ…½%".chars().all(|sign| ADVANCES.contains_key(&sign)));
    }

    #[test]
    fn a_name_too_long_loses_its_middle_and_shows_it() {
        let name = "Tomato 'Black Krim', saved 2019, north bed, row 7";
        let short = shortened(name, 200.0, 20.0);
        assert!(short.starts_with("Tom") && short.ends_with('7') && short.contains('…'), "{short}");
        assert!(width(&short, 20.0) <= 200.0);
        assert_eq!(shortened("leek", 200.0, 20.0), "leek");
        assert_eq!(shortened("leek", 1.0, 20.0), "…");
    }

    #[test]
    fn words_wrap_and_the_last_line_ends_visibly() {
        let lines = wrapped("one two three four five six seven eight", 90.0, 20.0, 2);
        assert_eq!(lines.len(), 2, "{lines:?}");
        assert!(lines[1].contains('…'), "{lines:?}");
        assert!(wrapped("", 90.0, 20.0, 2).is_empty());
    }

    #[test]
    fn numbers_are_short_and_zero_has_no_sign() {
        assert_eq!([plain(-0.001), plain(-2.5), plain(3.0), plain(1234.5), plain(0.25)], ["0", "−2.5", "3", "1234", "0.25"]);
    }
}
