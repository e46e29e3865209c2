//! Alarms as sentences: what it is, and what to do.

use std::fmt::Write as _;

use super::cautions::in_place;
use super::dates::{day, moment};
use super::numbers::{paragraph, temperature};
use super::status::age;
use crate::bench::{AlarmKind, Bench, Name};
use crate::civil::{Time, local_date};
use crate::diagnosis::Caution;
use crate::diagnosis::alarms::{AlarmState, Delivery, Event, boxes_at, heat_limit, not_looked_at};

/// As many boxes are named; the others are counted.
const NAMED: usize = 5;

/// An alarm in words.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmWords {
    /// What it is, as a sentence without its full stop.
    pub message: String,
    /// What to do.
    pub next: String,
    /// The usual caution that goes with it.
    pub caution: Option<&'static str>,
}

/// An alarm in words, as it stands `now`; `bench` is the bench then.
#[must_use]
pub fn alarm_words(state: &AlarmState, event: Event, bench: &Bench, now: Time) -> AlarmWords {
    let since = state.since.unwrap_or(state.looked);
    let until = state.ended.filter(|_| event == Event::Ended);
    let lasted = age(since, until.unwrap_or(now).max(since));
    let words = |message: String, next: &str, caution: Option<Caution>| AlarmWords {
        message,
        next: next.to_owned(),
        caution: caution.map(in_place),
    };
    let subject = &state.subject;
    match state.kind {
        AlarmKind::TooHot | AlarmKind::Freezing => temperature_words(state, bench, now, (&lasted, until)),
        AlarmKind::Silent => {
            let spot = bench.placements.iter().rev().find(|placement| placement.probe == *subject);
            let at = spot.map(|placement| format!(" at '{}'", placement.spot)).unwrap_or_default();
            match until {
                None => words(format!("Probe {subject}{at} has been silent for {lasted}"), "see to plug, cable and battery", None),
                Some(_) => words(format!("Probe {subject}{at} is heard again, after {lasted}"), "nothing needs doing", None),
            }
        }
        AlarmKind::Overdue => {
            let sprouted = bench.trials.get(subject).is_some_and(|trial| trial.sprouted() > 0);
            let which = if sprouted { "next" } else { "first" };
            let by = day(local_date(since, bench.zone));
            words(
                format!("{subject}: its {which} sprout was to be there by {by} (19 in 20), and none was found"),
                "look into it: dry, too wet, mouldy? `seedclock diagnose` tells what temperature has to do with it",
                Some(Caution::Mould),
            )
        }
        AlarmKind::Look => {
            let boxes: Vec<&Name> = not_looked_at(bench, now).into_iter().map(|(name, _)| name).collect();
            words(
                format!("Nobody has looked for {lasted} at {}", listed(&boxes)),
                "look, then `seedclock check BOX N`, or none; `seedclock away FROM TO` where nobody can",
                None,
            )
        }
    }
}

fn temperature_words(state: &AlarmState, bench: &Bench, now: Time, (lasted, until): (&str, Option<Time>)) -> AlarmWords {
    let degrees = bench.units.unwrap_or_default();
    let said = |celsius: Option<f64>| celsius.map(|celsius| temperature(celsius, degrees)).unwrap_or_default();
    let (limit, worst, spot) = (said(state.limit_c), said(state.worst_c), &state.subject);
    let there = boxes_at(bench, spot, now);
    let is_hot = state.kind == AlarmKind::TooHot;
    let (beyond, most) = if is_hot { ("over", "at most") } else { ("below", "at least") };
    // Others there may bear more.
    let none = std::collections::BTreeMap::new();
    let bears = |at: &usize| heat_limit(bench, &none, spot, there[*at], now).celsius <= state.worst_c.unwrap_or(f64::MAX);
    let suffering: Vec<usize> = (0..there.len()).filter(|at| !is_hot || bears(at)).collect();
    let suffering = if suffering.is_empty() { (0..there.len()).collect() } else { suffering };
    let boxes: Vec<&Name> = suffering.into_iter().map(|at| &there[at].container.name).collect();
    let boxes = listed(&boxes);
    let for_whom = |what: &str| if boxes.is_empty() { String::new() } else { format!(": {what}") };
    let (message, next) = match (until, is_hot) {
        (None, true) => (
            format!(
                "At '{spot}' it has been over {limit} for {lasted}, {worst} {most}{}",
                for_whom(&format!("too hot for {boxes}"))
            ),
            "check the thermostat and where its probe lies, or move them somewhere cooler".to_owned(),
        ),
        (None, false) => (
            format!(
                "At '{spot}' it has been below {limit} for {lasted}, {worst} {most}{}",
                for_whom(&format!("{boxes} may freeze"))
            ),
            "set it warmer: moist chilling wants cold above freezing".to_owned(),
        ),
        (Some(until), _) => (
            format!(
                "At '{spot}' it was {beyond} {limit} for {lasted}, until {}, {worst} {most}; that is over",
                moment(until, bench.zone)
            ),
            if boxes.is_empty() { "nothing needs doing".to_owned() } else { format!("look what it did to {boxes}") },
        ),
    };
    AlarmWords { message, next, caution: (is_hot && until.is_none()).then(|| in_place(Caution::Heat)) }
}

