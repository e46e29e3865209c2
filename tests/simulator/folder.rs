//! A bench folder as text: file names and what is in them.

use std::collections::BTreeMap;

use chrono::{DateTime, SecondsFormat, Utc};

/// The files of a bench folder by name.
pub(crate) type Folder = BTreeMap<String, String>;

/// One CSV file under way.
pub(crate) struct Table(String);

impl Table {
    /// A file that begins with a header line.
    pub(crate) fn new(header: &str) -> Self {
        Self(format!("{header}\n"))
    }

    /// Adds a row. None of the made-up texts holds a comma, a quote or a line break; one that does is a slip here.
    pub(crate) fn row(&mut self, fields: &[&str]) {
        assert!(fields.iter().all(|field| !field.contains([',', '"', '\n'])), "a field that would need quoting: {fields:?}");
        self.0.push_str(&fields.join(","));
        self.0.push('\n');
    }

    /// The file's text.
    pub(crate) fn text(self) -> String {
        self.0
    }
}

/// A time as the folder writes it.
pub(crate) fn time(time: DateTime<Utc>) -> String {
    time.to_rfc3339_opts(SecondsFormat::Secs, true)
}

/// A count, nothing for zero.
pub(crate) fn count(count: u32) -> String {
    if count == 0 { String::new() } else { count.to_string() }
}
