//! Grids sent straight into the routes. The bench of [`Tried`] was sown on 4 October 2024 at 02:00 in Berlin; it is the 8th, 02:00.

use axum::http::StatusCode;
use serde_json::{Value, json};

use super::super::tried::{Answer, Tried};
use crate::bench::Name;
use crate::changes::May;
use crate::civil::rfc3339;

async fn sent(tried: &Tried, request: &str, rows: Value) -> Answer {
    tried.post("/do/grid", &json!({"request": request, "from": "2024-10-04", "time": "08:00", "rows": rows})).await
}

fn faults(answer: &Answer) -> Vec<(String, String)> {
    let text = |value: &Value| value.as_str().unwrap_or_default().to_owned();
    answer.json()["faults"].as_array().unwrap().iter().map(|fault| (text(&fault["field"]), text(&fault["what"]))).collect()
}

const REQUEST: &str = "0123456789abcdef";

#[tokio::test]
async fn a_sheet_typed_in_is_recorded_once_shown_and_taken_back() {
    let tried = Tried::by_device(May::Look);
    let page = tried.get("/grid?from=2024-10-04&days=7").await.text();
    // Three boxes on four days: not on that of the sowing, nor on those to come.
    assert_eq!((page.matches("data-place=").count(), page.matches("class=\"shut\"").count()), (12, 9), "{page}");
    let rows = json!([
        {"row": 0, "box": "A1", "counts": ["", "0", " 2 ", "", "1"]},
        {"row": 2, "box": "A3", "counts": ["", "", "", "3"]},
    ]);
    let done = sent(&tried, REQUEST, rows.clone()).await;
    assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    assert_eq!(done.json()["said"], "Recorded: 4 looks at 2 boxes, 6 sprouts new.");
    assert_eq!([tried.looks("A1"), tried.looks("A2"), tried.looks("A3")], [(3, 3), (0, 0), (3, 1)]);
    let times = tried.store(|store| {
        let bench = store.bench().unwrap();
        bench.trials[&Name::new("A1").unwrap()].checks.iter().map(|check| rfc3339(check.time)).collect::<Vec<_>>()
    });
    // Summer time; today's round is not later than now.
    assert_eq!(times, ["2024-10-05T06:00:00Z", "2024-10-06T06:00:00Z", "2024-10-08T00:00:00Z"]);
    let again = sent(&tried, REQUEST, rows.clone()).await;
    assert_eq!((again.status, tried.looks("A1")), (StatusCode::OK, (3, 3)));
    let page = tried.get("/grid?from=2024-10-04&days=7").await.text();
    assert_eq!((page.matches("data-place=").count(), page.matches("class=\"on-record\"").count()), (8, 4), "{page}");
    // The same sheet under another number: each cell is on record.
    let other = sent(&tried, "fedcba9876543210", rows).await;
    let told = faults(&other);
    let fields: Vec<&str> = told.iter().map(|(field, _)| field.as_str()).collect();
    assert_eq!(fields, ["r0d1", "r0d2", "r0d4", "r2d3"], "{told:?}");
    assert!(told.iter().all(|(_, what)| what.contains("is on record already")), "{told:?}");
    let back = json!({ "looks": done.json()["looks"] });
    assert_eq!(tried.post("/do/looks/undo", &back).await.status, StatusCode::OK);
    assert_eq!([tried.looks("A1"), tried.looks("A3")], [(0, 0), (0, 0)]);
}

