//! Telling by a command of the grower's own: it gets JSON on its standard input, and so much time.

use std::io::{Read, Write};
use std::os::unix::process::CommandExt as _;
use std::process::{Child, Command, ExitStatus, Stdio};
use std::sync::mpsc::{Receiver, channel};
use std::time::Duration;

use rustix::process::{Pid, Signal, kill_process_group};

use crate::clock::{Clock, SystemClock};

/// As much of what a command says is kept, in characters.
const KEPT: usize = 300;
/// As much of it is read at all, in bytes.
const READ: u64 = 64 * 1024;
/// How often it is looked whether it has ended.
const LOOK_EVERY: Duration = Duration::from_millis(20);
/// What it has said is waited for no longer than this, once it has ended: something that it left behind may hold the other end.
const LAST_WORDS: Duration = Duration::from_millis(500);

/// A command line, run by the shell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AlarmCommand {
    /// As it would be typed.
    pub line: String,
    /// Longer than this it does not run: then it is ended, with all that it has started.
    pub limit: Duration,
}

impl AlarmCommand {
    /// Runs it with `input`; gives what it said.
    ///
    /// # Errors
    /// Why it did not do its work, in words: it could not be started, said no, or took too long.
    pub fn run(&self, input: &str) -> Result<String, String> {
        let mut command = Command::new("/bin/sh");
        command.arg("-c").arg(&self.line).process_group(0);
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::piped());
        let mut child = command.spawn().map_err(|error| format!("it could not be started: {error}"))?;
        if let Some(mut stdin) = child.stdin.take() {
            let input = input.to_owned();
            // A command that does not read must not be waited for here; one that has ended is no matter.
            std::thread::spawn(move || drop(stdin.write_all(input.as_bytes())));
        }
        let (out, errors) = (heard(child.stdout.take()), heard(child.stderr.take()));
        let ended = self.wait(&mut child);
        let said = [out, errors].map(|heard| heard.recv_timeout(LAST_WORDS).unwrap_or_default());
        let said = shortened(&said.join("\n"));
        let with_words = |what: String| if said.is_empty() { what } else { format!("{what}: {said}") };
        match ended {
            Ok(Some(status)) if status.success() => Ok(with_words("exit 0".to_owned())),
            Ok(Some(status)) => Err(with_words(match status.code() {
                Some(code) => format!("exit {code}"),
                None => "it was ended by a signal".to_owned(),
            })),
            Ok(None) => Err(with_words(format!("it took longer than {} s and was ended", self.limit.as_secs_f64()))),
            Err(why) => Err(why),
        }
    }

    /// Waits for its end; none where it had to be ended.
    fn wait(&self, child: &mut Child) -> Result<Option<ExitStatus>, String> {
        let lost = |error: std::io::Error| format!("nobody can tell how it went: {error}");
        let begun_us = SystemClock.since_start_us();
        loop {
            if let Some(status) = child.try_wait().map_err(lost)? {
                return Ok(Some(status));
            }
            if since(begun_us) >= self.limit {
                end(child);
                return Ok(None);
            }
            std::thread::sleep(LOOK_EVERY);
        }
    }
}

/// How long ago a moment was, given as the clock's time since the computer's start.
pub(super) fn since(begun_us: i64) -> Duration {
    Duration::from_micros(u64::try_from(SystemClock.since_start_us().saturating_sub(begun_us)).unwrap_or(0))
}

/// Ends it with all that it has started.
fn end(child: &mut Child) {
    if let Some(group) = i32::try_from(child.id()).ok().and_then(Pid::from_raw) {
        let _ = kill_process_group(group, Signal::KILL);
    }
    let _ = child.kill();
    let _ = child.wait();
}

/// What comes out of it, once that has come to its end.
fn heard(from: Option<impl Read + Send + 'static>) -> Receiver<String> {
    let (sender, heard) = channel();
    if let Some(from) = from {
        std::thread::spawn(move || {
            let mut bytes = Vec::new();
            let mut from = from;
            let _ = (&mut from).take(READ).read_to_end(&mut bytes);
            let _ = sender.send(String::from_utf8_lossy(&bytes).into_owned());
            // Whoever says more must find somebody, or it waits for ever.
            let _ = std::io::copy(&mut from, &mut std::io::sink());
        });
    }
    heard
}

/// On one line, without control characters, cut where it is long.
pub(super) fn shortened(text: &str) -> String {
    let plain: String = text.chars().map(|letter| if letter.is_control() { ' ' } else { letter }).collect();
    let words: Vec<&str> = plain.split_whitespace().collect();
    let line = words.join(" ");
    match line.char_indices().nth(KEPT) {
        Some((at, _)) => format!("{}…", line.get(..at).unwrap_or_default()),
        None => line,
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn command(line: &str, limit_ms: u64) -> AlarmCommand {
        AlarmCommand { line: line.to_owned(), limit: Duration::from_millis(limit_ms) }
    }

    #[test]
    fn it_reads_what_it_gets_and_what_it_says_is_kept() {
        assert_eq!(command("cat", 60_000).run("{\"a\":1}\n"), Ok("exit 0: {\"a\":1}".to_owned()));
        assert_eq!(command("true", 60_000).run("x"), Ok("exit 0".to_owned()));
        assert_eq!(command("echo no >&2; exit 3", 60_000).run("x"), Err("exit 3: no".to_owned()));
        assert_eq!(command("kill -9 $$", 60_000).run("x"), Err("it was ended by a signal".to_owned()));
        let missing = command("/nowhere/at/all", 60_000).run("x").unwrap_err();
        assert!(missing.starts_with("exit 127: ") && missing.contains("/nowhere/at/all"), "{missing}");
    }

    #[test]
    fn one_that_hangs_is_ended_with_all_that_it_started() {
        let folder = tempfile::tempdir().unwrap();
        let pid = folder.path().join("pid");
        let line = format!("sleep 1000 & echo $! > {}; echo begun; sleep 1000", pid.display());
        assert_eq!(command(&line, 300).run("x"), Err("it took longer than 0.3 s and was ended: begun".to_owned()));
        let left: i32 = std::fs::read_to_string(&pid).unwrap().trim().parse().unwrap();
        let begun_us = SystemClock.since_start_us();
        // Whoever takes in orphans may need a moment to see that it is dead.
        let alive = || std::fs::read_to_string(format!("/proc/{left}/stat")).is_ok_and(|stat| !stat.contains(") Z"));
        while alive() {
            assert!(since(begun_us) < Duration::from_secs(30), "what it started lives on");
            std::thread::sleep(LOOK_EVERY);
        }
    }

    #[test]
    fn one_that_neither_reads_nor_stops_talking_is_no_trouble() {
        let much = "x".repeat(1_000_000);
        assert_eq!(command("sleep 0.1", 60_000).run(&much), Ok("exit 0".to_owned()), "more than a pipe holds");
        let long = command("head -c 1000000 /dev/zero | tr '\\0' y", 60_000).run("x").unwrap();
        assert!(long.ends_with("y…") && long.chars().count() == 8 + KEPT + 1, "{}", long.len());
        // Something left behind holds its output open.
        assert_eq!(command("setsid sleep 5 & echo done", 60_000).run("x"), Ok("exit 0".to_owned()));
    }
}
