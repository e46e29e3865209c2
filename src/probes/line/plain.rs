//! `21.5`, the reading of the port's own probe, and `id,21.5`.

use super::value::{NO_VALUE, Unit, from_text, number};
use super::{LineFault, Measured, Shape};
use crate::bench::Name;

/// `21.5`
pub(super) fn bare(text: &str) -> Shape {
    from_text(text, Unit::Celsius).map(|value| value.map(|value| vec![Measured::now(None, value)]))
}

/// `id,21.5`. With nothing after the comma the probe is there, but its number is not.
pub(super) fn named(text: &str) -> Shape {
    let (id, rest) = text.split_once(',')?;
    let (id, rest) = (id.trim(), rest.trim());
    if number(id).is_some() {
        return Some(Err(LineFault::DecimalComma(id.to_owned())));
    }
    if rest.contains(',') {
        return Some(Err(LineFault::ManyCommas));
    }
    let value = if rest.is_empty() { Ok(NO_VALUE) } else { from_text(rest, Unit::Celsius)? };
    // "air:2,5" is a decimal comma after a label, and no probe is named by the time of day.
    if let Some((_, after)) = id.split_once(':')
        && number(after).is_some()
    {
        return Some(Err(LineFault::DecimalComma(id.to_owned())));
    }
    if is_a_time(id) {
        return Some(Err(LineFault::TimeFirst(id.to_owned())));
    }
    Some(value.and_then(|value| Ok(vec![Measured::now(Some(Name::new(id)?), value)])))
}

/// "2026-03-14 07:30:00": digits and what stands between those of a time, a colon among them.
fn is_a_time(id: &str) -> bool {
    id.contains(':') && id.bytes().all(|byte| byte.is_ascii_digit() || b":-./+ TZ".contains(&byte))
}
