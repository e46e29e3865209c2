//! A form as it is shown: fields with their labels, hints and places for faults, filled in with what is known.

use askama::Template;

use super::frame::Frame;
use crate::bench::{Degrees, Name};
use crate::civil::Zone;

/// A form.
#[derive(Template)]
#[template(path = "form.html", config = "src/page/askama.toml")]
pub(super) struct Form {
    pub(super) frame: Frame,
    pub(super) title: String,
    /// What is said above it.
    pub(super) told: Vec<String>,
    /// Where else one may want to go: address and words.
    pub(super) links: Vec<(String, String)>,
    pub(super) action: &'static str,
    /// What is sent without being shown.
    pub(super) hidden: Vec<(&'static str, String)>,
    pub(super) parts: Vec<Part>,
    /// What the button says.
    pub(super) button: String,
    /// Another button, which takes back what is being put right: its value and words.
    pub(super) back: Option<(&'static str, String)>,
}

/// Fields that belong together.
#[derive(Debug, Clone, Default)]
pub(super) struct Part {
    /// Its heading; none: no frame around it.
    pub(super) title: String,
    /// It is opened by a touch.
    pub(super) folded: bool,
    pub(super) fields: Vec<Field>,
    /// Boxes that can be ticked: name, words, whether it is.
    pub(super) ticks: Vec<(Name, String, bool)>,
}

impl Part {
    pub(super) fn plain(fields: Vec<Field>) -> Self {
        Self { fields, ..Self::default() }
    }

    pub(super) fn folded(title: &str, fields: Vec<Field>) -> Self {
        // What is filled in is not hidden.
        let folded = fields.iter().all(|field| field.value.is_empty() || !field.options.is_empty());
        Self { title: title.to_owned(), folded, fields, ticks: Vec::new() }
    }
}

/// A field.
#[derive(Debug, Clone)]
pub(super) struct Field {
    pub(super) name: &'static str,
    pub(super) label: String,
    pub(super) value: String,
    pub(super) hint: String,
    /// What can be chosen: value and words.
    pub(super) options: Vec<(String, String)>,
    /// What is offered while typing.
    pub(super) offered: Vec<String>,
    pub(super) needed: bool,
    kind: Kind,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Kind {
    Line,
    Count,
    Decimal,
    Degrees,
    Time,
    Area,
}

impl Field {
    fn of(kind: Kind, name: &'static str, label: impl Into<String>, value: impl ToString) -> Self {
        let (options, offered) = (Vec::new(), Vec::new());
        Self { name, label: label.into(), value: value.to_string(), hint: String::new(), options, offered, needed: false, kind }
    }

    pub(super) fn line(name: &'static str, label: &str, value: impl ToString) -> Self {
        Self::of(Kind::Line, name, label, value)
    }

    pub(super) fn count(name: &'static str, label: &str, value: Option<u32>) -> Self {
        Self::of(Kind::Count, name, label, value.map(|value| value.to_string()).unwrap_or_default())
    }

    pub(super) fn decimal(name: &'static str, label: &str, value: String) -> Self {
        Self::of(Kind::Decimal, name, label, value)
    }

    /// A temperature or a difference, its unit said in the label.
    pub(super) fn degrees(name: &'static str, label: &str, value: String, degrees: Degrees) -> Self {
        Self::of(Kind::Degrees, name, format!("{label}, {}", degrees.sign()), value)
    }

    /// A time of the bench's zone.
    pub(super) fn time(name: &'static str, label: &str, value: String, zone: Zone, when_empty: &str) -> Self {
        let stop = if when_empty.is_empty() { String::new() } else { format!("{when_empty} ") };
        Self::of(Kind::Time, name, label, value).with_hint(format!("{stop}Local time of {zone}."))
    }

    pub(super) fn area(name: &'static str, label: &str, value: impl ToString) -> Self {
        Self::of(Kind::Area, name, label, value)
    }

    pub(super) fn choice(name: &'static str, label: &str, value: impl ToString, options: Vec<(String, String)>) -> Self {
        Self { options, ..Self::of(Kind::Line, name, label, value) }
    }

    pub(super) fn with_hint(self, hint: impl Into<String>) -> Self {
        Self { hint: hint.into(), ..self }
    }

    pub(super) fn offering<'a>(self, offered: impl IntoIterator<Item = &'a Name>) -> Self {
        Self { offered: offered.into_iter().map(ToString::to_string).collect(), ..self }
    }

    pub(super) fn needed(self) -> Self {
        Self { needed: true, ..self }
    }

    pub(super) fn is_area(&self) -> bool {
        self.kind == Kind::Area
    }

    pub(super) fn input_type(&self) -> &'static str {
        if self.kind == Kind::Time { "datetime-local" } else { "text" }
    }

    /// Which keys a phone shows. A temperature may have a sign, or its °F, which keypads of numbers have not.
    pub(super) fn keys(&self) -> &'static str {
        match self.kind {
            Kind::Count => "numeric",
            Kind::Decimal => "decimal",
            Kind::Line | Kind::Degrees | Kind::Time | Kind::Area => "text",
        }
    }

    /// A time with seconds is none to a browser that counts in minutes.
    pub(super) fn has_seconds(&self) -> bool {
        self.kind == Kind::Time && self.value.matches(':').count() > 1
    }
}

/// Things listed, each leading somewhere.
#[derive(Template)]
#[template(path = "list.html", config = "src/page/askama.toml")]
pub(super) struct List {
    pub(super) frame: Frame,
    pub(super) title: String,
    pub(super) told: Vec<String>,
    pub(super) groups: Vec<Group>,
    /// What was recorded last: its number and words.
    pub(super) last: Option<(i64, String)>,
}

/// Rows under a heading; none: no heading.
#[derive(Debug, Clone, Default)]
pub(super) struct Group {
    pub(super) title: String,
    pub(super) rows: Vec<Row>,
}

/// A thing: where it leads, what it is called, and what is said of it.
#[derive(Debug, Clone)]
pub(super) struct Row {
    pub(super) href: String,
    pub(super) name: String,
    pub(super) quiet: String,
}

impl Row {
    pub(super) fn new(href: impl Into<String>, name: impl ToString, quiet: impl Into<String>) -> Self {
        Self { href: href.into(), name: name.to_string(), quiet: quiet.into() }
    }
}
