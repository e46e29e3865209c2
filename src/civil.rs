//! A zone's local time and instants, each turned into the other.
//!
//! Thermal time is integrated over instants; a local date is only a label for reading. So days of 23 or 25 hours need no care
//! except here.

use chrono::{DateTime, LocalResult, NaiveDate, NaiveDateTime, NaiveTime, TimeZone, Timelike, Utc};
use thiserror::Error;

/// An instant, in UTC.
pub type Time = DateTime<Utc>;
/// An IANA zone.
pub type Zone = chrono_tz::Tz;

/// Why a text is not a time.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TimeFault {
    /// Neither RFC 3339 nor a local time.
    #[error("'{0}' is not a time: write 2026-03-14T07:30:00+01:00, or 2026-03-14 07:30 in the bench's zone")]
    Unreadable(String),
    /// A date without a time of day.
    #[error("'{0}' has no time of day: write for example {0} 07:30")]
    NoTimeOfDay(String),
    /// A time of day without a date.
    #[error("'{0}' has no date: write for example 2026-03-14 {0}")]
    NoDate(String),
    /// The clock jumped over it.
    #[error("{0} did not exist in {1}: the clocks jumped over it")]
    NeverWas(String, Zone),
    /// Outside the years that a record can be about.
    #[error("{0} is out of range: times lie from 1970 to 2200")]
    OutOfRange(String),
}

/// A time read from text, and whether the text could have meant two instants.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reckoned {
    /// The instant; the first of two where the clocks went back.
    pub time: Time,
    /// The local time occurred twice.
    pub occurred_twice: bool,
    /// The second instant where it did.
    pub later: Option<Time>,
}

impl Reckoned {
    /// The instant that is meant below one of a series that goes on in time: the second of two where the first lies before that.
    #[must_use]
    pub fn after(self, before: Option<Time>) -> Time {
        self.later.filter(|_| before.is_some_and(|before| before >= self.time)).unwrap_or(self.time)
    }
}

/// Reads RFC 3339, or `YYYY-MM-DD HH:MM[:SS[.ffffff]]` (a `T` between is allowed) as local time of `zone`.
///
/// # Errors
/// [`TimeFault`], each naming the text.
pub fn read_time(text: &str, zone: Zone) -> Result<Reckoned, TimeFault> {
    let text = text.trim();
    if let Ok(time) = DateTime::parse_from_rfc3339(text) {
        return in_range(time.with_timezone(&Utc), text).map(|time| Reckoned { time, occurred_twice: false, later: None });
    }
    let spaced = text.replacen('T', " ", 1);
    // The one form that it can have, before asking what else it might be: long files are full of local times.
    let form = if spaced.matches(':').count() > 1 { "%Y-%m-%d %H:%M:%S%.f" } else { "%Y-%m-%d %H:%M" };
    let Ok(local) = NaiveDateTime::parse_from_str(&spaced, form) else { return Err(not_a_time(text)) };
    reckon(local, zone, text)
}

/// What a text that is no time lacks.
fn not_a_time(text: &str) -> TimeFault {
    if NaiveDate::parse_from_str(text, "%Y-%m-%d").is_ok() {
        TimeFault::NoTimeOfDay(text.to_owned())
    } else if ["%H:%M", "%H:%M:%S"].iter().any(|format| NaiveTime::parse_from_str(text, format).is_ok()) {
        TimeFault::NoDate(text.to_owned())
    } else {
        TimeFault::Unreadable(text.to_owned())
    }
}

/// The instant that a wall clock in `zone` showed `local`; `text` is what messages name.
///
/// # Errors
/// [`TimeFault::NeverWas`] and [`TimeFault::OutOfRange`].
pub fn reckon(local: NaiveDateTime, zone: Zone, text: &str) -> Result<Reckoned, TimeFault> {
    let (time, later) = match zone.from_local_datetime(&local) {
        LocalResult::Single(time) => (time, None),
        LocalResult::Ambiguous(first, second) => (first, Some(second)),
        LocalResult::None => return Err(TimeFault::NeverWas(text.to_owned(), zone)),
    };
    let later = later.map(|later| in_range(later.with_timezone(&Utc), text)).transpose()?;
    in_range(time.with_timezone(&Utc), text).map(|time| Reckoned { time, occurred_twice: later.is_some(), later })
}

fn in_range(time: Time, text: &str) -> Result<Time, TimeFault> {
    let year = chrono::Datelike::year(&time);
    // To the microsecond, as times are kept: the same text must mean the same instant on record.
    time_from_micros(time.timestamp_micros())
        .filter(|_| (1970..=2200).contains(&year))
        .ok_or_else(|| TimeFault::OutOfRange(text.to_owned()))
}

/// The instant `micros` after 1970, or none where it cannot be represented.
#[must_use]
pub fn time_from_micros(micros: i64) -> Option<Time> {
    DateTime::from_timestamp_micros(micros)
}

/// RFC 3339 in UTC with `Z`, as short as exactness allows.
#[must_use]
pub fn rfc3339(time: Time) -> String {
    time.to_rfc3339_opts(chrono::SecondsFormat::AutoSi, true)
}

