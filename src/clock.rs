//! What time it is: the only file that reads the machine's clock and zone.

use std::sync::atomic::{AtomicI64, Ordering};
use std::time::{Instant, SystemTime};

use crate::civil::{Time, Zone, time_from_micros};

/// A source of "now".
pub trait Clock: Send + Sync {
    /// The present instant.
    fn now(&self) -> Time;
}

/// The machine's own clock.
#[derive(Debug, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Time {
        Time::from(SystemTime::now())
    }
}

/// A clock that starts at a chosen instant and runs faster than the world by a whole factor: for the demo and for tests.
#[derive(Debug)]
pub struct RunningClock {
    start: Time,
    factor: u32,
    begun: Instant,
}

impl RunningClock {
    /// A clock showing `start` now, `factor` seconds passing on it in each real second.
    #[must_use]
    pub fn new(start: Time, factor: u32) -> Self {
        Self { start, factor, begun: Instant::now() }
    }
}

impl Clock for RunningClock {
    fn now(&self) -> Time {
        self.start.checked_add_signed(elapsed(self.begun, self.factor)).unwrap_or(self.start)
    }
}

fn elapsed(begun: Instant, factor: u32) -> chrono::Duration {
    chrono::Duration::from_std(begun.elapsed().saturating_mul(factor)).unwrap_or(chrono::Duration::MAX)
}

/// A clock that stands where it is put: for tests.
#[derive(Debug)]
pub struct StoppedClock(AtomicI64);

impl StoppedClock {
    /// A clock standing at `time`.
    #[must_use]
    pub fn new(time: Time) -> Self {
        Self(AtomicI64::new(time.timestamp_micros()))
    }

    /// Puts the clock to `time`, forwards or back.
    pub fn set(&self, time: Time) {
        self.0.store(time.timestamp_micros(), Ordering::SeqCst);
    }
}

impl Clock for StoppedClock {
    fn now(&self) -> Time {
        time_from_micros(self.0.load(Ordering::SeqCst)).unwrap_or(Time::UNIX_EPOCH)
    }
}

/// The machine's zone, or UTC where it cannot be told.
#[must_use]
pub fn machine_zone() -> Zone {
    let named = std::env::var("TZ").ok().or_else(|| iana_time_zone::get_timezone().ok());
    named.and_then(|name| name.trim_start_matches(':').parse().ok()).unwrap_or(Zone::UTC)
}
