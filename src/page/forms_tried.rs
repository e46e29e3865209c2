//! The page's forms tried without a network.

use axum::http::StatusCode;
use proptest::prelude::*;
use serde_json::{Value, json};

use super::reading::{Fields, Reading};
use super::tried::{Answer, Tried, now, sown};
use crate::bench::{Bench, Degrees, Name, Siting, Trial};
use crate::changes::May;
use crate::civil::Zone;

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

fn bench(tried: &Tried) -> Bench {
    tried.store(|store| store.bench().unwrap())
}

fn trial(tried: &Tried, of: &str) -> Trial {
    bench(tried).trials[&name(of)].clone()
}

async fn done(tried: &Tried, path: &str, body: Value) -> Value {
    let answer = tried.post(path, &body).await;
    assert_eq!(answer.status, StatusCode::OK, "{path}: {}", answer.text());
    answer.json()
}

/// The faults of a refused form, by their fields.
fn faults(answer: &Answer) -> Vec<(String, String)> {
    assert_eq!(answer.status, StatusCode::UNPROCESSABLE_ENTITY, "{}", answer.text());
    let told = answer.json();
    let faults = told["faults"].as_array().unwrap().clone();
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    faults.iter().map(|fault| (text(&fault["field"]), text(&fault["what"]))).collect()
}

fn fields_of_faults(answer: &Answer) -> Vec<String> {
    faults(answer).into_iter().map(|(field, _)| field).collect()
}

async fn undone(tried: &Tried, told: &Value) -> String {
    let told = done(tried, "/do/undo", json!({"command": told["command"]})).await;
    told["said"].as_str().unwrap().to_owned()
}

