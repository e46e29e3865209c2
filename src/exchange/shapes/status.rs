//! `status` as JSON.

use serde::Serialize;

use super::alarm::{Alarm, alarm};
use super::text_of;
use crate::bench::{ClockStatus, ClockStep, ProbeLimits, Standing, Trial, UndatedStart};
use crate::civil::{Time, Zone, rfc3339, time_from_micros};
use crate::diagnosis::alarms::Event;
use crate::diagnosis::{BenchStatus, CareTodo, ColdEvent, LoggerState, Todo};
use crate::wording::{todo_next, todo_words};

#[derive(Debug, Serialize)]
struct Shape {
    as_of: String,
    logger: Logger,
    free_bytes: Option<u64>,
    clock: Clock,
    spots: Vec<Spot>,
    probes: Vec<Probe>,
    sources: Vec<Source>,
    unread_lines: Vec<Unread>,
    last_backup: Backup,
    alarms: Vec<Alarm>,
    todo: Vec<ToDo>,
}

#[derive(Debug, Serialize)]
struct Logger {
    runs: Option<bool>,
    process: Option<u32>,
}

#[derive(Debug, Serialize)]
struct Clock {
    standing: Option<&'static str>,
    why: Option<&'static str>,
    dated: Option<bool>,
    set: Vec<Set>,
    undated: Vec<Undated>,
}

#[derive(Debug, Serialize)]
struct Set {
    time: Option<String>,
    ahead_s: f64,
    followed: bool,
}

#[derive(Debug, Serialize)]
struct Undated {
    number: i64,
    readings: usize,
    probes: Vec<String>,
    hours: f64,
    after: Option<String>,
    before: Option<String>,
}

#[derive(Debug, Serialize)]
struct Spot {
    spot: String,
    kind: &'static str,
    capacity: Option<u32>,
    containers: Vec<Container>,
}

#[derive(Debug, Serialize)]
struct Container {
    container: String,
    batch: String,
    species: String,
    seeds: Option<u32>,
    sprouted: u32,
    left: Option<u32>,
    sown: String,
    last_look: Option<String>,
}

#[derive(Debug, Serialize)]
struct Probe {
    probe: String,
    spot: Option<String>,
    last_reading: Option<String>,
    limits: Limits,
}

#[derive(Debug, Serialize)]
struct Limits {
    lowest_c: Option<f64>,
    highest_c: Option<f64>,
    place_low_c: Option<f64>,
    place_high_c: Option<f64>,
    change_suspect_c_per_minute: Option<f64>,
    change_fail_c_per_minute: Option<f64>,
    spike_suspect_c: Option<f64>,
    spike_fail_c: Option<f64>,
    repeat_hours: Option<f64>,
}

#[derive(Debug, Serialize)]
struct Source {
    source: String,
    state: String,
    words: String,
    next: Option<String>,
    since: String,
}

#[derive(Debug, Serialize)]
struct Unread {
    port: String,
    count: usize,
    last: String,
    why: String,
}

#[derive(Debug, Serialize)]
struct Backup {
    time: Option<String>,
    file: Option<String>,
}

#[derive(Debug, Serialize)]
struct ToDo {
    kind: &'static str,
    message: String,
    next: String,
}

/// How the bench stands, as JSON.
#[must_use]
pub fn status_json(status: &BenchStatus, zone: Zone) -> String {
    let time = |time: Option<Time>| time.map(rfc3339);
    let logger = match status.machine.map(|machine| machine.logger) {
        Some(LoggerState::Runs(process)) => Logger { runs: Some(true), process },
        Some(LoggerState::Stopped) => Logger { runs: Some(false), process: None },
        None => Logger { runs: None, process: None },
    };
    text_of(&Shape {
        as_of: rfc3339(status.as_of),
        logger,
        free_bytes: status.machine.and_then(|machine| machine.free_bytes),
        clock: clock(&status.clock),
        spots: status
            .spots
            .iter()
            .map(|spot| Spot {
                spot: spot.spot.to_string(),
                kind: spot.kind.word(),
                capacity: spot.capacity,
                containers: spot.boxes.iter().map(container).collect(),
            })
            .collect(),
        probes: status
            .probes
            .iter()
            .map(|probe| Probe {
                probe: probe.probe.to_string(),
                spot: probe.spot.as_ref().map(ToString::to_string),
                last_reading: time(probe.last_reading),
                limits: limits(probe.limits.as_ref()),
            })
            .collect(),
        sources: status
            .sources
            .iter()
            .map(|source| Source {
                source: source.source.clone(),
                state: source.state.clone(),
                words: source.words.clone(),
                next: source.next.clone(),
                since: rfc3339(source.since),
            })
            .collect(),
        unread_lines: status
            .unread
            .iter()
            .map(|lines| Unread { port: lines.port.clone(), count: lines.count, last: rfc3339(lines.last), why: lines.why.clone() })
            .collect(),
        last_backup: Backup {
            time: time(status.care.as_ref().and_then(|care| Some(care.backup.as_ref()?.time))),
            file: status.care.as_ref().and_then(|care| Some(care.backup.as_ref()?.file.clone())),
        },
        alarms: status
            .alarms
            .iter()
            .flat_map(|alarms| {
                let shape = |state| alarm(state, Event::Begun, &alarms.bench, status.as_of, &alarms.deliveries);
                alarms.states.iter().map(shape)
            })
            .collect(),
        todo: status
            .todo
            .iter()
            .map(|todo| ToDo { kind: kind(todo), message: todo_words(todo, status, zone), next: todo_next(todo, status, zone) })
            .collect(),
    })
}

