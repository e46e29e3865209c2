//! `fit` and `forecast` as whole processes, cold and with what the first asking kept: how long, and how much memory.
//! `cargo bench --bench forecast -- small|large [FILE]`: 14 boxes over 100,000 readings, or 1,200 (1,000 of them present) over
//! 50 million. The bench is written to FILE, or taken from there if it exists (then as it was left); without FILE to a folder that
//! is removed. Its readings end when it is made: ask on the same day.
//! `cargo bench --bench forecast -- plain [PYTHON]`: `fit` and then `forecast`, cold, in turns with the plain numpy and scipy program
//! (`tests/reference/plain_forecast.py`, one thread for its linear algebra) on one bench folder, and how far the answers lie apart.
//!
//! Last figures (two cores of an AMD EPYC in a virtual machine that builds used too, load 3 to 5; least of several runs):
//!
//! | 14 boxes, 100,000 readings | by the clock | processor | memory |
//! |---|---|---|---|
//! | `fit`, cold | 0.09 s | 0.13 s | 18 MB |
//! | `forecast` after it, cold | 0.09 s | 0.09 s | 23 MB |
//! | both | 0.18 s (0.28 s in turns with the plain program at load 4) | 0.22 s | |
//! | plain program | 2.97 s | 2.9 s | 445 MB |
//!
//! So 11 times as fast in turns on the busy machine, 16 times by the least of each: short of the 40 times aimed at. Of the processor
//! time of `fit` a little over half are the chains (12,400 evaluations of all boxes), a fifth the climbs to the mode, a twelfth reading:
//! arithmetic bounds it. Of that of `forecast` two fifths are making days of earlier years out of 100,000 readings (a quarter reading rows
//! from SQLite; the days are kept then), a seventh drawing futures, a tenth writing what is kept.
//!
//! The answers: 18 middle dates 0.03 of the range p10 to p90 apart, at most 0.29 (0.4 days, at most 4.8); 2,520 counts by date 0.24
//! seeds apart, at most 4. That is Monte Carlo error and what the two take the weather to come for (day blocks there, a season and its
//! anomaly here) together; this run does not tell them apart.
//!
//! | 1,000 boxes, 50 million readings | by the clock | memory |
//! |---|---|---|
//! | `fit`, nothing kept | 28 s | 217 MB |
//! | `forecast` after it, fit kept, days of earlier years not | 9.5 s | 627 MB |
//! | `fit`, with what was kept | 0.8 s | 184 MB |
//! | `forecast`, with what was kept | 2.9 s | 310 MB |
//!
//! The bench is written in 62 s, a file of 1.2 GB, of which 4,564 stretches take 9 MB and four fits 10 MB. A cold `fit` is bounded by
//! the arithmetic of likelihood evaluations (four fits of some 300 boxes; nothing of SQLite is among what takes 2.5 % or more), and got
//! no more than one core's worth of the busy machine. With what was kept, processor and clock are alike too.

#![expect(clippy::unwrap_used, clippy::print_stdout, reason = "a measurement run by hand")]

#[path = "large_bench.rs"]
mod large_bench;

use std::path::{Path, PathBuf};
use std::process::{Command, Stdio};
use std::time::{Duration, Instant};

use large_bench::{DAY_US, Size, time, write};
use seedclock::civil::{Time, rfc3339};
use seedclock::clock::{Clock, SystemClock};

const SMALL: Size = Size { probes: 4, readings: 100_000, spacing_us: 1_800_000_000, past: 8, present: 6 };
const LARGE: Size = Size { probes: 16, readings: 50_000_000, spacing_us: 30_000_000, past: 200, present: 1_000 };

