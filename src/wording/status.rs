//! How the bench stands, in words.

use std::fmt::Write as _;

use super::alarm::{AlarmWords, alarm_words};
use super::care::{care_next, care_words, kept_words};
use super::chilling::{chill_todo_next, chill_todo_words};
use super::clock::{doubt_next, standing_words, step_words, undated_words};
use super::dates::moment;
use super::numbers::{counted, paragraph};
use super::record::{seeds_words, stand_words};
use crate::bench::{Bench, Name, Trial};
use crate::civil::{Time, Zone, local_time, time_from_micros};
use crate::diagnosis::alarms::{AlarmState, Event};
use crate::diagnosis::{BenchStatus, LoggerState, ProbeStatus, SpotStatus, Todo, UnreadLines};

/// A gigabyte, as disks are sold.
const GIGABYTE: f64 = 1e9;

/// The whole answer: what needs doing first.
#[must_use]
pub fn status_text(status: &BenchStatus, zone: Zone) -> String {
    let mut text = format!("The bench on {}\n", moment(status.as_of, zone));
    match &status.todo[..] {
        [] => text.push_str("Nothing needs doing.\n"),
        todo => {
            text.push_str("To do:\n");
            for one in todo {
                let (what, next) = (todo_words(one, status, zone), todo_next(one, status, zone));
                let _ = writeln!(text, "{}", paragraph(&what, "- ", "  "));
                let _ = writeln!(text, "  next: {next}");
            }
        }
    }
    if status.spots.is_empty() {
        text.push_str("\nNo box stands on this bench.\n");
    }
    for spot in &status.spots {
        let _ = writeln!(text, "\n{}", spot_words(spot));
        for trial in &spot.boxes {
            let _ = writeln!(text, "  {}", box_words(trial, status.as_of));
        }
    }
    if !status.probes.is_empty() {
        text.push_str("\nProbes\n");
    }
    for probe in &status.probes {
        let _ = writeln!(text, "  {}", probe_words(probe, status.as_of));
    }
    if let Some(machine) = status.machine {
        let logger = match machine.logger {
            LoggerState::Runs(Some(process)) => format!("A logger runs (process {process})."),
            LoggerState::Runs(None) => "A logger runs.".to_owned(),
            LoggerState::Stopped => "No logger runs.".to_owned(),
        };
        let room = machine.free_bytes.map(|free| format!(" {} left on the disk.", bytes_words(free))).unwrap_or_default();
        let _ = writeln!(text, "\n{logger}{room}");
    }
    for step in &status.clock.steps {
        let when = time_from_micros(step.time_us).map(|time| moment(time, zone)).unwrap_or_default();
        let _ = writeln!(text, "{when}: {}", step_words(*step));
    }
    if let Some(care) = &status.care {
        let _ = writeln!(text, "{}", kept_words(care, status.as_of));
    }
    for source in &status.sources {
        let _ = writeln!(text, "{}: {}, since {}", source.source, source.words, moment(source.since, zone));
    }
    for lines in &status.unread {
        let _ = writeln!(text, "{}", unread_words(lines, zone));
    }
    text
}

