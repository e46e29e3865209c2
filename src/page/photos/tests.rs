//! Photographs sent straight into the routes.

use axum::body::Body;
use axum::http::StatusCode;
use serde_json::json;

use super::super::tried::{Answer, Tried, now};
use crate::bench::Name;
use crate::changes::May;

/// A PNG file of 40 × 30 green pixels, made by hand: stored, not compressed (RFC 1950, RFC 1951, 3.2.4; PNG, second edition, annex D for
/// its checksum).
fn picture() -> Vec<u8> {
    let rows: Vec<u8> = (0..30).flat_map(|_| [0].into_iter().chain([20, 160, 60].repeat(40))).collect();
    let (low, high) = rows.iter().fold((1_u32, 0_u32), |(low, high), byte| {
        let low = (low + u32::from(*byte)) % 65_521;
        (low, (high + low) % 65_521)
    });
    let length = u16::try_from(rows.len()).unwrap();
    let data =
        [&[0x78, 0x01, 1][..], &length.to_le_bytes(), &(!length).to_le_bytes(), &rows, &(high << 16 | low).to_be_bytes()].concat();
    let block = |kind: &[u8], data: &[u8]| {
        let body = [kind, data].concat();
        let sum = !body.iter().fold(u32::MAX, |sum, byte| {
            (0..8).fold(sum ^ u32::from(*byte), |sum, _| if sum & 1 == 1 { 0xedb8_8320 ^ (sum >> 1) } else { sum >> 1 })
        });
        [&u32::try_from(data.len()).unwrap().to_be_bytes()[..], &body, &sum.to_be_bytes()].concat()
    };
    let header = [0, 0, 0, 40, 0, 0, 0, 30, 8, 2, 0, 0, 0];
    [&b"\x89PNG\r\n\x1a\n"[..], &block(b"IHDR", &header), &block(b"IDAT", &data), &block(b"IEND", b"")].concat()
}

async fn sent(tried: &Tried, name: &str, request: &str, ago_ms: i64, file: Vec<u8>) -> Answer {
    let path = format!("/do/photo/{name}?request={request}&at_ms=0&sent_ms={ago_ms}");
    tried.send(tried.request("POST", &path).header("content-type", "image/png").body(Body::from(file)).unwrap()).await
}

const REQUEST: &str = "0123456789abcdef";

#[tokio::test]
async fn a_photo_is_kept_once_shown_with_its_date_and_taken_away() {
    let tried = Tried::by_device(May::All);
    for _ in 0..2 {
        let done = sent(&tried, "A1", REQUEST, 3_600_000, picture()).await;
        assert_eq!(done.status, StatusCode::OK, "{}", done.text());
    }
    let a1 = Name::new("A1").unwrap();
    let photos = tried.store(|store| store.photos(&a1).unwrap());
    assert_eq!((photos.len(), photos[0].width, photos[0].height), (1, 40, 30));
    assert_eq!(photos[0].time, now() - chrono::Duration::hours(1));
    let page = tried.get("/box/A1").await.text();
    let source = format!("/photo/{}.jpg?of={}", photos[0].id, photos[0].time.timestamp_micros());
    assert!(
        page.contains(&format!("src=\"{source}\"")) && page.contains("loading=\"lazy\"") && page.contains("Take it away"),
        "{page}"
    );
    let shown = tried.get(&source).await;
    assert_eq!((shown.status, shown.headers["content-type"].to_str().unwrap()), (StatusCode::OK, "image/jpeg"));
    assert!(shown.bytes.starts_with(&[0xff, 0xd8, 0xff]) && shown.headers["x-content-type-options"] == "nosniff");
    let gone = tried.post("/do/photo-away", &json!({ "id": photos[0].id.to_string() })).await;
    assert_eq!(gone.status, StatusCode::OK, "{}", gone.text());
    assert_eq!(tried.get(&source).await.status, StatusCode::NOT_FOUND);
    assert!(tried.get("/box/A1").await.text().contains("None yet."));
}

#[tokio::test]
async fn a_helper_may_add_a_photo_and_take_none_away() {
    let tried = Tried::by_device(May::Look);
    assert_eq!(sent(&tried, "A1", REQUEST, 0, picture()).await.status, StatusCode::OK);
    let page = tried.get("/box/A1").await.text();
    assert!(page.contains("/photo/") && !page.contains("Take it away"), "{page}");
    assert_eq!(tried.post("/do/photo-away", &json!({"id": "1"})).await.status, StatusCode::FORBIDDEN);
    assert_eq!(tried.store(|store| store.photos(&Name::new("A1").unwrap()).unwrap().len()), 1);
}

#[tokio::test]
async fn what_is_no_photo_is_said_beside_its_field_and_nothing_is_kept() {
    let tried = Tried::at_home();
    for (file, status, begins) in [
        (b"Dear seeds".to_vec(), 422, "this file is no photograph"),
        (b"\0\0\0\x18ftypheic".to_vec(), 422, "HEIC pictures cannot be read here"),
        (Vec::new(), 422, "the file is empty"),
        (vec![0xff; super::PHOTO_SENT_BYTES + 1], 422, "this file has more than 8 MB"),
    ] {
        let answer = sent(&tried, "A1", REQUEST, 0, file).await;
        let fault = answer.json()["faults"][0].clone();
        assert_eq!((answer.status.as_u16(), fault["field"].as_str()), (status, Some("photo")), "{fault}");
        assert!(fault["what"].as_str().unwrap().starts_with(begins) && fault["next"].is_string(), "{fault}");
    }
    let nowhere = sent(&tried, "A9", REQUEST, 0, picture()).await;
    assert!(nowhere.text().contains("there is no box 'A9'"), "{}", nowhere.text());
    let short = sent(&tried, "A1", "1", 0, picture()).await;
    assert_eq!(short.json()["faults"][0]["field"], "request");
    assert_eq!(tried.store(|store| store.photos(&Name::new("A1").unwrap()).unwrap()), []);
    for path in ["/photo/1.jpg", "/photo/1", "/photo/x.jpg", "/photo/-1.jpg"] {
        assert_eq!(tried.get(path).await.status, StatusCode::NOT_FOUND, "{path}");
    }
    // Only this way in takes so much.
    let looks = tried
        .request("POST", "/do/looks")
        .header("content-type", "application/json")
        .body(Body::from(vec![b' '; 100_000]))
        .unwrap();
    assert_eq!(tried.send(looks).await.status, StatusCode::PAYLOAD_TOO_LARGE);
}