fn clock(clock: &ClockStatus) -> Clock {
    let (standing, why) = match clock.standing {
        None => (None, None),
        Some(Standing::Synchronised { .. }) => (Some("synchronised"), None),
        Some(Standing::Vouched | Standing::Plausible) => (Some("plausible"), None),
        Some(Standing::Doubted(why)) => (Some("doubted"), Some(why.word())),
    };
    let set = |step: &ClockStep| Set {
        time: time_from_micros(step.time_us).map(rfc3339),
        ahead_s: step.ahead_us as f64 / 1e6,
        followed: step.followed,
    };
    let undated = |start: &UndatedStart| Undated {
        number: start.number,
        readings: start.readings,
        probes: start.probes.iter().map(ToString::to_string).collect(),
        hours: start.last_since_us.saturating_sub(start.first_since_us) as f64 / 3.6e9,
        after: start.after.map(rfc3339),
        before: start.before.map(rfc3339),
    };
    Clock {
        standing,
        why,
        dated: clock.dated,
        set: clock.steps.iter().map(set).collect(),
        undated: clock.undated.iter().map(undated).collect(),
    }
}

/// Null throughout where the usual ones hold.
fn limits(limits: Option<&ProbeLimits>) -> Limits {
    let [
        lowest_c,
        highest_c,
        place_low_c,
        place_high_c,
        change_suspect_c_per_minute,
        change_fail_c_per_minute,
        spike_suspect_c,
        spike_fail_c,
        repeat_hours,
    ] = limits.map(ProbeLimits::values).unwrap_or_default();
    Limits {
        lowest_c,
        highest_c,
        place_low_c,
        place_high_c,
        change_suspect_c_per_minute,
        change_fail_c_per_minute,
        spike_suspect_c,
        spike_fail_c,
        repeat_hours,
    }
}

fn container(trial: &Trial) -> Container {
    Container {
        container: trial.container.name.to_string(),
        batch: trial.container.batch.to_string(),
        species: trial.container.species.to_string(),
        seeds: trial.container.seeds,
        sprouted: trial.sprouted(),
        left: trial.left(),
        sown: rfc3339(trial.container.sown),
        last_look: trial.checks.last().map(|check| rfc3339(check.time)),
    }
}

fn kind(todo: &Todo) -> &'static str {
    match todo {
        Todo::Look { .. } => "look",
        Todo::FindOut { .. } => "unseen",
        Todo::Measure { .. } => "measure",
        Todo::Hear { .. } => "probe-silent",
        Todo::Mend { .. } => "probe-doubted",
        Todo::Place { .. } => "probe-nowhere",
        Todo::Carry { .. } => "move",
        Todo::Chill(chill) => match chill.what {
            ColdEvent::Done { .. } => "take-out-of-cold",
            ColdEvent::Sprouts { .. } => "sprouts-in-cold",
            ColdEvent::Froze { .. } => "froze",
            ColdEvent::TooWarm { .. } => "too-warm-to-chill",
        },
        Todo::MakeRoom { .. } => "spot-full",
        Todo::BelieveClock { .. } => "clock-doubted",
        Todo::DateReadings { .. } => "undated",
        Todo::FreeDisk { .. } => "disk-low",
        Todo::Alarm { state } => state.kind.word(),
        Todo::MendSource { .. } => "source-failing",
        Todo::Care(CareTodo::MendBackup { .. }) => "backup-failed",
        Todo::Care(CareTodo::BackUp { .. }) => "backup-due",
        Todo::Care(CareTodo::EndReader { .. }) => "log-held-up",
        Todo::Care(CareTodo::Full) => "disk-full",
        Todo::Care(CareTodo::ReadOnly) => "read-only",
        Todo::Care(CareTodo::Moved(_)) => "computer-changed",
    }
}