#[tokio::test]
async fn several_boxes_are_sown_at_once_and_taken_back_at_once() {
    let tried = Tried::by_device(May::All);
    let page = tried.get("/sow?like=A2").await.text();
    assert!(page.contains(r#"value="A4""#) && page.contains(r#"value="leek""#) && page.contains(r#"value="sill""#), "{page}");
    let sent = json!({"names": "B1..B3, C 1", "species": "leek", "seeds": "", "seeds_low": "10", "seeds_high": "15", "spot": "mat",
        "lot": "own", "treatment": "", "event": "emergence", "depth": "2,5", "from": "", "batch": "", "lid": "", "sown": ""});
    let told = done(&tried, "/do/sow", sent).await;
    let said = told["said"].as_str().unwrap();
    assert_eq!(
        said,
        "B1, B2, B3, C 1: 10 to 15 seeds of leek each, sown on 2024-10-08 02:00 at 'mat', batch 2024-10; 'mat' is a new spot."
    );
    let one = trial(&tried, "C 1").container;
    assert_eq!((one.seeds_low, one.seeds_high, one.depth_mm, one.sown), (Some(10), Some(15), Some(2.5), now()));
    assert_eq!((one.event.word(), one.lot.as_ref().map(Name::as_str)), ("emergence", Some("own")));
    assert!(undone(&tried, &told).await.starts_with("Taken back: the sowing of "));
    assert!(bench(&tried).trials.len() == 3 && !bench(&tried).spots.contains_key(&name("mat")));
    let again = tried.post("/do/undo", &json!({"command": told["command"]})).await;
    assert!(faults(&again)[0].1.contains("not on record any more"));
}

#[tokio::test]
async fn seeds_come_out_of_another_box() {
    let tried = Tried::at_home();
    let page = tried.get("/sow?from=A1").await.text();
    assert!(page.contains(r#"name="from" type="text" inputmode="text" value="A1""#), "{page}");
    let sent = |seeds: &str| json!({"names": "D1", "species": "leek", "seeds": seeds, "spot": "sill", "from": "A1"});
    let told = done(&tried, "/do/sow", sent("5")).await;
    assert!(told["said"].as_str().unwrap().ends_with("A1: 0 of 20 have sprouted, 5 sown elsewhere, 15 left."), "{told}");
    assert_eq!(told["go"], "/box/D1");
    let mut more = sent("16");
    more["names"] = json!("D2");
    assert_eq!(fields_of_faults(&tried.post("/do/sow", &more).await), ["seeds"]);
}

#[tokio::test]
async fn all_that_is_wrong_with_a_form_is_said_beside_its_fields_and_nothing_is_recorded() {
    let tried = Tried::at_home();
    let taken = json!({"names": "A1, A9", "species": "leek", "seeds": "30", "spot": "sill"});
    let told = faults(&tried.post("/do/sow", &taken).await);
    assert!(told.len() == 1 && told[0].0 == "names" && told[0].1.starts_with("box 'A1' is known already"), "{told:?}");
    let unread = json!({"names": "A3..A1, A8, A8", "species": "", "seeds": "many", "spot": " ", "sown": "2024-10-08", "depth": "deep",
        "event": "flower"});
    let told = fields_of_faults(&tried.post("/do/sow", &unread).await);
    assert_eq!(told, ["names", "names", "sown", "species", "seeds", "spot", "event", "depth"]);
    let ruled = json!({"names": "A9", "species": "leek", "seeds": "0", "seeds_low": "5", "spot": "sill", "depth": "400",
        "sown": "2030-01-01T08:00"});
    let told = fields_of_faults(&tried.post("/do/sow", &ruled).await);
    assert_eq!(told, ["seeds", "seeds", "depth", "sown"]);
    assert_eq!(bench(&tried).trials.len(), 3);
}

#[tokio::test]
async fn many_boxes_are_moved_at_once_also_to_a_new_spot_and_planned_for_a_day() {
    let tried = Tried::at_home();
    let page = tried.get("/move?box=A2").await.text();
    assert!(page.contains(r#"name="box:A2" value="yes" checked"#) && page.contains("sill: 3 boxes"), "{page}");
    let none = json!({"to": "", "new_spot": "", "planned": "no", "at": ""});
    assert_eq!(fields_of_faults(&tried.post("/do/move", &none).await), ["all", "to"]);
    let sent = json!({"box:A1": "yes", "box:A3": "yes", "to": "", "new_spot": "mat", "planned": "no", "at": "2024-10-07T12:00"});
    let told = done(&tried, "/do/move", sent).await;
    assert_eq!(told["said"], "A1, A3: at 'mat' from 2024-10-07 12:00 on; 'mat' is a new spot.");
    assert_eq!(trial(&tried, "A3").spot_at(now()).as_str(), "mat");
    let plan = json!({"box:A1": "yes", "to": "sill", "planned": "yes", "at": "2024-11-01T09:00"});
    let planned = done(&tried, "/do/move", plan).await;
    assert_eq!(planned["said"], "A1: to be moved to 'sill' on 2024-11-01 09:00.");
    assert_eq!(trial(&tried, "A1").planned.len(), 1);
    let late = json!({"box:A1": "yes", "to": "sill", "planned": "yes", "at": "2024-10-01T09:00"});
    assert_eq!(fields_of_faults(&tried.post("/do/move", &late).await), ["at"]);
    let early = json!({"box:A1": "yes", "to": "sill", "planned": "no", "at": "2024-10-02T09:00"});
    assert!(faults(&tried.post("/do/move", &early).await).iter().all(|(field, what)| field == "at" && what.contains("sown on")));
    undone(&tried, &planned).await;
    undone(&tried, &told).await;
    assert!(trial(&tried, "A1").moves.is_empty() && !bench(&tried).spots.contains_key(&name("mat")));
}

#[tokio::test]
async fn a_look_is_put_right_by_a_helper_too_and_what_it_was_comes_back() {
    let tried = Tried::by_device(May::Look);
    let sent = json!({"request": "0123456789abcdef", "at_ms": 0, "sent_ms": 60_000, "looks": [{"box": "A1", "sprouted": 3, "note": "odd"}]});
    done(&tried, "/do/looks", sent).await;
    let look = trial(&tried, "A1").checks[0].clone();
    let id = look.time.timestamp_micros().to_string();
    let page = tried.get(&format!("/box/A1/look/{id}")).await.text();
    assert!(
        page.contains(r#"name="sprouted" type="text" inputmode="numeric" value="3""#) && page.contains("odd</textarea>"),
        "{page}"
    );
    let mut sent = json!({"of": "A1", "id": id, "sprouted": "2", "removed": "1", "lost": "", "potted_on": "0", "died": "0",
        "condition": "mould", "note": "", "time": "2024-10-08T01:59"});
    let told = done(&tried, "/do/look", sent.clone()).await;
    assert_eq!(
        told["said"],
        "Corrected the look at A1 on 2024-10-08 01:59: new 2 (before: 3), removed 1 (before: 0), condition mould (before: none), \
         note none (before: odd); 2 of 20 have sprouted, 1 removed."
    );
    assert_eq!(trial(&tried, "A1").checks[0].time, look.time);
    sent["sprouted"] = json!("25");
    let wrong = tried.post("/do/look", &sent).await;
    assert_eq!(fields_of_faults(&wrong), ["sprouted"]);
    assert!(undone(&tried, &told).await.contains("again new 3"));
    assert_eq!(trial(&tried, "A1").checks[0], look);
    let back = json!({"of": "A1", "id": look.time.timestamp_micros().to_string(), "take_back": "yes"});
    done(&tried, "/do/look", back).await;
    assert!(trial(&tried, "A1").checks.is_empty());
}

#[tokio::test]
async fn a_box_a_move_and_a_placing_are_put_right() {
    let tried = Tried::at_home();
    let page = tried.get("/box/A1/right").await.text();
    assert!(page.contains(r#"value="autumn""#) && page.contains(r#"value="2024-10-04T02:00""#), "{page}");
    let sent = json!({"of": "A1", "id": "", "species": "leek", "seeds": "22", "spot": "sill", "batch": "autumn", "event": "radicle",
        "sown": "2024-10-04T02:00", "ended": "", "lid": "lid 1"});
    let told = done(&tried, "/do/box", sent).await;
    assert_eq!(told["said"], "Corrected box A1: seeds 22 (before: 20), lid lid 1 (before: none); 0 of 22 have sprouted.");
    assert_eq!(trial(&tried, "A1").container.sown, sown());
    done(&tried, "/do/move", json!({"box:A1": "yes", "new_spot": "mat", "planned": "no", "at": "2024-10-06T08:00"})).await;
    let id = trial(&tried, "A1").moves[0].time.timestamp_micros().to_string();
    assert!(tried.get(&format!("/box/A1/move/{id}")).await.text().contains(r#"<option value="mat" selected>"#));
    let moved = json!({"of": "A1", "id": id, "spot": "mat", "time": "2024-10-06T18:00"});
    done(&tried, "/do/moved", moved).await;
    assert_eq!(trial(&tried, "A1").moves[0].time, now() - chrono::Duration::hours(32));
    let again = json!({"of": "A1", "id": "", "species": "leek", "seeds": "23", "spot": "sill", "batch": "autumn", "event": "radicle",
        "sown": "2024-10-04T02:00", "ended": "", "lid": "lid 1"});
    let last = done(&tried, "/do/box", again).await;
    let refused = faults(&tried.post("/do/undo", &json!({"command": told["command"]})).await);
    assert!(refused[0].1.starts_with("box A1 was changed again since"), "{refused:?}");
    assert!(undone(&tried, &last).await.contains("again seeds 22"));
    assert!(undone(&tried, &told).await.contains("again seeds 20"));
}

#[tokio::test]
async fn a_probe_that_was_heard_is_placed_and_its_placing_put_right() {
    let tried = Tried::at_home();
    let unknown = json!({"probe": "p9", "spot": "sill", "since": "", "siting": "in"});
    assert_eq!(fields_of_faults(&tried.post("/do/place", &unknown).await), ["probe"]);
    tried.store(|store| {
        let reading = crate::bench::Reading {
            time_us: now().timestamp_micros() - 180_000_000,
            raw_c_e4: Some(184_000),
            proof: crate::bench::Proof::Plain,
        };
        store.append_arrivals(&[(name("p9"), reading, crate::bench::Stamp::Arrival)]).unwrap();
    });
    let page = tried.get("/place?probe=p9").await.text();
    assert!(page.contains("18.4\u{a0}°C, 3 minutes ago") && page.contains("stands nowhere yet"), "{page}");
    let told = done(&tried, "/do/place", unknown).await;
    assert_eq!(told["said"], "Probe p9: in a box at 'sill' from 2024-10-08 02:00 on, not calibrated.");
    let since = bench(&tried).placements[0].since.timestamp_micros().to_string();
    assert!(tried.get(&format!("/probe/p9/placing/{since}")).await.text().contains("not calibrated"));
    let right = json!({"of": "p9", "id": since, "spot": "mat", "since": "2024-10-07T08:00", "siting": "beside"});
    done(&tried, "/do/placed", right).await;
    let placement = bench(&tried).placements[0].clone();
    assert_eq!((placement.spot.as_str(), placement.siting), ("mat", Siting::Beside));
}

#[tokio::test]
async fn lots_and_spots_are_told_and_kept_as_they_were_typed() {
    let tried = Tried::at_home();
    tried.store(|store| {
        let units = crate::bench::rules::Entry::Bench(crate::bench::rules::BenchSetting::Units(Degrees::Fahrenheit));
        crate::changes::make(store, now(), |_| Ok(vec![crate::changes::Wish::to_record(vec![units])])).unwrap();
    });
    let lot = json!({"name": "L1", "species": "leek", "packet_days_low": "10", "packet_days_high": "14", "packet_c": "70", "chill_days": "0"});
    done(&tried, "/do/lot", lot).await;
    let kept = bench(&tried).lots[&name("L1")].clone();
    assert!((kept.packet_c.unwrap() - 21.111_111).abs() < 1e-6);
    assert!(tried.get("/lot?name=L1").await.text().contains(r#"name="packet_c" type="text" inputmode="text" value="70""#));
    let again = json!({"known": "L1", "species": "leek", "packet_days_low": "14", "packet_days_high": "10", "packet_c": "70"});
    assert_eq!(fields_of_faults(&tried.post("/do/lot", &again).await), ["packet_days_low"]);
    assert_eq!(bench(&tried).lots[&name("L1")], kept);
    let spot = json!({"known": "sill", "kind": "indoors", "capacity": "2", "day": "68", "night": "59", "sd": "1.8", "since": ""});
    let told = done(&tried, "/do/spot", spot).await;
    assert!(told["said"].as_str().unwrap().contains("20 by day and 15 by night, ± 1 °C"), "{told}");
    let half = json!({"known": "sill", "kind": "indoors", "set": "60", "day": "68", "capacity": "0"});
    assert_eq!(fields_of_faults(&tried.post("/do/spot", &half).await), ["night", "set"]);
    assert!(tried.get("/spots").await.text().contains("3 boxes, room for 2"));
    let told = done(&tried, "/do/spot", json!({"name": "fridge", "kind": "fridge", "set": "4 °C"})).await;
    assert!(told["said"].as_str().unwrap().ends_with("it is a new spot."), "{told}");
    undone(&tried, &told).await;
    assert!(!bench(&tried).spots.contains_key(&name("fridge")));
}

#[tokio::test]
async fn a_box_is_closed_opened_and_the_last_entry_taken_back_from_more() {
    let tried = Tried::at_home();
    done(&tried, "/do/close", json!({"of": "A1", "at": ""})).await;
    assert_eq!(trial(&tried, "A1").container.ended, Some(now()));
    assert!(tried.get("/box/A1").await.text().contains("Open it again"));
    assert!(tried.get("/boxes").await.text().contains("Ended"));
    done(&tried, "/do/reopen", json!({"of": "A1"})).await;
    assert_eq!(trial(&tried, "A1").container.ended, None);
    let twice = faults(&tried.post("/do/reopen", &json!({"of": "A1"})).await);
    assert!(twice[0].1.contains("not closed"), "{twice:?}");
    let page = tried.get("/more").await.text();
    assert!(page.contains("the change of box A1: closed none"), "{page}");
}

#[tokio::test]
async fn a_helpers_device_neither_sees_nor_does_what_it_may_not() {
    let helper = Tried::by_device(May::Look);
    for path in ["/", "/more", "/box/A1", "/boxes"] {
        let page = helper.get(path).await;
        assert_eq!(page.status, StatusCode::OK);
        for hidden in ["/sow", "/move", "/place", "/do/close", "/right", "/do/undo"] {
            assert!(
                !page.text().contains(&format!("\"{hidden}")) && !page.text().contains(&format!("A1{hidden}")),
                "{path}: {hidden}"
            );
        }
    }
    for (path, body) in [
        ("/do/sow", json!({"names": "B1", "species": "leek", "spot": "sill"})),
        ("/do/move", json!({"box:A1": "yes", "new_spot": "mat", "planned": "no"})),
        ("/do/close", json!({"of": "A1"})),
        ("/do/box", json!({"of": "A1", "take_back": "yes"})),
    ] {
        assert_eq!(helper.post(path, &body).await.status, StatusCode::FORBIDDEN, "{path}");
    }
    let last = helper.store(|store| store.last_typed().unwrap().unwrap().number().to_string());
    let told = faults(&helper.post("/do/undo", &json!({"command": last})).await);
    assert!(told[0].1.contains("may look and count"), "{told:?}");
    assert_eq!(bench(&helper).trials.len(), 3);
}

#[test]
fn what_shows_unchanged_is_kept_to_the_last_digit() {
    let bench = Bench { units: Some(Degrees::Fahrenheit), ..Bench::empty(Zone::Europe__Berlin) };
    let fields: Fields =
        [("a", "70"), ("b", "2024-10-27T02:30"), ("c", "71")].map(|(field, text)| (field.to_owned(), text.to_owned())).into();
    let mut reading = Reading::new(&fields, &bench, now());
    let kept = (70.0001 - 32.0) / 1.8;
    assert_eq!(reading.celsius("a", Some(kept)), Some(kept));
    assert!((reading.celsius("c", Some(kept)).unwrap() - 21.666_67).abs() < 1e-4);
    // The second half past two of that night.
    let second = chrono::DateTime::parse_from_rfc3339("2024-10-27T01:30:00.25Z").unwrap().to_utc();
    assert_eq!(reading.time("b", Some(second)), Some(second));
    assert!(reading.time("b", None).unwrap() < second);
    assert!(reading.finish().unwrap().contains("came twice"));
}

const FORMS: [&str; 13] = [
    "/do/sow",
    "/do/move",
    "/do/place",
    "/do/placed",
    "/do/lot",
    "/do/spot",
    "/do/box",
    "/do/look",
    "/do/moved",
    "/do/planned",
    "/do/close",
    "/do/reopen",
    "/do/undo",
];
const KNOWN: [&str; 30] = [
    "names",
    "species",
    "seeds",
    "seeds_low",
    "spot",
    "from",
    "sown",
    "depth",
    "lid",
    "event",
    "to",
    "new_spot",
    "planned",
    "at",
    "box:A1",
    "probe",
    "since",
    "siting",
    "known",
    "name",
    "kind",
    "set",
    "day",
    "sd",
    "of",
    "id",
    "time",
    "take_back",
    "command",
    "sprouted",
];

fn texts() -> impl Strategy<Value = String> {
    let usual =
        ["", "A1", "A1..A9", "leek", "sill", "20", "-1", "1e400", "2024-10-08T07:00", "9999999999999999999", "yes", "21,5", "70F"];
    prop_oneof![any::<String>(), proptest::sample::select(usual.to_vec()).prop_map(str::to_owned)]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 24, ..ProptestConfig::default() })]

    /// Whatever strings a form holds, the answer is that it is done or why not, and never that something broke here.
    #[test]
    fn no_strings_break_a_form(sent in proptest::collection::btree_map(
        prop_oneof![3 => proptest::sample::select(KNOWN.to_vec()).prop_map(str::to_owned), 1 => any::<String>()], texts(), 0..12)) {
        let runtime = tokio::runtime::Builder::new_current_thread().enable_all().build().unwrap();
        runtime.block_on(async {
            let tried = Tried::at_home();
            for form in FORMS {
                let answer = tried.post(form, &json!(sent)).await;
                let told = matches!(answer.status, StatusCode::OK | StatusCode::UNPROCESSABLE_ENTITY | StatusCode::NOT_FOUND);
                assert!(told, "{form}: {} {}", answer.status, answer.text());
            }
        });
    }
}
