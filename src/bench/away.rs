//! Times in which nobody is there to look.

use crate::civil::Time;

/// From when until when nobody is there: reminders to look wait so long.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Away {
    /// From when on.
    pub from: Time,
    /// Until when.
    pub until: Time,
}
