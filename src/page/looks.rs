//! Looks as the page's script sends them, and how they are taken back.

use std::sync::Arc;

use axum::Json;
use axum::extract::State;
use chrono::Duration;
use serde::Deserialize;

use super::app::App;
use super::handled::{Change, Done, Refusal};
use crate::bench::{Check, Name, Trial};
use crate::changes::{Answer, Round, Rounded, answer_waiting, record_round, take_looks_back};
use crate::civil::{Time, time_from_micros};
use crate::wording::{look_words, stand_words};

/// The longest condition and note, in characters.
const LONGEST_TEXT: usize = 2000;
/// A look older than this was kept by no page that is still open, days.
const OLDEST_DAYS: i64 = 60;
/// Characters of a request's own number.
const REQUEST_LETTERS: std::ops::RangeInclusive<usize> = 16..=64;

/// Looks that a page sends.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    /// A number of its own.
    request: String,
    /// When, by the device's clock, milliseconds since 1970; and what that clock shows while it is sent.
    at_ms: i64,
    sent_ms: i64,
    looks: Vec<SentLook>,
    #[serde(default)]
    rest: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct SentLook {
    #[serde(rename = "box")]
    container: String,
    #[serde(default)]
    sprouted: u32,
    #[serde(default)]
    removed: u32,
    #[serde(default)]
    lost: u32,
    #[serde(default)]
    potted_on: u32,
    #[serde(default)]
    died: u32,
    #[serde(default)]
    condition: Option<String>,
    #[serde(default)]
    note: Option<String>,
    /// How many had sprouted when the page was made: others may have counted since.
    #[serde(default)]
    stood: Option<u32>,
}

pub(super) async fn record(State(app): State<Arc<App>>, Json(sent): Json<Sent>) -> Change {
    Change(app.aside(|app| recorded(app, sent)).await)
}

fn recorded(app: &App, sent: Sent) -> Result<Done, Refusal> {
    let now = app.now();
    request_number(&sent.request)?;
    // However that clock is set: how long ago it was, is told by it alone.
    let ago = Duration::milliseconds(sent.sent_ms.saturating_sub(sent.at_ms).clamp(0, i64::MAX / 2_000_000));
    if ago > Duration::days(OLDEST_DAYS) {
        return Err(Refusal::of_field("at", format!("this look is {} days old: record it with its day by hand", ago.num_days())));
    }
    let at = Time::from_timestamp((now - ago).timestamp(), 0).unwrap_or(now);
    let stood: Vec<(String, Option<u32>)> = sent.looks.iter().map(|look| (look.container.clone(), look.stood)).collect();
    let looks = sent.looks.into_iter().map(|look| look.read(at)).collect::<Result<Vec<_>, Refusal>>()?;
    let rest = sent.rest.as_deref().map(|spot| named("rest", spot)).transpose()?;
    let round = Round { request: sent.request, at, looks, rest };
    let rounded = app.file.change(|store| record_round(store, &round, now))?;
    app.is_changed();
    Ok(done(&rounded, &stood))
}

/// That a request's own number is one.
pub(super) fn request_number(request: &str) -> Result<(), Refusal> {
    if !REQUEST_LETTERS.contains(&request.len()) || !request.bytes().all(|byte| byte.is_ascii_alphanumeric() || byte == b'-') {
        return Err(Refusal::of_field("request", "a page's own number is 16 to 64 letters and digits"));
    }
    Ok(())
}

impl SentLook {
    fn read(self, at: Time) -> Result<Check, Refusal> {
        Ok(Check {
            container: named("box", &self.container)?,
            time: at,
            sprouted: self.sprouted,
            removed: self.removed,
            lost: self.lost,
            potted_on: self.potted_on,
            died: self.died,
            condition: text("condition", self.condition)?,
            note: text("note", self.note)?,
        })
    }
}

fn named(field: &'static str, text: &str) -> Result<Name, Refusal> {
    Name::new(text).map_err(|fault| Refusal::of_field(field, fault.to_string()))
}

