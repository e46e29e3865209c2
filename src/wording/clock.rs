//! The computer's clock, and readings without dates, in words.

use super::dates::moment;
use super::numbers::counted;
use crate::bench::{ClockStatus, ClockStep, Later, Standing, UndatedStart, WhyDoubted};
use crate::civil::Zone;

/// Why a clock is not believed: goes on from "the clock of this computer is not known to be right: ".
#[must_use]
pub fn doubt_words(why: WhyDoubted) -> &'static str {
    match why {
        WhyDoubted::NotSetYet => "it has no battery that kept it, and the network has not set it since it was started",
        WhyDoubted::NeverSet => "it shows a year before 2020",
        WhyDoubted::BeforeNewest => "it shows a time before the newest reading on the bench",
    }
}

/// What to do about it.
#[must_use]
pub fn doubt_next(why: WhyDoubted) -> &'static str {
    match why {
        WhyDoubted::NotSetYet | WhyDoubted::BeforeNewest => {
            "connect it to the network, or set its clock and begin again with `seedclock log --clock trusted`"
        }
        WhyDoubted::NeverSet => "connect it to the network, or set its clock",
    }
}

/// What is on record for times that have not come, and what may be behind it.
#[must_use]
pub fn later_words(later: &Later, zone: Zone) -> String {
    let entries = counted(later.entries, "entry", "entries");
    let what = match (later.entries, later.readings) {
        (0, _) => "readings are".to_owned(),
        (1, false) => format!("{entries} is"),
        (_, false) => format!("{entries} are"),
        (_, true) => format!("{entries} and readings are"),
    };
    format!(
        "{what} on record for later than now (the last for {}) and left out: was the clock ahead then, or set back since?\n  \
         next: `seedclock status` says how it stands with the clock",
        moment(later.last, zone)
    )
}

/// "the clock of this computer was set forward by 1 hour; readings go by it from then on", with what to do where there is anything.
#[must_use]
pub fn step_words(step: ClockStep) -> String {
    let way = if step.ahead_us < 0 { "back" } else { "forward" };
    let by = duration_words(step.ahead_us.unsigned_abs());
    if step.followed {
        format!("the clock of this computer was set {way} by {by}; readings go by it from then on, those before stay as they are")
    } else {
        format!(
            "the clock of this computer was set {way} by {by}, by no network; readings go on by the time that was right before\n  \
             next: set it right, or begin again with `seedclock log --clock trusted` if it is right now"
        )
    }
}

/// The clock now, where there is anything to say of it.
pub(super) fn standing_words(clock: &ClockStatus) -> Option<String> {
    match clock.standing? {
        Standing::Doubted(why) if clock.dated != Some(true) => {
            Some(format!("The clock of this computer is not known to be right: {}.", doubt_words(why)))
        }
        _ => None,
    }
}

/// "Readings without dates, 3: 147 readings of p1, p2 over 3 hours, made after … and before …"
#[must_use]
pub fn undated_words(start: &UndatedStart, zone: Zone) -> String {
    let probes: Vec<&str> = start.probes.iter().map(|probe| probe.as_str()).collect();
    let over = duration_words(start.last_since_us.saturating_sub(start.first_since_us).unsigned_abs());
    let bounds = match (start.after, start.before) {
        (None, None) => String::new(),
        (Some(after), None) => format!(", made after {}", moment(after, zone)),
        (None, Some(before)) => format!(", made before {}", moment(before, zone)),
        (Some(after), Some(before)) => format!(", made after {} and before {}", moment(after, zone), moment(before, zone)),
    };
    let readings = counted(start.readings, "reading", "readings");
    format!("{readings} of {} over {over}{bounds}", probes.join(", "))
}

/// "45 seconds", "12 minutes", "3 hours", "5 days": rounded.
fn duration_words(micros: u64) -> String {
    let seconds = micros.saturating_add(500_000) / 1_000_000;
    let (each, one, many) = match seconds {
        0..120 => (1, "second", "seconds"),
        120..7_200 => (60, "minute", "minutes"),
        7_200..172_800 => (3_600, "hour", "hours"),
        _ => (86_400, "day", "days"),
    };
    counted(usize::try_from((seconds + each / 2) / each).unwrap_or(usize::MAX), one, many)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Name;
    use crate::civil::{Time, time_from_micros};

    #[test]
    fn how_far_a_clock_was_set_is_said_and_what_came_of_it() {
        let step = ClockStep { since_us: 0, time_us: 0, ahead_us: -3_600_000_000, followed: true };
        assert_eq!(
            step_words(step),
            "the clock of this computer was set back by 60 minutes; readings go by it from then on, those before stay as they are"
        );
        assert_eq!(
            step_words(ClockStep { ahead_us: 86_400_000_000, followed: false, ..step }),
            "the clock of this computer was set forward by 24 hours, by no network; readings go on by the time that was right before\n  \
             next: set it right, or begin again with `seedclock log --clock trusted` if it is right now"
        );
    }

    #[test]
    fn readings_without_dates_are_told_with_what_is_known_of_when_they_were_made() {
        let time = |hours: i64| -> Option<Time> { time_from_micros(1_772_000_000_000_000 + hours * 3_600_000_000) };
        let start = UndatedStart {
            number: 3,
            id: "x".to_owned(),
            readings: 147,
            probes: ["p1", "p2"].map(|name| Name::new(name).unwrap()).to_vec(),
            first_since_us: 20_000_000,
            last_since_us: 10_820_000_000,
            after: time(0),
            before: time(30),
        };
        assert_eq!(
            undated_words(&start, Zone::UTC),
            "147 readings of p1, p2 over 3 hours, made after Wed 25 Feb 2026, 06:13 and before Thu 26 Feb 2026, 12:13"
        );
        let alone = UndatedStart { after: None, before: None, readings: 1, last_since_us: 20_000_000, ..start };
        assert_eq!(undated_words(&alone, Zone::UTC), "1 reading of p1, p2 over 0 seconds");
    }
}
