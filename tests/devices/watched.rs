//! Probes watched by hand: settling in ice, warming in a hand.

use std::io::{BufRead, BufReader};
use std::path::Path;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex, mpsc};
use std::time::{Duration, Instant};

use seedclock::probes::Player;

use super::harness::{Desk, Logging, program};

const DEADLINE: Duration = Duration::from_secs(60);

/// A board that prints `lines(n)` ten times a second until it is dropped.
struct Board {
    stop: Option<mpsc::Sender<()>>,
    thread: Option<std::thread::JoinHandle<()>>,
}

impl Board {
    fn prints(mut player: Player, lines: impl Fn(usize) -> String + Send + 'static) -> Self {
        let (stop, stopped) = mpsc::channel::<()>();
        let thread = std::thread::spawn(move || {
            for n in 0.. {
                player.print(lines(n).as_bytes()).unwrap();
                if !matches!(stopped.recv_timeout(Duration::from_millis(100)), Err(mpsc::RecvTimeoutError::Timeout)) {
                    return;
                }
            }
        });
        Self { stop: Some(stop), thread: Some(thread) }
    }
}

impl Drop for Board {
    fn drop(&mut self) {
        drop(self.stop.take());
        if let Some(thread) = self.thread.take() {
            let _ = thread.join();
        }
    }
}

/// A command that watches, with what it has said so far.
struct Watching {
    child: Child,
    said: Arc<Mutex<String>>,
}

impl Watching {
    fn start(bench: &Path, arguments: &[&str]) -> Self {
        let mut command = program(bench);
        let mut child =
            command.args(arguments).stdin(Stdio::null()).stdout(Stdio::piped()).stderr(Stdio::inherit()).spawn().unwrap();
        let said = Arc::new(Mutex::new(String::new()));
        let lines = BufReader::new(child.stdout.take().unwrap()).lines();
        let heard = Arc::clone(&said);
        std::thread::spawn(move || lines.map_while(Result::ok).for_each(|line| *heard.lock().unwrap() += &(line + "\n")));
        Self { child, said }
    }

    fn wait_for(&mut self, words: &str) {
        let begun = Instant::now();
        while !self.said.lock().unwrap().contains(words) {
            assert!(begun.elapsed() < DEADLINE, "waited in vain for '{words}': {}", self.said.lock().unwrap());
            std::thread::sleep(Duration::from_millis(10));
        }
    }

    fn end(mut self) -> (ExitStatus, String) {
        let begun = Instant::now();
        loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                return (status, self.said.lock().unwrap().clone());
            }
            assert!(begun.elapsed() < DEADLINE, "it did not end: {}", self.said.lock().unwrap());
            std::thread::sleep(Duration::from_millis(10));
        }
    }
}

