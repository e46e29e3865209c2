//! The page of a bench with 200 boxes and 10 million readings, over its own connections: `cargo bench --bench page -- [FILE]` writes the
//! bench to FILE, or takes it from there.
//!
//! It prints its figures; those of a quiet machine have still to be written down here.

#![expect(clippy::unwrap_used, clippy::panic, clippy::print_stdout, reason = "a measurement run by hand")]

#[path = "large_bench.rs"]
mod large_bench;

use std::io::{BufRead as _, BufReader, Read as _, Write as _};
use std::net::{SocketAddr, TcpStream};
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::time::{Duration, Instant};

use large_bench::{Size, write};
use seedclock::probes::Player;
use seedclock::store::Store;

const SIZE: Size = Size { probes: 16, readings: 10_000_000, spacing_us: 60_000_000, past: 100, present: 100 };
const ROUNDS: usize = 40;
const LOAD_SECONDS: u64 = 20;
const REQUESTS_PER_SECOND: u64 = 50;
const LINES_PER_SECOND: u64 = 1_000;
const BOX: &str = "N150";

fn main() {
    let file = std::env::args().skip(1).find(|word| !word.starts_with('-'));
    let folder = tempfile::tempdir().unwrap();
    let path = file.map_or_else(|| folder.path().join("bench.db"), PathBuf::from);
    if !path.exists() {
        let readings = std::env::var("SEEDCLOCK_READINGS").ok().and_then(|text| text.parse().ok()).unwrap_or(SIZE.readings);
        let begun = Instant::now();
        write(&path, &Size { readings, ..SIZE });
        println!("{readings} readings written in {:.1} s", begun.elapsed().as_secs_f64());
    }
    let begun = Instant::now();
    let (mut page, address) = serve(&path, &["page", "--listen", "127.0.0.1:0"]);
    println!("listens after {:.0} ms", 1e3 * begun.elapsed().as_secs_f64());
    println!("Today, nothing worked out yet: {}", milliseconds(&[seconds(address, "GET", "/", "").0]));
    while answer(address, "GET", "/", "").contains("being worked out") {
        std::thread::sleep(Duration::from_millis(100));
    }
    println!("worked out after {:.1} s; {} MB at the most", begun.elapsed().as_secs_f64(), peak_mb(&page));
    let of = |path: &str| -> Vec<f64> { (0..ROUNDS).map(|_| seconds(address, "GET", path, "").0).collect() };
    for (what, path) in [
        ("Today", "/".to_owned()),
        ("a round", "/round/spot%206".to_owned()),
        ("a box", format!("/box/{BOX}")),
        ("its figure of sprouts", format!("/box/{BOX}/sprouts.svg")),
        ("its figure of warmth", format!("/box/{BOX}/warmth.svg")),
    ] {
        println!("{what}: {}, {:.0} kB", milliseconds(&of(&path)), weight(address, &path));
    }
    let today = answer(address, "GET", "/", "");
    let assets = ["page.css", "page.js"].map(|name| {
        let (_, after) = today.split_once("/assets/").unwrap();
        weight(address, &format!("/assets/{}/{name}", after.split('/').next().unwrap()))
    });
    println!("style and script: {:.0} kB", assets.iter().sum::<f64>());
    let checks: Vec<f64> = (0..ROUNDS)
        .map(|nth| {
            let look = format!(
                r#"{{"request":"{:016x}{nth:016x}","at_ms":0,"sent_ms":0,"looks":[{{"box":"{BOX}","sprouted":0}}]}}"#,
                std::process::id()
            );
            let (seconds, answer) = seconds(address, "POST", "/do/looks", &look);
            assert!(answer.starts_with("HTTP/1.1 200"), "{answer}");
            seconds
        })
        .collect();
    println!("a check, until it is stored: {}", milliseconds(&checks));
    end(&mut page);
    under_load(&path);
}

