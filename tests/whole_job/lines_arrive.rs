//! Lines that another process writes into a pseudo-terminal become readings, and move the forecast of the box beside that probe.

use std::fmt::Write as _;
use std::io::{BufRead, BufReader, Write as _};
use std::path::PathBuf;
use std::process::{Child, ChildStdin, Command, Stdio};

use chrono::{DateTime, Duration, SecondsFormat, Utc};
use seedclock::bench::Name;
use seedclock::clock::{Clock, SystemClock};
use seedclock::store::Store;
use serde_json::Value;

use crate::asking::{Asked, Files, named};
use crate::devices::harness::Logging;

/// A board of its own: makes a pseudo-terminal, says which, and prints on it what it is given.
const BOARD: &str = "import os, sys, tty
board, port = os.openpty()
tty.setraw(port)
print(os.ttyname(port), flush=True)
for line in sys.stdin:
    os.write(board, line.encode())
";

struct Board {
    process: Child,
    lines: ChildStdin,
    port: PathBuf,
}

impl Board {
    fn start() -> Self {
        let mut process =
            Command::new("python3").args(["-c", BOARD]).stdin(Stdio::piped()).stdout(Stdio::piped()).spawn().expect("python3");
        let mut port = String::new();
        BufReader::new(process.stdout.take().unwrap()).read_line(&mut port).unwrap();
        let lines = process.stdin.take().unwrap();
        Self { process, lines, port: PathBuf::from(port.trim()) }
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        // A test that fails must not leave it running; one that ended already is no matter.
        let _ = self.process.kill();
        let _ = self.process.wait();
    }
}

/// Two past sowings at set temperatures, and two boxes sown 30 hours ago side by side at two spots that have been at 9 °C; the
/// last readings are of 110 minutes ago, near enough for the next to join on to.
fn bench(now: DateTime<Utc>) -> Files {
    let at = |before: Duration| (now - before).to_rfc3339_opts(SecondsFormat::Secs, true);
    let mut containers = "container,batch,species,lot,treatment,seeds,sown,spot,event,ended\n".to_owned();
    let mut checks = "container,time,sprouted\n".to_owned();
    // Half of them after 60 °C·d above 5 °C, whole days.
    for (name, spot, sprouted) in
        [("M1", "cool cabinet", [0, 0, 0, 1, 5, 12, 11, 5, 1, 0]), ("M2", "warm cabinet", [0, 1, 11, 17, 5, 1, 0, 0, 0, 0])]
    {
        let sown = Duration::days(60);
        let ended = sown - Duration::days(sprouted.len() as i64);
        writeln!(containers, "{name},past,maca,,,40,{},{spot},radicle,{}", at(sown), at(ended)).unwrap();
        for (day, sprouted) in sprouted.iter().enumerate() {
            writeln!(checks, "{name},{},{sprouted}", at(sown - Duration::days(day as i64 + 1))).unwrap();
        }
    }
    for (name, spot) in [("N1", "sill"), ("N2", "stairs")] {
        writeln!(containers, "{name},present,maca,,,40,{},{spot},radicle,", at(Duration::hours(30))).unwrap();
    }
    let mut readings = "time,probe,celsius\n".to_owned();
    for before in (110..=31 * 60).step_by(30) {
        for probe in ["p1", "p2"] {
            writeln!(readings, "{},{probe},9", at(Duration::minutes(before))).unwrap();
        }
    }
    let since = at(Duration::hours(31));
    let files = [
        ("bench.csv", "key,value\nzone,UTC\n".to_owned()),
        ("containers.csv", containers),
        ("checks.csv", checks),
        ("probes.csv", format!("probe,spot,since\np1,sill,{since}\np2,stairs,{since}\n")),
        ("spots.csv", "spot,set_c\ncool cabinet,15\nwarm cabinet,22\nsill,\nstairs,\n".to_owned()),
        ("readings.csv", readings),
    ];
    files.map(|(name, text)| (name.to_owned(), text)).into()
}

/// The middle of the dates by which half of a box's seeds will be up.
fn half(forecast: &Value, container: &str) -> DateTime<Utc> {
    let half = &named(&forecast["containers"], "container", container)["half"]["p50"];
    half.as_str().unwrap_or_else(|| panic!("no date for {container}: {forecast:#}")).parse().unwrap()
}

#[test]
fn lines_of_another_process_become_readings_and_move_the_forecast_beside_that_probe() {
    let asked = Asked::about(&bench(SystemClock.now()));
    let before = asked.json(&["forecast"]);
    let begun = SystemClock.now();

    let mut board = Board::start();
    let mut logging = Logging::into(&asked.bench(), &[&board.port], &["--commit-every", "0.2s"]);
    logging.wait_for_words("listening", 1);
    // The sill has become warm; on the stairs it is as before. What comes first may be the rest of a line, and is left out.
    board.lines.write_all(b"26\np1,26\np2,9\np1,26.125\np2,9\np1,26\np2,9\n").unwrap();
    board.lines.flush().unwrap();
    let new = |probe: &str| -> Vec<Option<f64>> {
        let store = Store::open_read_only(&asked.bench()).unwrap();
        let readings = store.readings(&Name::new(probe).unwrap(), begun.timestamp_micros(), i64::MAX).unwrap();
        readings.iter().map(|reading| reading.raw_c()).collect()
    };
    logging.wait_until("three readings of each probe", |_| new("p1").len() >= 3 && new("p2").len() >= 3);
    let (status, said) = logging.stop("INT");
    assert_eq!(status.code(), Some(0), "{said}");
    assert_eq!((new("p1"), new("p2")), (vec![Some(26.0), Some(26.125), Some(26.0)], vec![Some(9.0); 3]));

    // The readings from halfway to the one before count as the sill's warmth, and days like it may come again.
    let after = asked.json(&["forecast"]);
    let days = |container| (half(&before, container) - half(&after, container)).as_seconds_f64() / 86_400.0;
    let (sill, stairs) = (days("N1"), days("N2"));
    assert!(sill > 0.5, "the box beside the probe moved by {sill:.2} days only");
    assert!(stairs.abs() < 0.25, "the box elsewhere moved by {stairs:.2} days");
}
