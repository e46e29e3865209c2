//! Values that a correction gives, or takes away.

use crate::bench::Name;

/// A value to be put in the place of another, or `none`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct OrNone<T>(pub(super) Option<T>);

impl OrNone<Name> {
    /// Reads a name, or none.
    pub(super) fn name(text: &str) -> Result<Self, String> {
        Self::read(text, |text| Name::new(text).map_err(|fault| fault.to_string()))
    }
}

impl OrNone<u32> {
    /// Reads a count, or none.
    pub(super) fn count(text: &str) -> Result<Self, String> {
        Self::read(text, |text| text.parse().map_err(|_| "write a whole number, or none".to_owned()))
    }
}

impl OrNone<f64> {
    /// Reads a number, or none.
    pub(super) fn number(text: &str) -> Result<Self, String> {
        Self::read(text, |text| text.parse().map_err(|_| "write a number with a decimal point, or none".to_owned()))
    }
}

impl OrNone<String> {
    /// Reads free text, or none.
    pub(super) fn text(text: &str) -> Result<Self, String> {
        Self::read(text, super::free_text)
    }

    /// Takes any word, to be read where more is known.
    pub(super) fn word(text: &str) -> Result<Self, String> {
        Self::read(text, |text| Ok(text.to_owned()))
    }
}

impl<T> OrNone<T> {
    pub(super) fn read(text: &str, read: impl FnOnce(&str) -> Result<T, String>) -> Result<Self, String> {
        if text == "none" { Ok(Self(None)) } else { read(text).map(|value| Self(Some(value))) }
    }

    /// The value given, or the one that was there where none is.
    pub(super) fn over(given: Option<Self>, there: Option<T>) -> Option<T> {
        given.map_or(there, |Self(value)| value)
    }
}
