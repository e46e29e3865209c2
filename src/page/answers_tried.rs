//! Questions, status and tables tried without a network.

use std::io::{Cursor, Write as _};

use axum::body::Body;
use axum::http::StatusCode;
use proptest::prelude::*;
use serde_json::json;
use zip::write::SimpleFileOptions;
use zip::{ZipArchive, ZipWriter};

use super::frame::encoded;
use super::tried::{Answer, Tried, sown};
use crate::bench::Name;
use crate::bench::rules::{Counted, Entry};
use crate::bench::{Check, Container};
use crate::changes::{self, May, Wish};

/// Two treatments side by side, looked at: A1 to A3 as in every bench here, B1 and B2 of a name that is markup.
fn with_groups() -> Tried {
    let tried = Tried::by_device(May::All);
    let name = |text: &str| Name::new(text).unwrap();
    tried.store(|store| {
        changes::make(store, sown(), |_| {
            let boxes = ["B1", "B2"].map(|one| {
                let container = Container::new(name(one), name("autumn"), name("leek"), name("sill"), sown());
                Entry::Container(Container { seeds: Some(20), treatment: Some(name("<b>&\"soaked")), ..container })
            });
            Ok(vec![Wish::to_record(boxes.to_vec())])
        })
        .unwrap();
        let at = sown() + chrono::Duration::days(3);
        changes::make(store, super::tried::now(), |_| {
            let looks = [("A1", 1), ("A2", 0), ("A3", 2), ("B1", 15), ("B2", 14)];
            let look = |(one, sprouted)| Entry::Check(Check { sprouted, ..Check::none_new(name(one), at) }, Counted::SinceLast);
            Ok(vec![Wish::to_record(looks.map(look).to_vec())])
        })
        .unwrap();
    });
    tried
}

