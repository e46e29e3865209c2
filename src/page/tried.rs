//! The page tried without a network: requests go straight into its routes, as if they came from a device.

use std::net::SocketAddr;
use std::sync::Arc;

use axum::Router;
use axum::body::{Body, to_bytes};
use axum::http::{Request, StatusCode};
use chrono::Duration;
use tower::ServiceExt as _;

use super::app::{App, PageOptions};
use super::guard::Ends;
use super::server::routes_of;
use crate::answers::Here;
use crate::bench::rules::Entry;
use crate::bench::{Container, Name};
use crate::changes::{self, May, Wish};
use crate::civil::{Time, Zone};
use crate::clock::StoppedClock;
use crate::store::{BenchKind, Store};

const HOST: &str = "192.168.1.5:7333";

/// A bench with boxes A1, A2 and A3 of 20 leek seeds on the sill, sown on 2024-10-04; it is four days later.
pub(super) struct Tried {
    app: Arc<App>,
    router: Router,
    cookie: Option<String>,
    _folder: tempfile::TempDir,
}

/// An answer.
pub(super) struct Answer {
    pub(super) status: StatusCode,
    pub(super) headers: axum::http::HeaderMap,
    pub(super) bytes: Vec<u8>,
}

impl Answer {
    pub(super) fn text(&self) -> String {
        String::from_utf8(self.bytes.clone()).unwrap()
    }

    pub(super) fn json(&self) -> serde_json::Value {
        serde_json::from_slice(&self.bytes).unwrap()
    }
}

pub(super) fn sown() -> Time {
    Time::UNIX_EPOCH + Duration::days(20_000)
}

pub(super) fn now() -> Time {
    sown() + Duration::days(4)
}

impl Tried {
    /// Asked by the grower, at this computer.
    pub(super) fn at_home() -> Self {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("b.db");
        let mut store = Store::create(&path, Zone::Europe__Berlin, BenchKind::Own).unwrap();
        let name = |text: &str| Name::new(text).unwrap();
        changes::make(&mut store, sown(), |_| {
            let boxes = ["A1", "A2", "A3"].map(|one| {
                let container = Container::new(name(one), name("autumn"), name("leek"), name("sill"), sown());
                Entry::Container(Container { seeds: Some(20), ..container })
            });
            Ok(vec![Wish::to_record(boxes.to_vec())])
        })
        .unwrap();
        drop(store);
        let here = Here::new(Arc::new(StoppedClock::new(now())));
        let app = App::begin(PageOptions { bench: path, names: vec!["bench.lan".to_owned()], here }).unwrap();
        Self { router: routes_of(&app), app, cookie: None, _folder: folder }
    }

    /// Asked by a device on the network that was let in so far.
    pub(super) fn by_device(may: May) -> Self {
        let mut tried = Self::at_home();
        let token = tried.store(|store| {
            let code = changes::offer_pairing(store, may, "phone", now()).unwrap();
            changes::pair(store, code.letters(), now()).unwrap().unwrap()
        });
        tried.cookie = Some(format!("seedclock={}", token.letters()));
        tried
    }

    /// Asked by a device that nobody knows.
    pub(super) fn by_stranger() -> Self {
        let mut tried = Self::at_home();
        tried.cookie = Some(format!("seedclock={}", "0".repeat(64)));
        tried
    }

    /// The bench file itself.
    pub(super) fn store<T>(&self, look: impl FnOnce(&mut Store) -> T) -> T {
        look(&mut Store::open(self.app.file.path()).unwrap())
    }

    /// How many have sprouted in a box, in how many looks.
    pub(super) fn looks(&self, name: &str) -> (u32, usize) {
        let bench = self.store(|store| store.bench().unwrap());
        let trial = &bench.trials[&Name::new(name).unwrap()];
        (trial.sprouted(), trial.checks.len())
    }

    pub(super) async fn get(&self, path: &str) -> Answer {
        self.send(self.request("GET", path).body(Body::empty()).unwrap()).await
    }

    pub(super) async fn post(&self, path: &str, body: &serde_json::Value) -> Answer {
        let request = self.request("POST", path).header("content-type", "application/json");
        self.send(request.body(Body::from(body.to_string())).unwrap()).await
    }

    /// A request with all that the page's own script sends.
    pub(super) fn request(&self, method: &str, path: &str) -> axum::http::request::Builder {
        let host = if self.cookie.is_some() { HOST } else { "localhost:7333" };
        let request = Request::builder().method(method).uri(path).header("host", host);
        let request = request.header("origin", format!("http://{host}")).header("x-seedclock", "1");
        self.cookie.iter().fold(request, |request, cookie| request.header("cookie", cookie))
    }

    pub(super) async fn send(&self, mut request: Request<Body>) -> Answer {
        let local: SocketAddr = if self.cookie.is_some() { HOST.parse().unwrap() } else { "127.0.0.1:7333".parse().unwrap() };
        let remote: SocketAddr =
            if self.cookie.is_some() { "192.168.1.9:50000".parse().unwrap() } else { "127.0.0.1:50000".parse().unwrap() };
        request.extensions_mut().insert(Ends { remote, local });
        let response = self.router.clone().oneshot(request).await.unwrap();
        let (status, headers) = (response.status(), response.headers().clone());
        Answer { status, headers, bytes: to_bytes(response.into_body(), usize::MAX).await.unwrap().to_vec() }
    }
}

impl Drop for Tried {
    fn drop(&mut self) {
        self.app.end();
    }
}

mod tests {
    use super::*;
    use serde_json::json;

