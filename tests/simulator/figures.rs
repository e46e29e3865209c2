//! Writes every figure with made-up data, to be looked at: `cargo run --release --example figures FOLDER`.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a generator run by hand")]

#[path = "../figures/made_up.rs"]
mod made_up;

use std::path::PathBuf;

use seedclock::charts::{Look, Size};
use seedclock::exchange::png;

fn main() {
    let folder = std::env::args_os().nth(1).map_or_else(|| PathBuf::from("figures"), PathBuf::from);
    std::fs::create_dir_all(&folder).unwrap();
    for (look, look_name) in [(Look::Light, "light"), (Look::Dark, "dark"), (Look::Print, "print")] {
        for (size, size_name) in [(Size::Wide, "wide"), (Size::Narrow, "narrow")] {
            for (name, svg) in made_up::figures(look, size) {
                let stem = format!("{name}-{look_name}-{size_name}");
                std::fs::write(folder.join(format!("{stem}.svg")), &svg).unwrap();
                let scale = if size == Size::Wide { 1.0 } else { 2.0 };
                std::fs::write(folder.join(format!("{stem}.png")), png(&svg, scale).unwrap()).unwrap();
                println!("{stem}: {} bytes", svg.len());
            }
        }
    }
}