fn main() {
    // Cargo adds an option of its own.
    let words: Vec<String> = std::env::args().skip(1).filter(|word| !word.starts_with('-')).collect();
    if words.first().is_some_and(|word| word == "plain") {
        against_plain(words.get(1).map_or("target/venv/bin/python", String::as_str));
        return;
    }
    let size = if words.first().is_some_and(|word| word == "large") { LARGE } else { SMALL };
    let folder = tempfile::tempdir().unwrap();
    let path = words.get(1).map_or_else(|| folder.path().join("bench.db"), PathBuf::from);
    if path.exists() {
        println!("{} as it is", path.display());
    } else {
        let begun = Instant::now();
        write(&path, &size);
        println!("{} readings written in {:.1} s", size.readings, begun.elapsed().as_secs_f64());
    }
    for (when, rounds) in [("first", 1), ("again", 3)] {
        for command in ["fit", "forecast"] {
            for _ in 0..rounds {
                let (seconds, peak) = whole_process(&path, command);
                println!("{command:9} {when}: {seconds:7.3} s, {peak:5} MB at the most");
            }
        }
    }
}

/// Rounds of either program, in turns.
const ROUNDS: usize = 7;
const DAYS_AHEAD: &str = "60";

/// The very bench folder that the plain numpy and scipy program is timed on, its times moved so that it ends now: what is asked as of
/// another time is not kept, and `forecast` is to find what `fit` kept. Each round begins with a fresh copy of the imported bench.
fn against_plain(python: &str) {
    let folder = tempfile::tempdir().unwrap();
    let (made, moved, fresh, bench) =
        (folder.path().join("made"), folder.path().join("moved"), folder.path().join("fresh.db"), folder.path().join("bench.db"));
    let script = |name: &str| Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/reference").join(name);
    let ends = String::from_utf8(Command::new(python).arg(script("bench_folder.py")).arg(&made).output().unwrap().stdout).unwrap();
    let now_us = SystemClock.now().timestamp_micros() / 1_000_000 * 1_000_000;
    moved_to(&made, &moved, now_us - utc(ends.trim()).unwrap().timestamp_micros());
    let mut import = Command::new(env!("CARGO_BIN_EXE_seedclock"));
    import.arg("--bench").arg(&fresh).arg("import").arg(&moved).stdout(Stdio::null());
    assert!(import.status().unwrap().success());
    let as_of = rfc3339(time(now_us));
    let (mut ours, mut theirs) = (Vec::new(), Vec::new());
    let mut told = (serde_json::Value::Null, serde_json::Value::Null);
    println!("| `fit` | `forecast` | both | plain |");
    println!("|---|---|---|---|");
    for _ in 0..ROUNDS {
        let _ = std::fs::remove_file(&bench);
        std::fs::copy(&fresh, &bench).unwrap();
        let begun = Instant::now();
        let asked = |words: &[&str]| {
            let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
            command.arg("--bench").arg(&bench).args(words).arg("--json");
            json_of(&mut command)
        };
        asked(&["fit"]);
        let fit = begun.elapsed().as_secs_f64();
        told.0 = asked(&["forecast", "--days", DAYS_AHEAD]);
        ours.push(begun.elapsed().as_secs_f64());
        let begun = Instant::now();
        let mut command = Command::new(python);
        command
            .arg(script("plain_forecast.py"))
            .arg(&moved)
            .args(["--as-of", &as_of, "--days", DAYS_AHEAD])
            .env("OMP_NUM_THREADS", "1");
        told.1 = json_of(&mut command);
        theirs.push(begun.elapsed().as_secs_f64());
        let both = ours[ours.len() - 1];
        println!("| {fit:.3} s | {:.3} s | {both:.3} s | {:.2} s |", both - fit, theirs[theirs.len() - 1]);
    }
    let least = |seconds: &[f64]| seconds.iter().copied().fold(f64::INFINITY, f64::min);
    println!("least of either: {:.3} s and {:.2} s, {:.1} times", least(&ours), least(&theirs), least(&theirs) / least(&ours));
    compared(&told.0, &told.1);
}

