//! How pages look, and their script: built in, named by the program's version, kept by browsers.

use std::sync::OnceLock;

use axum::extract::Path;
use axum::http::header::{CACHE_CONTROL, CONTENT_TYPE};
use axum::response::{IntoResponse, Response};
use sha2::{Digest as _, Sha256};

use super::handled::Refusal;

/// That of what is printed comes last, since it must win.
const STYLE: &str = concat!(include_str!("assets/page.css"), include_str!("../report/paper/paper.css"));
const SCRIPT: &str = include_str!("assets/page.js");
const ICON: &str = include_str!("assets/icon.svg");
const KEPT: &str = "public, max-age=31536000, immutable";
/// Bytes of the digest that are told.
const TOLD: usize = 6;

/// What stands in the path of the style and the script: a digest of both, so that a page never goes with another version's.
pub(super) fn version() -> &'static str {
    static VERSION: OnceLock<String> = OnceLock::new();
    VERSION.get_or_init(|| {
        let digest = Sha256::new().chain_update(STYLE).chain_update(SCRIPT).finalize();
        digest.iter().take(TOLD).map(|byte| format!("{byte:02x}")).collect()
    })
}

fn kept(kind: &'static str, text: &'static str) -> Response {
    ([(CONTENT_TYPE, kind), (CACHE_CONTROL, KEPT)], text).into_response()
}

pub(super) async fn style(Path(_version): Path<String>) -> Response {
    kept("text/css; charset=utf-8", STYLE)
}

pub(super) async fn script(Path(_version): Path<String>) -> Response {
    kept("text/javascript; charset=utf-8", SCRIPT)
}

pub(super) async fn icon() -> Response {
    kept("image/svg+xml", ICON)
}

pub(super) async fn nothing_here() -> Refusal {
    Refusal::not_here("there is nothing at this address")
}
