//! Dates as growers say them.

use chrono::{Datelike, NaiveDate};

use crate::civil::{Time, Zone, local_date};

/// "24 Nov".
#[must_use]
pub fn day(date: NaiveDate) -> String {
    date.format("%-d %b").to_string()
}

/// "Tue 24 Nov 2026, 23:40".
#[must_use]
pub fn moment(time: Time, zone: Zone) -> String {
    time.with_timezone(&zone).format("%a %-d %b %Y, %H:%M").to_string()
}

/// A range of dates: "24 Nov", "24–28 Nov", "28 Nov–3 Dec".
#[must_use]
pub fn span(from: Time, until: Time, zone: Zone) -> String {
    let (from, until) = (local_date(from, zone), local_date(until, zone));
    if from == until {
        day(from)
    } else if (from.year(), from.month()) == (until.year(), until.month()) {
        format!("{}–{}", from.day(), day(until))
    } else {
        format!("{}–{}", day(from), day(until))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use chrono::DateTime;

    #[test]
    fn ranges_are_as_short_as_they_can_be_said() {
        let at = |text: &str| DateTime::parse_from_rfc3339(text).unwrap().to_utc();
        let zone = Zone::Europe__Dublin;
        assert_eq!(span(at("2026-11-24T08:00:00Z"), at("2026-11-24T20:00:00Z"), zone), "24 Nov");
        assert_eq!(span(at("2026-11-24T08:00:00Z"), at("2026-11-28T20:00:00Z"), zone), "24–28 Nov");
        assert_eq!(span(at("2026-11-24T08:00:00Z"), at("2026-12-03T20:00:00Z"), zone), "24 Nov–3 Dec");
        assert_eq!(span(at("2026-06-24T23:30:00Z"), at("2026-06-25T20:00:00Z"), zone), "25 Jun", "local dates");
    }
}