/// Date and time of day in `zone`, seconds only where there are any: `2026-03-14 07:30`.
#[must_use]
pub fn local_time(time: Time, zone: Zone) -> String {
    let local = time.with_timezone(&zone);
    local.format(if local.second() == 0 { "%Y-%m-%d %H:%M" } else { "%Y-%m-%d %H:%M:%S" }).to_string()
}

/// The local date at an instant.
#[must_use]
pub fn local_date(time: Time, zone: Zone) -> NaiveDate {
    time.with_timezone(&zone).date_naive()
}

/// Hours since local midnight by the wall clock, from 0 up to 24.
#[must_use]
pub fn local_hour(time: Time, zone: Zone) -> f64 {
    f64::from(time.with_timezone(&zone).time().num_seconds_from_midnight()) / 3600.0
}

#[cfg(test)]
mod tests {
    use super::*;

    const BERLIN: Zone = Zone::Europe__Berlin;

    #[test]
    fn rfc_3339_and_local_times_are_read() {
        let expected = DateTime::parse_from_rfc3339("2026-03-14T06:30:00Z").map(|t| t.with_timezone(&Utc));
        for text in
            ["2026-03-14T07:30:00+01:00", "2026-03-14 07:30", "2026-03-14T07:30", "2026-03-14 07:30:00.0", " 2026-03-14T06:30:00Z "]
        {
            assert_eq!(read_time(text, BERLIN).map(|r| r.time), Ok(expected.unwrap()), "{text}");
        }
    }

    /// The examples of RFC 3339, 5.8 (https://www.rfc-editor.org/rfc/rfc3339): a fraction, an offset, a leap second (which is the second
    /// after it), and one from 1937, which is out of range here.
    #[test]
    fn the_examples_of_rfc_3339_are_read() {
        let read = |text: &str| read_time(text, BERLIN).map(|read| rfc3339(read.time));
        assert_eq!(read("1985-04-12T23:20:50.52Z").as_deref(), Ok("1985-04-12T23:20:50.520Z"));
        assert_eq!(read("1996-12-19T16:39:57-08:00").as_deref(), Ok("1996-12-20T00:39:57Z"));
        let leap = read_time("1990-12-31T23:59:60Z", BERLIN).unwrap().time;
        assert_eq!(leap, read_time("1990-12-31T15:59:60-08:00", BERLIN).unwrap().time);
        assert_eq!(leap.timestamp_micros(), read_time("1991-01-01T00:00:00Z", BERLIN).unwrap().time.timestamp_micros());
        assert_eq!(read("1937-01-01T12:00:27.87+00:20"), Err(TimeFault::OutOfRange("1937-01-01T12:00:27.87+00:20".to_owned())));
    }

    /// Central European rules of 2026: forward on 29 March at 02:00, back on 25 October at 03:00 (IANA tz database).
    #[test]
    fn the_hour_that_never_was_is_refused_and_the_one_that_came_twice_is_the_first() {
        assert_eq!(
            read_time("2026-03-29 02:30", BERLIN).unwrap_err().to_string(),
            "2026-03-29 02:30 did not exist in Europe/Berlin: the clocks jumped over it"
        );
        let twice = read_time("2026-10-25 02:30", BERLIN).unwrap();
        assert!(twice.occurred_twice);
        assert_eq!(rfc3339(twice.after(Some(twice.time))), "2026-10-25T01:30:00Z", "a series goes on in time");
        assert_eq!(twice.after(None), twice.time);
        assert_eq!(rfc3339(twice.time), "2026-10-25T00:30:00Z");
    }

    #[test]
    fn what_is_not_a_time_says_what_to_write() {
        assert!(matches!(read_time("2026-03-14", BERLIN), Err(TimeFault::NoTimeOfDay(_))));
        assert!(matches!(read_time("07:30", BERLIN), Err(TimeFault::NoDate(_))));
        assert!(matches!(read_time("07:30:15", BERLIN), Err(TimeFault::NoDate(_))));
        assert!(matches!(read_time("yesterday", BERLIN), Err(TimeFault::Unreadable(_))));
        assert!(matches!(read_time("0001-01-01T00:00:00Z", BERLIN), Err(TimeFault::OutOfRange(_))));
    }

    /// São Paulo's clocks jumped over midnight on 2018-11-04; Apia had no 2011-12-30 (IANA tz database).
    #[test]
    fn a_midnight_and_a_date_that_never_were_are_refused() {
        for (zone, never, first) in [
            (Zone::America__Sao_Paulo, "2018-11-04 00:00", "2018-11-04 01:00"),
            (Zone::Pacific__Apia, "2011-12-30 10:00", "2011-12-31 00:00"),
        ] {
            assert_eq!(read_time(never, zone), Err(TimeFault::NeverWas(never.to_owned(), zone)));
            assert!(read_time(first, zone).is_ok(), "{first}");
        }
        assert_eq!(
            read_time("2018-11-04 01:00", Zone::America__Sao_Paulo).map(|read| rfc3339(read.time)).as_deref(),
            Ok("2018-11-04T03:00:00Z")
        );
    }
}
