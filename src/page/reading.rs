//! What a form sends, read field by field: all that is wrong is gathered, each beside its field.

use std::collections::{BTreeMap, BTreeSet};

use super::handled::{FieldFault, Refusal};
use crate::bench::rules::About;
use crate::bench::{Bench, Degrees, Name};
use crate::changes::{ChangeError, TypedDegrees, names};
use crate::civil::{Time, Zone, local_time, read_time};

/// The longest note, in characters.
const LONGEST_TEXT: usize = 2000;
/// As many boxes as are named or ticked at once.
const MOST_BOXES: usize = 500;
/// What a ticked box's field begins with.
pub(super) const TICKED: &str = "box:";

/// What a form sends.
pub(super) type Fields = BTreeMap<String, String>;

/// A form being read.
pub(super) struct Reading<'a> {
    fields: &'a Fields,
    pub(super) zone: Zone,
    degrees: Degrees,
    pub(super) now: Time,
    faults: Vec<FieldFault>,
    /// What is to be said beside: a time that came twice.
    notes: Vec<String>,
}

impl<'a> Reading<'a> {
    pub(super) fn new(fields: &'a Fields, bench: &Bench, now: Time) -> Self {
        // To the second, as times are typed.
        let now = Time::from_timestamp(now.timestamp(), 0).unwrap_or(now);
        Self { fields, zone: bench.zone, degrees: bench.units.unwrap_or_default(), now, faults: Vec::new(), notes: Vec::new() }
    }

    /// What stands in a field, trimmed; nothing where it is missing.
    pub(super) fn said(&self, field: &str) -> &'a str {
        self.fields.get(field).map(|text| text.trim()).unwrap_or_default()
    }

    pub(super) fn fault(&mut self, field: &'static str, what: impl Into<String>) {
        self.faults.push(FieldFault { field: Some(field.into()), what: what.into(), next: None });
    }

    fn read<T>(&mut self, field: &'static str, read: impl FnOnce(&str) -> Result<T, String>) -> Option<T> {
        let text = self.said(field);
        if text.is_empty() {
            return None;
        }
        read(text).map_err(|what| self.fault(field, what)).ok()
    }

    /// A name, where one is given.
    pub(super) fn name(&mut self, field: &'static str) -> Option<Name> {
        self.read(field, |text| Name::new(text).map_err(|rule| rule.to_string()))
    }

    /// A name that must be given; `missing` says what to write.
    pub(super) fn needed_name(&mut self, field: &'static str, missing: &str) -> Option<Name> {
        if self.said(field).is_empty() {
            self.fault(field, missing);
        }
        self.name(field)
    }

    /// Names of boxes, one or several: `A1`, `A1..A6`, `A1, A4`.
    pub(super) fn names(&mut self, field: &'static str) -> Vec<Name> {
        let mut found: Vec<Name> = Vec::new();
        for word in self.said(field).split([',', '\n']).map(str::trim).filter(|word| !word.is_empty()) {
            match names(&[word.to_owned()]) {
                Ok(named) => {
                    for name in named {
                        if found.contains(&name) {
                            self.fault(field, format!("box '{name}' is named twice"));
                        } else if found.len() < MOST_BOXES {
                            found.push(name);
                        }
                    }
                }
                Err(wrong) => wrong.into_iter().for_each(|wrong| self.fault(field, wrong.what)),
            }
        }
        if found.is_empty() && self.faults.iter().all(|fault| fault.field.as_deref() != Some(field)) {
            self.fault(field, "a name is missing: write A1, or A1..A6 for six boxes");
        }
        found
    }

    /// The boxes that were ticked.
    pub(super) fn ticked(&mut self) -> Vec<Name> {
        let ticked = self.fields.keys().filter_map(|field| field.strip_prefix(TICKED));
        ticked.filter_map(|name| Name::on_record(name).ok()).take(MOST_BOXES).collect()
    }

    /// A whole number, where one is given.
    pub(super) fn count(&mut self, field: &'static str) -> Option<u32> {
        self.read(field, |text| text.parse().map_err(|_| format!("'{text}' is no count: write a whole number")))
    }

    /// A number, where one is given. Keypads of many countries have only a comma.
    pub(super) fn number(&mut self, field: &'static str) -> Option<f64> {
        let number = |text: &str| text.replace(',', ".").parse::<f64>().ok().filter(|number| number.is_finite());
        self.read(field, |text| number(text).ok_or_else(|| format!("'{text}' is no number")))
    }

    /// A temperature in °C, where one is given in the bench's degrees or with its own sign; `kept` where the field still shows it.
    pub(super) fn celsius(&mut self, field: &'static str, kept: Option<f64>) -> Option<f64> {
        let usual = self.degrees;
        self.typed_degrees(field, kept, &shown_degrees(kept, usual), |typed| typed.celsius(usual))
    }

    /// A difference of temperatures, likewise.
    pub(super) fn difference(&mut self, field: &'static str, kept: Option<f64>) -> Option<f64> {
        let usual = self.degrees;
        self.typed_degrees(field, kept, &shown_difference(kept, usual), |typed| typed.difference(usual))
    }

    fn typed_degrees(
        &mut self,
        field: &'static str,
        kept: Option<f64>,
        shown: &str,
        read: impl FnOnce(TypedDegrees) -> f64,
    ) -> Option<f64> {
        if kept.is_some() && self.said(field) == shown {
            return kept;
        }
        self.read(field, |text| TypedDegrees::read(&text.replace(',', ".")).map(read))
    }

    /// A time, where one is given; `kept` where the field still shows it, to its last fraction of a second.
    pub(super) fn time(&mut self, field: &'static str, kept: Option<Time>) -> Option<Time> {
        let zone = self.zone;
        if kept.is_some_and(|kept| shown_time(Some(kept), zone) == self.said(field)) {
            return kept;
        }
        let read = self.read(field, |text| read_time(text, zone).map_err(|rule| rule.to_string()))?;
        if read.occurred_twice {
            self.notes.push(format!("{} came twice in {zone}; the first is taken", local_time(read.time, zone)));
        }
        Some(read.time)
    }

    /// A time, or now.
    pub(super) fn time_or_now(&mut self, field: &'static str) -> Time {
        self.time(field, None).unwrap_or(self.now)
    }

    /// A time of something on record, which must stay said.
    pub(super) fn needed_time(&mut self, field: &'static str, kept: Time) -> Time {
        if self.said(field).is_empty() {
            self.fault(field, "a time is missing");
        }
        self.time(field, Some(kept)).unwrap_or(kept)
    }

    /// Words, where there are any.
    pub(super) fn words(&mut self, field: &'static str) -> Option<String> {
        self.read(field, |text| {
            let length = text.chars().count();
            let fits = length <= LONGEST_TEXT;
            if fits { Ok(text.to_owned()) } else { Err(format!("{length} letters are too many: at most {LONGEST_TEXT}")) }
        })
    }

    /// One of some words.
    pub(super) fn choice<T>(&mut self, field: &'static str, known: impl FnOnce(&str) -> Option<T>) -> Option<T> {
        self.read(field, |text| known(text).ok_or_else(|| format!("'{text}' cannot be chosen here")))
    }

    /// That all of it could be read; gives what is to be said beside.
    pub(super) fn finish(self) -> Result<String, Refusal> {
        if !self.faults.is_empty() {
            return Err(Refusal::of_fields(self.faults));
        }
        Ok(self.notes.iter().map(|note| format!(" {note}.")).collect())
    }
}

