//! Alarms as JSON: those on the bench, and what a command gets to read.

use serde::Serialize;

use super::text_of;
use crate::bench::Bench;
use crate::civil::{Time, rfc3339};
use crate::diagnosis::alarms::{AlarmState, Delivery, Event};
use crate::wording::alarm_words;

/// One alarm.
#[derive(Debug, Serialize)]
pub(super) struct Alarm {
    kind: &'static str,
    subject: String,
    event: &'static str,
    since: Option<String>,
    ended: Option<String>,
    celsius: Option<f64>,
    limit_c: Option<f64>,
    told: Option<String>,
    seen: Option<String>,
    message: String,
    next: String,
    caution: Option<&'static str>,
    deliveries: Vec<Delivered>,
}

#[derive(Debug, Serialize)]
struct Delivered {
    way: String,
    event: &'static str,
    tries: u32,
    tried: Option<String>,
    next: Option<String>,
    failure: Option<String>,
    answer: Option<String>,
}

/// What a command gets on its standard input.
#[derive(Debug, Serialize)]
struct Letter {
    bench: String,
    time: String,
    test: bool,
    alarms: Vec<Alarm>,
}

/// What `alarms` answers.
#[derive(Debug, Serialize)]
struct Answer {
    as_of: String,
    logger_runs: Option<bool>,
    alarms: Vec<Alarm>,
    tests: Vec<Delivered>,
}

fn word(event: Event) -> &'static str {
    match event {
        Event::Begun => "begun",
        Event::Ended => "ended",
    }
}

fn delivered(delivery: &Delivery) -> Delivered {
    Delivered {
        way: delivery.way.clone(),
        event: word(delivery.event),
        tries: delivery.tries,
        tried: delivery.tried.map(rfc3339),
        next: delivery.next.map(rfc3339),
        failure: delivery.failure.clone(),
        answer: delivery.answer.clone(),
    }
}

/// An alarm with how telling of it went.
pub(super) fn alarm(state: &AlarmState, event: Event, bench: &Bench, now: Time, deliveries: &[Delivery]) -> Alarm {
    let words = alarm_words(state, event, bench, now);
    let of_it = |delivery: &&Delivery| delivery.kind == Some(state.kind) && delivery.subject == state.subject;
    Alarm {
        kind: state.kind.word(),
        subject: state.subject.to_string(),
        event: word(event),
        since: state.since.map(rfc3339),
        ended: state.ended.map(rfc3339),
        celsius: state.worst_c.filter(|_| state.kind.is_urgent()),
        limit_c: state.limit_c,
        told: state.told.map(rfc3339),
        seen: state.seen.map(rfc3339),
        message: words.message,
        next: words.next,
        caution: words.caution,
        deliveries: deliveries.iter().filter(of_it).map(delivered).collect(),
    }
}

/// What a command gets to read: which alarms have begun or ended on the bench of this name; none of them where it is a test.
#[must_use]
pub fn letter_json(name: &str, bench: &Bench, alarms: &[(AlarmState, Event)], now: Time) -> String {
    text_of(&Letter {
        bench: name.to_owned(),
        time: rfc3339(now),
        test: alarms.is_empty(),
        alarms: alarms.iter().map(|(state, event)| alarm(state, *event, bench, now, &[])).collect(),
    })
}

/// The alarms present on a bench, as JSON; whether a logger runs, where that is known.
#[must_use]
pub fn alarms_json(states: &[AlarmState], deliveries: &[Delivery], bench: &Bench, now: Time, logger_runs: Option<bool>) -> String {
    let present = states.iter().filter(|state| state.is_present());
    text_of(&Answer {
        as_of: rfc3339(now),
        logger_runs,
        alarms: present.map(|state| alarm(state, Event::Begun, bench, now, deliveries)).collect(),
        tests: deliveries.iter().filter(|delivery| delivery.kind.is_none()).map(delivered).collect(),
    })
}