/// "A1", "A1 and A2", "A1, A2, A3, A4, A5 and 2 more".
fn listed(names: &[&Name]) -> String {
    let (named, more) = names.split_at(names.len().min(NAMED));
    let mut words: Vec<String> = named.iter().map(ToString::to_string).collect();
    let last = if more.is_empty() { words.pop() } else { Some(format!("{} more", more.len())) };
    match last {
        Some(last) if words.is_empty() => last,
        Some(last) => format!("{} and {last}", words.join(", ")),
        None => String::new(),
    }
}

/// The whole in one line: what it is, what to do, and the caution.
#[must_use]
pub fn alarm_line(words: &AlarmWords) -> String {
    let caution = words.caution.map(|caution| format!(" {caution}")).unwrap_or_default();
    format!("{}; {}.{caution}", words.message, words.next)
}

/// How a delivery went: "by mail: delivered on …", "by command: failed …".
#[must_use]
pub fn delivery_words(delivery: &Delivery, zone: crate::civil::Zone) -> String {
    let on = |time: Option<Time>| time.map(|time| format!(" on {}", moment(time, zone))).unwrap_or_default();
    let again = match delivery.next {
        Some(next) => format!("; again from {} on", moment(next, zone)),
        None => "; not tried any more".to_owned(),
    };
    match &delivery.failure {
        _ if delivery.tries == 0 => format!("by {}: on its way", delivery.way),
        None => {
            let answer = delivery.answer.as_ref().map(|answer| format!(" ({answer})")).unwrap_or_default();
            format!("by {}: delivered{}{answer}", delivery.way, on(delivery.tried))
        }
        Some(why) if delivery.kind.is_none() => format!("by {}: failed{}: {why}", delivery.way, on(delivery.tried)),
        Some(why) => {
            let times = if delivery.tries == 1 { String::new() } else { format!(" ({} tries)", delivery.tries) };
            format!("by {}: failed{}{times}: {why}{again}", delivery.way, on(delivery.tried))
        }
    }
}

/// All alarms that are present, with how telling of them went.
#[must_use]
pub fn alarms_text(states: &[AlarmState], deliveries: &[Delivery], bench: &Bench, now: Time, logger_runs: Option<bool>) -> String {
    let mut text = String::new();
    let present: Vec<&AlarmState> = states.iter().filter(|state| state.is_present()).collect();
    if present.is_empty() {
        text.push_str("No alarm.\n");
    }
    for state in present {
        let words = alarm_words(state, Event::Begun, bench, now);
        let since = state.since.map(|since| moment(since, bench.zone)).unwrap_or_default();
        let _ = writeln!(text, "{}", paragraph(&format!("{}.", words.message), "- ", "  "));
        let _ = writeln!(text, "{}", paragraph(&format!("next: {}", words.next), "  ", "  "));
        if let Some(caution) = words.caution {
            let _ = writeln!(text, "{}", paragraph(caution, "  ", "  "));
        }
        let seen = if state.seen.is_some() { ", seen" } else { "" };
        let _ = writeln!(text, "  since {since}{seen}");
        for delivery in deliveries.iter().filter(|one| one.kind == Some(state.kind) && one.subject == state.subject) {
            let _ = writeln!(text, "{}", paragraph(&delivery_words(delivery, bench.zone), "  ", "  "));
        }
    }
    for test in deliveries.iter().filter(|delivery| delivery.kind.is_none()) {
        let _ = writeln!(text, "{}", paragraph(&format!("The last test, {}", delivery_words(test, bench.zone)), "", "  "));
    }
    if logger_runs == Some(false) {
        text.push_str("No logger runs: nothing is watched now.\n");
    }
    text
}
