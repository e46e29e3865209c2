//! How far the verdicts of `compare` can be trusted, measured: `cargo run --release --example verdicts [EXPERIMENTS] [FIRST_SEED]`.
//!
//! Makes experiments up (`experiments.rs` says how) and counts how often a difference is shown where there is none, and where there is one;
//! beside it what tests that take each seed by itself would have said. Prints the table of DEVELOPERS.md; without arguments that very one:
//! 1,000 experiments a condition, seeds from 1001. Whoever tunes anything does so on seeds 1 to 1000.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, clippy::print_stderr, reason = "a proof run by hand")]

#[path = "mod.rs"]
mod simulator;

use simulator::experiments::{CONDITIONS, Share, Shown, shown};

const EXPERIMENTS: u64 = 1000;
const FIRST_SEED: u64 = 1001;

fn main() {
    let mut arguments = std::env::args().skip(1).map(|argument| argument.parse::<u64>().unwrap());
    let experiments = arguments.next().unwrap_or(EXPERIMENTS);
    let first = arguments.next().unwrap_or(FIRST_SEED);
    let begun = std::time::Instant::now();
    let mut rows: Vec<(&str, Shown)> = Vec::new();
    // Two threads share the conditions out.
    std::thread::scope(|scope| {
        let halves = [0, 1].map(|half| {
            scope.spawn(move || {
                let own = CONDITIONS.iter().skip(half).step_by(2);
                own.map(|condition| (condition.name, shown(condition, experiments, first))).collect::<Vec<_>>()
            })
        });
        let [even, odd] = halves.map(|half| half.join().unwrap());
        let (mut even, mut odd) = (even.into_iter(), odd.into_iter());
        while let Some(row) = even.next() {
            rows.push(row);
            rows.extend(odd.next());
        }
    });
    println!("{experiments} experiments a condition, seeds from {first}, {:.0} s\n", begun.elapsed().as_secs_f64());
    println!("| shown, % ± standard error | how many | how fast | either | days alone | Fisher, seeds | log-rank, seeds |");
    println!("|---|---|---|---|---|---|---|");
    for (name, shown) in rows {
        let all = [shown.fraction, shown.speed, shown.either, shown.clock_alone, shown.fisher, shown.log_rank];
        println!("| {name} | {} |", all.map(percent).join(" | "));
    }
}

fn percent(share: Share) -> String {
    format!("{:.1} ± {:.1}", 100.0 * share.share, 100.0 * share.error)
}
