//! Moist chilling in words.

mod lengths;

use std::fmt::Write as _;

use chrono::Datelike;

use lengths::longer_words;
pub use lengths::{chill_responses_text, response_words};

use super::dates::day;
use super::numbers::{counted, decimal, temperature};
use crate::bench::{Degrees, Name, SpotKind};
use crate::civil::{Time, Zone, local_date};
use crate::diagnosis::{CHILLS_FROM_C, CHILLS_TO_C, ChillTodo, Chilled, ColdAdvice, ColdEvent, Kind, PlanBy, Spell, ToldBy};

/// Hours from which on they are said in days.
const IN_DAYS_FROM: f64 = 72.0;
/// As many days apart the least and the most that may count are both said.
const APART_DAYS: f64 = 1.0;
/// Days of which less than this is guessed or unknown are as good as known.
const FEW_DAYS: f64 = 0.5;

/// What a finding of chilling rests on; none for other kinds.
#[must_use]
pub(super) fn chilling_words(kind: Kind, chilled: &Chilled, degrees: Degrees) -> Option<String> {
    let words = match kind {
        Kind::ChillingShort if chilled.dry_treatment => {
            "its treatment says dry: cold without moisture is no chilling, and none is counted.".to_owned()
        }
        Kind::ChillingShort => short_words(chilled, degrees),
        Kind::ChillingOnCourse => on_course_words(chilled, degrees),
        Kind::ChillingDone => done_words(chilled, degrees),
        Kind::ChillingUnknown => unknown_words(chilled, degrees),
        Kind::ChillingFrozen => format!(
            "{} {}. Frozen hours count for nothing, and frost can kill damp seed.",
            if chilled.kind == SpotKind::Fridge { "it froze" } else { "it froze out there" },
            spells_words(&chilled.frozen, "down to ", chilled.zone, degrees)
        ),
        Kind::ChillingWarm => warm_words(chilled, degrees),
        Kind::SproutsInCold => sprouts_words(chilled.sprouts_there) + ".",
        _ => return None,
    };
    Some(words)
}

/// "3 have sprouted in the cold".
fn sprouts_words(sprouts: u32) -> String {
    format!("{sprouts} {} sprouted in the cold", if sprouts == 1 { "has" } else { "have" })
}

/// Whole days, or one decimal where the number is small.
fn days_words(days: f64) -> String {
    let said = if days < 9.95 { decimal(days) } else { format!("{days:.0}") };
    let said = said.strip_suffix(".0").unwrap_or(&said).to_owned();
    if said == "1" { "1 day".to_owned() } else { format!("{said} days") }
}

/// "26 of 60 days of moist cold (1 to 7 °C)", with what may be off.
fn count_words(chilled: &Chilled, degrees: Degrees) -> String {
    let days = &chilled.counted;
    let mut words = match chilled.plan.filter(|plan| plan.days > 0.0) {
        Some(plan) => {
            let said = days_words(days.days);
            let said = said.split(' ').next().unwrap_or_default();
            format!("{said} of {} of moist cold", days_words(plan.days))
        }
        None => format!("{} of moist cold", days_words(days.days)),
    };
    let _ = write!(words, " ({})", range_words(degrees));
    let mut apart = Vec::new();
    if days.at_most - days.at_least >= APART_DAYS {
        let (low, high) = (days_words(days.at_least), days_words(days.at_most));
        let low = low.split(' ').next().unwrap_or_default();
        apart.push(format!("{low} to {high} with what may be off"));
    }
    if days.guessed >= FEW_DAYS {
        apart.push(format!("{} of them guessed", days_words(days.guessed)));
    }
    if !apart.is_empty() {
        let _ = write!(words, ", {}", apart.join(", "));
    }
    words
}

/// "1 to 7 °C".
fn range_words(degrees: Degrees) -> String {
    let (from, to) = (whole_degrees(CHILLS_FROM_C, degrees), whole_degrees(CHILLS_TO_C, degrees));
    format!("{} to {to}", from.split('\u{a0}').next().unwrap_or_default())
}

/// "1 °C": limits are whole in either unit only by chance, so one decimal where it matters.
fn whole_degrees(celsius: f64, degrees: Degrees) -> String {
    temperature(celsius, degrees).replace(".0\u{a0}", "\u{a0}")
}

