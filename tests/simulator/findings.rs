//! How far the findings of `diagnose` can be trusted, measured: `cargo run --release --example findings [BENCHES] [FIRST_SEED] [usual]`.
//!
//! Makes benches up (`world/mod.rs` says how), asks for the diagnosis on two mornings of each, and holds what it says against the true
//! needs at the true temperatures. Every second bench has a probe that the sun strikes on clear mornings. Prints the table of
//! DEVELOPERS.md, "How far can the findings be trusted"; without arguments that very one: seeds 1001 to 1300. Whoever tunes the program does
//! so on seeds 1 to 300.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, clippy::print_stderr, reason = "a proof run by hand")]

#[path = "mod.rs"]
mod simulator;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use simulator::proof::alarms::{self, Watch, watch};
use simulator::proof::findings::{Found, find, table};
use simulator::world::Mix;

const BENCHES: u64 = 300;
const FIRST_SEED: u64 = 1001;
const THREADS: usize = 2;
/// Alarms are watched on one bench in so many: there everything is judged each half hour.
const WATCHED_ONE_IN: u64 = 3;

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
    let (found, watched) = all(first, benches, mix);
    println!("{benches} benches, seeds {first} to {}, {:.0} s\n", first + benches - 1, begun.elapsed().as_secs_f64());
    println!("{}", table(&found));
    println!("Alarms, of every third bench:\n\n{}", alarms::table(&watched));
}

/// Benches by turns on all threads, in order of their seeds.
fn all(first: u64, benches: u64, mix: Mix) -> (Vec<Found>, Vec<Watch>) {
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
                    let found = find(first + nth, mix, nth % 2 == 1);
                    let watched = nth.is_multiple_of(WATCHED_ONE_IN).then(|| watch(first + nth, mix));
                    let mut done = done.lock().unwrap();
                    done.push((nth, found, watched));
                    eprint!("\r{} of {benches} benches", done.len());
                }
            });
        }
    });
    eprintln!();
    let mut done = done.into_inner().unwrap();
    done.sort_by_key(|(nth, ..)| *nth);
    let watched = done.iter().filter_map(|(.., watched)| watched.clone()).collect();
    (done.into_iter().flat_map(|(_, found, _)| found).collect(), watched)
}