/// Fifty requests a second while a thousand lines a second are logged.
fn under_load(path: &std::path::Path) {
    let before = count(path);
    let mut board = Player::new().unwrap();
    let port = board.path().to_str().unwrap().to_owned();
    let (mut logger, address) = serve(
        path,
        &["log", "--clock", "trusted", "--port", &port, "--baud", "9600", "--commit-every", "1s", "--page", "127.0.0.1:0"],
    );
    let printing = std::thread::spawn(move || {
        board.print(b"\n").unwrap();
        let begun = Instant::now();
        for line in 0..LINES_PER_SECOND * LOAD_SECONDS {
            board.print(format!("bench probe,{}.5\n", 10 + line % 20).as_bytes()).unwrap();
            let due = Duration::from_micros(1_000_000 * line / LINES_PER_SECOND);
            std::thread::sleep(due.saturating_sub(begun.elapsed()));
        }
        board
    });
    let begun = Instant::now();
    let mut took = Vec::new();
    for nth in 0..REQUESTS_PER_SECOND * LOAD_SECONDS {
        let path = ["/", "/round/spot%206", "/box/N150", "/box/N151", "/round"][nth as usize % 5];
        took.push(seconds(address, "GET", path, "").0);
        let due = Duration::from_micros(1_000_000 * nth / REQUESTS_PER_SECOND);
        std::thread::sleep(due.saturating_sub(begun.elapsed()));
    }
    let lasted = begun.elapsed().as_secs_f64();
    let board = printing.join().unwrap();
    std::thread::sleep(Duration::from_secs(3));
    end(&mut logger);
    drop(board);
    let logged = count(path) - before;
    println!(
        "under load: {} requests in {lasted:.1} s, {}; {logged} of {} lines stored",
        took.len(),
        milliseconds(&took),
        LINES_PER_SECOND * LOAD_SECONDS
    );
}

fn count(path: &std::path::Path) -> usize {
    let store = Store::open_read_only(path).unwrap();
    let probe = seedclock::bench::Name::new("bench probe").unwrap();
    store.readings(&probe, i64::MIN, i64::MAX).map_or(0, |readings| readings.len())
}

/// Begins the program, and waits until its page listens.
fn serve(path: &std::path::Path, words: &[&str]) -> (Child, SocketAddr) {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
    command.arg("--bench").arg(path).args(words).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = command.spawn().unwrap();
    let mut said = BufReader::new(child.stderr.take().unwrap()).lines();
    let address = said.find_map(|line| {
        let line = line.unwrap();
        Some(line.split_once("the page is at http://")?.1.split(';').next()?.parse().unwrap())
    });
    std::thread::spawn(move || said.for_each(drop));
    (child, address.unwrap_or_else(|| panic!("it ended")))
}

fn end(child: &mut Child) {
    Command::new("kill").arg(child.id().to_string()).status().unwrap();
    child.wait().unwrap();
}

fn seconds(address: SocketAddr, method: &str, path: &str, body: &str) -> (f64, String) {
    let begun = Instant::now();
    let answer = answer(address, method, path, body);
    (begun.elapsed().as_secs_f64(), answer)
}

fn answer(address: SocketAddr, method: &str, path: &str, body: &str) -> String {
    let mut stream = TcpStream::connect(address).unwrap();
    let request = format!(
        "{method} {path} HTTP/1.1\r\nhost: {address}\r\norigin: http://{address}\r\nx-seedclock: 1\r\ncontent-type: application/json\r\n\
         connection: close\r\ncontent-length: {}\r\n\r\n{body}",
        body.len()
    );
    stream.write_all(request.as_bytes()).unwrap();
    let mut read = String::new();
    stream.read_to_string(&mut read).unwrap();
    assert!(read.starts_with("HTTP/1.1 2"), "{method} {path}: {}", read.lines().next().unwrap_or_default());
    read
}

fn weight(address: SocketAddr, path: &str) -> f64 {
    answer(address, "GET", path, "").len() as f64 / 1e3
}

fn milliseconds(seconds: &[f64]) -> String {
    let mut sorted = seconds.to_vec();
    sorted.sort_by(f64::total_cmp);
    let at = |share: f64| 1e3 * sorted[((sorted.len() - 1) as f64 * share).round() as usize];
    format!("{:.1} ms in the middle, {:.1} ms 19 times in 20, {:.1} ms at the most", at(0.5), at(0.95), at(1.0))
}

fn peak_mb(child: &Child) -> u64 {
    let text = std::fs::read_to_string(format!("/proc/{}/status", child.id())).unwrap();
    let line = text.lines().find_map(|line| line.strip_prefix("VmHWM:")).unwrap();
    line.split_whitespace().next().unwrap().parse::<u64>().unwrap() / 1024
}
