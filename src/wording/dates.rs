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

/// "just now", "3 minutes ago", "2 days ago"; what lies ahead by a clock that differs is just now.
#[must_use]
pub fn ago(span: chrono::Duration) -> String {
    let said = |count: i64, one: &str| if count == 1 { format!("1 {one} ago") } else { format!("{count} {one}s ago") };
    match (span.num_minutes(), span.num_hours(), span.num_days()) {
        (..=0, ..) => "just now".to_owned(),
        (minutes @ ..=89, ..) => said(minutes, "minute"),
        (_, hours @ ..=47, _) => said(hours, "hour"),
        (.., days) => said(days, "day"),
    }
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
    fn how_long_ago_is_said_in_one_unit() {
        let said = |minutes: i64| ago(chrono::Duration::minutes(minutes));
        assert_eq!([-5, 0, 1, 89].map(said), ["just now", "just now", "1 minute ago", "89 minutes ago"]);
        assert_eq!([90, 120, 47 * 60, 48 * 60].map(said), ["1 hour ago", "2 hours ago", "47 hours ago", "2 days ago"]);
    }

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
