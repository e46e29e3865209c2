//! The committed demo bench is what the generator writes, and the story is the one the demo tells.

use std::collections::BTreeSet;
use std::path::Path;

use crate::simulator::{plan, story};

fn committed() -> std::path::PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data")
}

#[test]
fn the_committed_demo_bench_is_byte_for_byte_what_the_generator_writes() {
    let story = story::tell(plan::SEED);
    let there: BTreeSet<_> =
        std::fs::read_dir(committed()).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    assert_eq!(there, story.folder.keys().cloned().collect::<BTreeSet<_>>(), "files in demo-data");
    for (name, text) in &story.folder {
        let bytes = std::fs::read(committed().join(name)).unwrap();
        let differs = bytes.iter().zip(text.as_bytes()).position(|(old, new)| old != new);
        assert!(
            bytes == text.as_bytes(),
            "{name} differs, first at byte {differs:?}; run `cargo run --release --example demo-data`"
        );
    }
    let size: usize = story.folder.values().map(String::len).sum();
    assert!(size <= 2_000_000, "the demo bench has grown to {size} bytes");
}

/// By the truth behind the story, not by any estimate of it.
#[test]
fn the_cold_sill_and_the_hot_spot_are_truly_slow_and_the_best_spot_is_not() {
    let story = story::tell(plan::SEED);
    let delay_days = |name: &str| {
        let found = story.present.iter().find(|container| container.container == name).unwrap();
        let fastest = found.half_at.iter().filter_map(|(_, half)| *half).min().unwrap();
        (found.half_here.unwrap() - fastest).num_minutes() as f64 / 1440.0
    };
    assert!(delay_days("C3") >= 4.0, "tomatoes on the cold sill: {} days", delay_days("C3"));
    assert!(delay_days("C7") >= 3.0, "lettuce over the boiler: {} days", delay_days("C7"));
    for on_the_mat in ["C1", "C5"] {
        assert!(delay_days(on_the_mat) < 1.0, "{on_the_mat}: {} days", delay_days(on_the_mat));
    }
    let share_seen = |container: &story::PresentBox| f64::from(container.seen);
    assert!(story.present.iter().any(|container| container.seen == 0), "some boxes have not begun");
    assert!(story.present.iter().any(|container| share_seen(container) >= 10.0), "some boxes are half up");
}