fn json_of(command: &mut Command) -> serde_json::Value {
    let output = command.output().unwrap();
    assert!(output.status.success(), "{}", String::from_utf8_lossy(&output.stderr));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn utc(text: &str) -> Option<Time> {
    chrono::DateTime::parse_from_rfc3339(text).ok().map(|time| time.to_utc())
}

/// Copies a bench folder with every time in it `by_us` later.
fn moved_to(from: &Path, to: &Path, by_us: i64) {
    std::fs::create_dir(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let entry = entry.unwrap();
        let mut table = csv::ReaderBuilder::new().has_headers(false).from_path(entry.path()).unwrap();
        let mut written = csv::Writer::from_path(to.join(entry.file_name())).unwrap();
        for row in table.records() {
            let moved =
                |field: &str| utc(field).map_or_else(|| field.to_string(), |at| rfc3339(time(at.timestamp_micros() + by_us)));
            written.write_record(row.unwrap().iter().map(moved)).unwrap();
        }
        written.flush().unwrap();
    }
}

/// How far two forecasts lie apart: middle dates against how wide the ranges are, counts by date in seeds.
fn compared(ours: &serde_json::Value, theirs: &serde_json::Value) {
    let (mut dates, mut counts) = (Vec::new(), Vec::new());
    for mine in ours["containers"].as_array().unwrap() {
        let other = theirs["containers"].as_array().unwrap().iter().find(|other| other["container"] == mine["container"]).unwrap();
        for event in ["first", "half", "last"] {
            let at = |of: &serde_json::Value, point: &str| {
                Some(utc(of[event][point].as_str()?)?.timestamp_micros() as f64 / DAY_US as f64)
            };
            let all = [at(mine, "p50"), at(other, "p50"), at(other, "p10"), at(other, "p90")];
            if let [Some(mine), Some(theirs), Some(low), Some(high)] = all {
                dates.push(((mine - theirs).abs(), (mine - theirs).abs() / (high - low).max(0.1)));
            }
        }
        for (mine, other) in mine["by_date"].as_array().unwrap().iter().zip(other["by_date"].as_array().unwrap()) {
            for (level, count) in mine["quantiles"].as_object().unwrap() {
                counts.push((count.as_f64().unwrap() - other["quantiles"][level].as_f64().unwrap()).abs());
            }
        }
    }
    let mean = |list: &[f64]| list.iter().sum::<f64>() / list.len() as f64;
    let most = |list: &[f64]| list.iter().copied().fold(0.0, f64::max);
    let (days, ranges): (Vec<f64>, Vec<f64>) = dates.into_iter().unzip();
    println!(
        "middle dates ({}): {:.2} days apart, at most {:.2}; {:.2} of the range p10 to p90, at most {:.2}",
        days.len(),
        mean(&days),
        most(&days),
        mean(&ranges),
        most(&ranges)
    );
    println!("counts by date ({}): {:.2} seeds apart, at most {}", counts.len(), mean(&counts), most(&counts));
}

/// Seconds, and the peak of resident memory in MB, as Linux tells it of a running process.
fn whole_process(path: &Path, command: &str) -> (f64, u64) {
    let begun = Instant::now();
    let mut process = Command::new(env!("CARGO_BIN_EXE_seedclock"))
        .arg("--bench")
        .arg(path)
        .args([command, "--json"])
        .stdout(Stdio::null())
        .spawn()
        .unwrap();
    let status = format!("/proc/{}/status", process.id());
    let mut peak = 0;
    loop {
        if let Some(done) = process.try_wait().unwrap() {
            assert!(done.success());
            return (begun.elapsed().as_secs_f64(), peak / 1024);
        }
        let text = std::fs::read_to_string(&status).unwrap_or_default();
        let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:"));
        peak = line.and_then(|line| line.split_whitespace().next()?.parse().ok()).unwrap_or(peak);
        std::thread::sleep(Duration::from_millis(1));
    }
}
