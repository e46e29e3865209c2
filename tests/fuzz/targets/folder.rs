//! A bench folder: whatever its tables hold, each fault is said and none breaks the import down. What is admitted comes back the same
//! from an export.
#![no_main]

use std::borrow::Cow;

use libfuzzer_sys::fuzz_target;
use seedclock::bench::Bench;
use seedclock::bench::rules::{Conflict, latest_credible};
use seedclock::changes::examine_folder;
use seedclock::civil::{Zone, time_from_micros};
use seedclock::exchange::{Document, Folder};

/// The tables stand one after the other, each after a line `@@ its name`.
fn documents(bytes: &[u8]) -> Vec<Document<'static>> {
    let text = String::from_utf8_lossy(bytes);
    let mut documents = Vec::new();
    for part in text.split("@@ ").skip(1) {
        let (name, table) = part.split_once('\n').unwrap_or((part, ""));
        // Bytes that are no text come in by their numbers, as the text around them must stay one.
        let bytes = table.replace("\\xff", "\u{0}").into_bytes().into_iter().map(|byte| if byte == 0 { 0xff } else { byte });
        documents.push(Document { name: name.trim().to_owned(), bytes: Cow::Owned(bytes.collect()) });
    }
    documents
}

fuzz_target!(|bytes: &[u8]| {
    let documents = documents(bytes);
    let zone = Zone::Europe__Dublin;
    let now = time_from_micros(1_773_489_600_000_000).expect("a time");
    let folder = Folder::read(&documents, zone);
    assert_eq!(folder, Folder::read(&documents, zone));
    for conflict in [Conflict::Refused, Conflict::Replaced] {
        match examine_folder(&Bench::empty(zone), &folder, conflict, now) {
            Ok(admitted) => {
                let latest = latest_credible(now);
                assert!(admitted.bench.trials.values().all(|trial| trial.container.sown <= latest));
            }
            Err(refused) => assert!(!refused.to_string().is_empty()),
        }
    }
});
