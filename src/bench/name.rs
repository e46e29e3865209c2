//! Names that growers give.

use std::fmt;

use thiserror::Error;

/// The longest name, in characters.
const LONGEST: usize = 80;

/// A grower's own name for a box, spot, probe, lot, treatment, species or batch: free text of 1 to 80 characters, trimmed,
/// compared case-sensitively, never used as a path.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Name(String);

/// Why a text is not a name.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum NameFault {
    /// Nothing but white space.
    #[error("a name is missing")]
    Empty,
    /// Too long; the count and the beginning.
    #[error("a name of {count} characters ('{start}…') is too long: names have at most 80", count = .0, start = .1.escape_debug())]
    TooLong(usize, String),
    /// A line break or another control character within.
    #[error("the name '{}' holds a line break or another control character", .0.escape_debug())]
    Control(String),
    /// A letter that nobody sees, or that turns the direction of those beside it: two names would look the same.
    #[error("the name '{}' holds a letter that cannot be seen ({})", shown(.0), hidden_letters(.0))]
    Hidden(String),
}

/// Letters without a shape of their own: zero-width ones, and marks and overrides of direction (general category Cf, and the
/// separators of lines and paragraphs, in the Unicode Character Database). A joiner has its place within words of some scripts, and
/// between pictures.
fn is_hidden(letter: char) -> bool {
    matches!(letter, '\u{ad}' | '\u{61c}' | '\u{180e}' | '\u{200b}' | '\u{200e}'..='\u{200f}' | '\u{2028}'..='\u{202e}'
        | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}' | '\u{e0000}'..='\u{e007f}')
}

/// Whether a joiner stands anywhere but between two letters that may need one.
fn joins_nothing(text: &str) -> bool {
    let letters: Vec<char> = text.chars().collect();
    let joiner = |letter: &char| matches!(letter, '\u{200c}' | '\u{200d}');
    let joined = |at: Option<usize>| at.and_then(|at| letters.get(at)).is_some_and(|beside| !beside.is_ascii() && !joiner(beside));
    let idle = |at: usize| !(joined(at.checked_sub(1)) && joined(at.checked_add(1)));
    letters.iter().enumerate().any(|(at, letter)| joiner(letter) && idle(at))
}

fn shown(text: &str) -> String {
    let hidden = |letter: char| is_hidden(letter) || matches!(letter, '\u{200c}' | '\u{200d}');
    text.chars().map(|letter| if hidden(letter) { letter.escape_unicode().to_string() } else { letter.to_string() }).collect()
}

fn hidden_letters(text: &str) -> String {
    let hidden = text.chars().find(|letter| is_hidden(*letter) || matches!(letter, '\u{200c}' | '\u{200d}'));
    hidden.map(|letter| format!("U+{:04X}", u32::from(letter))).unwrap_or_default()
}

impl Name {
    /// Takes a name from text, trimming it.
    ///
    /// # Errors
    /// [`NameFault`] for empty, over-long and control-character names, and for letters that cannot be seen.
    pub fn new(text: &str) -> Result<Self, NameFault> {
        let name = Self::on_record(text)?;
        if name.0.chars().any(is_hidden) || joins_nothing(&name.0) { Err(NameFault::Hidden(name.0)) } else { Ok(name) }
    }

    /// Takes a name that is on record already: an earlier version may have let letters in that cannot be seen.
    ///
    /// # Errors
    /// [`NameFault`] for empty, over-long and control-character names.
    pub fn on_record(text: &str) -> Result<Self, NameFault> {
        let text = text.trim();
        let length = text.chars().count();
        if text.is_empty() {
            Err(NameFault::Empty)
        } else if length > LONGEST {
            Err(NameFault::TooLong(length, text.chars().take(20).collect()))
        } else if text.chars().any(char::is_control) {
            Err(NameFault::Control(text.to_owned()))
        } else {
            Ok(Self(text.to_owned()))
        }
    }

    /// The name under which a friend's thing is kept, so that it never meets one's own: "Ann: west sill".
    ///
    /// # Errors
    /// [`NameFault::TooLong`].
    pub fn of(&self, owner: &Self) -> Result<Self, NameFault> {
        Self::new(&format!("{owner}: {self}"))
    }

    /// Whether it is the name of something of that friend's.
    #[must_use]
    pub fn is_of(&self, owner: &Self) -> bool {
        self.0.strip_prefix(owner.as_str()).is_some_and(|rest| rest.starts_with(": "))
    }

    /// The name as it is typed in a command: in quotes where it is more than one plain word.
    #[must_use]
    pub fn as_typed(&self) -> String {
        let plain = |letter: char| letter.is_alphanumeric() || "-_.:,".contains(letter);
        if self.0.chars().all(plain) { self.0.clone() } else { format!("\"{}\"", self.0) }
    }

    /// The name as text.
    #[must_use]
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Name {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.pad(&self.0)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn names_are_trimmed_and_bounded() {
        assert_eq!(Name::new("  west sill ").unwrap().as_str(), "west sill");
        assert_eq!(Name::new(" "), Err(NameFault::Empty));
        assert!(Name::new(&"ä".repeat(80)).is_ok(), "characters count, not bytes");
        assert!(matches!(Name::new(&"x".repeat(81)), Err(NameFault::TooLong(81, _))));
        assert!(matches!(Name::new("a\nb"), Err(NameFault::Control(_))));
    }

    #[test]
    fn letters_that_cannot_be_seen_are_refused_and_those_of_any_script_taken() {
        for hidden in ["si\u{200b}ll", "\u{202e}llis", "sill\u{2069}", "si\u{ad}ll", "\u{feff}sill", "si\u{200d}ll", "sill\u{200c}"]
        {
            assert!(matches!(Name::new(hidden), Err(NameFault::Hidden(_))), "{}", hidden.escape_unicode());
            assert!(Name::on_record(hidden).is_ok());
        }
        let fault = Name::new("si\u{202e}ll").unwrap_err().to_string();
        assert_eq!(fault, "the name 'si\\u{202e}ll' holds a letter that cannot be seen (U+202E)");
        // Hebrew, Persian with its joiner, Devanagari with its joiner, a picture made of three.
        for seen in ["אדן", "می\u{200c}خواهم", "क्\u{200d}ष", "👩\u{200d}🌾 sill", "fenêtre", "窓"] {
            assert!(Name::new(seen).is_ok(), "{seen}");
        }
    }
}
