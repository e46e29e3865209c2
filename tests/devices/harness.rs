//! A running `seedclock log`, what it says, and what has reached its bench.

use std::io::Read;
use std::os::unix::fs::symlink;
use std::path::{Path, PathBuf};
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::{Arc, Mutex};
use std::thread::JoinHandle;
use std::time::{Duration, Instant};

use seedclock::bench::{Name, Reading};
use seedclock::probes::{Port, Speed};
use seedclock::store::Store;

/// Nothing here takes a tenth of this; it ends what would hang.
const DEADLINE: Duration = Duration::from_secs(60);
const LOOK_EVERY: Duration = Duration::from_millis(10);

/// A folder of its own with a bench, and ports under names that stay while the boards behind them change.
pub(crate) struct Desk {
    folder: tempfile::TempDir,
}

impl Desk {
    pub(crate) fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    pub(crate) fn bench(&self) -> PathBuf {
        self.folder.path().join("bench.db")
    }

    pub(crate) fn port(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Makes `name` lead to `device`, in one step, as the system does for a board plugged in.
    pub(crate) fn plug(&self, name: &str, device: &Path) -> PathBuf {
        let (port, new) = (self.port(name), self.port(&format!("{name}.new")));
        symlink(device, &new).unwrap();
        std::fs::rename(new, &port).unwrap();
        port
    }

    /// Every reading of every probe, by probe and in order of time.
    pub(crate) fn readings(&self) -> Vec<(Name, Reading)> {
        let store = Store::open_read_only(&self.bench()).unwrap();
        let probes = store.probes().unwrap();
        let of = |probe: Name| -> Vec<(Name, Reading)> {
            let readings = store.readings(&probe, i64::MIN, i64::MAX).unwrap();
            readings.into_iter().map(|reading| (probe.clone(), reading)).collect()
        };
        probes.into_iter().flat_map(|span| of(span.probe)).collect()
    }

    /// The readings as `probe,°C`, which is empty where there was no number.
    pub(crate) fn values(&self) -> Vec<String> {
        let shown = |(probe, reading): (Name, Reading)| {
            format!("{probe},{}", reading.raw_c().map(|celsius| celsius.to_string()).unwrap_or_default())
        };
        self.readings().into_iter().map(shown).collect()
    }
}

/// The program, logging.
pub(crate) struct Logging {
    child: Child,
    said: Arc<Mutex<Vec<u8>>>,
    listener: Option<JoinHandle<()>>,
}

impl Logging {
    /// Starts `seedclock log` on `ports` with further `options`.
    pub(crate) fn start(desk: &Desk, ports: &[&Path], options: &[&str]) -> Self {
        Self::into(&desk.bench(), ports, options)
    }

    /// The same into any bench.
    pub(crate) fn into(bench: &Path, ports: &[&Path], options: &[&str]) -> Self {
        Self::by(program(bench), ports, options)
    }

    /// The same by a command prepared otherwise.
    pub(crate) fn by(mut command: Command, ports: &[&Path], options: &[&str]) -> Self {
        // Dated whatever keeps the clock of the machine that runs the tests.
        command.arg("log").args(["--clock", "trusted"]).args(options);
        ports.iter().for_each(|port| {
            command.arg("--port").arg(port);
        });
        let mut child = command.stderr(Stdio::piped()).stdout(Stdio::null()).stdin(Stdio::null()).spawn().unwrap();
        let mut stderr = child.stderr.take().unwrap();
        let said = Arc::new(Mutex::new(Vec::new()));
        let listener = std::thread::spawn({
            let said = Arc::clone(&said);
            move || {
                let mut bytes = [0; 1024];
                while let Ok(count @ 1..) = stderr.read(&mut bytes) {
                    said.lock().unwrap().extend_from_slice(&bytes[..count]);
                }
            }
        });
        Self { child, said, listener: Some(listener) }
    }

    pub(crate) fn pid(&self) -> u32 {
        self.child.id()
    }

