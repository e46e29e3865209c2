//! Where a device is paired.

use std::sync::Arc;

use askama::Template;
use axum::Json;
use axum::extract::{Extension, State};
use axum::http::StatusCode;
use axum::http::header::SET_COOKIE;
use axum::response::{IntoResponse, Response};
use serde::Deserialize;

use super::app::App;
use super::frame::Frame;
use super::guard::{COOKIE_NAME, Ends};
use super::handled::{Change, Done, Refusal, Shown, shown};
use crate::changes::pair as let_in;

/// A device is known for so long after it was paired: 400 days, the most that browsers keep (RFC 6265bis, from memory).
const KNOWN_SECONDS: u32 = 400 * 24 * 3600;

#[derive(Template)]
#[template(path = "pair.html", config = "src/page/askama.toml")]
struct Page {
    frame: Frame,
}

pub(super) async fn page() -> Shown {
    // The code stands behind the # of the address, which browsers keep to themselves.
    shown(&Page { frame: Frame::bare("Pair this device") })
}

#[derive(Deserialize)]
pub(super) struct Code {
    code: String,
}

pub(super) async fn pair(State(app): State<Arc<App>>, Extension(ends): Extension<Ends>, Json(sent): Json<Code>) -> Response {
    let (from, now) = (ends.remote.ip(), app.now());
    if app.failures.too_many(from, now.timestamp_micros()) {
        let waits = Refusal::new(StatusCode::TOO_MANY_REQUESTS, "too many wrong codes: try again in ten minutes");
        return Change(Err(waits)).into_response();
    }
    let paired = app.aside(move |app| Ok(app.file.change(|store| let_in(store, &sent.code, now))?)).await;
    match paired {
        Ok(Some(token)) => {
            let cookie = format!("{COOKIE_NAME}={}; Path=/; Max-Age={KNOWN_SECONDS}; HttpOnly; SameSite=Strict", token.letters());
            let done = Done { said: "This device is paired.".to_owned(), go: Some("/".to_owned()), ..Done::default() };
            ([(SET_COOKIE, cookie)], Json(done)).into_response()
        }
        Ok(None) => {
            app.failures.note(from, now.timestamp_micros());
            let wrong = Refusal::of_field("code", "this code is not, or no more, one: each works once, for ten minutes");
            Change(Err(wrong.with_next("`seedclock pair` makes another"))).into_response()
        }
        Err(refusal) => Change(Err(refusal)).into_response(),
    }
}
