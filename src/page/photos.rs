//! Photographs of a box: sent as they are, made small here, shown with their dates.

use std::sync::Arc;

use axum::Json;
use axum::body::Bytes;
use axum::extract::rejection::BytesRejection;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use chrono::Duration;
use serde::Deserialize;

use super::app::App;
use super::handled::{Change, Done, Refusal};
use super::looks::request_number;
use crate::bench::Name;
use crate::changes::{ChangeError, drop_photo, keep_photo};
use crate::civil::{Time, Zone};
use crate::exchange::{PhotoFault, small_photo};
use crate::wording::moment;

/// Bytes that a photograph may have when it is sent.
pub(super) const PHOTO_SENT_BYTES: usize = 8 << 20;
/// A picture of a number is never another one, as long as its time is the same.
const KEPT: &str = "private, max-age=31536000, immutable";

/// A photograph as it is shown.
pub(super) struct Shot {
    pub(super) id: i64,
    pub(super) when: String,
    pub(super) time_us: i64,
    pub(super) width: u32,
    pub(super) height: u32,
}

/// The photographs of a box, the latest first.
pub(super) fn shots(app: &App, name: &Name, zone: Zone) -> Result<Vec<Shot>, ChangeError> {
    let photos = app.file.ask(|store| store.photos(name))?;
    let shots = photos.into_iter().rev().map(|photo| Shot {
        id: photo.id,
        when: moment(photo.time, zone),
        time_us: photo.time.timestamp_micros(),
        width: photo.width,
        height: photo.height,
    });
    Ok(shots.collect())
}

/// What is sent along with a photograph.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Sent {
    /// A number of its own.
    request: String,
    /// When the file was made, by the device's clock, milliseconds since 1970; and what that clock shows while it is sent.
    at_ms: i64,
    sent_ms: i64,
}

pub(super) async fn keep(
    State(app): State<Arc<App>>,
    Path(name): Path<String>,
    Query(sent): Query<Sent>,
    file: Result<Bytes, BytesRejection>,
) -> Change {
    let file = match file {
        Ok(file) => file,
        Err(rejection) => return Change(Err(not_arrived(&rejection))),
    };
    Change(app.aside(move |app| kept(app, &name, &sent, &file)).await)
}

fn not_arrived(rejection: &BytesRejection) -> Refusal {
    if rejection.status() == StatusCode::PAYLOAD_TOO_LARGE {
        let what = format!("this file has more than {} MB, which is the most that is taken", PHOTO_SENT_BYTES >> 20);
        return Refusal::of_field("photo", what).with_next("make the picture smaller first, or set the camera to fewer pixels");
    }
    Refusal::new(StatusCode::BAD_REQUEST, "the photograph did not arrive whole").with_next("send it again")
}

fn kept(app: &App, name: &str, sent: &Sent, file: &[u8]) -> Result<Done, Refusal> {
    request_number(&sent.request)?;
    let now = app.now();
    let name = Name::new(name).map_err(|fault| Refusal::of_field("photo", fault.to_string()))?;
    // However the device's clock is set: how long ago it was, is told by it alone.
    let ago_ms = sent.sent_ms.saturating_sub(sent.at_ms).clamp(-1, i64::MAX / 2_000_000);
    let taken = Time::from_timestamp((now - Duration::milliseconds(ago_ms)).timestamp(), 0).unwrap_or(now);
    let photo =
        small_photo(file).map_err(|fault: PhotoFault| Refusal::of_field("photo", fault.to_string()).with_next(fault.next()))?;
    let new = app.file.change(|store| keep_photo(store, &sent.request, &name, taken, &photo, now))?;
    app.is_changed();
    let kilobytes = photo.jpeg.len().div_ceil(1000);
    let said = if new {
        format!("Kept: a photograph of {name}, {} × {} pixels, {kilobytes} kB.", photo.width, photo.height)
    } else {
        "Kept before; nothing twice.".to_owned()
    };
    Ok(Done { said, ..Done::default() })
}

/// A photograph to be taken away.
#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Away {
    id: String,
}

pub(super) async fn take_away(State(app): State<Arc<App>>, Json(away): Json<Away>) -> Change {
    Change(
        app.aside(move |app| {
            let id = away.id.parse().map_err(|_| Refusal::of_field("id", "this is no number of a photograph"))?;
            app.file.change(|store| drop_photo(store, id))?;
            app.is_changed();
            Ok(Done { said: "Taken away for good: one photograph.".to_owned(), ..Done::default() })
        })
        .await,
    )
}

pub(super) async fn picture(State(app): State<Arc<App>>, Path(id): Path<String>) -> Result<Response, Refusal> {
    app.aside(move |app| {
        let id = id.strip_suffix(".jpg").and_then(|id| id.parse::<i64>().ok());
        let jpeg = id.map(|id| app.file.ask(|store| store.photo(id))).transpose()?.flatten();
        let jpeg = jpeg.ok_or_else(|| Refusal::not_here("this photograph is not here"))?;
        Ok(([(CONTENT_TYPE, "image/jpeg"), (CACHE_CONTROL, KEPT)], jpeg).into_response())
    })
    .await
}

#[cfg(test)]
mod tests;
