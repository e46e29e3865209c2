//! How good the forecasts are, measured: `cargo run --release --example calibration [BENCHES] [FIRST_SEED] [usual]`.
//!
//! Makes benches up (`world/mod.rs` says how), asks the program about each on three mornings of its present season, using nothing
//! later, and sets what it says against what came, beside an oracle, the true weather generator and plain calendar days. Prints the
//! tables of DEVELOPERS.md, "How good are the forecasts"; without arguments those very ones: seeds 1001 to 1300; `usual` makes the
//! benches of growers who keep to one plant. Whoever tunes the
//! program does so on seeds 1 to 300 and looks at no others.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, clippy::print_stderr, reason = "a proof run by hand")]

#[path = "../outside/left_out.rs"]
mod left_out;
#[path = "mod.rs"]
mod simulator;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use simulator::proof::{Brought, MORNINGS, prove, tables};
use simulator::world::Mix;

const BENCHES: u64 = 300;
const FIRST_SEED: u64 = 1001;
const THREADS: usize = 2;

fn main() {
    let (words, numbers): (Vec<String>, Vec<String>) =
        std::env::args().skip(1).partition(|argument| argument.parse::<u64>().is_err());
    let mix = match words.first().map(String::as_str) {
        None => Mix::Varied,
        Some("usual") => Mix::Usual,
        Some(other) => panic!("{other}: benches are varied, or 'usual'"),
    };
    let mut arguments = numbers.into_iter().map(|argument| argument.parse::<u64>().unwrap());
    let benches = arguments.next().unwrap_or(BENCHES);
    let first = arguments.next().unwrap_or(FIRST_SEED);
    let begun = std::time::Instant::now();
    let Brought { cases, bases } = all(first, benches, mix);
    println!(
        "{benches} benches, seeds {first} to {}, {} forecasts, {:.0} s\n",
        first + benches - 1,
        cases.len(),
        begun.elapsed().as_secs_f64()
    );
    println!("Mean loss ÷ the oracle's, ± standard error:\n\n{}", tables::losses(&cases));
    println!("Told one part of the truth at a time:\n\n{}", tables::parts(&cases));
    println!("How often ranges held, in percent (the oracle's own in brackets):\n\n{}", tables::ranges(&cases));
    println!("{}", tables::sides(&cases));
    println!("The 90 % interval of the base:\n\n{}", tables::bases(&bases));
    println!("Rice, each temperature forecast from the others:\n\n{}", left_out::table());
}

/// Benches by turns on all threads, brought together in order of their seeds.
fn all(first: u64, benches: u64, mix: Mix) -> Brought {
    let next = AtomicU64::new(0);
    let done = Mutex::new(Vec::new());
    std::thread::scope(|scope| {
        for _ in 0..THREADS {
            scope.spawn(|| {
                loop {
                    let nth = next.fetch_add(1, Ordering::Relaxed);
                    if nth >= benches {
                        break;
                    }
                    let brought = prove(first + nth, mix, MORNINGS);
                    let mut done = done.lock().unwrap();
                    done.push((nth, brought));
                    eprint!("\r{} of {benches} benches", done.len());
                }
            });
        }
    });
    eprintln!();
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(nth, _)| *nth);
    let mut all = Brought::default();
    for (_, brought) in done {
        all.cases.extend(brought.cases);
        all.bases.extend(brought.bases);
    }
    all
}
