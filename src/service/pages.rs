//! The page beside the logger: a process of its own, so that whatever it needs or runs into can do nothing to logging. It ends with the
//! logger, however that ends: by its standard input, which is then closed.

use std::io::{BufRead as _, BufReader};
use std::net::SocketAddr;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process, setpriority_process};

/// One that ended is begun again after so long, twice as long each time, up to [`LONGEST_WAIT`].
const FIRST_WAIT: Duration = Duration::from_secs(2);
const LONGEST_WAIT: Duration = Duration::from_secs(300);
/// One that ran for so many looks is well again.
const WELL_AFTER_LOOKS: u32 = 600;
const LOOK_EVERY: Duration = Duration::from_millis(500);
/// How long it may take to end, in looks.
const END_LOOKS: u32 = 10;
/// Logging comes first.
const NICE: i32 = 5;

/// What the page's process is begun with.
#[derive(Debug, Clone)]
pub struct PageProcess {
    /// This program.
    pub program: PathBuf,
    /// The bench.
    pub bench: PathBuf,
    /// Where it listens.
    pub listen: Vec<SocketAddr>,
    /// Names of this computer on the local network.
    pub names: Vec<String>,
}

/// Keeps the page's process running until it is dropped.
#[derive(Debug)]
pub struct Pages {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Pages {
    /// Begins; what the process says is told by `tell`, as are its ends.
    ///
    /// # Errors
    /// Where no thread can be started.
    pub fn begin(process: PageProcess, tell: impl Fn(String) + Send + Sync + Clone + 'static) -> std::io::Result<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let thread = std::thread::Builder::new().name("pages".to_owned()).spawn({
            let stop = Arc::clone(&stop);
            move || {
                let mut wait = FIRST_WAIT;
                while !stop.load(Ordering::SeqCst) {
                    let (looks, end) = run(&process, &stop, &tell);
                    if stop.load(Ordering::SeqCst) {
                        return;
                    }
                    if looks >= WELL_AFTER_LOOKS {
                        wait = FIRST_WAIT;
                    }
                    tell(format!("the page {end}; it is begun again in {} s; logging goes on", wait.as_secs()));
                    std::thread::park_timeout(wait);
                    wait = (2 * wait).min(LONGEST_WAIT);
                }
            }
        })?;
        Ok(Self { stop, thread: Some(thread) })
    }
}

impl Drop for Pages {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
    }
}

/// Runs it until it ends or is to; after how many looks, and how it ended.
fn run(process: &PageProcess, stop: &AtomicBool, tell: &(impl Fn(String) + Send + Clone + 'static)) -> (u32, String) {
    let mut command = Command::new(&process.program);
    command.arg("--bench").arg(&process.bench).args(["page", "--until-input-ends"]);
    process.listen.iter().for_each(|address| {
        command.arg("--listen").arg(address.to_string());
    });
    process.names.iter().for_each(|name| {
        command.arg("--name").arg(name);
    });
    let mut child = match command.stdin(Stdio::piped()).stdout(Stdio::null()).stderr(Stdio::piped()).spawn() {
        Ok(child) => child,
        Err(error) => return (0, format!("could not be begun: {}: {error}", process.program.display())),
    };
    let _ = setpriority_process(i32::try_from(child.id()).ok().and_then(Pid::from_raw), NICE);
    // What it says must find somebody, or it waits.
    let listener = child.stderr.take().map(|errors| {
        let tell = tell.clone();
        std::thread::spawn(move || BufReader::new(errors).lines().map_while(Result::ok).for_each(tell))
    });
    let mut looks = 0;
    let end = loop {
        match child.try_wait() {
            Ok(Some(status)) => break format!("ended with {status}"),
            Ok(None) if stop.load(Ordering::SeqCst) => {
                end(&mut child);
                break "ended with the logger".to_owned();
            }
            Ok(None) => {}
            Err(error) => break error.to_string(),
        }
        looks = u32::saturating_add(looks, 1);
        std::thread::park_timeout(LOOK_EVERY);
    };
    if let Some(listener) = listener {
        let _ = listener.join();
    }
    (looks, end)
}

/// Asks it to end, and makes it where it does not.
fn end(child: &mut Child) {
    drop(child.stdin.take());
    if let Some(pid) = i32::try_from(child.id()).ok().and_then(Pid::from_raw) {
        let _ = kill_process(pid, Signal::TERM);
    }
    for _ in 0..END_LOOKS {
        if matches!(child.try_wait(), Ok(Some(_))) {
            return;
        }
        std::thread::park_timeout(LOOK_EVERY);
    }
    let _ = child.kill();
    let _ = child.wait();
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Mutex;

    fn process(program: &str) -> PageProcess {
        PageProcess { program: PathBuf::from(program), bench: PathBuf::from("b"), listen: Vec::new(), names: Vec::new() }
    }

    #[test]
    fn one_that_ends_or_cannot_be_begun_is_told_and_begun_again_and_one_is_ended_with_the_logger() {
        let told: Arc<Mutex<Vec<String>>> = Arc::default();
        let tell = {
            let told = Arc::clone(&told);
            move |words| told.lock().unwrap().push(words)
        };
        let stop = AtomicBool::new(false);
        let (_, end) = run(&process("/bin/false"), &stop, &tell);
        assert!(end.starts_with("ended with exit status: 1"), "{end}");
        let (_, end) = run(&process("/nowhere/at/all"), &stop, &tell);
        assert!(end.starts_with("could not be begun: /nowhere/at/all"), "{end}");
        let folder = tempfile::tempdir().unwrap();
        let program = folder.path().join("page");
        std::fs::write(&program, "#!/bin/sh\necho here I am >&2\ncat >/dev/null\n").unwrap();
        std::fs::set_permissions(&program, std::os::unix::fs::PermissionsExt::from_mode(0o700)).unwrap();
        let pages = Pages::begin(process(program.to_str().unwrap()), tell).unwrap();
        while told.lock().unwrap().is_empty() {
            std::thread::yield_now();
        }
        drop(pages);
        assert_eq!(*told.lock().unwrap(), ["here I am"]);
    }
}
