//! Telling the service manager how the logger is doing (the protocol of sd_notify(3): one datagram a message).

use std::cell::Cell;
use std::ffi::OsStr;
use std::os::linux::net::SocketAddrExt as _;
use std::os::unix::ffi::OsStrExt as _;
use std::os::unix::net::{SocketAddr, UnixDatagram};
use std::time::Duration;

/// How often the logger says that it is alive where nobody asked for less: also how old the status is that the manager shows.
const ALIVE_EVERY: Duration = Duration::from_secs(20);
/// A watchdog is fed so many times in its period.
const FEEDS: u32 = 3;

/// The service manager, where one started this process and listens.
#[derive(Debug)]
pub struct Manager {
    socket: UnixDatagram,
    alive_every: Duration,
    is_ready: Cell<bool>,
}

impl Manager {
    /// The manager that the environment names; none where there is none, or it cannot be spoken to: that is no reason not to log.
    #[must_use]
    pub fn of_environment() -> Option<Self> {
        let text = |name: &str| std::env::var(name).ok();
        let watchdog = watchdog(text("WATCHDOG_USEC").as_deref(), text("WATCHDOG_PID").as_deref(), std::process::id());
        Self::at(&std::env::var_os("NOTIFY_SOCKET")?, watchdog)
    }

    fn at(address: &OsStr, watchdog: Option<Duration>) -> Option<Self> {
        let address = match address.as_bytes() {
            // A name that is in no file system.
            [b'@', name @ ..] => SocketAddr::from_abstract_name(name),
            _ => SocketAddr::from_pathname(address),
        };
        let socket = UnixDatagram::unbound().ok()?;
        socket.connect_addr(&address.ok()?).ok()?;
        // A manager that does not read must not hold up the writer.
        socket.set_nonblocking(true).ok()?;
        let alive_every = watchdog.map_or(ALIVE_EVERY, |period| (period / FEEDS).min(ALIVE_EVERY));
        Some(Self { socket, alive_every, is_ready: Cell::new(false) })
    }

    /// How often [`Manager::is_alive`] is to be called.
    #[must_use]
    pub fn alive_every(&self) -> Duration {
        self.alive_every
    }

    /// The writer is alive, and this is how it stands, in words. The first time also says that the service has started.
    pub fn is_alive(&self, status: &str) {
        let ready = if self.is_ready.replace(true) { "" } else { "READY=1\n" };
        // Line ends part messages.
        self.send(&format!("{ready}WATCHDOG=1\nSTATUS={}\n", status.replace('\n', " ")));
    }

    /// It has been asked to stop, or has to.
    pub fn stops(&self) {
        self.send("STOPPING=1\n");
    }

    fn send(&self, message: &str) {
        // A manager that has gone away, or is busy, is told the next time.
        let _ = self.socket.send(message.as_bytes());
    }
}

/// The period of the watchdog that is meant for this process, if one is (sd_watchdog_enabled(3)).
fn watchdog(micros: Option<&str>, process: Option<&str>, own: u32) -> Option<Duration> {
    let is_ours = process.is_none_or(|process| process.parse() == Ok(own));
    let micros: u64 = micros?.parse().ok().filter(|micros| *micros > 0)?;
    is_ours.then(|| Duration::from_micros(micros))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn received(socket: &UnixDatagram) -> String {
        let mut bytes = [0; 1024];
        let count = socket.recv(&mut bytes).unwrap();
        String::from_utf8(bytes[..count].to_vec()).unwrap()
    }

    #[test]
    fn ready_comes_once_then_signs_of_life_with_a_status_in_one_line() {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let listener = UnixDatagram::bind(&path).unwrap();
        let manager = Manager::at(path.as_os_str(), None).unwrap();
        manager.is_alive("2 probes\nheard");
        manager.is_alive("3 probes heard");
        manager.stops();
        assert_eq!(received(&listener), "READY=1\nWATCHDOG=1\nSTATUS=2 probes heard\n");
        assert_eq!(received(&listener), "WATCHDOG=1\nSTATUS=3 probes heard\n");
        assert_eq!(received(&listener), "STOPPING=1\n");
    }

    #[test]
    fn a_name_outside_the_file_system_is_spoken_to_and_nobody_at_all_is_not() {
        let name = format!("seedclock-test-{}", std::process::id());
        let listener = UnixDatagram::bind_addr(&SocketAddr::from_abstract_name(&name).unwrap()).unwrap();
        Manager::at(OsStr::new(&format!("@{name}")), None).unwrap().stops();
        assert_eq!(received(&listener), "STOPPING=1\n");
        assert!(Manager::at(OsStr::new("/nowhere/at/all"), None).is_none());
        assert!(Manager::at(OsStr::new(""), None).is_none());
    }

    #[test]
    fn a_watchdog_is_fed_three_times_in_its_period_if_it_is_ours() {
        assert_eq!(watchdog(Some("30000000"), Some("7"), 7), Some(Duration::from_secs(30)));
        assert_eq!(watchdog(Some("30000000"), None, 7), Some(Duration::from_secs(30)));
        assert_eq!(watchdog(Some("30000000"), Some("8"), 7), None);
        assert_eq!((watchdog(None, None, 7), watchdog(Some("0"), None, 7), watchdog(Some("x"), None, 7)), (None, None, None));
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join("notify");
        let _listener = UnixDatagram::bind(&path).unwrap();
        let every = |period| Manager::at(path.as_os_str(), period).unwrap().alive_every();
        assert_eq!(every(Some(Duration::from_secs(30))), Duration::from_secs(10));
        assert_eq!(every(None), ALIVE_EVERY);
    }
}
