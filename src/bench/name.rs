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
    #[error("a name of {0} characters ('{1}…') is too long: names have at most 80")]
    TooLong(usize, String),
    /// A line break or another control character within.
    #[error("the name '{}' holds a line break or another control character", .0.escape_debug())]
    Control(String),
}

impl Name {
    /// Takes a name from text, trimming it.
    ///
    /// # Errors
    /// [`NameFault`] for empty, over-long and control-character names.
    pub fn new(text: &str) -> Result<Self, NameFault> {
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
}
