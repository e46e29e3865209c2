//! Writes the demo's bench folder: `cargo run --release --example demo-data [FOLDER]`. The seed is fixed, so it writes the same
//! bytes every time; the truth behind the data stands at the head of `plan.rs`.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a generator run by hand")]

#[path = "mod.rs"]
mod simulator;

use std::path::PathBuf;

fn main() {
    let folder =
        std::env::args_os().nth(1).map_or_else(|| PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("demo-data"), PathBuf::from);
    std::fs::create_dir_all(&folder).unwrap();
    let story = simulator::story::tell(simulator::plan::SEED);
    for (name, text) in &story.folder {
        std::fs::write(folder.join(name), text).unwrap();
        println!("{name}: {} bytes", text.len());
    }
    for container in &story.present {
        let days = |time: Option<chrono::DateTime<chrono::Utc>>| {
            time.map_or("never".to_owned(), |time| format!("{:.1}", (time - container.sown).num_minutes() as f64 / 1440.0))
        };
        let elsewhere: Vec<_> = container.half_at.iter().map(|(spot, half)| format!("{spot} {}", days(*half))).collect();
        let (name, species) = (container.container, container.species.name);
        println!(
            "{name} {species}: {} seen; half after {} d here; {}",
            container.seen,
            days(container.half_here),
            elsewhere.join(", ")
        );
    }
}
