//! Who may come in: the name that was asked for, where a change comes from, and which device sends it.
//!
//! A web page of somebody else, open in a browser of this house, can send requests here. It cannot make them carry another `Host` than
//! the name it was loaded from (which keeps names out that were pointed at this computer only for that), nor another `Origin` than its
//! own (OWASP, Cross-Site Request Forgery Prevention Cheat Sheet, as of 2026-08). `Sec-Fetch-Site` is not sent to plain http on a
//! local network, so nothing rests on it.

use std::collections::HashMap;
use std::net::{IpAddr, SocketAddr};
use std::sync::{Arc, Mutex, PoisonError};

use axum::extract::{MatchedPath, Request, State};
use axum::http::header::{COOKIE, HOST, HeaderMap, HeaderValue, ORIGIN};
use axum::http::{Method, StatusCode};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use super::app::App;
use super::handled::Refusal;
use super::routes::needed;
use crate::changes::{May, device_of, device_seen};

/// The cookie that a paired device brings.
pub(super) const COOKIE_NAME: &str = "seedclock";
/// The header that the page's own script sends with every change: no form of another page can.
pub(super) const SCRIPT_HEADER: &str = "x-seedclock";
/// So many wrong codes or cookies within [`FAILURES_MINUTES`] from one address, and it waits as long.
const FAILURES: u32 = 20;
const FAILURES_MINUTES: i64 = 10;
/// How long a request may take to come and to be answered, in all: a photograph over a bad connection takes a while.
const ANSWER_TIMEOUT: std::time::Duration = std::time::Duration::from_secs(60);
/// The same of a bench folder, which may be large.
const FOLDER_TIMEOUT: std::time::Duration = std::time::Duration::from_secs(900);
/// Addresses whose failures are remembered.
const ADDRESSES: usize = 1000;

/// Between which addresses a request came.
#[derive(Debug, Clone, Copy)]
pub(super) struct Ends {
    pub(super) remote: SocketAddr,
    pub(super) local: SocketAddr,
}

/// What a route asks of the device that uses it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Needed {
    /// Nothing: the page where a device is paired, and how it looks.
    Nothing,
    /// That it may look.
    Look,
    /// That it may do everything.
    All,
}

/// Who sends a request.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Visitor {
    /// Somebody at this very computer.
    AtHome,
    /// A paired device.
    Device(May),
    /// Anybody else.
    Stranger,
}

impl Visitor {
    pub(super) fn may_all(self) -> bool {
        matches!(self, Self::AtHome | Self::Device(May::All))
    }

    fn may(self, needed: Needed) -> bool {
        match needed {
            Needed::Nothing => true,
            Needed::Look => self != Self::Stranger,
            Needed::All => self.may_all(),
        }
    }
}

/// Failures by address, so that guessing takes for ever.
#[derive(Debug, Default)]
pub(super) struct Failures(Mutex<HashMap<IpAddr, (u32, i64)>>);

impl Failures {
    /// Whether an address has failed too often lately.
    pub(super) fn too_many(&self, from: IpAddr, now_us: i64) -> bool {
        let failures = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        failures.get(&from).is_some_and(|(count, since_us)| *count >= FAILURES && now_us - since_us < FAILURES_MINUTES * 60_000_000)
    }

    pub(super) fn note(&self, from: IpAddr, now_us: i64) {
        let mut failures = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        if failures.len() >= ADDRESSES {
            failures.retain(|_, (_, since_us)| now_us - *since_us < FAILURES_MINUTES * 60_000_000);
        }
        let (count, since_us) = failures.entry(from).or_insert((0, now_us));
        if now_us - *since_us >= FAILURES_MINUTES * 60_000_000 {
            (*count, *since_us) = (0, now_us);
        }
        *count += 1;
    }
}

