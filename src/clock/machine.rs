//! The machine's own clock, and what keeps it.

use std::path::Path;
use std::time::SystemTime;

use super::Clock;
use crate::bench::{EARLIEST_US, Standing, WhyDoubted};
use crate::civil::Time;

/// The machine's own clock.
#[derive(Debug, Clone, Copy, Default)]
pub struct SystemClock;

impl Clock for SystemClock {
    fn now(&self) -> Time {
        Time::from(SystemTime::now())
    }

    fn since_start_us(&self) -> i64 {
        // Counts the computer's sleep, which the time that `Instant` goes by does not.
        #[cfg(target_os = "linux")]
        let id = rustix::time::ClockId::Boottime;
        #[cfg(not(target_os = "linux"))]
        let id = rustix::time::ClockId::Monotonic;
        let since = rustix::time::clock_gettime(id);
        since.tv_sec.saturating_mul(1_000_000).saturating_add(since.tv_nsec / 1_000)
    }

    fn start_id(&self) -> String {
        let id = std::fs::read_to_string("/proc/sys/kernel/random/boot_id");
        // Where the system has no name for it, no two processes share a start.
        id.map_or_else(|_| format!("process {} at {}", std::process::id(), self.now()), |id| id.trim().to_owned())
    }

    fn standing(&self) -> Standing {
        standing_by(Path::new("/"), SystemTime::now())
    }
}

/// The machine's clock where the grower vouches for it.
#[derive(Debug, Clone, Copy, Default)]
pub struct VouchedClock;

impl Clock for VouchedClock {
    fn now(&self) -> Time {
        SystemClock.now()
    }

    fn since_start_us(&self) -> i64 {
        SystemClock.since_start_us()
    }

    fn start_id(&self) -> String {
        SystemClock.start_id()
    }

    fn standing(&self) -> Standing {
        match SystemClock.standing() {
            known @ Standing::Doubted(WhyDoubted::NeverSet) => known,
            _ => Standing::Vouched,
        }
    }
}

/// How far the clock of a Linux whose files lie below `root` is to be believed, showing `now`.
///
/// Other programs that set the clock than systemd-timesyncd leave no file that says so, and asking the kernel (`adjtimex`) is not to
/// be had without unsafe code.
fn standing_by(root: &Path, now: SystemTime) -> Standing {
    if Time::from(now).timestamp_micros() < EARLIEST_US {
        return Standing::Doubted(WhyDoubted::NeverSet);
    }
    // Touched at each synchronisation, and gone with each start of the computer (systemd-timesyncd.service(8)).
    let touched = std::fs::metadata(root.join("run/systemd/timesync/synchronized")).and_then(|file| file.modified());
    if let Ok(touched) = touched {
        return Standing::Synchronised { last_us: Time::from(touched).timestamp_micros() };
    }
    let kept = !cfg!(target_os = "linux") || battery_keeps_it(root) || host_keeps_it(root);
    if kept { Standing::Plausible } else { Standing::Doubted(WhyDoubted::NotSetYet) }
}

/// Some clock of the machine went on while it was off: without a battery, or with an empty one, it begins at a year long past.
fn battery_keeps_it(root: &Path) -> bool {
    let Ok(clocks) = std::fs::read_dir(root.join("sys/class/rtc")) else { return false };
    clocks.flatten().any(|clock| {
        let shown = std::fs::read_to_string(clock.path().join("since_epoch")).ok();
        shown.and_then(|seconds| seconds.trim().parse::<i64>().ok()).is_some_and(|seconds| seconds >= EARLIEST_US / 1_000_000)
    })
}

/// A virtual machine gets its time from its host when it starts.
fn host_keeps_it(root: &Path) -> bool {
    let flagged = |line: &str| line.starts_with("flags") && line.split_whitespace().any(|flag| flag == "hypervisor");
    std::fs::read_to_string(root.join("proc/cpuinfo")).is_ok_and(|cpus| cpus.lines().any(flagged))
        || root.join("sys/hypervisor/type").exists()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::time::Duration;

    const NOW: u64 = 1_780_000_000;

    /// The standing on a machine with these files below its root; a name ending in `@` is a file last touched so many seconds ago.
    fn standing(files: &[(&str, &str)], now: u64) -> Standing {
        let root = tempfile::tempdir().unwrap();
        let at = |seconds| SystemTime::UNIX_EPOCH + Duration::from_secs(seconds);
        for (path, text) in files {
            let (path, touched) = match path.strip_suffix('@') {
                Some(path) => (path, Some(NOW - text.parse::<u64>().unwrap())),
                None => (*path, None),
            };
            let path = root.path().join(path);
            std::fs::create_dir_all(path.parent().unwrap()).unwrap();
            std::fs::write(&path, text).unwrap();
            if let Some(touched) = touched {
                std::fs::File::options().write(true).open(&path).unwrap().set_modified(at(touched)).unwrap();
            }
        }
        standing_by(root.path(), at(now))
    }

    const SYNCHRONISED: &str = "run/systemd/timesync/synchronized@";
    const BATTERY: &str = "sys/class/rtc/rtc0/since_epoch";
    const CPUS: &str = "proc/cpuinfo";

    #[test]
    fn a_board_without_a_battery_is_doubted_until_the_network_has_set_its_clock() {
        let board = (CPUS, "processor\t: 0\nmodel name\t: ARMv7 Processor rev 3\nFeatures\t: half thumb\n");
        assert_eq!(standing(&[board], NOW), Standing::Doubted(WhyDoubted::NotSetYet));
        let last_us = i64::try_from((NOW - 60) * 1_000_000).unwrap();
        assert_eq!(standing(&[board, (SYNCHRONISED, "60")], NOW), Standing::Synchronised { last_us });
    }

    #[test]
    fn a_battery_that_kept_the_time_or_a_host_that_does_makes_a_clock_plausible_and_an_empty_battery_none() {
        assert_eq!(standing(&[(BATTERY, "1780000000\n")], NOW), Standing::Plausible);
        assert_eq!(standing(&[(BATTERY, "946684800\n")], NOW), Standing::Doubted(WhyDoubted::NotSetYet));
        assert_eq!(standing(&[(BATTERY, "what\n")], NOW), Standing::Doubted(WhyDoubted::NotSetYet));
        assert_eq!(standing(&[(CPUS, "flags\t\t: fpu vme hypervisor lahf_lm\n")], NOW), Standing::Plausible);
        assert_eq!(standing(&[("sys/hypervisor/type", "xen\n")], NOW), Standing::Plausible);
    }

    #[test]
    fn a_clock_before_2020_was_never_set_whatever_keeps_it() {
        for files in [&[][..], &[(BATTERY, "1780000000")], &[(SYNCHRONISED, "0")]] {
            assert_eq!(standing(files, 86_400), Standing::Doubted(WhyDoubted::NeverSet));
        }
    }

    #[test]
    fn the_time_since_the_start_goes_on_and_the_start_has_a_name_that_stays() {
        let before = SystemClock.since_start_us();
        assert!(before > 0 && SystemClock.since_start_us() >= before);
        assert_eq!(SystemClock.start_id(), VouchedClock.start_id());
        assert!(!matches!(VouchedClock.standing(), Standing::Doubted(_)), "this machine's clock shows a year before 2020");
    }
}
