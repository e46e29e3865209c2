//! SenML (RFC 8428): packs, and streams whose end never comes.

use super::json::{Json, Members, object};
use super::value::{Unit, measured};
use super::{Given, LineFault, Measured};
use crate::bench::Name;

/// The newest version that is known here (RFC 8428, 4.4; a pack of a later one must not be used).
const VERSION: f64 = 10.0;
/// Times below are seconds from now, others seconds since 1970 (RFC 8428, 4.5.3).
const FIRST_ABSOLUTE_S: f64 = 268_435_456.0;
/// Times beyond, in seconds, are none that could be reckoned with in microseconds (the year 5138).
const LAST_S: f64 = 1e11;
/// The unit of temperatures (RFC 8428, 12.1).
const CELSIUS: &str = "Cel";

/// Labels (RFC 8428, 4.3) that tell a record from another object; "t" alone does not.
const LABELS: [&str; 14] = ["bn", "bt", "bu", "bv", "bs", "bver", "n", "u", "v", "vs", "vb", "vd", "s", "ut"];

/// Whether a key tells a record of SenML.
pub(super) fn is_label(key: &str) -> bool {
    LABELS.contains(&key)
}

/// A pack a line, or a stream of records over many lines. Of a stream what a record leaves unsaid stands in an earlier line:
/// so one line that could not be read spoils what follows, until the next `[`.
#[derive(Debug, Default)]
pub(super) struct Stream {
    open: Option<Base>,
}

/// What earlier records of the pack said for later ones (RFC 8428, 4.1).
#[derive(Debug, Clone, Default)]
struct Base {
    name: String,
    time_s: f64,
    unit: Option<String>,
    value: f64,
}

impl Stream {
    /// Whether a line is for this to read.
    pub(super) fn takes(&self, text: &str) -> bool {
        text.starts_with('[') || (self.open.is_some() && text.starts_with(['{', ',', ']']))
    }

    /// Whether a pack has begun that has not ended.
    pub(super) fn is_open(&self) -> bool {
        self.open.is_some()
    }

    /// Forgets an open stream.
    pub(super) fn close(&mut self) {
        self.open = None;
    }

    /// Reads one line: a pack, or some whole records of a stream. All of it or nothing; what measures no temperature is passed
    /// over. In order of time, as resolved records are (RFC 8428, 4.6).
    pub(super) fn read(&mut self, text: &str) -> Result<Vec<Measured>, LineFault> {
        let begun = self.open.take();
        let (mut rest, mut base) = match (text.strip_prefix('['), begun) {
            (Some(after), _) => (after, Base::default()),
            (None, Some(base)) => (text, base),
            (None, None) => return Err(LineFault::RecordAlone),
        };
        let broken = |what: &str| Err(LineFault::Json(what.to_owned()));
        // A comma may begin a line of a stream, and may end it.
        let (mut may_record, mut may_comma, mut all) = (true, !text.starts_with('['), Vec::new());
        loop {
            rest = rest.trim_start();
            match rest.bytes().next() {
                None => {
                    self.open = Some(base);
                    break;
                }
                Some(b'{') if may_record => {
                    let (record, after) = object(rest)?;
                    all.extend(base.resolve(&record)?);
                    (rest, may_record, may_comma) = (after, false, true);
                }
                Some(b',') if may_comma => (rest, may_record, may_comma) = (rest.get(1..).unwrap_or_default(), true, false),
                Some(b']') => {
                    if !rest.get(1..).unwrap_or_default().trim().is_empty() {
                        return broken("something stands after the pack");
                    }
                    break;
                }
                Some(_) => return broken("expected a record, a comma or ']'"),
            }
        }
        all.sort_by_key(|one: &Measured| one.given.map_or(i64::MIN, Given::us));
        Ok(all)
    }
}

impl Base {
    /// Takes over what a record says for itself and later ones, and gives the temperature that it measured, if any.
    fn resolve(&mut self, record: &Members) -> Result<Option<Measured>, LineFault> {
        if let Some((label, _)) = record.iter().find(|(label, _)| label.ends_with('_')) {
            return Err(LineFault::MustUnderstand(label.clone()));
        }
        if let Some(version) = number(record, "bver")?
            && !((1.0..=VERSION).contains(&version) && version.fract() == 0.0)
        {
            return Err(LineFault::Version(version.to_string()));
        }
        if let Some(name) = text(record, "bn")? {
            self.name = name.to_owned();
        }
        if let Some(unit) = text(record, "bu")? {
            self.unit = Some(unit.to_owned());
        }
        self.time_s = number(record, "bt")?.unwrap_or(self.time_s);
        self.value = number(record, "bv")?.unwrap_or(self.value);
        number(record, "bs")?;
        let (name, unit) = (text(record, "n")?.unwrap_or_default(), text(record, "u")?);
        let (value, time_s) = (number(record, "v")?, number(record, "t")?.unwrap_or(0.0));
        let Some(value) = value else {
            let says_something = |label: &str| ["vs", "vb", "vd", "s"].contains(&label) || label.starts_with('b');
            return if record.iter().any(|(label, _)| says_something(label)) { Ok(None) } else { Err(LineFault::NoValue) };
        };
        if unit.or(self.unit.as_deref()) != Some(CELSIUS) {
            return Ok(None);
        }
        let name = full_name(&self.name, name)?;
        let value = self.value + value;
        let measured = Measured::now(Some(name), measured(value, Unit::Celsius, || value.to_string())?);
        Ok(Some(Measured { given: Some(given(self.time_s + time_s)?), ..measured }))
    }
}

/// A name of the characters that names have (RFC 8428, 4.5.1).
fn full_name(base: &str, own: &str) -> Result<Name, LineFault> {
    let full = format!("{base}{own}");
    let fits = full.bytes().all(|byte| byte.is_ascii_alphanumeric() || b"-:./_".contains(&byte));
    if fits && full.starts_with(|first: char| first.is_ascii_alphanumeric()) {
        Ok(Name::new(&full)?)
    } else {
        Err(LineFault::SenmlName(full))
    }
}

fn given(seconds: f64) -> Result<Given, LineFault> {
    if seconds.is_nan() || seconds.abs() > LAST_S {
        return Err(LineFault::Time(seconds.to_string()));
    }
    let us = (seconds * 1e6).round() as i64;
    Ok(if seconds < FIRST_ABSOLUTE_S { Given::FromNow { us } } else { Given::Since1970 { us } })
}

fn member<'a>(record: &'a Members, label: &str) -> Option<&'a Json> {
    record.iter().find_map(|(there, value)| (there == label).then_some(value))
}

fn number(record: &Members, label: &'static str) -> Result<Option<f64>, LineFault> {
    match member(record, label) {
        None => Ok(None),
        Some(Json::Number(number)) => Ok(Some(*number)),
        Some(_) => Err(LineFault::WrongType { label, wanted: "a number" }),
    }
}

fn text<'a>(record: &'a Members, label: &'static str) -> Result<Option<&'a str>, LineFault> {
    match member(record, label) {
        None => Ok(None),
        Some(Json::Text(text)) => Ok(Some(text)),
        Some(_) => Err(LineFault::WrongType { label, wanted: "text" }),
    }
}

#[cfg(test)]
mod tests;
