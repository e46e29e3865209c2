//! A forecast each morning, though nobody asks for one: what alarms on late boxes go by, and what forecasts are judged by later.
//!
//! It is made by another process, so that whatever it needs or runs into can do nothing to logging.

use std::io::Read as _;
use std::path::PathBuf;
use std::process::{Child, Command, Stdio};
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};
use std::thread::JoinHandle;
use std::time::Duration;

use chrono::{NaiveDate, Timelike as _};
use rustix::process::{Pid, setpriority_process};

use super::command::{shortened, since};
use crate::civil::{Time, Zone};
use crate::clock::{Clock, SystemClock};

/// Not before this hour of the day, in the bench's zone.
const FROM_HOUR: u32 = 5;
/// A logger that has just begun has other things to do for so long.
const AFTER_START: Duration = Duration::from_secs(10 * 60);
/// How often it is looked whether the time has come.
const LOOK_EVERY: Duration = Duration::from_secs(60);
/// No forecast takes as long.
const LIMIT: Duration = Duration::from_secs(30 * 60);
const CHILD_LOOK_EVERY: Duration = Duration::from_millis(200);
/// As nice as can be to everything else.
const NICE: i32 = 19;

/// Makes a forecast each morning until it is dropped.
#[derive(Debug)]
pub struct Mornings {
    stop: Arc<AtomicBool>,
    thread: Option<JoinHandle<()>>,
}

impl Mornings {
    /// Begins; what goes wrong is told by `tell`.
    ///
    /// # Errors
    /// Where no thread can be started.
    pub fn begin(program: PathBuf, bench: PathBuf, zone: Zone, tell: impl Fn(String) + Send + 'static) -> std::io::Result<Self> {
        let stop = Arc::new(AtomicBool::new(false));
        let begun_us = SystemClock.since_start_us();
        let thread = std::thread::Builder::new().name("mornings".to_owned()).spawn({
            let stop = Arc::clone(&stop);
            move || {
                let mut made = None;
                while !stop.load(Ordering::SeqCst) {
                    let due = due(SystemClock.now(), zone, made).filter(|_| since(begun_us) >= AFTER_START);
                    if let Some(today) = due {
                        made = Some(today);
                        if let Err(why) = forecast(&program, &bench, &stop) {
                            tell(format!("the forecast of this morning was not made: {why}\n  it is made anew the next morning"));
                        }
                    }
                    std::thread::park_timeout(LOOK_EVERY);
                }
            }
        })?;
        Ok(Self { stop, thread: Some(thread) })
    }
}

impl Drop for Mornings {
    fn drop(&mut self) {
        self.stop.store(true, Ordering::SeqCst);
        if let Some(thread) = self.thread.take() {
            thread.thread().unpark();
            let _ = thread.join();
        }
    }
}

/// The day for which a forecast is due, if one is.
fn due(now: Time, zone: Zone, made: Option<NaiveDate>) -> Option<NaiveDate> {
    let local = now.with_timezone(&zone);
    (local.hour() >= FROM_HOUR && made.is_none_or(|made| made < local.date_naive())).then(|| local.date_naive())
}

/// Has a process of its own make the forecast, and keep it.
fn forecast(program: &PathBuf, bench: &PathBuf, stop: &AtomicBool) -> Result<(), String> {
    let mut command = Command::new(program);
    command.arg("--bench").arg(bench).arg("forecast").stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::piped());
    let mut child = command.spawn().map_err(|error| format!("{}: {error}", program.display()))?;
    let _ = setpriority_process(i32::try_from(child.id()).ok().and_then(Pid::from_raw), NICE);
    let status = wait(&mut child, stop);
    let mut said = String::new();
    if let Some(errors) = child.stderr.take() {
        let _ = errors.take(4096).read_to_string(&mut said);
    }
    match status {
        // 1: there is nothing to tell yet.
        Ok(Some(0 | 1)) => Ok(()),
        Ok(Some(code)) => Err(format!("exit {code}: {}", shortened(&said))),
        Ok(None) if stop.load(Ordering::SeqCst) => Ok(()),
        Ok(None) => Err("it was ended by a signal, or took too long".to_owned()),
        Err(error) => Err(error.to_string()),
    }
}

/// Its exit code; none where it was ended.
fn wait(child: &mut Child, stop: &AtomicBool) -> std::io::Result<Option<i32>> {
    let begun_us = SystemClock.since_start_us();
    loop {
        if let Some(status) = child.try_wait()? {
            return Ok(status.code());
        }
        if stop.load(Ordering::SeqCst) || since(begun_us) >= LIMIT {
            child.kill()?;
            child.wait()?;
            return Ok(None);
        }
        std::thread::park_timeout(CHILD_LOOK_EVERY);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_forecast_is_due_once_a_day_from_five_in_the_morning_by_the_clock_on_the_wall() {
        let zone = Zone::Europe__Berlin;
        let at = |text: &str| crate::civil::read_time(text, zone).unwrap().time;
        let day = |text: &str| text.parse::<NaiveDate>().unwrap();
        assert_eq!(due(at("2026-03-29 04:59"), zone, None), None);
        assert_eq!(due(at("2026-03-29 05:00"), zone, None), Some(day("2026-03-29")));
        assert_eq!(due(at("2026-03-29 23:00"), zone, Some(day("2026-03-29"))), None);
        assert_eq!(due(at("2026-03-30 04:00"), zone, Some(day("2026-03-29"))), None);
        assert_eq!(due(at("2026-03-30 06:00"), zone, Some(day("2026-03-29"))), Some(day("2026-03-30")));
    }

    #[test]
    fn a_process_that_fails_is_told_with_what_it_said_and_one_is_ended_when_the_logger_ends() {
        let stop = AtomicBool::new(false);
        let failed = forecast(&PathBuf::from("/bin/false"), &PathBuf::from("b"), &stop);
        assert_eq!(failed, Ok(()), "1 is no fault");
        let missing = forecast(&PathBuf::from("/nowhere/at/all"), &PathBuf::from("b"), &stop).unwrap_err();
        assert!(missing.starts_with("/nowhere/at/all: "), "{missing}");
        stop.store(true, Ordering::SeqCst);
        let mut child = Command::new("sleep").arg("1000").spawn().unwrap();
        assert_eq!(wait(&mut child, &stop).unwrap(), None);
        let begun_us = SystemClock.since_start_us();
        drop(Mornings::begin(PathBuf::from("x"), PathBuf::from("b"), Zone::UTC, |_| {}).unwrap());
        assert!(since(begun_us) < LOOK_EVERY, "it is woken to end");
    }
}
