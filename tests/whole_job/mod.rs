//! The job from end to end, through the built program.

mod as_of;
mod chilling;
mod compare;
mod demo_bench;
mod lines_arrive;
mod little_told;
mod odd_benches;
mod on_paper;
mod plans;
mod seasons_uses;
mod shapes;
mod trials;
mod wants_chilling;
mod written_shapes;

pub(crate) use written_shapes::{Shape, written};

use std::path::Path;

use crate::asking::Files;

/// The demo's bench folder as it is committed.
fn demo_files() -> Files {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("demo-data");
    let entries = std::fs::read_dir(folder).unwrap().map(|entry| entry.unwrap().path());
    entries.map(|path| (path.file_name().unwrap().to_str().unwrap().to_owned(), std::fs::read_to_string(&path).unwrap())).collect()
}

/// The last moment of the demo's story: its last reading.
const STORY_ENDS: &str = "2026-03-22T23:50:00Z";
