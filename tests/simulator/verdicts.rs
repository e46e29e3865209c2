//! How far the verdicts of `compare` can be trusted, measured: `cargo run --release --example verdicts [EXPERIMENTS] [FIRST_SEED]`.
//!
//! Makes experiments up (`experiments.rs` says how) and counts how often a difference is shown where there is none, and where there is one;
//! beside it what tests that take each seed by itself would have said. Prints the table of DEVELOPERS.md; without arguments that very one:
//! 1,000 experiments a condition, seeds from 1001. Whoever tunes anything does so on seeds 1 to 1000.

#![allow(clippy::unwrap_used, clippy::panic, clippy::print_stdout, clippy::print_stderr, reason = "a proof run by hand")]

#[path = "mod.rs"]
mod simulator;

use simulator::experiments::{CONDITIONS, Condition, Share, Shown, shown};

const EXPERIMENTS: u64 = 1000;
const FIRST_SEED: u64 = 1001;

fn main() {
    let mut arguments = std::env::args().skip(1).map(|argument| argument.parse::<u64>().unwrap());
    let experiments = arguments.next().unwrap_or(EXPERIMENTS);
    let first = arguments.next().unwrap_or(FIRST_SEED);
    let begun = std::time::Instant::now();
    let rows: Vec<(&str, Shown)> = std::thread::scope(|scope| {
        let each = |condition: &'static Condition| scope.spawn(move || (condition.name, shown(condition, experiments, first)));
        CONDITIONS.iter().map(each).collect::<Vec<_>>().into_iter().map(|row| row.join().unwrap()).collect()
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