    #[tokio::test]
    async fn looks_are_recorded_once_by_however_the_devices_clock_goes_and_can_be_taken_back() {
        let tried = Tried::by_device(May::Look);
        let sent = json!({
            "request": "0123456789abcdef", "at_ms": 1000, "sent_ms": 3_601_000,
            "looks": [{"box": "A2", "sprouted": 3, "condition": "dry", "note": " a note ", "stood": 0}], "rest": "sill",
        });
        let done = tried.post("/do/looks", &sent).await;
        assert_eq!(done.status, StatusCode::OK, "{}", done.text());
        let said = done.json()["said"].as_str().unwrap().to_owned();
        assert!(said.contains("A2: 3 new, dry; 3 of 20 have sprouted") && said.contains("2 looked at, none new"), "{said}");
        assert_eq!([tried.looks("A1"), tried.looks("A2"), tried.looks("A3")], [(0, 1), (3, 1), (0, 1)]);
        let look = tried.store(|store| store.bench().unwrap().trials[&Name::new("A2").unwrap()].checks[0].clone());
        assert_eq!((look.time, look.note.as_deref()), (now() - Duration::hours(1), Some("a note")));
        let again = tried.post("/do/looks", &sent).await;
        assert!(again.status == StatusCode::OK && tried.looks("A2") == (3, 1), "nothing twice");
        let back = json!({ "looks": done.json()["looks"] });
        assert_eq!(tried.post("/do/looks/undo", &back).await.status, StatusCode::OK);
        assert_eq!([tried.looks("A1"), tried.looks("A2"), tried.looks("A3")], [(0, 0), (0, 0), (0, 0)]);
    }

    #[tokio::test]
    async fn a_count_that_cannot_be_is_kept_and_asked_about_and_settled() {
        let tried = Tried::at_home();
        let sent = json!({
            "request": "0123456789abcdef", "at_ms": 0, "sent_ms": 0, "looks": [{"box": "A1", "sprouted": 21}, {"box": "A2", "sprouted": 1}],
        });
        let done = tried.post("/do/looks", &sent).await;
        assert_eq!(done.status, StatusCode::OK);
        assert_eq!([tried.looks("A1"), tried.looks("A2")], [(0, 0), (1, 1)]);
        let today = tried.get("/").await.text();
        assert!(today.contains("Is this right?") && today.contains("21 new"), "{today}");
        let id = tried.store(|store| store.waiting_looks().unwrap()[0].id.to_string());
        let wrong = tried.post("/do/waiting", &json!({"id": id, "answer": "seeds", "count": "many"})).await;
        assert_eq!((wrong.status, wrong.json()["faults"][0]["field"].as_str()), (StatusCode::UNPROCESSABLE_ENTITY, Some("count")));
        let settled = tried.post("/do/waiting", &json!({"id": id, "answer": "seeds", "count": "21"})).await;
        assert_eq!(settled.status, StatusCode::OK, "{}", settled.text());
        assert_eq!(tried.looks("A1"), (21, 1));
        assert!(!tried.get("/").await.text().contains("Is this right?"));
    }

    #[tokio::test]
    async fn what_others_counted_meanwhile_is_said() {
        let tried = Tried::at_home();
        for (request, stood) in [("0123456789abcdef", 0), ("fedcba9876543210", 0)] {
            let sent =
                json!({"request": request, "at_ms": 0, "sent_ms": 0, "looks": [{"box": "A1", "sprouted": 2, "stood": stood}]});
            let said = tried.post("/do/looks", &sent).await.json()["said"].as_str().unwrap().to_owned();
            assert_eq!(said.contains("Meanwhile somebody else counted 2 in A1"), request.starts_with('f'), "{said}");
        }
        assert_eq!(tried.looks("A1"), (4, 2));
    }

    #[tokio::test]
    async fn strangers_see_only_where_to_pair_and_foreign_pages_change_nothing() {
        for route in super::super::routes() {
            // Who comes with a wrong key too often waits.
            let stranger = Tried::by_stranger();
            let path = route.path.replace("{version}", "1").replace("{spot}", "sill").replace("{name}", "A1").replace("{id}", "1");
            let open = route.needed == super::super::Needed::Nothing;
            let answer = match route.method {
                "GET" => stranger.get(&path).await,
                _ => stranger.post(&path, &json!({})).await,
            };
            assert_eq!(answer.status != StatusCode::FORBIDDEN, open, "{} {path}: {}", route.method, answer.status);
            assert!(!answer.text().contains("leek"), "{path}");
            for header in ["content-security-policy", "x-content-type-options", "referrer-policy"] {
                assert!(answer.headers.contains_key(header), "{path}: {header}");
            }
        }
        let paired = Tried::by_device(May::All);
        for route in super::super::routes().iter().filter(|route| route.method == "POST") {
            for (header, value) in [("origin", "http://evil.example"), ("origin", "null"), ("host", "evil.example:7333")] {
                let mut request =
                    paired.request("POST", route.path).header("content-type", "application/json").body(Body::from("{}")).unwrap();
                request.headers_mut().insert(header, value.parse().unwrap());
                let status = paired.send(request).await.status;
                assert!(
                    matches!(status, StatusCode::FORBIDDEN | StatusCode::MISDIRECTED_REQUEST),
                    "{} {header} {value}: {status}",
                    route.path
                );
            }
            let mut bare = paired.request("POST", route.path).body(Body::from("{}")).unwrap();
            bare.headers_mut().remove("x-seedclock");
            assert_eq!(paired.send(bare).await.status, StatusCode::FORBIDDEN, "{}", route.path);
        }
        assert_eq!(paired.looks("A1"), (0, 0));
    }
}
