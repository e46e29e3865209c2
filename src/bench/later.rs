//! What is on record for times that have not come: entered while the computer's clock was ahead, or that clock was set back since.

use chrono::Duration;

use super::Bench;
use crate::civil::Time;

/// Clocks that agree may differ by so much, seconds.
const AGREES_S: i64 = 60;

/// What is on record for later than a time. Answers as of that time leave it out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Later {
    /// Sowings, looks and moves.
    pub entries: usize,
    /// Readings are among it.
    pub readings: bool,
    /// The time of the last.
    pub last: Time,
}

impl Bench {
    /// What is on record for over a minute later than `now`, given the time of the newest reading; none where nothing is. What is only
    /// planned is none of it.
    #[must_use]
    pub fn later_than(&self, now: Time, newest_reading: Option<Time>) -> Option<Later> {
        let limit = now + Duration::seconds(AGREES_S);
        let times = self.trials.values().flat_map(|trial| {
            let looks = trial.checks.iter().map(|check| check.time);
            looks.chain(trial.moves.iter().map(|carried| carried.time)).chain([trial.container.sown])
        });
        let entries: Vec<Time> = times.filter(|time| *time > limit).collect();
        let reading = newest_reading.filter(|time| *time > limit);
        let last = entries.iter().copied().chain(reading).max()?;
        Some(Later { entries: entries.len(), readings: reading.is_some(), last })
    }
}