/// Lets in who may come in, and says of every answer what a browser may do with it.
pub(super) async fn guard(State(app): State<Arc<App>>, mut request: Request, next: Next) -> Response {
    let mut response = match admit(&app, &mut request).await {
        Ok(()) => match tokio::time::timeout(patience(request.uri().path()), next.run(request)).await {
            Ok(response) => response,
            Err(_) => Refusal::new(StatusCode::REQUEST_TIMEOUT, "this took too long to arrive").in_json(true).into_response(),
        },
        Err(refusal) => refusal.into_response(),
    };
    let headers = response.headers_mut();
    // An image that is opened by itself brings its own style.
    let policy = match headers.get("content-type").map(HeaderValue::as_bytes) {
        Some(b"image/svg+xml") => "default-src 'none'; style-src 'unsafe-inline'; frame-ancestors 'none'",
        _ => {
            "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' blob:; connect-src 'self'; form-action 'self'; \
             base-uri 'none'; frame-ancestors 'none'"
        }
    };
    let told = [
        ("content-security-policy", policy),
        ("x-content-type-options", "nosniff"),
        ("referrer-policy", "no-referrer"),
        ("cross-origin-resource-policy", "same-origin"),
    ];
    for (name, value) in told {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if !headers.contains_key("cache-control") {
        headers.insert("cache-control", HeaderValue::from_static("no-store"));
    }
    response
}

fn patience(path: &str) -> std::time::Duration {
    if path.starts_with("/do/folder") { FOLDER_TIMEOUT } else { ANSWER_TIMEOUT }
}

async fn admit(app: &Arc<App>, request: &mut Request) -> Result<(), Refusal> {
    let Some(ends) = request.extensions().get::<Ends>().copied() else {
        return Err(Refusal::new(StatusCode::BAD_REQUEST, "it cannot be told where this comes from"));
    };
    let headers = request.headers();
    let reads = matches!(*request.method(), Method::GET | Method::HEAD);
    let by_script = !reads;
    let host = one(headers, HOST.as_str()).unwrap_or_default().to_owned();
    if !host_is_ours(&host, ends.local, &app.names) {
        let words = format!("'{}' is no name of this computer", shown(&host));
        return Err(Refusal::new(StatusCode::MISDIRECTED_REQUEST, words)
            .with_next("open the address that `seedclock page` names, or start it with `--name` and this name")
            .in_json(by_script));
    }
    if !reads {
        let ours = one(headers, ORIGIN.as_str()).is_some_and(|origin| origin_is_ours(origin, &host));
        if !ours || headers.get(SCRIPT_HEADER).is_none() {
            return Err(Refusal::new(StatusCode::FORBIDDEN, "changes are taken from this bench's own pages only").in_json(true));
        }
    }
    let now_us = app.now().timestamp_micros();
    let visitor = visitor(app, headers, &host, ends, now_us).await?;
    let path = request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned());
    let needed = needed(request.method(), path.as_deref());
    if !visitor.may(needed) {
        let refusal = if visitor == Visitor::Stranger {
            Refusal::new(StatusCode::FORBIDDEN, "this device is not paired with the bench")
                .with_next("on the computer where seedclock runs: `seedclock pair`, then open the address that it shows here")
        } else {
            Refusal::new(StatusCode::FORBIDDEN, "this device may look, count and add photographs, and nothing else")
        };
        return Err(refusal.in_json(by_script));
    }
    request.extensions_mut().insert(visitor);
    app.is_asked();
    Ok(())
}

/// A header that came once; none where it is missing, came twice or is no plain text.
fn one<'a>(headers: &'a HeaderMap, name: &str) -> Option<&'a str> {
    let mut values = headers.get_all(name).iter();
    match (values.next(), values.next()) {
        (Some(value), None) => value.to_str().ok(),
        _ => None,
    }
}

async fn visitor(app: &Arc<App>, headers: &HeaderMap, host: &str, ends: Ends, now_us: i64) -> Result<Visitor, Refusal> {
    // Whoever comes through another server of this computer is not at home for that.
    if ends.remote.ip().to_canonical().is_loopback() && is_loopback_name(host) {
        return Ok(Visitor::AtHome);
    }
    let Some(token) = token(headers) else { return Ok(Visitor::Stranger) };
    let from = ends.remote.ip();
    if app.failures.too_many(from, now_us) {
        return Err(Refusal::new(
            StatusCode::TOO_MANY_REQUESTS,
            "too many wrong keys came from this device: it may try again in ten minutes",
        ));
    }
    let now = app.now();
    let found = app
        .aside(move |app| {
            let found = app.file.ask(|store| device_of(store, &token))?;
            if let Some((id, _)) = found {
                // A bench that is busy or read-only is no reason to keep anybody out.
                let _ = app.file.change(|store| device_seen(store, id, now));
            }
            Ok(found)
        })
        .await?;
    Ok(match found {
        Some((_, may)) => Visitor::Device(may),
        None => {
            app.failures.note(from, now_us);
            Visitor::Stranger
        }
    })
}

