//! Speaking on standard error: to a person at a terminal, or to the journal.

use std::fmt::Display;
use std::io::Write;
use std::os::unix::fs::MetadataExt as _;

/// How much something matters, as sd-daemon(3) numbers it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Level {
    /// Something is wrong, and seen to or to be seen to.
    Warning,
    /// As it should be.
    Info,
}

/// Who listens on standard error.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Voice {
    /// A person, or a file.
    Plain,
    /// The system's journal: each message is one entry, on one line, with its level before it.
    Journal,
}

impl Voice {
    /// Finds out who listens: the journal names its own file in the environment (systemd.exec(5), JOURNAL_STREAM).
    #[must_use]
    pub fn of_environment() -> Self {
        let named = std::env::var("JOURNAL_STREAM").ok();
        let own = std::fs::metadata("/proc/self/fd/2").ok().map(|file| (file.dev(), file.ino()));
        if is_journal(named.as_deref(), own) { Self::Journal } else { Self::Plain }
    }

    /// Says something. Where nobody can hear it any more, what is being done goes on.
    pub fn say(self, level: Level, words: impl Display) {
        let _ = writeln!(std::io::stderr(), "{}", self.line(level, &words.to_string()));
    }

    fn line(self, level: Level, words: &str) -> String {
        match self {
            Self::Plain => words.to_owned(),
            Self::Journal => {
                let number = match level {
                    Level::Warning => 4,
                    Level::Info => 6,
                };
                let parts: Vec<&str> = words.lines().map(str::trim).filter(|part| !part.is_empty()).collect();
                format!("<{number}>{}", parts.join("; "))
            }
        }
    }
}

fn is_journal(named: Option<&str>, own: Option<(u64, u64)>) -> bool {
    let numbers = named.and_then(|named| named.split_once(':'));
    let numbers = numbers.and_then(|(device, file)| Some((device.parse().ok()?, file.parse().ok()?)));
    numbers.is_some() && numbers == own
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_journal_is_known_by_its_own_file_alone() {
        assert!(is_journal(Some("8:12345"), Some((8, 12345))));
        assert!(!is_journal(Some("8:12345"), Some((8, 1))), "piped on to somewhere else");
        assert!(!is_journal(Some("8:12345"), None) && !is_journal(None, Some((8, 1))) && !is_journal(Some("x"), None));
    }

    #[test]
    fn an_entry_is_one_line_with_its_level() {
        let words = "board: it cannot be used\n  next: see to it";
        assert_eq!(Voice::Journal.line(Level::Warning, words), "<4>board: it cannot be used; next: see to it");
        assert_eq!(Voice::Journal.line(Level::Info, "listening"), "<6>listening");
        assert_eq!(Voice::Plain.line(Level::Warning, words), words);
    }
}
