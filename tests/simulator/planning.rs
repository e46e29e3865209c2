//! Whether plans keep their word, measured: `cargo run --release --example planning [BENCHES] [FIRST_SEED] [usual]`. Makes benches up
//! (`world/mod.rs` says how), has the program plan sowings for a wished day, sows as it says and counts the plants; without arguments
//! 200 benches from seed 2001 on.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, clippy::print_stderr, reason = "a proof run by hand")]

#[path = "mod.rs"]
mod simulator;

use std::sync::Mutex;
use std::sync::atomic::{AtomicU64, Ordering};

use simulator::proof::plans::{Kept, mean_over_benches, plans};
use simulator::world::Mix;

const BENCHES: u64 = 200;
const FIRST_SEED: u64 = 2001;
const THREADS: usize = 2;
const AHEAD: [u64; 3] = [21, 35, 49];

fn main() {
    let (words, numbers): (Vec<String>, Vec<String>) =
        std::env::args().skip(1).partition(|argument| argument.parse::<u64>().is_err());
    let mix = if words.iter().any(|word| word == "usual") { Mix::Usual } else { Mix::Varied };
    let mut numbers = numbers.into_iter().map(|number| number.parse::<u64>().unwrap());
    let (benches, first) = (numbers.next().unwrap_or(BENCHES), numbers.next().unwrap_or(FIRST_SEED));
    for confidence in [0.8, 0.9] {
        let kept = all(first, benches, mix, confidence);
        println!("\n{benches} benches, seeds {first} to {}, {:.0} in 100 sure:\n", first + benches - 1, confidence * 100.0);
        println!("| | plans | stated, % | reached, % | seeds |\n|---|---|---|---|---|");
        let row = |what: &str, of: &dyn Fn(&Kept) -> bool| {
            let these: Vec<Kept> = kept.iter().filter(|one| of(one)).copied().collect();
            let mean = |of: &dyn Fn(&Kept) -> f64, factor: f64, digits: usize| {
                mean_over_benches(&these, of)
                    .map_or_else(String::new, |(mean, error)| format!("{:.digits$} ± {:.digits$}", factor * mean, factor * error))
            };
            let stated = mean(&|one| one.stated, 100.0, 1);
            let reached = mean(&|one| one.reached, 100.0, 1);
            println!("| {what} | {} | {stated} | {reached} | {} |", these.len(), mean(&|one| f64::from(one.seeds), 1.0, 1));
        };
        row("all", &|_| true);
        for days in AHEAD {
            row(&format!("{days} days ahead"), &|one| one.days_ahead == days);
        }
        row("lot sown before", &|one| one.lot_known);
        row("lot never sown before", &|one| !one.lot_known);
        row("spot seen in an earlier season", &|one| one.spot_known);
        row("spot never seen before", &|one| !one.spot_known);
        row("day told", &|one| !one.wide);
        row("too unsure for a day", &|one| one.wide);
    }
}

fn all(first: u64, benches: u64, mix: Mix, confidence: f64) -> Vec<Kept> {
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
                    let kept = plans(first + nth, mix, confidence, &AHEAD);
                    done.lock().unwrap().extend(kept);
                }
            });
        }
    });
    done.into_inner().unwrap()
}