/// One thing to do, as a sentence.
#[must_use]
pub fn todo_words(todo: &Todo, status: &BenchStatus, zone: Zone) -> String {
    let as_of = status.as_of;
    match todo {
        Todo::Look { spot, boxes, .. } => {
            let since = |(name, last): &(Name, Time)| format!("{name} (for {})", age(*last, as_of));
            format!("Not looked at lately, at '{spot}': {}.", boxes.iter().map(since).collect::<Vec<_>>().join(", "))
        }
        Todo::FindOut { boxes } => {
            let since = |(name, spot, last): &(Name, Name, Time)| format!("{name} at '{spot}' (for {})", age(*last, as_of));
            let boxes: Vec<String> = boxes.iter().map(since).collect();
            format!("Not looked at for over 30 days, and so counted as ended: {}.", boxes.join(", "))
        }
        Todo::Measure { spot, boxes } => {
            let boxes: Vec<&str> = boxes.iter().map(Name::as_str).collect();
            format!("Nothing tells the temperature at '{spot}', where {} stand{}.", boxes.join(", "), one_s(boxes.len()))
        }
        Todo::Hear { probe, spot, last } => {
            let heard = match last {
                Some(last) => format!("has been silent for {}", age(*last, as_of)),
                None => "has never been heard of".to_owned(),
            };
            let logger = match status.machine.map(|machine| machine.logger) {
                Some(LoggerState::Stopped) => " No logger runs.",
                _ => "",
            };
            format!("Probe {probe} at '{spot}' {heard}.{logger}")
        }
        Todo::Mend { doubt, spot } => {
            let why = doubt.why.as_ref().map(|why| format!(" ({why})")).unwrap_or_default();
            let since = moment(doubt.from, zone);
            format!("The readings of probe {} at '{spot}' are not used since {since}{why}.", doubt.probe)
        }
        Todo::Place { probe } => format!("Nobody has said where probe {probe} stands: its readings are kept, and not used."),
        Todo::Carry { planned } => {
            format!("{} was to be moved to '{}' on {}.", planned.container, planned.spot, moment(planned.time, zone))
        }
        Todo::Chill(chill) => chill_todo_words(chill, as_of, zone),
        Todo::MakeRoom { spot, boxes, capacity } => {
            format!("{} stand at '{spot}', which has room for {capacity}.", counted(*boxes, "box", "boxes"))
        }
        Todo::BelieveClock { .. } => {
            standing_words(&status.clock).unwrap_or_default() + " Readings are kept without dates until then."
        }
        Todo::DateReadings { start } => format!("Readings without dates: {}.", undated_words(start, zone)),
        Todo::MendSource { source } => format!("{}: {}.", source.source, source.words),
        Todo::Alarm { state } => {
            let words = told(state, status);
            let caution = words.caution.map(|caution| format!(" {caution}")).unwrap_or_default();
            format!("{}.{caution}", words.message)
        }
        Todo::Care(care) => care_words(care, as_of, zone),
        Todo::FreeDisk { free } => {
            format!("Only {} left on the disk: nothing can be recorded when it is full.", bytes_words(*free))
        }
    }
}

/// What to do about it: a command, or something by hand.
#[must_use]
pub fn todo_next(todo: &Todo, status: &BenchStatus, zone: Zone) -> String {
    match todo {
        Todo::Look { spot, all: true, .. } => {
            format!("look; what is new box by box, then `seedclock check --spot {} --rest none`", spot.as_typed())
        }
        Todo::Look { boxes, .. } => {
            let names: Vec<String> = boxes.iter().map(|(name, _)| name.as_typed()).collect();
            match &names[..] {
                [name] => format!("look, then `seedclock check {name} N`, or none"),
                names => format!(
                    "look, then for each `seedclock check BOX N`; if nothing is new `seedclock check {} none`",
                    names.join(" ")
                ),
            }
        }
        Todo::FindOut { boxes } => {
            let names: Vec<String> = boxes.iter().map(|(name, ..)| name.as_typed()).collect();
            format!("`seedclock check BOX N` for each that is still there; for the others `seedclock close {}`", names.join(" "))
        }
        Todo::Measure { spot, .. } => {
            let spot = spot.as_typed();
            format!("`seedclock probe place PROBE {spot}`, or `seedclock spot {spot} --set DEGREES` if you know it")
        }
        Todo::Hear { last: None, .. } => {
            "start `seedclock log --port …`, or see that the probe is plugged in and goes by this name".to_owned()
        }
        Todo::Hear { .. } => "start `seedclock log --port …` if it has stopped; else see to plug, cable and battery".to_owned(),
        Todo::Mend { doubt, .. } => {
            let (probe, from) = (doubt.probe.as_typed(), local_time(doubt.from, zone));
            format!("when it is right again, `seedclock doubt {probe} --from \"{from}\" --to now`")
        }
        Todo::Place { probe } => format!("`seedclock probe place {} SPOT`", probe.as_typed()),
        Todo::Carry { planned } => {
            let (container, spot) = (planned.container.as_typed(), planned.spot.as_typed());
            format!("move it, then `seedclock move {container} {spot}`; or `seedclock undo plan {container}`")
        }
        Todo::Chill(chill) => chill_todo_next(chill),
        Todo::MakeRoom { spot, .. } => format!("`seedclock move BOX SPOT`, or `seedclock spot {} --capacity N`", spot.as_typed()),
        Todo::BelieveClock { why } => doubt_next(*why).to_owned(),
        Todo::DateReadings { start } => {
            format!("if you know when the first was made, `seedclock undated {} --began TIME`", start.number)
        }
        Todo::MendSource { source } => {
            source.next.clone().unwrap_or_else(|| "see that it is plugged in and switched on".to_owned())
        }
        Todo::Alarm { state } => {
            format!("{}; then `seedclock alarms --seen {}`", told(state, status).next, state.subject.as_typed())
        }
        Todo::Care(care) => care_next(care),
        Todo::FreeDisk { .. } => "make room on the disk that holds the bench".to_owned(),
    }
}