/// What a device knows itself by, as its cookie says.
fn token(headers: &HeaderMap) -> Option<String> {
    let cookies = headers.get_all(COOKIE).iter().filter_map(|value| value.to_str().ok());
    let pairs = cookies.flat_map(|cookies| cookies.split(';')).filter_map(|pair| pair.trim().split_once('='));
    let token = pairs.filter(|(name, _)| *name == COOKIE_NAME).map(|(_, value)| value.to_owned()).next()?;
    (token.len() == 64).then_some(token)
}

fn shown(text: &str) -> String {
    text.chars().take(80).collect()
}

/// The name and the port of a `Host`.
fn parted(host: &str) -> (&str, Option<&str>) {
    match host.rsplit_once(':') {
        Some((name, port)) if !name.is_empty() && !port.contains(']') => (name, Some(port)),
        _ => (host, None),
    }
}

pub(super) fn is_loopback_name(host: &str) -> bool {
    let (name, _) = parted(host);
    name.eq_ignore_ascii_case("localhost") || name == "[::1]" || name.parse::<std::net::Ipv4Addr>().is_ok_and(|ip| ip.is_loopback())
}

/// Whether a `Host` names this computer: a loopback name, the address that the request came to, or a name it was given, each with the
/// port that the request came to.
fn host_is_ours(host: &str, local: SocketAddr, names: &[String]) -> bool {
    let (name, port) = parted(host);
    if port.unwrap_or("80") != local.port().to_string() {
        return false;
    }
    let literal = match local.ip().to_canonical() {
        IpAddr::V4(ip) => ip.to_string(),
        IpAddr::V6(ip) => format!("[{ip}]"),
    };
    is_loopback_name(host) || name == literal || names.iter().any(|ours| ours.eq_ignore_ascii_case(name))
}

/// Whether a change comes from a page of this very address.
fn origin_is_ours(origin: &str, host: &str) -> bool {
    origin.strip_prefix("http://").or_else(|| origin.strip_prefix("https://")) == Some(host)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_and_addresses_of_this_computer_are_answered() {
        let local: SocketAddr = "192.168.1.5:7333".parse().unwrap();
        let names = ["bench.lan".to_owned()];
        for ours in [
            "localhost:7333",
            "LocalHost:7333",
            "127.0.0.1:7333",
            "[::1]:7333",
            "192.168.1.5:7333",
            "bench.lan:7333",
            "Bench.LAN:7333",
        ] {
            assert!(host_is_ours(ours, local, &names), "{ours}");
        }
        let others = [
            "",
            "localhost",
            "localhost:80",
            "bench.lan",
            "192.168.1.6:7333",
            "127.0.0.1.evil.example:7333",
            "evil.example:7333",
            "bench.lan.evil.example:7333",
            "localhost:7333@evil.example",
            "localhost:7333:7333",
            "[::1",
            "2130706433:7333",
        ];
        for other in others {
            assert!(!host_is_ours(other, local, &names), "{other}");
        }
        let mapped: SocketAddr = "[::ffff:192.168.1.5]:7333".parse().unwrap();
        assert!(host_is_ours("192.168.1.5:7333", mapped, &names));
        assert!(host_is_ours("bench.lan", "192.168.1.5:80".parse().unwrap(), &names));
    }

    #[test]
    fn a_change_comes_from_a_page_of_the_same_address() {
        assert!(origin_is_ours("http://bench.lan:7333", "bench.lan:7333"));
        for other in ["null", "http://bench.lan", "http://evil.example", "http://bench.lan:7333.evil.example", "bench.lan:7333", ""]
        {
            assert!(!origin_is_ours(other, "bench.lan:7333"), "{other}");
        }
    }

    #[test]
    fn who_fails_too_often_waits_and_others_do_not() {
        let failures = Failures::default();
        let (one, other): (IpAddr, IpAddr) = ("192.168.1.7".parse().unwrap(), "192.168.1.8".parse().unwrap());
        (0..FAILURES).for_each(|_| failures.note(one, 5));
        assert!(failures.too_many(one, 6) && !failures.too_many(other, 6));
        assert!(!failures.too_many(one, 5 + FAILURES_MINUTES * 60_000_000));
    }

    #[test]
    fn a_helper_may_look_and_a_stranger_only_pair() {
        for (visitor, needed, may) in [
            (Visitor::AtHome, Needed::All, true),
            (Visitor::Device(May::All), Needed::All, true),
            (Visitor::Device(May::Look), Needed::All, false),
            (Visitor::Device(May::Look), Needed::Look, true),
            (Visitor::Stranger, Needed::Look, false),
            (Visitor::Stranger, Needed::Nothing, true),
        ] {
            assert_eq!(visitor.may(needed), may, "{visitor:?} {needed:?}");
        }
    }
}