fn zipped(files: &[(&str, &str)]) -> Vec<u8> {
    let mut archive = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in files {
        archive.start_file(*name, SimpleFileOptions::default()).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

async fn send(tried: &Tried, path: &str, files: &[(&str, &[u8])]) -> Answer {
    let mut body = Vec::new();
    for (name, bytes) in files {
        let head = format!("--xyz\r\ncontent-disposition: form-data; name=\"file\"; filename=\"{name}\"\r\n\r\n");
        body.extend_from_slice(head.as_bytes());
        body.extend_from_slice(bytes);
        body.extend_from_slice(b"\r\n");
    }
    body.extend_from_slice(b"--xyz--\r\n");
    let request = tried.request("POST", path).header("content-type", "multipart/form-data; boundary=xyz");
    tried.send(request.body(Body::from(body)).unwrap()).await
}

const CONTAINERS: &str = "container,batch,species,lot,treatment,seeds,sown,spot\nC1,winter,kale,,,10,2024-10-05T08:00:00Z,sill\n";
const CHECKS: &str = "container,time,sprouted\nC1,2024-10-07T08:00:00Z,4\n";
const PROBES: &str = "probe,spot,since\np1,sill,2024-10-01T00:00:00Z\n";
const READINGS: &str = "time,probe,celsius\n2024-10-06T08:00:00Z,p1,18.5\n2024-10-06T09:00:00Z,p1,18.6\n";

#[tokio::test]
async fn groups_are_compared_verdict_first_with_names_that_are_markup_as_plain_text() {
    let tried = with_groups();
    let page = tried.get("/compare?by=treatment&species=leek").await;
    let text = page.text();
    assert_eq!(page.status, StatusCode::OK, "{text}");
    assert!(text.contains("soaked") && !text.contains("<b>"), "{text}");
    let at = |what: &str| text.find(what).unwrap_or_else(|| panic!("{what}: {text}"));
    assert!(at("What can be concluded") < at("What came up") && at("What came up") < at("All the numbers"));
    for name in ["sprouts-a-day", "up-by-day", "side-by-side"] {
        assert!(text.contains(&format!("/compare/{name}.svg?by=treatment")), "{text}");
        for look in ["", "&dark=1", "&narrow=1&dark=1"] {
            let figure = tried.get(&format!("/compare/{name}.svg?by=treatment&species=leek{look}")).await;
            assert_eq!(figure.headers["content-type"], "image/svg+xml");
            assert!(figure.status == StatusCode::OK && !figure.text().contains("<b>"), "{name}{look}");
        }
    }
    assert_eq!(tried.get("/compare/other.svg?by=treatment").await.status, StatusCode::NOT_FOUND);
    let wrong = tried.get("/compare?species=%3Cscript%3E&difference=lots&by=colour").await.text();
    assert!(wrong.contains("&#39;lots&#39;") && wrong.contains("&#39;colour&#39;") && wrong.contains("value=\"lots\""), "{wrong}");
    assert!(!wrong.contains("<script>"), "{wrong}");
    let alone = tried.get("/compare?by=lot").await.text();
    assert!(alone.contains("there is nothing to compare") && alone.contains("Compare by treatment"), "{alone}");
}

#[tokio::test]
async fn a_sowing_is_planned_and_what_cannot_be_meant_is_said_beside_its_field() {
    let tried = with_groups();
    let empty = tried.get("/plan").await.text();
    assert!(empty.contains("<option value=\"leek\">") && !empty.contains("class=\"fault\""), "{empty}");
    let wrong = tried.get("/plan?species=leek&plants=-3&by=2024-02-30&confidence=3").await.text();
    for (field, kept) in [("plants", "-3"), ("by", "2024-02-30"), ("confidence", "3")] {
        assert!(wrong.contains(&format!("id=\"{field}-fault\"")) && wrong.contains(&format!("value=\"{kept}\"")), "{wrong}");
    }
    let nobody = tried.get("/plan?species=nothing%20such&plants=3&by=2024-12-24").await.text();
    assert!(nobody.contains("nothing is known of &#39;nothing such&#39;") && nobody.contains("id=\"species-fault\""), "{nobody}");
    let planned = tried.get("/plan?species=leek&plants=5&by=2024-12-24").await;
    assert!(planned.status == StatusCode::OK && planned.text().contains("Wished: 5 plants"), "{}", planned.text());
    // At no spot of this bench is any temperature known.
    assert_eq!(tried.get("/plan.ics?species=leek&plants=5&by=2024-12-24").await.status, StatusCode::UNPROCESSABLE_ENTITY);
    let trial = tried.get("/plan/trial?species=leek&groups=none,%20soaked&seeds=25&spots=sill&boxes=4").await.text();
    assert!(trial.contains("2 groups, 8 boxes of 25 seeds"), "{trial}");
    let twice = tried.get("/plan/trial?species=leek&groups=a,a&seeds=25&spots=moon").await.text();
    assert!(twice.contains("&#39;a&#39; is named twice") && twice.contains("there is no spot &#39;moon&#39;"), "{twice}");
}

#[tokio::test]
async fn a_calendar_has_the_days_of_the_plan() {
    let tried = with_groups();
    let spots = "spot,set_c\nsill,20\n";
    let told = send(
        &tried,
        "/do/folder/take?replace=yes",
        &[(
            "b.zip",
            &zipped(&[
                ("containers.csv", CONTAINERS),
                ("checks.csv", CHECKS),
                ("probes.csv", "probe,spot,since\n"),
                ("spots.csv", spots),
            ]),
        )],
    )
    .await;
    assert_eq!(told.status, StatusCode::OK, "{}", told.text());
    let query = "species=leek&plants=5&by=2024-12-24&spot=sill";
    let page = tried.get(&format!("/plan?{query}")).await.text();
    assert!(page.contains("/plan.ics?species=leek"), "{page}");
    let calendar = tried.get(&format!("/plan.ics?{query}")).await;
    assert_eq!(calendar.headers["content-type"], "text/calendar; charset=utf-8");
    assert!(calendar.text().starts_with("BEGIN:VCALENDAR") && calendar.text().contains("leek"), "{}", calendar.text());
}

#[tokio::test]
async fn tables_are_looked_through_then_taken_in_whole_and_a_refused_folder_leaves_nothing() {
    let tried = Tried::by_device(May::All);
    let good = zipped(&[
        ("my/containers.csv", CONTAINERS),
        ("my/checks.csv", CHECKS),
        ("my/probes.csv", PROBES),
        ("my/readings.csv", READINGS),
    ]);
    let bench = || tried.store(|store| store.bench().unwrap());
    let before = bench();
    let seen = send(&tried, "/do/folder/examine", &[("b.zip", &good)]).await;
    assert_eq!(seen.status, StatusCode::OK, "{}", seen.text());
    assert!(seen.text().contains("it would bring 1 box, 1 check") && seen.text().contains("2 readings"), "{}", seen.text());
    assert!(bench() == before && tried.store(|store| store.probes().unwrap().is_empty()), "only looked through");

    let bad_checks = format!("{CHECKS}C1,2024-10-08T08:00:00Z,7\nC9,2024-10-08T08:00:00Z,x\n");
    let bad = zipped(&[("containers.csv", CONTAINERS), ("checks.csv", &bad_checks), ("probes.csv", PROBES)]);
    for path in ["/do/folder/examine", "/do/folder/take"] {
        let told = send(&tried, path, &[("b.zip", &bad)]).await;
        assert_eq!(told.status, StatusCode::UNPROCESSABLE_ENTITY);
        assert!(told.json()["faults"][0]["what"].as_str().unwrap().starts_with("checks.csv:4: "), "{}", told.text());
        assert_eq!(bench(), before, "{path}");
    }
    let too_many = format!("{CHECKS}C1,2024-10-08T08:00:00Z,17\n");
    let loose = [("containers.csv", CONTAINERS), ("checks.csv", &*too_many), ("probes.csv", PROBES)]
        .map(|(name, text)| (name, text.as_bytes()));
    let told = send(&tried, "/do/folder/take", &loose).await;
    assert!(told.text().contains("checks.csv:3: ") && bench() == before, "{}", told.text());

    let done = send(&tried, "/do/folder/take", &[("b.zip", &good)]).await;
    assert!(done.status == StatusCode::OK && done.text().contains("On record now: 1 box, 1 check"), "{}", done.text());
    assert_eq!(bench().trials.len(), 4);
    let again = send(&tried, "/do/folder/examine", &[("b.zip", &good)]).await;
    assert!(again.text().contains("nothing new"), "{}", again.text());
    let other = CHECKS.replace(",4", ",5");
    let others = zipped(&[("containers.csv", CONTAINERS), ("checks.csv", &other), ("probes.csv", PROBES)]);
    assert_eq!(send(&tried, "/do/folder/take", &[("b.zip", &others)]).await.status, StatusCode::UNPROCESSABLE_ENTITY);
    assert_eq!(send(&tried, "/do/folder/take?replace=yes", &[("b.zip", &others)]).await.status, StatusCode::OK);
    assert_eq!(tried.looks("C1"), (5, 1));
}

#[tokio::test]
async fn what_is_no_folder_is_refused_and_named() {
    let tried = Tried::by_device(May::All);
    let before = tried.store(|store| store.bench().unwrap());
    for (name, bytes, said) in [
        ("b.zip", b"no zip at all".to_vec(), "b.zip: this is no zip archive"),
        ("b.zip", zipped(&[("../../containers.csv", CONTAINERS)]), "its path leads out of the archive"),
        ("b.zip", zipped(&[("<script>.csv", "x")]), "<script>.csv: unknown file"),
        ("../checks.csv", CHECKS.as_bytes().to_vec(), "unknown file"),
        ("notes.txt", b"x".to_vec(), "notes.txt: unknown file"),
    ] {
        let told = send(&tried, "/do/folder/take", &[(name, &bytes)]).await;
        assert_eq!(told.status, StatusCode::UNPROCESSABLE_ENTITY, "{name}");
        assert!(told.json()["faults"][0]["what"].as_str().unwrap().contains(said), "{}", told.text());
        assert_eq!(told.headers["content-type"], "application/json");
    }
    assert_eq!(send(&tried, "/do/folder/examine", &[]).await.json()["faults"][0]["field"], "file");
    let large = vec![b'x'; super::folder::SENT_BYTES + 1];
    assert_eq!(send(&tried, "/do/folder/take", &[("b.zip", &large)]).await.status, StatusCode::PAYLOAD_TOO_LARGE);
    assert_eq!(tried.store(|store| store.bench().unwrap()), before);
    let helper = Tried::by_device(May::Look);
    assert_eq!(helper.get("/folder.zip").await.status, StatusCode::FORBIDDEN);
    assert_eq!(send(&helper, "/do/folder/take", &[]).await.status, StatusCode::FORBIDDEN);
}

#[tokio::test]
async fn the_tables_that_are_saved_are_those_that_can_be_taken_in_and_to_hand_on_without_what_is_private() {
    let tried = with_groups();
    tried.store(|store| {
        let lot = crate::bench::Lot {
            source: Some("a secret place".to_owned()),
            ..crate::bench::Lot::new(Name::new("l").unwrap(), Name::new("leek").unwrap())
        };
        changes::make(store, sown(), |_| Ok(vec![Wish::to_record(vec![Entry::Lot(lot)])])).unwrap();
    });
    for (path, told) in [("/folder.zip", true), ("/folder.zip?share=yes", false)] {
        let saved = tried.get(path).await;
        assert_eq!(saved.status, StatusCode::OK);
        assert_eq!(saved.headers["content-length"], saved.bytes.len().to_string().as_str());
        let mut archive = ZipArchive::new(Cursor::new(saved.bytes.clone())).unwrap();
        let lots = std::io::read_to_string(archive.by_name("lots.csv").unwrap()).unwrap();
        assert_eq!(lots.contains("a secret place"), told, "{lots}");
        let again = send(&tried, "/do/folder/examine?replace=yes", &[("b.zip", &saved.bytes)]).await;
        assert_eq!(again.status, StatusCode::OK, "{}", again.text());
    }
    let report = tried.get("/report.html?places=yes").await;
    assert!(report.status == StatusCode::OK && report.headers["content-disposition"].to_str().unwrap().contains("report.html"));
    assert_eq!(tried.get("/report.html?species=moss").await.status, StatusCode::UNPROCESSABLE_ENTITY);
}

#[tokio::test]
async fn a_device_is_shut_out_by_who_may_do_everything_only() {
    let tried = Tried::by_device(May::All);
    let page = tried.get("/status").await.text();
    assert!(
        page.contains("phone") && page.contains("may do everything") && page.contains("Nothing tells the temperature"),
        "{page}"
    );
    assert_eq!(tried.post("/do/shut-out", &json!({"id": "x"})).await.status, StatusCode::NOT_FOUND);
    let id = tried.store(|store| changes::devices(store).unwrap()[0].id.to_string());
    assert_eq!(tried.post("/do/shut-out", &json!({"id": id})).await.status, StatusCode::OK);
    assert_eq!(tried.get("/status").await.status, StatusCode::FORBIDDEN, "it shut itself out");
    let helper = Tried::by_device(May::Look);
    assert!(!helper.get("/status").await.text().contains("Devices"));
    assert_eq!(helper.post("/do/shut-out", &json!({"id": "1"})).await.status, StatusCode::FORBIDDEN);
}

#[test]
fn no_question_whatever_stands_in_it_breaks_anything() {
    let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
    let tried = with_groups();
    let fields = [
        "by",
        "species",
        "lot",
        "plants",
        "grow-on",
        "spot",
        "spots",
        "confidence",
        "batch",
        "difference",
        "groups",
        "with",
        "seeds",
        "boxes",
        "shuffle",
        "places",
        "notes",
        "share",
        "dark",
        "narrow",
    ];
    let value = prop_oneof![
        any::<String>(),
        "[0-9]{1,25}",
        "-?[0-9.eE]{1,12}",
        "[0-9]{4}-[0-9]{2}-[0-9]{2}",
        Just("leek".to_owned()),
        Just("sill".to_owned()),
        Just("NaN".to_owned()),
        Just("treatment".to_owned()),
        Just("2024-12-24".to_owned()),
    ];
    let pair = (prop::sample::select(fields.to_vec()), value);
    let paths = ["/compare", "/compare/up-by-day.svg", "/plan", "/plan.ics", "/plan/trial", "/report.html", "/status", "/details"];
    let asked = (prop::sample::select(paths.to_vec()), prop::collection::vec(pair, 0..9));
    proptest!(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(200), ..ProptestConfig::with_cases(200) }, |((path, pairs) in asked)| {
        let query: Vec<String> = pairs.iter().map(|(name, value)| format!("{name}={}", encoded(value))).collect();
        let answer = runtime.block_on(tried.get(&format!("{path}?{}", query.join("&"))));
        prop_assert!(answer.status.as_u16() < 500, "{} {}", answer.status, answer.text());
    });
}