/// Where, and since when: "in fridge since 4 Jan".
fn where_words(chilled: &Chilled) -> String {
    match (&chilled.spot, chilled.since) {
        (Some(spot), Some(since)) => format!("in {spot} since {}", said_day(since, chilled.zone)),
        _ => "never in the cold".to_owned(),
    }
}

/// What did not count and why, as sentences. Frost, and warmth that goes on, are findings of their own while it stands in the cold.
fn besides_words(chilled: &Chilled, degrees: Degrees) -> String {
    let mut words = String::new();
    let zone = chilled.zone;
    let days = &chilled.counted;
    if !chilled.out.is_empty() {
        let _ = write!(words, " Out of the cold {}.", spells_words(&chilled.out, "at ", zone, degrees));
    }
    if !chilled.warm.is_empty() && !chilled.too_warm {
        let _ = write!(words, " Too warm to count {}.", spells_words(&chilled.warm, "up to ", zone, degrees));
    }
    if !chilled.frozen.is_empty() && !chilled.is_in_cold() {
        let _ = write!(words, " Frozen {}.", spells_words(&chilled.frozen, "down to ", zone, degrees));
    }
    if chilled.near_frost_hours >= 1.0 {
        let _ = write!(
            words,
            " For {} the probe read below {}, which may be its own error.",
            hours_words(chilled.near_frost_hours),
            whole_degrees(0.0, degrees)
        );
    }
    if days.unknown >= FEW_DAYS {
        let begins = match chilled.record_begins {
            Some(begins) => format!(", where the record begins only on {}", said_day(begins, zone)),
            None => String::new(),
        };
        let _ = write!(words, " Of {} in the cold nothing is known{begins}.", days_words(days.unknown));
    }
    if let Some(first) = chilled.dry.first() {
        let times = if chilled.dry.len() == 1 {
            String::new()
        } else {
            format!(" and {} more", counted(chilled.dry.len() - 1, "time", "times"))
        };
        let _ = write!(
            words,
            " Found dry on {}{times}: dry cold is no chilling, and for how long it was dry nobody knows.",
            said_day(*first, zone)
        );
    }
    words
}

fn short_words(chilled: &Chilled, degrees: Degrees) -> String {
    let Some(plan) = chilled.plan else { return String::new() };
    let wanted = match plan.by {
        PlanBy::Lot => format!("this lot is said to want {} of moist cold", days_words(plan.days)),
        PlanBy::Treatment => format!("its treatment was to be {} of moist cold", days_words(plan.days)),
    };
    let had = match (chilled.since, chilled.by_label, chilled.left) {
        (None, Some(days), _) => format!("by its treatment's words it had {}", days_words(days)),
        (None, None, _) => "none is on record".to_owned(),
        (Some(_), _, left) => {
            let left = left.map(|left| format!(", out since {}", said_day(left, chilled.zone))).unwrap_or_default();
            format!("{} counted{left}", count_words_alone(chilled, degrees))
        }
    };
    format!("half-chilled, perhaps: {wanted}, and {had}.{}", besides_words(chilled, degrees))
}

/// The count without the plan.
fn count_words_alone(chilled: &Chilled, degrees: Degrees) -> String {
    count_words(&Chilled { plan: None, ..chilled.clone() }, degrees).replace(" of moist cold", "")
}

fn on_course_words(chilled: &Chilled, degrees: Degrees) -> String {
    let mut words = format!("{}: {}", where_words(chilled), count_words(chilled, degrees));
    match (chilled.plan, chilled.done, chilled.pace) {
        (Some(_), Some(done), _) => {
            let _ = write!(words, "; done on {} if {} stays as it is.", said_weekday(done, chilled.zone), spot_words(chilled));
        }
        (Some(_), None, Some(_)) => words.push_str("; as it is now, no end is in sight."),
        (Some(_), None, None) => words.push_str("; when it is done cannot be said yet."),
        (None, ..) => words.push_str("; nothing says how long it is to be chilled."),
    }
    if let (ToldBy::Given, Some(pace)) = (chilled.told, chilled.pace)
        && pace > 0.0
    {
        words.push_str(" Counted by the calendar, at the temperature given for the spot.");
    }
    words + &besides_words(chilled, degrees) + &longer_words(chilled)
}

