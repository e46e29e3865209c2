//! News for pages that are open, as server-sent events (WHATWG HTML, section 9.2).

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::{Query, State};
use axum::response::sse::{Event, KeepAlive, Sse};
use serde::Deserialize;
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::{Stream, StreamExt as _};

use super::app::{App, News};

/// Something is sent so often, so that a connection that is gone is noticed.
const ALIVE_EVERY: Duration = Duration::from_secs(20);

/// Up to which news a page knows them.
#[derive(Debug, Deserialize)]
pub(super) struct Known {
    known: u64,
}

pub(super) async fn news(
    State(app): State<Arc<App>>,
    Query(known): Query<Known>,
) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    let (missed, news) = app.listen(known.known);
    // One that was too slow, or came late, has missed some, and reads all anew.
    let news = BroadcastStream::new(news).take_while(|news| !matches!(news, Ok(News::End))).map(|news| match news {
        Ok(News::Bench) => "bench",
        Ok(News::Picture | News::End) | Err(_) => "picture",
    });
    let news = tokio_stream::iter(missed.then_some("picture")).chain(news);
    // An event without data is passed over by browsers.
    Sse::new(news.map(|news| Ok(Event::default().event(news).data(news)))).keep_alive(KeepAlive::new().interval(ALIVE_EVERY))
}
