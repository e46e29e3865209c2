//! The logger under load, as a whole program reading pseudo-terminals: `cargo bench --bench logger [-- soak MINUTES]`.
//!
//! Two loads of ten seconds each, with a reader that asks for the last readings every 20 ms meanwhile: 8 probes on one port at
//! 10,000 lines a second, and 64 ports at 10 lines a second each. Every line must be on record in the end. Printed: lines lost, the
//! processor's time that the logger took, its highest memory, and the slowest answer to the reader. `soak` prints 1,000 lines a second over four
//! ports, pulls one of them out every 20 seconds, and prints memory and open files each minute: they must stay flat.
//!
//! Last figures (two cores of an AMD EPYC in a virtual machine):
//!
//! | load | lines | lost | of a core | memory at most | slowest answer to a reader |
//! |---|---|---|---|---|---|
//! | 8 probes on one port, 10,000 lines/s | 100,000 | 0 | 2.4 % | 16 MB | 1.2 ms |
//! | 64 ports, 10 lines/s each | 6,400 | 0 | 1.7 % | 15 MB | 1.7 ms |
//!
//! `soak 60`: 3,600,000 lines, none lost; 13.5 MB from the second minute to the last; 19 files open throughout; 1.5 % of a core, with
//! other work on both cores.

#![expect(clippy::expect_used, clippy::print_stdout, reason = "a measurement run by hand")]

use std::path::{Path, PathBuf};
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering};
use std::time::{Duration, Instant};

use seedclock::bench::Name;
use seedclock::probes::Player;
use seedclock::store::Store;

const SECONDS: u64 = 10;
/// Lines are printed so many times a second, as many at a time as the rate wants.
const STROKES: u64 = 100;

struct Logger {
    child: Child,
    bench: PathBuf,
}

impl Logger {
    /// Starts on `ports`, behind which these boards stand, and waits until each is opened.
    fn start(folder: &Path, ports: &[PathBuf], boards: &[Player]) -> Self {
        let bench = folder.join("bench.db");
        let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
        command.arg("--bench").arg(&bench).args(["log", "--clock", "trusted", "--commit-every", "1s"]);
        ports.iter().for_each(|port| {
            command.arg("--port").arg(port);
        });
        let child = command.stderr(Stdio::null()).spawn().expect("the built program");
        let logger = Self { child, bench };
        let begun = Instant::now();
        while boards.iter().any(|board| logger.holds(board.path()) == 0) {
            assert!(begun.elapsed() < Duration::from_secs(60), "the ports are not opened");
            std::thread::sleep(Duration::from_millis(20));
        }
        logger
    }

    fn holds(&self, port: &Path) -> usize {
        let files = std::fs::read_dir(format!("/proc/{}/fd", self.child.id())).into_iter().flatten().flatten();
        files.filter(|file| std::fs::read_link(file.path()).is_ok_and(|path| path == port)).count()
    }

    fn kilobytes(&self, what: &str) -> u64 {
        let status = std::fs::read_to_string(format!("/proc/{}/status", self.child.id())).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix(what)).unwrap_or(": 0");
        line.trim_start_matches(':').split_whitespace().next().and_then(|text| text.parse().ok()).unwrap_or(0)
    }

    /// Seconds of a processor, of a hundred ticks each (proc(5)).
    fn processor_s(&self) -> f64 {
        let stat = std::fs::read_to_string(format!("/proc/{}/stat", self.child.id())).unwrap_or_default();
        let fields: Vec<&str> = stat.rsplit(')').next().unwrap_or_default().split_whitespace().collect();
        let ticks = |at: usize| fields.get(at).and_then(|text| text.parse::<f64>().ok()).unwrap_or(0.0);
        (ticks(11) + ticks(12)) / 100.0
    }

    fn open_files(&self) -> usize {
        std::fs::read_dir(format!("/proc/{}/fd", self.child.id())).map_or(0, Iterator::count)
    }

    fn stored(&self) -> u64 {
        let Ok(store) = Store::open_read_only(&self.bench) else { return 0 };
        let probes = store.probes().unwrap_or_default();
        probes.iter().map(|span| store.readings(&span.probe, i64::MIN, i64::MAX).map_or(0, |readings| readings.len() as u64)).sum()
    }

    fn stop(mut self) -> u64 {
        let told = Command::new("kill").arg(self.child.id().to_string()).status().expect("kill");
        assert!(told.success() && self.child.wait().expect("its end").success(), "it ends well");
        self.stored()
    }
}

/// Prints so many lines a second for some seconds, `p<first>` and on in turn, each with another value.
fn print(board: &mut Player, first: u64, probes: u64, rate: u64, seconds: u64) -> u64 {
    let (begun, mut printed) = (Instant::now(), 0);
    board.print(b"\n").expect("a port");
    for stroke in 1..=STROKES * seconds {
        let until = rate * stroke / STROKES;
        let lines: String =
            (printed..until).map(|n| format!("p{},{}.{:04}\n", first + n % probes, n / 10_000 % 100, n % 10_000)).collect();
        board.print(lines.as_bytes()).expect("a port");
        printed = until;
        std::thread::sleep((Duration::from_millis(1000 / STROKES) * stroke as u32).saturating_sub(begun.elapsed()));
    }
    printed
}

