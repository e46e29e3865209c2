//! Connections: how many, how long they may take to ask, and how they end.

use std::net::TcpListener;
use std::sync::Arc;
use std::time::Duration;

use axum::Router;
use axum::extract::{DefaultBodyLimit, Request};
use axum::middleware::from_fn_with_state;
use hyper::server::conn::http1;
use hyper_util::rt::{TokioIo, TokioTimer};
use hyper_util::service::TowerToHyperService;
use tokio::sync::{Semaphore, watch};
use tower::ServiceExt as _;

use super::app::{App, PageOptions};
use super::guard::{Ends, guard};
use super::routes;

/// Connections at one time.
const CONNECTIONS: usize = 64;
/// How long a request's head may take to come.
const HEAD_TIMEOUT: Duration = Duration::from_secs(10);
/// How long what is being answered may take when the page is to end.
const LAST_ANSWERS: Duration = Duration::from_secs(3);
/// Bytes that a request may bring, where its route says nothing else.
const BODY_BYTES: usize = 64 * 1024;

/// Serves the page on sockets that listen already, until `shutdown` ends.
///
/// # Errors
/// Where a socket cannot be used, or no thread can be started.
pub async fn serve(listeners: Vec<TcpListener>, options: PageOptions, shutdown: impl Future<Output = ()>) -> std::io::Result<()> {
    let app = App::begin(options)?;
    let router = routes_of(&app);
    let (end, ended) = watch::channel(false);
    let places = Arc::new(Semaphore::new(CONNECTIONS));
    let mut accepting = tokio::task::JoinSet::new();
    for listener in listeners {
        listener.set_nonblocking(true)?;
        let listener = tokio::net::TcpListener::from_std(listener)?;
        accepting.spawn(accept(listener, router.clone(), Arc::clone(&places), ended.clone()));
    }
    shutdown.await;
    app.end_news();
    let _ = end.send(true);
    accepting.shutdown().await;
    // Each connection holds a place until it has ended.
    let _ = tokio::time::timeout(LAST_ANSWERS, places.acquire_many(CONNECTIONS as u32)).await;
    app.end();
    Ok(())
}

/// The routes, with the guard around them.
pub(super) fn routes_of(app: &Arc<App>) -> Router {
    routes::router()
        .layer(DefaultBodyLimit::max(BODY_BYTES))
        .layer(from_fn_with_state(Arc::clone(app), guard))
        .with_state(Arc::clone(app))
}

async fn accept(listener: tokio::net::TcpListener, router: Router, places: Arc<Semaphore>, ended: watch::Receiver<bool>) {
    loop {
        let Ok(place) = Arc::clone(&places).acquire_owned().await else { return };
        let (stream, remote) = match listener.accept().await {
            Ok(accepted) => accepted,
            Err(_) => {
                // One that went away, or no file left: both pass.
                tokio::time::sleep(Duration::from_millis(50)).await;
                continue;
            }
        };
        let Ok(local) = stream.local_addr() else { continue };
        let (router, mut ended) = (router.clone(), ended.clone());
        tokio::spawn(async move {
            let _place = place;
            let service = router.map_request(move |request: axum::http::Request<hyper::body::Incoming>| {
                let mut request: Request = request.map(axum::body::Body::new);
                request.extensions_mut().insert(Ends { remote, local });
                request
            });
            let mut http = http1::Builder::new();
            http.timer(TokioTimer::new()).header_read_timeout(HEAD_TIMEOUT);
            let connection = http.serve_connection(TokioIo::new(stream), TowerToHyperService::new(service));
            tokio::pin!(connection);
            let goes_on = tokio::select! {
                _ = connection.as_mut() => false,
                _ = async { ended.wait_for(|ended| *ended).await.is_ok() } => true,
            };
            if goes_on {
                connection.as_mut().graceful_shutdown();
                let _ = connection.await;
            }
        });
    }
}
