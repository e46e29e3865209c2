//! The computer that a bench is asked about on.

use std::fmt;
use std::sync::Arc;

use super::status;
use crate::civil::Time;
use crate::clock::Clock;
use crate::diagnosis::{BenchStatus, MachineState};
use crate::store::{LoggerLock, Store, StoreError, free_bytes};

/// This computer, with its clock.
#[derive(Clone)]
pub struct Here {
    clock: Arc<dyn Clock>,
}

impl fmt::Debug for Here {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_struct("Here").field("now", &self.now()).finish()
    }
}

impl Here {
    /// With this clock.
    #[must_use]
    pub fn new(clock: Arc<dyn Clock>) -> Self {
        Self { clock }
    }

    /// What time it is.
    #[must_use]
    pub fn now(&self) -> Time {
        self.clock.now()
    }

    /// How a bench stands now, and this computer.
    ///
    /// # Errors
    /// The store's, when it cannot be read.
    pub fn status(&self, store: &Store) -> Result<BenchStatus, StoreError> {
        let machine = MachineState { logger: LoggerLock::state(store.path())?, free_bytes: free_bytes(store.path()) };
        status(store, self.now(), Some(machine), Some(&*self.clock))
    }
}
