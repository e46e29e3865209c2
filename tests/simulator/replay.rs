//! How often the stated ranges hold: replays made-up seasons morning by morning, using nothing later, and compares each forecast
//! with what was then seen. `cargo run --release --example replay [STORIES]`.
//!
//! Last figures (40 stories, seeds 1 to 40, about 5 minutes on two cores): DEVELOPERS.md, "How good are the ranges".

#![expect(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a proof run by hand")]

#[path = "mod.rs"]
mod simulator;

use chrono::Duration;
use seedclock::answers::{Known, Present, forecast};
use seedclock::bench::Name;
use seedclock::changes::import_folder;
use seedclock::civil::{Time, Zone};
use seedclock::exchange::{Document, Folder};
use seedclock::store::{BenchKind, Store};

/// Days ahead that are compared.
const AHEAD: [usize; 4] = [3, 7, 14, 21];

/// For one distance: how many, how many within the 50, 80 and 90 % ranges, and on which side of the count the middle lay.
#[derive(Clone, Copy, Default)]
struct Row {
    forecasts: usize,
    held: [usize; 3],
    above: usize,
    below: usize,
}

fn main() {
    let stories: u64 = std::env::args().nth(1).map_or(40, |count| count.parse().unwrap());
    for (batch, what) in [("last season", "with one past season"), ("this season", "with two past seasons")] {
        let mut rows = [Row::default(); AHEAD.len()];
        for seed in 1..=stories {
            replay(seed, batch, &mut rows);
        }
        println!("{what}:\n  days ahead  forecasts  50 %  80 %  90 %  middle too high / too low");
        for (ahead, row) in AHEAD.iter().zip(rows) {
            let share = |count: usize| 100.0 * count as f64 / row.forecasts.max(1) as f64;
            let [half, eighty, ninety] = row.held.map(share);
            println!(
                "  {ahead:10}  {:9}  {half:4.0}  {eighty:4.0}  {ninety:4.0}  {:.0} / {:.0} %",
                row.forecasts,
                share(row.above),
                share(row.below)
            );
        }
    }
}

fn replay(seed: u64, batch: &str, rows: &mut [Row; AHEAD.len()]) {
    let folder = tempfile::tempdir().unwrap();
    let told = simulator::story::tell(seed);
    let documents: Vec<Document<'_>> =
        told.folder.iter().map(|(name, text)| Document { name: name.clone(), bytes: text.as_bytes().into() }).collect();
    let folder_read = Folder::read(&documents, Zone::UTC);
    assert!(folder_read.faults.is_empty(), "{:?}", folder_read.faults);
    let far: Time = "2200-01-01T00:00:00Z".parse().unwrap();
    let mut store = Store::create(&folder.path().join("bench.db"), folder_read.zone.unwrap(), BenchKind::Own).unwrap();
    if let Err(error) = import_folder(&mut store, &folder_read, seedclock::bench::rules::Conflict::Refused, far) {
        panic!("{error:?}");
    }
    let bench = store.bench().unwrap();
    let batch = Name::new(batch).unwrap();
    let season: Vec<_> = bench.trials.values().filter(|trial| trial.container.batch == batch).collect();
    let first = season.iter().map(|trial| trial.container.sown).min().unwrap();
    for morning in [4i64, 8, 12, 16, 22] {
        // A little after the morning's round.
        let looks = season.iter().flat_map(|trial| &trial.checks).map(|check| check.time);
        let Some(round) = looks.filter(|time| *time <= first + Duration::days(morning)).max() else { continue };
        let as_of = round + Duration::minutes(20);
        let known = Known::as_of(&store, as_of).unwrap();
        for one in forecast(&known, &Present::new(&known), 21).boxes {
            let trial = &bench.trials[&one.trial.container.name];
            if trial.container.batch != batch || one.ended {
                continue;
            }
            for (row, ahead) in rows.iter_mut().zip(AHEAD) {
                let (time, Some(levels)) = one.forecast.by_date[ahead - 1] else { continue };
                // Only where somebody looked within two hours of the time that is forecast.
                if !trial.checks.iter().any(|check| (check.time - time).abs() < Duration::hours(3)) {
                    continue;
                }
                let seen: u32 =
                    trial.checks.iter().filter(|check| check.time <= time + Duration::hours(3)).map(|check| check.sprouted).sum();
                row.forecasts += 1;
                let [p05, p10, p25, p50, p75, p90, p95] = levels;
                for (held, (low, high)) in row.held.iter_mut().zip([(p25, p75), (p10, p90), (p05, p95)]) {
                    *held += usize::from(low <= seen && seen <= high);
                }
                row.above += usize::from(p50 > seen);
                row.below += usize::from(p50 < seen);
            }
        }
    }
}
