//! Questions that are asked in the address: what was typed, the fields of a form that show it again, and what is wrong beside each.

use std::collections::BTreeMap;

use chrono::{Datelike as _, NaiveDate};

use crate::bench::Name;
use crate::units::Bounds;

/// What stands after the question mark, in its order; of a field that comes several times the first counts, but for lists.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub(super) struct Asked {
    pairs: Vec<(String, String)>,
    faults: BTreeMap<&'static str, String>,
}

/// What was typed cannot be meant; it is said beside its field.
pub(super) type Meant<T> = Option<T>;

impl Asked {
    pub(super) fn of(pairs: Vec<(String, String)>) -> Self {
        Self { pairs, faults: BTreeMap::new() }
    }

    /// Whether anything was asked at all.
    pub(super) fn is_empty(&self) -> bool {
        self.pairs.iter().all(|(_, value)| value.trim().is_empty())
    }

    /// What was typed into a field; empty: nothing.
    pub(super) fn text(&self, field: &str) -> &str {
        self.pairs.iter().find(|(name, _)| name == field).map_or("", |(_, value)| value.trim())
    }

    pub(super) fn ticked(&self, field: &str) -> bool {
        !self.text(field).is_empty()
    }

    /// Says what is wrong with a field.
    pub(super) fn fault(&mut self, field: &'static str, what: impl Into<String>) {
        self.faults.entry(field).or_insert_with(|| what.into());
    }

    pub(super) fn is_sound(&self) -> bool {
        self.faults.is_empty()
    }

    /// Reads a field where something stands in it; its fault is noted.
    fn read<T>(&mut self, field: &'static str, read: impl FnOnce(&str) -> Result<T, String>) -> Meant<T> {
        let text = self.text(field);
        if text.is_empty() {
            return None;
        }
        match read(text) {
            Ok(value) => Some(value),
            Err(rule) => {
                let what = format!("'{}': {rule}", self.text(field));
                self.fault(field, what);
                None
            }
        }
    }

    pub(super) fn name(&mut self, field: &'static str) -> Meant<Name> {
        self.read(field, |text| Name::new(text).map_err(|fault| fault.to_string()))
    }

    /// Names with commas between them.
    pub(super) fn names(&mut self, field: &'static str) -> Vec<Name> {
        let names = |text: &str| {
            let parts = text.split(',').map(str::trim).filter(|part| !part.is_empty());
            parts.map(|part| Name::new(part).map_err(|fault| fault.to_string())).collect()
        };
        self.read(field, names).unwrap_or_default()
    }

    /// A whole number.
    pub(super) fn count(&mut self, field: &'static str, low: u32, high: u32) -> Meant<u32> {
        self.read(field, |text| {
            let rule = || format!("write a whole number from {low} to {high}");
            text.parse().ok().filter(|count| (low..=high).contains(count)).ok_or_else(rule)
        })
    }

    /// A number of percent or points, with or without its sign.
    pub(super) fn percent(&mut self, field: &'static str, bounds: &Bounds) -> Meant<f64> {
        self.read(field, |text| {
            let number: f64 = text.trim_end_matches('%').trim_end().parse().map_err(|_| "write a number, such as 85".to_owned())?;
            bounds.check(number)
        })
    }

    pub(super) fn date(&mut self, field: &'static str) -> Meant<NaiveDate> {
        self.read(field, |text| {
            let date = NaiveDate::parse_from_str(text, "%Y-%m-%d").map_err(|_| "write the day as 2026-05-20".to_owned())?;
            if (1970..=2200).contains(&date.year()) { Ok(date) } else { Err("days lie from 1970 to 2200".to_owned()) }
        })
    }

    /// One of some words.
    pub(super) fn word<T: Copy>(&mut self, field: &'static str, words: &[(&str, T)]) -> Meant<T> {
        self.read(field, |text| {
            let list = || words.iter().map(|word| word.0).collect::<Vec<_>>().join(", ");
            let found = words.iter().find(|(word, _)| *word == text).map(|word| word.1);
            found.ok_or_else(|| format!("it is one of {}", list()))
        })
    }