fn done_words(chilled: &Chilled, degrees: Degrees) -> String {
    let zone = chilled.zone;
    let done = match (chilled.plan, chilled.done) {
        (Some(plan), _) if plan.days == 0.0 => "these seeds are said to want no chilling".to_owned(),
        (Some(plan), Some(done)) => format!("its {} of moist cold were done on {}", days_words(plan.days), said_day(done, zone)),
        _ => String::new(),
    };
    format!(
        "{}: {done}; {} so far.{}{}",
        where_words(chilled),
        count_words_alone(chilled, degrees),
        besides_words(chilled, degrees),
        longer_words(chilled)
    )
}

fn unknown_words(chilled: &Chilled, degrees: Degrees) -> String {
    let why = match (chilled.is_in_cold(), chilled.told) {
        (_, ToldBy::Nobody) => {
            format!("nothing tells the temperature at {}, so how much of its time there counts can't be said", spot_words(chilled))
        }
        (true, _) => format!("{}, which is not all that there may be", count_words(chilled, degrees)),
        (false, _) => format!("{} counted, and whether that was enough can't be said", count_words(chilled, degrees)),
    };
    let besides =
        if chilled.told == ToldBy::Nobody && chilled.counted.days == 0.0 { String::new() } else { besides_words(chilled, degrees) };
    format!("{}: {why}.{besides}", where_words(chilled))
}

fn warm_words(chilled: &Chilled, degrees: Degrees) -> String {
    let limit = whole_degrees(CHILLS_TO_C, degrees);
    format!(
        "{} was over {limit}, where time counts for nothing, {}.",
        spot_words(chilled),
        spells_words(&chilled.warm, "up to ", chilled.zone, degrees)
    )
}

fn spot_words(chilled: &Chilled) -> &str {
    chilled.spot.as_ref().map_or("the spot", Name::as_str)
}

/// "for 3 hours on 4 Feb (down to −1.8 °C)"; of several "5 times, 7 hours in all, last on 9 Feb (down to −1.8 °C)".
fn spells_words(spells: &[Spell], before: &str, zone: Zone, degrees: Degrees) -> String {
    let hours: f64 = spells.iter().map(|spell| spell.hours).sum();
    let known = spells.iter().filter_map(|spell| Some((spell.celsius?, spell.hours)));
    let celsius = match before {
        "down to " => known.map(|(celsius, _)| celsius).min_by(f64::total_cmp),
        "up to " => known.map(|(celsius, _)| celsius).max_by(f64::total_cmp),
        _ => {
            let (sum, weight) = known.fold((0.0, 0.0), |(sum, weight), (celsius, hours)| (sum + celsius * hours, weight + hours));
            (weight > 0.0).then(|| sum / weight)
        }
    };
    let average = if before == "at " { " on average" } else { "" };
    let celsius = celsius.map(|celsius| format!(" ({before}{}{average})", temperature(celsius, degrees))).unwrap_or_default();
    match spells {
        [] => String::new(),
        [one] => {
            let (from, until) = (local_date(one.from, zone), local_date(one.until, zone));
            let when = if from == until { format!("on {}", day(from)) } else { format!("from {} to {}", day(from), day(until)) };
            format!("for {} {when}{celsius}", hours_words(hours))
        }
        [.., last] => {
            format!("{} times, {} in all, last on {}{celsius}", spells.len(), hours_words(hours), said_day(last.from, zone))
        }
    }
}

/// "3 hours", "5 days".
fn hours_words(hours: f64) -> String {
    if hours >= IN_DAYS_FROM { days_words(hours / 24.0) } else { counted(hours.round().max(1.0) as usize, "hour", "hours") }
}

fn said_day(time: Time, zone: Zone) -> String {
    day(local_date(time, zone))
}

/// "Sat 3 Apr".
fn said_weekday(time: Time, zone: Zone) -> String {
    local_date(time, zone).format("%a %-d %b").to_string()
}