fn says(desk: &Desk, arguments: &[&str]) -> String {
    let output = program(&desk.bench()).args(arguments).output().unwrap();
    assert!(output.status.success(), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8(output.stdout).unwrap()
}

/// A logger whose own commits would come far too late, with a board that prints.
fn logging(desk: &Desk, lines: impl Fn(usize) -> String + Send + 'static) -> (Logging, Board) {
    let player = Player::new().unwrap();
    let port = desk.plug("board", player.path());
    let mut logging = Logging::start(desk, &[&port], &["--commit-every", "1h"]);
    logging.wait_for_words("listening", 1);
    let board = Board::prints(player, lines);
    logging.wait_for_words("°C", 1);
    (logging, board)
}

#[test]
fn a_probe_in_ice_is_watched_until_it_is_at_rest_and_its_offset_recorded() {
    let desk = Desk::new();
    let (_logging, _board) = logging(&desk, |n| format!("sill,{:.4}\n", 0.75 + 20.0 * (-(n as f64) / 4.0).exp()));
    says(&desk, &["probe", "place", "sill", "window", "--since", "2026-03-01 08:00"]);
    let ice = Watching::start(&desk.bench(), &["probe", "calibrate", "sill", "--ice", "--steady-for", "2", "--yes"]);
    let (status, said) = ice.end();
    let said = said.replace('\u{a0}', " ");
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(said.contains("at rest: 0.8 °C of "), "{said}");
    assert!(said.contains("so far: not calibrated"), "{said}");
    assert!(said.contains("probe sill: true = 1 × shown -0.7"), "{said}");
    assert!(said.contains("seedclock probe calibrate sill --beside TRUE"), "more than half a degree off: {said}");
}

/// Half an hour ago 0.75 in ice; now 25.4 in water that a good thermometer calls 25 °C (77 °F).
#[test]
fn beside_a_thermometer_a_probe_gets_its_second_point_or_the_first_where_it_has_none() {
    for (first, truth, shown, gain, offset) in
        [(true, "77F", 25.4, 25.0 / 24.65, -0.75 * 25.0 / 24.65), (false, "25", 25.4, 1.0, -0.4)]
    {
        let desk = Desk::new();
        let (_logging, _board) = logging(&desk, move |n| format!("sill,{:.4}\n", shown - 5.0 * (-(n as f64) / 4.0).exp()));
        says(&desk, &["probe", "place", "sill", "window", "--since", "2026-03-01 08:00"]);
        if first {
            says(&desk, &["probe", "calibrate", "sill", "--ice", "0.75", "--since", "2026-03-02 08:00"]);
        }
        let beside =
            Watching::start(&desk.bench(), &["probe", "calibrate", "sill", "--beside", truth, "--steady-for", "2", "--yes"]);
        let (status, said) = beside.end();
        let said = said.replace('\u{a0}', " ");
        assert_eq!(status.code(), Some(0), "{said}");
        assert!(said.starts_with("put probe and thermometer side by side in water of 20 to 30 °C"), "{said}");
        assert!(said.contains("at rest: 25.4 °C of ") && said.contains(" readings, where 25.0 °C is true"), "{said}");
        assert!(said.contains(if first { "(so far: true = 1 × shown -0.75 °C)" } else { "(so far: not calibrated)" }), "{said}");
        let bench = seedclock::store::Store::open_read_only(&desk.bench()).unwrap().bench().unwrap();
        let calibration = bench.placements.last().unwrap().calibration.unwrap();
        assert!((calibration.gain - gain).abs() < 1e-3 && (calibration.offset_c - offset).abs() < 0.02, "{calibration:?}: {said}");
    }
}

#[test]
fn beside_a_thermometer_near_the_ice_point_no_factor_is_made_up_and_ice_and_thermometer_are_not_asked_together() {
    let desk = Desk::new();
    let (_logging, _board) = logging(&desk, |_| "sill,3.5\n".to_owned());
    says(&desk, &["probe", "place", "sill", "window", "--since", "2026-03-01 08:00"]);
    says(&desk, &["probe", "calibrate", "sill", "--ice", "0.5", "--since", "2026-03-02 08:00"]);
    let near = ["probe", "calibrate", "sill", "--beside", "3", "--steady-for", "2", "--yes"];
    let done = program(&desk.bench()).args(near).output().unwrap();
    let told = String::from_utf8(done.stderr).unwrap();
    assert_eq!(done.status.code(), Some(2), "{told}");
    assert!(told.contains("the two points lie less than 5 °C apart") && told.contains("nothing was recorded"), "{told}");
    let both = program(&desk.bench()).args(["probe", "calibrate", "sill", "--beside", "25", "--ice"]).output().unwrap();
    assert!(both.status.code() == Some(2) && String::from_utf8(both.stderr).unwrap().contains("cannot be used with"));
    let bench = seedclock::store::Store::open_read_only(&desk.bench()).unwrap().bench().unwrap();
    assert_eq!(bench.placements.len(), 2, "where it was placed, and the ice");
}

#[test]
fn ctrl_c_while_a_probe_settles_changes_nothing() {
    let desk = Desk::new();
    let (_logging, _board) = logging(&desk, |n| format!("sill,{}.5\n", n % 20));
    says(&desk, &["probe", "place", "sill", "window", "--since", "2026-03-01 08:00"]);
    let placed = || seedclock::store::Store::open_read_only(&desk.bench()).unwrap().bench().unwrap().placements;
    let before = placed();
    let mut ice = Watching::start(&desk.bench(), &["probe", "calibrate", "sill", "--ice", "--yes"]);
    ice.wait_for(".5");
    assert!(Command::new("kill").args(["-INT", &ice.child.id().to_string()]).status().unwrap().success());
    let (status, said) = ice.end();
    assert_eq!(status.code(), Some(130), "{said}");
    assert!(said.ends_with("stopped: nothing was recorded\n"), "{said}");
    assert_eq!(placed(), before);
}

#[test]
fn without_a_logger_watching_says_so_at_once() {
    let desk = Desk::new();
    says(&desk, &["sow", "A3", "--species", "leek", "--seeds", "20", "--spot", "sill"]);
    let output = program(&desk.bench()).args(["probe", "which"]).output().unwrap();
    assert_eq!(output.status.code(), Some(2));
    assert_eq!(
        String::from_utf8(output.stderr).unwrap(),
        "seedclock: no logger runs on this bench, so no reading comes in\n  nothing was changed; next: start it, with `seedclock log`, \
         and leave it running\n"
    );
}

#[test]
fn the_probe_held_in_a_hand_is_named_and_placed() {
    let desk = Desk::new();
    let warms = |n: usize| 20.0 + 12.0 * (1.0 - (-(n.saturating_sub(40) as f64) / 20.0).exp());
    let (_logging, _board) = logging(&desk, move |n| format!("28-00a,19.5\n28-00b,{:.4}\n", warms(n)));
    let which = Watching::start(&desk.bench(), &["probe", "which", "--name", "mat", "--spot", "heat mat", "--yes"]);
    let (status, said) = which.end();
    assert_eq!(status.code(), Some(0), "{said}");
    assert!(said.contains("it is 28-00b\nprobe 28-00b: called mat from now on"), "{said}");
    assert!(said.contains("probe mat: at 'heat mat' from "), "{said}");
    let bench = seedclock::store::Store::open_read_only(&desk.bench()).unwrap().bench().unwrap();
    let placed: Vec<_> = bench.placements.iter().map(|placement| (placement.probe.as_str(), placement.spot.as_str())).collect();
    assert_eq!(placed, [("mat", "heat mat")]);
}