    /// A field as the form shows it again; what was typed is among the choices, even where it is none of them.
    pub(super) fn field(&self, name: &'static str, label: &'static str, mut kind: Kind) -> Field {
        let value = self.text(name).to_owned();
        if let Kind::Choice(options) = &mut kind
            && !value.is_empty()
            && !options.iter().any(|(option, _)| *option == value)
        {
            options.push((value.clone(), value.clone()));
        }
        Field { name, label, value, hint: String::new(), kind, fault: self.faults.get(name).cloned().unwrap_or_default() }
    }

    /// The same question as an address, without a question mark.
    pub(super) fn query(&self) -> String {
        let pair = |(name, value): &(String, String)| format!("{}={}", super::frame::encoded(name), super::frame::encoded(value));
        self.pairs.iter().filter(|(_, value)| !value.trim().is_empty()).map(pair).collect::<Vec<_>>().join("&")
    }
}

/// A field of a form.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Field {
    pub(super) name: &'static str,
    pub(super) label: &'static str,
    pub(super) value: String,
    /// What to write; empty: its label says it.
    pub(super) hint: String,
    pub(super) kind: Kind,
    /// Empty: nothing is wrong.
    pub(super) fault: String,
}

impl Field {
    /// With what holds where nothing is typed.
    pub(super) fn or(mut self, usual: &str) -> Self {
        if self.value.is_empty() {
            usual.clone_into(&mut self.value);
        }
        self
    }

    pub(super) fn hint(mut self, hint: impl Into<String>) -> Self {
        self.hint = hint.into();
        self
    }

    pub(super) fn is_tick(&self) -> bool {
        self.kind == Kind::Tick
    }

    pub(super) fn is_number(&self) -> bool {
        self.kind == Kind::Number
    }

    pub(super) fn is_date(&self) -> bool {
        self.kind == Kind::Date
    }

    /// What is read out with it.
    pub(super) fn described(&self) -> String {
        let of = |part: &str, there: bool| if there { format!("{}-{part} ", self.name) } else { String::new() };
        (of("fault", !self.fault.is_empty()) + &of("hint", !self.hint.is_empty())).trim_end().to_owned()
    }
}

/// What a field takes.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Kind {
    Text,
    Number,
    Date,
    Tick,
    /// One of these: what is sent and what is said.
    Choice(Vec<(String, String)>),
}

impl Kind {
    /// One of these names, or what `none` says.
    pub(super) fn names<'a>(none: &str, names: impl IntoIterator<Item = &'a Name>) -> Self {
        let names = names.into_iter().map(|name| (name.to_string(), name.to_string()));
        Self::Choice(std::iter::once((String::new(), none.to_owned())).chain(names).collect())
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn asked(field: &str, value: &str) -> Asked {
        Asked::of(vec![(field.to_owned(), value.to_owned())])
    }

    #[test]
    fn what_cannot_be_meant_is_said_beside_its_field_and_stays() {
        const POINTS: Bounds = Bounds { what: "the difference", low: 1.0, high: 95.0, unit: "points" };
        let mut one = asked("plants", "many");
        assert_eq!((one.count("plants", 1, 9), one.is_sound()), (None, false));
        let field = one.field("plants", "Plants", Kind::Number).or("5");
        assert_eq!((&*field.value, &*field.fault), ("many", "'many': write a whole number from 1 to 9"));
        assert_eq!(field.described(), "plants-fault");
        let mut two = asked("by", " 2026-02-30 ");
        assert_eq!(two.date("by"), None);
        assert_eq!(asked("by", "2026-02-28").date("by").map(|day| day.to_string()).as_deref(), Some("2026-02-28"));
        assert_eq!(asked("d", "20 %").percent("d", &POINTS), Some(20.0));
        let mut nan = asked("d", "NaN");
        assert!(nan.percent("d", &POINTS).is_none() && !nan.is_sound());
        assert_eq!(asked("spots", "sill,, mat ").names("spots").len(), 2);
        let mut empty = Asked::default();
        assert!(empty.count("plants", 1, 9).is_none() && empty.is_sound() && empty.is_empty());
    }

    #[test]
    fn a_question_is_an_address_again_whatever_is_in_it() {
        let all = Asked::of(vec![("a b".to_owned(), "&=é<".to_owned()), ("c".to_owned(), " ".to_owned())]);
        assert_eq!(all.query(), "a%20b=%26%3D%C3%A9%3C");
    }
}
