//! What time it is, and how far that is to be believed: the only room that reads the machine's clock and zone.

mod keeper;
mod machine;
mod stopped;

pub use keeper::{ClockNews, Keeper};
pub use machine::{SystemClock, VouchedClock};
pub use stopped::StoppedClock;

use std::time::Instant;

use crate::bench::Standing;
use crate::civil::{Time, Zone};

/// A source of "now".
pub trait Clock: Send + Sync {
    /// The present instant, as the clock shows it; it may be wrong, and may be set at any time.
    fn now(&self) -> Time;
    /// Microseconds since the computer was started, its sleep counted; never set, never going back.
    fn since_start_us(&self) -> i64;
    /// What the system calls this start of the computer: another name after each.
    fn start_id(&self) -> String;
    /// How far the clock is to be believed.
    fn standing(&self) -> Standing;
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

    fn since_start_us(&self) -> i64 {
        elapsed(self.begun, self.factor).num_microseconds().unwrap_or(i64::MAX)
    }

    fn start_id(&self) -> String {
        format!("made up, of {}", self.start)
    }

    fn standing(&self) -> Standing {
        Standing::Vouched
    }
}

fn elapsed(begun: Instant, factor: u32) -> chrono::Duration {
    chrono::Duration::from_std(begun.elapsed().saturating_mul(factor)).unwrap_or(chrono::Duration::MAX)
}

/// The machine's zone, or UTC where it cannot be told.
#[must_use]
pub fn machine_zone() -> Zone {
    let named = std::env::var("TZ").ok().or_else(|| iana_time_zone::get_timezone().ok());
    named.and_then(|name| name.trim_start_matches(':').parse().ok()).unwrap_or(Zone::UTC)
}
