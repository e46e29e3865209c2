//! News for pages that are open, as server-sent events (WHATWG HTML, section 9.2).

use std::convert::Infallible;
use std::sync::Arc;
use std::time::Duration;

use axum::extract::State;
use axum::response::sse::{Event, KeepAlive, Sse};
use tokio_stream::wrappers::BroadcastStream;
use tokio_stream::{Stream, StreamExt as _};

use super::app::{App, News};

/// Something is sent so often, so that a connection that is gone is noticed.
const ALIVE_EVERY: Duration = Duration::from_secs(20);

pub(super) async fn news(State(app): State<Arc<App>>) -> Sse<impl Stream<Item = Result<Event, Infallible>>> {
    // One that was too slow has missed some, and reads all anew.
    let news = BroadcastStream::new(app.news.subscribe()).map(|news| match news {
        Ok(News::Bench) => "bench",
        Ok(News::Picture) | Err(_) => "picture",
    });
    Sse::new(news.map(|news| Ok(Event::default().event(news).data("")))).keep_alive(KeepAlive::new().interval(ALIVE_EVERY))
}