fn load(name: &str, ports: usize, probes: u64, rate: u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let boards: Vec<Player> = (0..ports).map(|_| Player::new().expect("a pseudo-terminal")).collect();
    let paths: Vec<PathBuf> = boards.iter().map(|board| board.path().to_path_buf()).collect();
    let logger = Logger::start(folder.path(), &paths, &boards);
    let before_s = logger.processor_s();
    let (stop, slowest_us) = (Arc::new(AtomicBool::new(false)), Arc::new(AtomicU64::new(0)));
    let reader = std::thread::spawn({
        let (stop, slowest_us, bench) = (Arc::clone(&stop), Arc::clone(&slowest_us), logger.bench.clone());
        move || {
            let probe = Name::new("p0").expect("a name");
            while !stop.load(Ordering::SeqCst) {
                let begun = Instant::now();
                if let Ok(store) = Store::open_read_only(&bench) {
                    let _ = store.last_times(&probe, chrono::DateTime::<chrono::Utc>::MAX_UTC, 5_000);
                }
                slowest_us.fetch_max(begun.elapsed().as_micros() as u64, Ordering::SeqCst);
                std::thread::sleep(Duration::from_millis(20));
            }
        }
    });
    let printers: Vec<_> = boards
        .into_iter()
        .enumerate()
        .map(|(n, mut board)| {
            std::thread::spawn(move || {
                let printed = print(&mut board, n as u64 * probes, probes, rate, SECONDS);
                (printed, board)
            })
        })
        .collect();
    // The boards stay plugged in until everything has been read.
    let ended: Vec<(u64, Player)> = printers.into_iter().map(|printer| printer.join().expect("a board")).collect();
    let printed: u64 = ended.iter().map(|(printed, _)| printed).sum();
    let (processor_s, peak) = (logger.processor_s() - before_s, logger.kilobytes("VmHWM"));
    stop.store(true, Ordering::SeqCst);
    reader.join().expect("the reader");
    let stored = logger.stop();
    println!(
        "{name}: {printed} lines, {} lost; {:.1} % of a core, {:.0} MB at most; slowest answer to a reader {:.1} ms",
        printed - stored,
        processor_s / SECONDS as f64 * 100.0,
        peak as f64 / 1024.0,
        slowest_us.load(Ordering::SeqCst) as f64 / 1000.0
    );
    assert_eq!(stored, printed, "{name}: lines are lost");
}

/// A thousand lines a second over four ports; each is pulled out in turn, once all it printed is on record.
fn soak(minutes: u64) {
    let folder = tempfile::tempdir().expect("a folder");
    let link = |n: u64| folder.path().join(format!("board{n}"));
    let plug = |n: u64| {
        let board = Player::new().expect("a pseudo-terminal");
        let new = folder.path().join(format!("board{n}.new"));
        std::os::unix::fs::symlink(board.path(), &new).and_then(|()| std::fs::rename(&new, link(n))).expect("a link");
        board
    };
    let mut boards: Vec<Player> = (0..4).map(plug).collect();
    let ports: Vec<PathBuf> = (0..4).map(link).collect();
    let logger = Logger::start(folder.path(), &ports, &boards);
    let mut printed = 0;
    let begun = Instant::now();
    for round in 1..=minutes * 3 {
        let printers: Vec<_> = std::mem::take(&mut boards)
            .into_iter()
            .zip(0..)
            .map(|(mut board, n)| std::thread::spawn(move || (print(&mut board, n * 2, 2, 250, 20), board)))
            .collect();
        for printer in printers {
            let (lines, board) = printer.join().expect("a board");
            printed += lines;
            boards.push(board);
        }
        if round % 3 == 0 {
            println!(
                "{:>4} min: {printed} lines, {:.1} MB, {} files open, {:.1} s of a processor",
                begun.elapsed().as_secs() / 60,
                logger.kilobytes("VmRSS") as f64 / 1024.0,
                logger.open_files(),
                logger.processor_s()
            );
        }
        let pulled = round % 4;
        let waiting = Instant::now();
        while logger.stored() < printed {
            assert!(waiting.elapsed() < Duration::from_secs(60), "{} of {printed} lines are on record", logger.stored());
            std::thread::sleep(Duration::from_millis(200));
        }
        boards[pulled as usize] = plug(pulled);
        while logger.holds(boards[pulled as usize].path()) == 0 {
            assert!(waiting.elapsed() < Duration::from_secs(60), "the port is not opened again");
            std::thread::sleep(Duration::from_millis(50));
        }
    }
    assert_eq!(logger.stop(), printed, "lines are lost");
    println!("none lost of {printed}");
}

fn main() {
    let arguments: Vec<String> = std::env::args().skip(1).filter(|argument| !argument.starts_with("--")).collect();
    match arguments.iter().map(String::as_str).collect::<Vec<_>>()[..] {
        ["soak", minutes] => soak(minutes.parse().expect("minutes")),
        _ => {
            load("8 probes on one port, 10,000 lines/s", 1, 8, 10_000);
            load("64 ports, 10 lines/s each", 64, 1, 10);
        }
    }
}