#[tokio::test]
async fn each_fault_is_told_beside_its_cell_and_nothing_of_the_sheet_is_recorded() {
    let tried = Tried::at_home();
    let rows = json!([
        {"row": 0, "box": "A1", "counts": ["", "x", "1.5", "-1", "1"]},
        {"row": 1, "box": "A2", "counts": ["", "", "", "", "", "2"]},
    ]);
    let told = faults(&sent(&tried, REQUEST, rows).await);
    let expected = [
        ("r0d1", "'x' is no count: a number, 0, or blank"),
        ("r0d2", "'1.5' is no count: a number, 0, or blank"),
        ("r0d3", "'-1' is no count: a number, 0, or blank"),
        ("r1d5", "9 Oct has not come yet"),
    ];
    assert_eq!(told, expected.map(|(field, what)| (field.to_owned(), what.to_owned())));
    let rows = json!([
        {"row": 0, "box": "A1", "counts": ["", "12", "9", "1"]},
        {"row": 1, "box": "A2", "counts": ["", "2"]},
        {"row": 2, "box": "A9", "counts": ["", "0"]},
    ]);
    let told = faults(&sent(&tried, REQUEST, rows).await);
    let expected = [("r0d2", "21 sprouts in box 'A1', which holds 20 seeds"), ("r2d1", "there is no box 'A9' on this bench")];
    assert_eq!(told, expected.map(|(field, what)| (field.to_owned(), what.to_owned())));
    assert_eq!([tried.looks("A1"), tried.looks("A2")], [(0, 0), (0, 0)]);
    for (body, field) in [
        (
            json!({"request": REQUEST, "from": "2024-10-04", "time": "8 o'clock", "rows": [{"row": 0, "box": "A1", "counts": ["", "1"]}]}),
            "time",
        ),
        (json!({"request": REQUEST, "from": "2024-10-04", "time": "08:00", "rows": []}), "time"),
        (json!({"request": REQUEST, "from": "yesterday", "time": "08:00", "rows": []}), "from"),
        (json!({"request": "1", "from": "2024-10-04", "time": "08:00", "rows": []}), "request"),
        (
            json!({"request": REQUEST, "from": "2024-10-04", "time": "08:00", "rows": [{"row": 0, "box": "", "counts": ["1"]}]}),
            "r0d0",
        ),
    ] {
        let answer = tried.post("/do/grid", &body).await;
        assert_eq!((answer.status, faults(&answer)[0].0.as_str()), (StatusCode::UNPROCESSABLE_ENTITY, field), "{body}");
    }
}

#[tokio::test]
async fn an_hour_that_was_left_out_is_said_and_none_is_made_up() {
    let tried = Tried::at_home();
    // Before the sowing, and an hour that Berlin skipped on 31 March 2024.
    let body =
        json!({"request": REQUEST, "from": "2024-03-31", "time": "02:30", "rows": [{"row": 0, "box": "A1", "counts": ["0", "0"]}]});
    let told = faults(&tried.post("/do/grid", &body).await);
    assert_eq!(told.len(), 1);
    assert!(told[0].0 == "r0d0" && told[0].1.contains("2024-03-31 02:30"), "{told:?}");
}

#[tokio::test]
async fn what_is_printed_is_shown_by_the_page_and_its_codes_lead_to_the_address_that_was_asked_for() {
    let tried = Tried::by_device(May::Look);
    let labels = tried.get("/labels").await.text();
    assert!(labels.contains("http://192.168.1.5:7333") && labels.contains("3 labels") && labels.contains("crispEdges"), "{labels}");
    assert!(labels.contains("paper-a4") && tried.get("/labels?paper=letter").await.text().contains("paper-letter"));
    assert!(tried.get("/labels?spot=mat").await.text().contains("No box of these is present."));
    let ill = tried.get("/labels?url=bench.lan").await.text();
    assert!(
        ill.contains("is no address: write it as") && !ill.contains("crispEdges") && ill.contains("value=\"bench.lan\""),
        "{ill}"
    );
    let sheet = tried.get("/sheet?days=14&url=https%3A%2F%2Fbench.lan").await.text();
    assert!(sheet.contains("https://bench.lan/grid?from=2024-10-08&#38;days=14"), "{sheet}");
    assert_eq!(sheet.matches("<td class=\"tick\"").count(), 3 * 14);
    assert!(tried.get("/sheet?from=soon").await.text().contains("is no day: write it as 2026-03-14"));
    // The guard allows no style and no script within a page.
    for page in [labels, ill, sheet, tried.get("/grid").await.text(), tried.get("/box/A1").await.text()] {
        assert!(
            !page.contains(" style=") && !page.contains("<style") && !page.contains(" onclick") && !page.contains("<script>"),
            "{page}"
        );
    }
    let home = Tried::at_home().get("/labels").await.text();
    assert!(home.contains("value=\"http://bench.lan:7333\""), "a name that means another computer to each is not printed: {home}");
    assert!(Tried::at_home().get("/labels?url=http%3A%2F%2Flocalhost%3A7333").await.text().contains("Only this computer comes"));
}