/// What to do about it, as a sentence.
#[must_use]
pub(super) fn cold_advice_words(advice: ColdAdvice) -> String {
    match advice {
        ColdAdvice::PutBack { days } => format!(
            "If it does not sprout, put it back into moist cold for {} more: what it had is not lost.",
            days_words(days)
        ),
        ColdAdvice::LeaveInWarm => "Some have sprouted: leave it in the warm, and see how many more come.".to_owned(),
        ColdAdvice::TakeSproutsOut => {
            "Take them out now and grow them on: seedlings soon rot in the cold. The rest may stay.".to_owned()
        }
        ColdAdvice::TakeOutWhenDone => "Look once a week for sprouts and mould, and keep it damp.".to_owned(),
        ColdAdvice::GoOrHold => {
            "Take it out when you can go on with it. If it is too early in the year, it may stay: days that are named for a plant are \
             the least that it wants. Look once a week for sprouts and mould."
                .to_owned()
        }
        ColdAdvice::PutProbeIn => "Put a probe in, beside the seeds; or say what it is set to: `seedclock spot SPOT --set DEGREES`.".to_owned(),
        ColdAdvice::SetWarmer => {
            "Set it a little warmer and keep the seeds away from the wall that ices up; try a few in the warm to see that they live."
                .to_owned()
        }
        ColdAdvice::SetColder => "Set it colder, or find a colder shelf.".to_owned(),
        ColdAdvice::Wet => "Wet them; their days count from then (sow them anew, from this box, on the day).".to_owned(),
    }
}

/// One thing to do about a box in the cold, as a sentence.
#[must_use]
pub(super) fn chill_todo_words(todo: &ChillTodo, as_of: Time, zone: Zone) -> String {
    let ChillTodo { container, spot, what } = todo;
    match what {
        ColdEvent::Done { days, .. } if *days == 0.0 => {
            format!("Take {container} out of '{spot}': these seeds are said to want no chilling.")
        }
        ColdEvent::Done { when, days } if *when <= as_of => {
            format!("Take {container} out of '{spot}': its {} were done on {}.", days_words(*days), said_day(*when, zone))
        }
        ColdEvent::Done { when, days } => {
            let date = local_date(*when, zone);
            let name = if date == local_date(as_of, zone) { "today".to_owned() } else { format!("on {}", weekday(date)) };
            format!("Take {container} out of '{spot}' {name}, {} ({} done).", day(date), days_words(*days))
        }
        ColdEvent::Sprouts { sprouts } => {
            let them = if *sprouts == 1 { "it" } else { "them" };
            format!("{} in {container}, at '{spot}': take {them} out now.", sprouts_words(*sprouts))
        }
        ColdEvent::Froze { last, hours } => {
            let all = if hours - last.hours >= 0.5 { format!(", {} within the week", hours_words(*hours)) } else { String::new() };
            format!("'{spot}' froze {container} for {} on {}{all}.", hours_words(last.hours), said_day(last.from, zone))
        }
        ColdEvent::TooWarm { hours } => {
            format!("'{spot}' was too warm for {container}: {} of the last week count for nothing.", hours_words(*hours))
        }
    }
}

fn weekday(date: chrono::NaiveDate) -> &'static str {
    match date.weekday() {
        chrono::Weekday::Mon => "Monday",
        chrono::Weekday::Tue => "Tuesday",
        chrono::Weekday::Wed => "Wednesday",
        chrono::Weekday::Thu => "Thursday",
        chrono::Weekday::Fri => "Friday",
        chrono::Weekday::Sat => "Saturday",
        chrono::Weekday::Sun => "Sunday",
    }
}

/// What to do about it: a command, or something by hand.
#[must_use]
pub(super) fn chill_todo_next(todo: &ChillTodo) -> String {
    let container = todo.container.as_typed();
    match &todo.what {
        ColdEvent::Done { .. } => {
            format!("`seedclock move {container} SPOT`, or `seedclock sow BOX --from {container}` with some of its seeds")
        }
        ColdEvent::Sprouts { .. } => {
            format!("pot them on, then `seedclock check {container} none --potted-on N`; or `seedclock move {container} SPOT`")
        }
        ColdEvent::Froze { .. } => {
            "set it a little warmer, and keep damp seed away from the wall that ices up; never the freezer".to_owned()
        }
        ColdEvent::TooWarm { .. } => "set it colder, or find a colder shelf; `seedclock diagnose` says how warm it was".to_owned(),
    }
}