/// A refused change, each fault beside the field that it is about.
pub(super) fn refused(error: ChangeError, beside: impl Fn(About) -> Option<&'static str>) -> Refusal {
    let ChangeError::Faults(faults) = error else { return error.into() };
    let mut said = BTreeSet::new();
    let told = faults.into_iter().filter(|fault| said.insert(fault.what.clone())).map(|fault| FieldFault {
        field: fault.about.and_then(&beside).map(Into::into),
        // What the commands advise elsewhere is a command.
        next: fault.next.filter(|_| fault.about == Some(About::Counts)),
        what: fault.what,
    });
    Refusal::of_fields(told.collect())
}

/// A temperature as a field shows it.
pub(super) fn shown_degrees(celsius: Option<f64>, degrees: Degrees) -> String {
    let in_degrees = |celsius: f64| if degrees == Degrees::Celsius { celsius } else { celsius * 1.8 + 32.0 };
    shown_number(celsius.map(in_degrees))
}

/// A difference of temperatures as a field shows it.
pub(super) fn shown_difference(celsius: Option<f64>, degrees: Degrees) -> String {
    shown_number(celsius.map(|celsius| if degrees == Degrees::Celsius { celsius } else { celsius * 1.8 }))
}

/// A number as a field shows it: a thousandth is below what any probe resolves.
pub(super) fn shown_number(number: Option<f64>) -> String {
    number.map(|number| ((number * 1000.0).round() / 1000.0).to_string()).unwrap_or_default()
}

/// A time as a browser's own field has it (WHATWG HTML, section 2.3.5.5: a local date and time).
pub(super) fn shown_time(time: Option<Time>, zone: Zone) -> String {
    time.map(|time| local_time(time, zone).replacen(' ', "T", 1)).unwrap_or_default()
}
