//! A plan's days as a calendar that other programs take in: RFC 5545, all-day events. The only place that knows `icalendar`.

use chrono::NaiveDate;
use icalendar::{Calendar, Component, Event, EventLike, Property};

use crate::bench::Name;
use crate::civil::Time;
use crate::experiment::plan::{PlanAnswer, steps};
use crate::wording::plan_step_words;

/// By whom the calendar was made (RFC 5545, 3.7.3).
const PRODUCT: &str = concat!("-//seedclock//", env!("CARGO_PKG_VERSION"), "//EN");

/// A day with something to do.
struct Entry {
    /// The same for ever, so that a calendar changes its entry instead of adding another.
    uid: String,
    date: NaiveDate,
    summary: String,
    description: String,
}

/// The steps of a plan as a calendar, stamped as of the answer's time; none where there is nothing to do. `named` is the one spot that
/// was named for the plan, if so.
#[must_use]
pub fn plan_calendar(answer: &PlanAnswer, named: Option<&Name>) -> Option<String> {
    let entries: Vec<Entry> = steps(answer, named)
        .iter()
        .map(|step| {
            let (summary, description) = plan_step_words(step, answer);
            // A digest's sixteen digits; the part after @ keeps them apart from other programs' (RFC 7986, 5.3).
            Entry { uid: format!("{:016x}@seedclock.invalid", step.id), date: step.date, summary, description }
        })
        .collect();
    (!entries.is_empty()).then(|| calendar(&entries, answer.as_of))
}

fn calendar(entries: &[Entry], stamp: Time) -> String {
    let mut calendar = Calendar::empty();
    for (key, value) in [("VERSION", "2.0"), ("PRODID", PRODUCT), ("CALSCALE", "GREGORIAN")] {
        calendar.append_property(Property::new(key, value));
    }
    for entry in entries {
        let mut event = Event::with_uid(&entry.uid);
        event.timestamp(stamp).summary(&entry.summary).description(&entry.description).starts(entry.date);
        // The day after: an event ends before its end, and one without length is none (RFC 5545, 3.6.1).
        if let Some(next) = entry.date.succ_opt() {
            event.ends(next);
        }
        // It does not make the day busy.
        event.add_property("TRANSP", "TRANSPARENT");
        calendar.push(event.done());
    }
    calendar.to_string()
}

/// Whether a text is a calendar that was made here, and so may be written over.
#[must_use]
pub fn is_own_calendar(text: &str) -> bool {
    text.starts_with("BEGIN:VCALENDAR") && text.lines().any(|line| line.starts_with("PRODID:-//seedclock//"))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// `tests/data/plan.ics`, which `tests/reference/planning.py` has the PyPI package icalendar read: commas, semicolons, backslashes and
    /// line breaks, and letters of two octets where lines are folded.
    #[test]
    fn awkward_text_comes_out_as_another_program_has_read_it() {
        let entry = |uid: &str, date: &str, summary: &str, description: String| Entry {
            uid: uid.to_owned(),
            date: date.parse().unwrap(),
            summary: summary.to_owned(),
            description,
        };
        let entries = [
            entry(
                "1@seedclock.invalid",
                "2028-02-29",
                r"Sow, then; look \ twice",
                format!("First line\nsecond, {}", "ä".repeat(60)),
            ),
            entry("2@seedclock.invalid", "2027-12-31", "Ready", String::new()),
        ];
        let text = calendar(&entries, "2027-01-10T12:00:00Z".parse().unwrap());
        let kept = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/plan.ics");
        assert_eq!(text.replace(PRODUCT, "-//seedclock//EN"), std::fs::read_to_string(kept).unwrap());
        assert!(is_own_calendar(&text) && !is_own_calendar("BEGIN:VCALENDAR\r\nPRODID:-//other//EN\r\n"));
    }
}
