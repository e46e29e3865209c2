//! A clock that a test holds in its hand.

use std::sync::{Mutex, MutexGuard, PoisonError};

use super::Clock;
use crate::bench::Standing;
use crate::civil::Time;

/// A clock that stands where it is put: for tests. Both its times, its standing and the computer's starts are theirs to move.
#[derive(Debug)]
pub struct StoppedClock(Mutex<Shown>);

#[derive(Debug)]
struct Shown {
    time: Time,
    since_start_us: i64,
    starts: u32,
    standing: Standing,
}

impl StoppedClock {
    /// A plausible clock standing at `time`, of a computer just started.
    #[must_use]
    pub fn new(time: Time) -> Self {
        Self(Mutex::new(Shown { time, since_start_us: 0, starts: 0, standing: Standing::Plausible }))
    }

    /// Puts the clock to `time`, forwards or back, as somebody who sets it.
    pub fn set(&self, time: Time) {
        self.shown().time = time;
    }

    /// Lets time go by.
    pub fn pass(&self, time: chrono::Duration) {
        let mut shown = self.shown();
        shown.time += time;
        shown.since_start_us += time.num_microseconds().unwrap_or(0);
    }

    /// Says how far it is to be believed from now on.
    pub fn stand(&self, standing: Standing) {
        self.shown().standing = standing;
    }

    /// Starts the computer anew, the clock showing `time` then.
    pub fn restart(&self, time: Time, standing: Standing) {
        let mut shown = self.shown();
        let starts = shown.starts + 1;
        *shown = Shown { time, since_start_us: 0, starts, standing };
    }

    fn shown(&self) -> MutexGuard<'_, Shown> {
        self.0.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

impl Clock for StoppedClock {
    fn now(&self) -> Time {
        self.shown().time
    }

    fn since_start_us(&self) -> i64 {
        self.shown().since_start_us
    }

    fn start_id(&self) -> String {
        format!("start {}", self.shown().starts)
    }

    fn standing(&self) -> Standing {
        self.shown().standing
    }
}