fn told(state: &AlarmState, status: &BenchStatus) -> AlarmWords {
    let nothing = Bench::empty(Zone::UTC);
    let bench = status.alarms.as_ref().map_or(&nothing, |alarms| &alarms.bench);
    alarm_words(state, Event::Begun, bench, status.as_of)
}

fn spot_words(spot: &SpotStatus) -> String {
    let room = spot.capacity.map(|capacity| format!(" of {capacity}")).unwrap_or_default();
    let kind = match spot.kind {
        crate::bench::SpotKind::Indoors => String::new(),
        kind => format!(", {}", kind.word()),
    };
    let boxes = if spot.boxes.len() == 1 && room.is_empty() { "box" } else { "boxes" };
    format!("{}: {}{room} {boxes}{kind}", spot.spot, spot.boxes.len())
}

fn box_words(trial: &Trial, as_of: Time) -> String {
    let container = &trial.container;
    let seeds = if container.seeds.is_none() { format!(" ({})", seeds_words(container)) } else { String::new() };
    let looked = match trial.checks.last() {
        Some(check) => format!("looked at {} ago", age(check.time, as_of)),
        None => format!("sown {} ago, not looked at yet", age(container.sown, as_of)),
    };
    format!("{} {}: {}{seeds}; {looked}", container.name, container.species, stand_words(trial))
}

fn probe_words(probe: &ProbeStatus, as_of: Time) -> String {
    let spot = probe.spot.as_ref().map_or_else(|| "nowhere yet".to_owned(), |spot| format!("at '{spot}'"));
    let last = match probe.last_reading {
        Some(last) => format!("last reading {} ago", age(last, as_of)),
        None => "no reading yet".to_owned(),
    };
    let limits = if probe.limits.is_some() { "; limits of its own" } else { "" };
    format!("{} {spot}: {last}{limits}", probe.probe)
}

fn unread_words(lines: &UnreadLines, zone: Zone) -> String {
    let count = counted(lines.count, "line", "lines");
    let last = moment(lines.last, zone);
    format!("{}: {count} of the last day could not be read, the last on {last} ({}); kept as received.", lines.port, lines.why)
}

/// "3 minutes", "5 hours", "12 days": how long ago, rounded down.
pub(super) fn age(since: Time, now: Time) -> String {
    let past = now - since;
    let whole = |count: i64, one: &str, many: &str| counted(usize::try_from(count).unwrap_or(0), one, many);
    if past.num_minutes() < 1 {
        "a moment".to_owned()
    } else if past.num_hours() < 1 {
        whole(past.num_minutes(), "minute", "minutes")
    } else if past.num_hours() < 48 {
        whole(past.num_hours(), "hour", "hours")
    } else {
        whole(past.num_days(), "day", "days")
    }
}

fn bytes_words(bytes: u64) -> String {
    format!("{:.1} GB", bytes as f64 / GIGABYTE)
}

fn one_s(count: usize) -> &'static str {
    if count == 1 { "s" } else { "" }
}
