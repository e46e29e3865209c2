//! How the bench file is cared for: backups, the computer that logs, the log beside it.

use chrono::Duration;

use crate::civil::Time;

/// A nightly backup may be this late before it is asked about.
const BACKUP_DUE_HOURS: i64 = 50;
/// Where nobody backs up by night, a backup by hand is called to mind after so many days.
const BACKUP_DUE_DAYS: i64 = 30;
/// A log beside the file that is larger than this is held up by somebody: it is copied into the file every few minutes.
pub const LARGEST_LOG_BYTES: u64 = 64 * 1024 * 1024;
/// That another computer logs now is told for so long.
const MOVED_TOLD_DAYS: i64 = 14;
/// With less room than this not even a small change can be recorded.
const FULL_DISK_BYTES: u64 = 1_000_000;

/// A backup that was made.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct LastBackup {
    /// When.
    pub time: Time,
    /// Where it was put.
    pub file: String,
}

/// The computer that logged here before this one.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OtherComputer {
    /// Since when this one does.
    pub since: Time,
    /// What the other is called.
    pub from: String,
    /// Ports that it read and that are not there on this one.
    pub missing_ports: Vec<String>,
}

/// How a bench file is cared for.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Care {
    /// The last backup that was made.
    pub backup: Option<LastBackup>,
    /// When a backup failed since, and why.
    pub failed: Option<(Time, String)>,
    /// Where the logger puts a backup by night.
    pub nightly: Option<String>,
    /// What the computer is called that logs here, where it is not this one.
    pub logged_by: Option<String>,
    /// Which one did before, where it is.
    pub moved: Option<OtherComputer>,
    /// The size of the log beside the file.
    pub log_bytes: u64,
    /// Whether the file may be written to.
    pub may_be_written: bool,
}

/// What the care for a bench file needs.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum CareTodo {
    /// A backup failed.
    MendBackup {
        /// When.
        time: Time,
        /// Why.
        why: String,
        /// The last good one.
        last: Option<LastBackup>,
    },
    /// No backup was made for long.
    BackUp {
        /// The last one.
        last: Option<LastBackup>,
    },
    /// The log beside the file grows.
    EndReader {
        /// Its size.
        bytes: u64,
    },
    /// Nothing can be recorded: no room.
    Full,
    /// Nothing can be recorded: the file or its folder may not be written to.
    ReadOnly,
    /// Another computer logs than before.
    Moved(OtherComputer),
}

impl Care {
    /// What needs doing as of `now`; `free_bytes` are left on the disk. Whoever never made a backup and has none made by night is
    /// asked only once there is something to lose, `since` when there is.
    #[must_use]
    pub fn todo(&self, now: Time, free_bytes: Option<u64>, since: Option<Time>) -> Vec<CareTodo> {
        let mut todo = Vec::new();
        let last = self.backup.clone();
        let due = match &self.nightly {
            Some(_) => Duration::hours(BACKUP_DUE_HOURS),
            None => Duration::days(BACKUP_DUE_DAYS),
        };
        let late = last.as_ref().map(|last| last.time).or(since).is_some_and(|before| now - before > due);
        match &self.failed {
            Some((time, why)) => todo.push(CareTodo::MendBackup { time: *time, why: why.clone(), last }),
            None if late => todo.push(CareTodo::BackUp { last }),
            None => {}
        }
        if self.log_bytes > LARGEST_LOG_BYTES {
            todo.push(CareTodo::EndReader { bytes: self.log_bytes });
        }
        if !self.may_be_written {
            todo.push(CareTodo::ReadOnly);
        } else if free_bytes.is_some_and(|free| free < FULL_DISK_BYTES) {
            todo.push(CareTodo::Full);
        }
        let moved = self.moved.iter().filter(|moved| now - moved.since < Duration::days(MOVED_TOLD_DAYS));
        todo.extend(moved.cloned().map(CareTodo::Moved));
        todo
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn at(text: &str) -> Time {
        text.parse().unwrap()
    }

    fn cared_for() -> Care {
        Care {
            backup: Some(LastBackup { time: at("2026-03-01T02:00:00Z"), file: "b.db".to_owned() }),
            failed: None,
            nightly: None,
            logged_by: None,
            moved: None,
            log_bytes: 0,
            may_be_written: true,
        }
    }

    #[test]
    fn a_backup_is_called_to_mind_when_it_is_due() {
        let (by_hand, nightly) = (cared_for(), Care { nightly: Some("nightly".to_owned()), ..cared_for() });
        let due = |care: &Care, now: &str| !care.todo(at(now), None, None).is_empty();
        assert!(!due(&by_hand, "2026-03-31T02:00:00Z") && due(&by_hand, "2026-03-31T02:00:01Z"));
        // A night may be missed.
        assert!(!due(&nightly, "2026-03-03T04:00:00Z") && due(&nightly, "2026-03-03T04:00:01Z"));
        let never = Care { backup: None, ..cared_for() };
        assert!(!due(&never, "2026-03-31T02:00:01Z"), "nothing stands on the bench");
        let sown = Some(at("2026-03-01T02:00:00Z"));
        assert_eq!(never.todo(at("2026-04-01T02:00:00Z"), None, sown), [CareTodo::BackUp { last: None }]);
    }

    #[test]
    fn a_full_disk_a_large_log_and_another_computer_are_told() {
        let now = at("2026-03-10T02:00:00Z");
        let moved = OtherComputer { since: now - Duration::days(13), from: "shelf-pi".to_owned(), missing_ports: Vec::new() };
        let care = Care { log_bytes: LARGEST_LOG_BYTES + 1, moved: Some(moved.clone()), ..cared_for() };
        let all = [CareTodo::EndReader { bytes: LARGEST_LOG_BYTES + 1 }, CareTodo::Full, CareTodo::Moved(moved)];
        assert_eq!(care.todo(now, Some(FULL_DISK_BYTES - 1), None), all);
        let later = care.todo(now + Duration::days(1), Some(FULL_DISK_BYTES), None);
        assert_eq!(later, all[..1]);
        let read_only = Care { may_be_written: false, ..cared_for() };
        assert_eq!(read_only.todo(now, Some(0), None), [CareTodo::ReadOnly]);
    }
}