/// Free text as a bench folder can carry it: trimmed; none where nothing is said.
fn text(field: &'static str, text: Option<String>) -> Result<Option<String>, Refusal> {
    let text = text.map(|text| text.trim().to_owned()).filter(|text| !text.is_empty());
    match &text {
        Some(long) if long.chars().count() > LONGEST_TEXT => {
            Err(Refusal::of_field(field, format!("{} letters are too many: at most {LONGEST_TEXT}", long.chars().count())))
        }
        _ => Ok(text),
    }
}

/// What became of it, in words.
fn done(rounded: &Rounded, stood: &[(String, Option<u32>)]) -> Done {
    let Some(made) = &rounded.made else {
        return Done { said: "Recorded before; nothing twice.".to_owned(), ..Done::default() };
    };
    let mut said = Vec::new();
    let mut none_new = 0;
    for (name, time) in &rounded.looks {
        let Some(trial) = made.after.trials.get(name) else { continue };
        let Some(look) = trial.checks.iter().find(|check| check.time == *time) else { continue };
        let walked = stood.iter().find(|(container, _)| Name::new(container).is_ok_and(|container| container == *name));
        match walked {
            None => none_new += 1,
            Some((_, stood)) => {
                said.push(format!("{name}: {}; {}.", look_words(look), stand_words(trial)));
                said.extend(stood.and_then(|stood| others_counted(made.before.trials.get(name)?, stood)));
            }
        }
    }
    if none_new > 0 {
        said.push(format!("{none_new} looked at, none new."));
    }
    for waiting in &rounded.waiting {
        said.push(format!("{}: {} – kept, and asked about on Today.", waiting.look.container, waiting.why));
    }
    Done {
        said: said.join(" "),
        go: None,
        looks: rounded.looks.iter().map(|(name, time)| (name.to_string(), time.timestamp_micros().to_string())).collect(),
        command: None,
    }
}

/// That somebody else counted since the page was made.
fn others_counted(before: &Trial, stood: u32) -> Option<String> {
    let meanwhile = before.sprouted().checked_sub(stood).filter(|count| *count > 0)?;
    let name = &before.container.name;
    Some(format!("Meanwhile somebody else counted {meanwhile} in {name}: if those were the same sprouts, undo this."))
}

/// Looks to be taken back.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Back {
    looks: Vec<(String, String)>,
}

pub(super) async fn take_back(State(app): State<Arc<App>>, Json(back): Json<Back>) -> Change {
    Change(
        app.aside(move |app| {
            let look = |(name, time_us): &(String, String)| {
                let time = time_us.parse().ok().and_then(time_from_micros);
                Ok((named("box", name)?, time.ok_or_else(|| Refusal::of_field("time", "this is no time of a look"))?))
            };
            let looks = back.looks.iter().map(look).collect::<Result<Vec<_>, Refusal>>()?;
            let now = app.now();
            app.file.change(|store| take_looks_back(store, &looks, now))?;
            app.is_changed();
            let what = if looks.len() == 1 { "the look".to_owned() } else { format!("{} looks", looks.len()) };
            Ok(Done { said: format!("Taken back: {what}."), ..Done::default() })
        })
        .await,
    )
}

/// What is said of a look that waits.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Answered {
    id: String,
    answer: String,
    #[serde(default)]
    count: Option<String>,
}

pub(super) async fn answer(State(app): State<Arc<App>>, Json(sent): Json<Answered>) -> Change {
    Change(
        app.aside(move |app| {
            let id = sent.id.parse().map_err(|_| Refusal::of_field("id", "this is no look that waits"))?;
            let count = || {
                let text = sent.count.as_deref().unwrap_or_default().trim();
                text.parse::<u32>().map_err(|_| Refusal::of_field("count", format!("'{text}' is no number of seeds")))
            };
            let answer = match sent.answer.as_str() {
                "seeds" => Answer::Seeds(count()?),
                "sprouted" => Answer::Sprouted(count()?),
                "leave-out" => Answer::LeaveOut,
                other => return Err(Refusal::of_field("answer", format!("'{other}' is no answer"))),
            };
            let now = app.now();
            app.file.change(|store| answer_waiting(store, id, &answer, now))?;
            app.is_changed();
            let said = if answer == Answer::LeaveOut { "Left out." } else { "Recorded." };
            Ok(Done { said: said.to_owned(), ..Done::default() })
        })
        .await,
    )
}