    /// All it has said so far.
    pub(crate) fn said(&self) -> String {
        String::from_utf8(self.said.lock().unwrap().clone()).unwrap()
    }

    /// Whether it has ended.
    pub(crate) fn has_ended(&mut self) -> bool {
        self.child.try_wait().unwrap().is_some()
    }

    /// Waits until `done` holds or it has ended, as it may.
    pub(crate) fn wait_until_or_end(&mut self, what: &str, mut done: impl FnMut(&str) -> bool) {
        let begun = Instant::now();
        while !done(&self.said()) && !self.has_ended() {
            assert!(begun.elapsed() < DEADLINE, "waited in vain for {what}; it had said:\n{}", self.said());
            std::thread::sleep(LOOK_EVERY);
        }
    }

    /// Waits until `done` holds; a program that ended or a deadline that passed fails with all that was said.
    pub(crate) fn wait_until(&mut self, what: &str, mut done: impl FnMut(&str) -> bool) {
        let begun = Instant::now();
        while !done(&self.said()) {
            if let Some(status) = self.child.try_wait().unwrap() {
                panic!("ended with {status} while waiting for {what}; it had said:\n{}", self.said());
            }
            assert!(begun.elapsed() < DEADLINE, "waited in vain for {what}; it had said:\n{}", self.said());
            std::thread::sleep(LOOK_EVERY);
        }
    }

    /// Waits until it has said `words` at least `times` times.
    pub(crate) fn wait_for_words(&mut self, words: &str, times: usize) {
        self.wait_until(&format!("'{words}' ({times})"), |said| said.matches(words).count() >= times);
    }

    /// Sends a signal (by its name, as `kill` takes it) and waits for the end; gives all that was said.
    pub(crate) fn stop(self, signal: &str) -> (ExitStatus, String) {
        let sent = Command::new("kill").arg(format!("-{signal}")).arg(self.pid().to_string()).status().unwrap();
        assert!(sent.success(), "could not send {signal}");
        self.end()
    }

    /// Waits until it ends, by itself or as it was told; gives all that was said.
    pub(crate) fn end(mut self) -> (ExitStatus, String) {
        let begun = Instant::now();
        let status = loop {
            if let Some(status) = self.child.try_wait().unwrap() {
                break status;
            }
            assert!(begun.elapsed() < DEADLINE, "it did not end; it had said:\n{}", self.said());
            std::thread::sleep(LOOK_EVERY);
        };
        self.listener.take().unwrap().join().unwrap();
        (status, self.said())
    }
}

impl Drop for Logging {
    fn drop(&mut self) {
        // A test that fails must not leave it running; one that stopped already is no matter.
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Has `strace` look on at a running program, with these options; it does so when this returns.
pub(crate) fn strace(logging: &Logging, options: &[&str]) -> Child {
    let mut strace = Command::new("strace");
    strace.args(["-f", "-p", &logging.pid().to_string()]).args(options).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = strace.spawn().unwrap_or_else(|error| panic!("strace: {error}; `tests/all` installs it"));
    let mut said = std::io::BufReader::new(child.stderr.take().unwrap());
    let mut line = String::new();
    while !line.contains(" attached") {
        line.clear();
        assert!(std::io::BufRead::read_line(&mut said, &mut line).unwrap() > 0, "strace does not attach");
    }
    // What else it says must find somebody, or it waits.
    std::thread::spawn(move || std::io::copy(&mut said, &mut std::io::sink()));
    child
}

/// Has it look away.
pub(crate) fn end_strace(mut strace: Child) {
    assert!(Command::new("kill").args(["-INT", &strace.id().to_string()]).status().unwrap().success());
    strace.wait().unwrap();
}

/// The probe whose lines on `port` name none.
pub(crate) fn own_probe(port: &Path) -> Name {
    Port { path: port.to_path_buf(), speed: Speed::Given(9600) }.own_probe().unwrap()
}

/// The built program on a bench.
pub(crate) fn program(bench: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
    command.arg("--bench").arg(bench).env("TZ", "Europe/Berlin");
    command
}
