//! A request to stop, seen by threads that wait.

use std::sync::{Condvar, Mutex, PoisonError};
use std::time::Duration;

/// A request to stop that can be waited for.
#[derive(Debug, Default)]
pub struct Stop {
    rung: Mutex<bool>,
    bell: Condvar,
}

impl Stop {
    /// Asks everybody who looks at it to stop.
    pub fn ring(&self) {
        *self.rung.lock().unwrap_or_else(PoisonError::into_inner) = true;
        self.bell.notify_all();
    }

    /// Whether it was rung.
    #[must_use]
    pub fn is_rung(&self) -> bool {
        *self.rung.lock().unwrap_or_else(PoisonError::into_inner)
    }

    /// Waits until it is rung, for `longest` at most; says whether it was.
    pub fn wait(&self, longest: Duration) -> bool {
        let rung = self.rung.lock().unwrap_or_else(PoisonError::into_inner);
        let waited = self.bell.wait_timeout_while(rung, longest, |rung| !*rung);
        *waited.unwrap_or_else(PoisonError::into_inner).0
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::sync::Arc;

    #[test]
    fn a_stop_rung_before_or_while_waiting_ends_the_wait() {
        let stop = Arc::new(Stop::default());
        assert!(!stop.wait(Duration::ZERO));
        let waiter = std::thread::spawn({
            let stop = Arc::clone(&stop);
            move || stop.wait(Duration::from_secs(60))
        });
        stop.ring();
        assert!(waiter.join().unwrap() && stop.is_rung() && stop.wait(Duration::from_secs(60)));
    }
}
