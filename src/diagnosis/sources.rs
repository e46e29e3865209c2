//! How it stands with what a logger reads.

use super::{BenchStatus, Todo};
use crate::civil::Time;

/// How it stands with a source of readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SourceStatus {
    /// Its name.
    pub source: String,
    /// How it stands, in a word.
    pub state: String,
    /// The same in words.
    pub words: String,
    /// What to do about it, where that is known.
    pub next: Option<String>,
    /// Since when.
    pub since: Time,
}

impl SourceStatus {
    /// Whether it is as it should be.
    #[must_use]
    pub fn is_well(&self) -> bool {
        ["listening", "ended"].contains(&self.state.as_str())
    }
}

impl BenchStatus {
    /// The same with how it stands with the sources that the logger reads.
    #[must_use]
    pub fn with_sources(mut self, sources: Vec<SourceStatus>) -> Self {
        let ailing = sources.iter().filter(|source| !source.is_well());
        self.todo.extend(ailing.map(|source| Todo::MendSource { source: source.clone() }));
        self.sources = sources;
        self
    }
}
