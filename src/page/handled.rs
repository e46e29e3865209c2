//! How an answer comes out: a page, a word that it is done, or why not.

use std::borrow::Cow;

use askama::Template;
use axum::Json;
use axum::http::StatusCode;
use axum::response::{Html, IntoResponse, Response};
use serde::Serialize;

use crate::changes::{ChangeError, Made};
use crate::wording::new_spots_words;

/// Something wrong with what was sent.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub(super) struct FieldFault {
    /// The field that it is beside; none: it is about all of it.
    pub(super) field: Option<Cow<'static, str>>,
    /// Value and rule.
    pub(super) what: String,
    /// What to do.
    pub(super) next: Option<String>,
}

/// Why something was not done.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Refusal {
    status: StatusCode,
    faults: Vec<FieldFault>,
    json: bool,
}

impl Refusal {
    pub(super) fn new(status: StatusCode, what: impl Into<String>) -> Self {
        Self { status, faults: vec![FieldFault { field: None, what: what.into(), next: None }], json: false }
    }

    /// Nothing of that name is here.
    pub(super) fn not_here(what: impl Into<String>) -> Self {
        Self::new(StatusCode::NOT_FOUND, what)
    }

    /// A field holds what cannot be meant.
    pub(super) fn of_field(field: &'static str, what: impl Into<String>) -> Self {
        let faults = vec![FieldFault { field: Some(field.into()), what: what.into(), next: None }];
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, faults, json: true }
    }

    /// Several fields hold what cannot be meant.
    pub(super) fn of_fields(faults: Vec<FieldFault>) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, faults, json: true }
    }

    /// Several things are wrong.
    pub(super) fn of_faults(faults: Vec<FieldFault>) -> Self {
        Self { status: StatusCode::UNPROCESSABLE_ENTITY, faults, json: true }
    }

    /// Something broke here.
    pub(super) fn broken(what: impl Into<String>) -> Self {
        Self::new(StatusCode::INTERNAL_SERVER_ERROR, what)
    }

    pub(super) fn with_next(mut self, next: &str) -> Self {
        self.faults.iter_mut().for_each(|fault| fault.next = Some(next.to_owned()));
        self
    }

    /// As the page's script reads it.
    pub(super) fn in_json(mut self, json: bool) -> Self {
        self.json |= json;
        self
    }
}

impl From<ChangeError> for Refusal {
    fn from(error: ChangeError) -> Self {
        match error {
            ChangeError::Faults(faults) => {
                let told = |fault: crate::bench::rules::Fault| FieldFault { field: None, next: fault.advice(), what: fault.what };
                Self { status: StatusCode::UNPROCESSABLE_ENTITY, faults: faults.into_iter().map(told).collect(), json: false }
            }
            ChangeError::Store(error) => {
                Self::new(StatusCode::SERVICE_UNAVAILABLE, error.to_string()).with_next("it is tried again; nothing was lost")
            }
        }
    }
}

#[derive(Template)]
#[template(path = "refused.html", config = "src/page/askama.toml")]
struct Refused<'a> {
    frame: super::frame::Frame,
    faults: &'a [FieldFault],
}

#[derive(Serialize)]
struct RefusedJson<'a> {
    faults: &'a [FieldFault],
}

impl IntoResponse for Refusal {
    fn into_response(self) -> Response {
        if self.json {
            return (self.status, Json(RefusedJson { faults: &self.faults })).into_response();
        }
        let frame = super::frame::Frame::bare("Not done");
        match (Refused { frame, faults: &self.faults }).render() {
            Ok(html) => (self.status, Html(html)).into_response(),
            Err(_) => self.status.into_response(),
        }
    }
}

/// A page, or why there is none.
pub(super) type Shown = Result<Html<String>, Refusal>;

/// Fills a template in.
pub(super) fn shown(page: &impl Template) -> Shown {
    page.render().map(Html).map_err(|error| Refusal::broken(error.to_string()))
}

/// What was done, as the page's script reads it.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Default)]
pub(super) struct Done {
    /// In words.
    pub(super) said: String,
    /// Where to go on; none: stay.
    pub(super) go: Option<String>,
    /// Looks that can be taken back, each its box and its time.
    pub(super) looks: Vec<(String, String)>,
    /// The number of the command that did it, by which it is taken back.
    pub(super) command: Option<String>,
}

impl Done {
    /// Something was put on record: what, in words.
    pub(super) fn made(made: &Made, said: &str) -> Self {
        let repeated = if made.repeated { " (on record already)" } else { "" };
        let mut letters = said.chars();
        let first: String = letters.next().into_iter().flat_map(char::to_uppercase).collect();
        // A name is said as it is written.
        let named = made.after.trials.keys().any(|name| said.starts_with(name.as_str()));
        let said = if named { said.to_owned() } else { first + letters.as_str() };
        let said = format!("{said}{}{repeated}.", new_spots_words(&made.named_spots));
        Self { said, command: made.command.map(|command| command.to_string()), ..Self::default() }
    }

    pub(super) fn and_go(self, go: impl Into<String>) -> Self {
        Self { go: Some(go.into()), ..self }
    }
}

/// A change, or why there was none.
pub(super) struct Change(pub(super) Result<Done, Refusal>);

impl IntoResponse for Change {
    fn into_response(self) -> Response {
        match self.0 {
            Ok(done) => Json(done).into_response(),
            Err(refusal) => refusal.in_json(true).into_response(),
        }
    }
}
