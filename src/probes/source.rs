//! Where readings come from, each source read by a thread of its own, and what a source has to tell.

use std::fmt;
use std::io::ErrorKind;
use std::ops::ControlFlow;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::path::PathBuf;
use std::sync::Arc;
use std::thread::JoinHandle;
use std::time::Duration;

use tokio::sync::mpsc::Sender;

use super::outlet::{FIRST_RETRY, LAST_RETRY, Outlet};
use super::{Broker, Hwmon, LineFault, LineFormat, OneWire, Port, Recording, Stop};
use crate::bench::{Name, Reading, Stamp};
use crate::clock::Keeper;

/// Something that readings come from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Source {
    /// A serial port.
    Port(Port),
    /// The 1-Wire bus of this computer.
    OneWire(OneWire),
    /// Temperature chips of this computer.
    Hwmon(Hwmon),
    /// An MQTT broker.
    Broker(Broker),
    /// A file with what a port printed.
    Recording(Recording),
}

impl Source {
    /// The name it goes by in messages and on the bench.
    #[must_use]
    pub fn name(&self) -> String {
        match self {
            Self::Port(port) => port.path.display().to_string(),
            Self::OneWire(bus) => bus.name(),
            Self::Hwmon(chips) => chips.name(),
            Self::Broker(broker) => broker.name(),
            Self::Recording(recording) => recording.path.display().to_string(),
        }
    }
}

/// Who has a port.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Holder {
    /// Its process number.
    pub process: u32,
    /// What the program is called.
    pub program: String,
}

/// How it stands with a source.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum SourceState {
    /// Open.
    Listening,
    /// Open, but what comes is no text: its speed is being looked for.
    SeekingSpeed,
    /// Nothing is there under that name.
    Absent,
    /// Another program has it; which one, where that can be told.
    Busy(Option<Holder>),
    /// This account may not open it; the group that may, where there is one.
    Forbidden(Option<String>),
    /// A file, a folder, or some other thing that is no port.
    NotAPort,
    /// It was open and went away.
    Unplugged,
    /// Nobody answers at the broker's address, in the system's words.
    Unreachable(String),
    /// The broker does not let us in, or not at a topic.
    Refused(String),
    /// A recording was played to its end.
    Ended,
    /// Reading it broke down by a fault of this program.
    BrokenDown,
    /// Anything else, in the system's words.
    Failing(String),
}

impl SourceState {
    /// One word for it.
    #[must_use]
    pub fn word(&self) -> &'static str {
        match self {
            Self::Listening => "listening",
            Self::SeekingSpeed => "seeking-speed",
            Self::Absent => "absent",
            Self::Busy(_) => "busy",
            Self::Forbidden(_) => "forbidden",
            Self::NotAPort => "not-a-port",
            Self::Unplugged => "unplugged",
            Self::Unreachable(_) => "unreachable",
            Self::Refused(_) => "refused",
            Self::Ended => "ended",
            Self::BrokenDown => "broken-down",
            Self::Failing(_) => "failing",
        }
    }

    /// Whether it is as it should be.
    #[must_use]
    pub fn is_well(&self) -> bool {
        matches!(self, Self::Listening | Self::Ended)
    }

    /// What can be done about it, where that is known.
    #[must_use]
    pub fn next(&self) -> Option<String> {
        match self {
            Self::Busy(Some(holder)) if holder.program.starts_with("ModemManager") => Some(
                "it tries every new port for a modem, for some seconds: wait; if it stays, stop it (`sudo systemctl disable --now \
                 ModemManager`), or have udev set ENV{ID_MM_DEVICE_IGNORE}=\"1\" for this device"
                    .to_owned(),
            ),
            Self::Busy(Some(holder)) => {
                Some(format!("close {} (process {}), or take another port", holder.program, holder.process))
            }
            Self::Forbidden(Some(group)) => {
                Some(format!("`sudo usermod -aG {group} $USER`, then log out and in again (a service: restart it)"))
            }
            Self::Forbidden(None) => Some("let this account read and write the device, by its group or a udev rule".to_owned()),
            Self::SeekingSpeed => Some("if it is never found: `--baud N` with the speed that the board's sketch sets".to_owned()),
            _ => None,
        }
    }
}

impl fmt::Display for SourceState {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Listening => f.write_str("listening"),
            Self::SeekingSpeed => f.write_str("what comes is no text; looking for the speed that the board prints at"),
            Self::Absent => f.write_str("nothing is plugged in there; waiting for it"),
            Self::Busy(None) => f.write_str("another program is using it; trying again until it is free"),
            Self::Busy(Some(holder)) => write!(
                f,
                "another program is using it ({}, process {}); trying again until it is free",
                holder.program, holder.process
            ),
            Self::Forbidden(None) => f.write_str("this account may not open it; trying again"),
            Self::Forbidden(Some(group)) => {
                write!(f, "this account may not open it, the group '{group}' may; trying again")
            }
            Self::NotAPort => f.write_str("that is not a serial port; waiting for one to appear there"),
            Self::Unplugged => f.write_str("unplugged; waiting for it to come back"),
            Self::Unreachable(words) => write!(f, "no broker answers there ({words}); trying again"),
            Self::Refused(words) => write!(f, "the broker refuses: {words}; trying again"),
            Self::Ended => f.write_str("played to its end"),
            Self::BrokenDown => f.write_str("reading it broke down, which is a fault of seedclock; beginning anew"),
            Self::Failing(words) => write!(f, "it cannot be used: {words}; trying again"),
        }
    }
}

/// Something a source has to tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Heard {
    /// Which of the sources listened to, by its place among them.
    pub source: usize,
    /// What.
    pub news: News,
}

/// What a source has to tell.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum News {
    /// It stands otherwise with the source than before.
    State {
        /// Since when, in microseconds since 1970.
        time_us: i64,
        /// How.
        state: SourceState,
    },
    /// A probe was read.
    Reading(Name, Reading, Stamp),
    /// A line could not be read.
    Unread {
        /// When, in microseconds since 1970.
        time_us: i64,
        /// As received; of a long line the beginning.
        line: Vec<u8>,
        /// Why.
        fault: LineFault,
    },
    /// It prints another format than before.
    FormatChanged {
        /// The one before.
        from: LineFormat,
        /// The one now.
        to: LineFormat,
    },
    /// A line gave a time that cannot be.
    ClockDiffers {
        /// By how much it is ahead of ours, in microseconds.
        ahead_us: i64,
    },
    /// The speed at which a board prints was found.
    SpeedFound {
        /// In bits a second.
        baud: u32,
    },
    /// Which device was found under the name, as far as it tells: "1a86:7523", with its serial number where it has one.
    Device(String),
    /// A message that a broker had kept was passed over, since nobody can tell when it was measured.
    Retained {
        /// Its topic.
        topic: String,
    },
    /// A probe that was there is gone from the bus.
    ProbeGone(Name),
    /// It is there again.
    ProbeBack(Name),
}

/// What the thread of a source does: reads until told to stop, or until there is no more.
pub(super) trait Listener: Send {
    /// Ends by a break either way: stopped, at its end, or nobody listens any more.
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()>;
}

/// Starts the thread that reads `source`, calling it `number` in what it sends to `to`. It stamps what comes on arrival by
/// `keeper`, waits while `to` is full, and ends when `stop` is rung, with all that had arrived sent, or when nobody takes what
/// it sends; a recording also at its end.
///
/// # Errors
/// The system gives no thread, or the path of a port cannot name a probe.
pub fn listen(
    number: usize,
    source: Source,
    keeper: Arc<Keeper>,
    to: Sender<Heard>,
    stop: Arc<Stop>,
) -> std::io::Result<JoinHandle<()>> {
    let unfit = |fault| std::io::Error::new(ErrorKind::InvalidInput, fault);
    let mut listener: Box<dyn Listener> = match source {
        Source::Port(port) => Box::new(super::port::listener(port).map_err(unfit)?),
        Source::OneWire(bus) => Box::new(super::one_wire::listener(bus)),
        Source::Hwmon(chips) => Box::new(super::hwmon::listener(chips)),
        Source::Broker(broker) => Box::new(super::broker::listener(broker)),
        Source::Recording(recording) => Box::new(super::recording::listener(recording).map_err(unfit)?),
    };
    let mut outlet = Outlet::new(number, keeper, to, stop);
    std::thread::Builder::new().name(format!("source {number}")).spawn(move || {
        let _ = run_whatever_happens(listener.as_mut(), &mut outlet);
    })
}

/// Begins anew, after a wait, where reading broke down by a fault of this program: a grower's night of readings is worth
/// more than a clean end. Other sources never notice.
fn run_whatever_happens(listener: &mut dyn Listener, outlet: &mut Outlet) -> ControlFlow<()> {
    let mut wait = FIRST_RETRY;
    loop {
        // What outlives a break-down, the outlet and what a listener keeps between its openings, is whole at all times.
        match catch_unwind(AssertUnwindSafe(|| listener.run(outlet))) {
            Ok(ended) => return ended,
            Err(_) => outlet.say(SourceState::BrokenDown)?,
        }
        outlet.wait(wait)?;
        wait = (wait * 2).min(LAST_RETRY);
    }
}

/// The name of the probe whose lines name none: the path without `/dev/`, or its end where that is too long.
pub(super) fn own_probe(path: &std::path::Path) -> Result<Name, crate::bench::NameFault> {
    let path = path.to_string_lossy();
    end_of(path.strip_prefix("/dev/").unwrap_or(&path))
}

/// As much of the end of a text as a name can hold.
pub(super) fn end_of(text: &str) -> Result<Name, crate::bench::NameFault> {
    let beyond = text.chars().count().saturating_sub(LONGEST_OWN_NAME);
    Name::new(&text.chars().skip(beyond).collect::<String>())
}

/// The longest name that a source gives a probe, in characters.
const LONGEST_OWN_NAME: usize = 80;

/// How often the system's own files are read where nothing else is said.
pub const READ_EVERY: Duration = Duration::from_secs(60);

/// Where the system shows its devices: elsewhere in tests.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Roots {
    /// The folder of device files.
    pub dev: PathBuf,
    /// The folder in which the kernel describes devices.
    pub sys: PathBuf,
}

impl Default for Roots {
    fn default() -> Self {
        Self { dev: PathBuf::from("/dev"), sys: PathBuf::from("/sys") }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Proof;
    use crate::civil::Time;
    use crate::clock::StoppedClock;
    use std::fs;
    use tokio::sync::mpsc::{Receiver, channel};

    /// A source being read.
    struct Reading {
        heard: Receiver<Heard>,
        stop: Arc<Stop>,
        thread: JoinHandle<()>,
    }

    impl Reading {
        fn of(source: Source) -> Self {
            let (to, heard) = channel(1000);
            let stop = Arc::new(Stop::default());
            let clock = Arc::new(StoppedClock::new(Time::UNIX_EPOCH));
            let keeper = Arc::new(Keeper::new(clock, None, None));
            let thread = listen(0, source, keeper, to, Arc::clone(&stop)).unwrap();
            Self { heard, stop, thread }
        }

        fn next(&mut self) -> News {
            self.heard.blocking_recv().unwrap().news
        }

        /// The next readings as (probe, 1/10 000 °C, proof); what else is told stands as words.
        fn readings(&mut self, count: usize) -> Vec<(String, Option<i64>, Proof)> {
            let mut all = Vec::new();
            while all.len() < count {
                if let News::Reading(probe, reading, _) = self.next() {
                    all.push((probe.to_string(), reading.raw_c_e4, reading.proof));
                }
            }
            all.sort_by(|one, other| one.0.cmp(&other.0));
            all
        }

        fn end(self) {
            self.stop.ring();
            self.thread.join().unwrap();
        }
    }

    #[test]
    fn the_1_wire_bus_is_read_and_a_sensor_that_goes_and_comes_is_told() {
        let folder = tempfile::tempdir().unwrap();
        let devices = folder.path().join("bus/w1/devices");
        let sensor = |name: &str, file: &str, text: &str| {
            fs::create_dir_all(devices.join(name)).unwrap();
            fs::write(devices.join(name).join(file), text).unwrap();
        };
        sensor("28-3d7de20264ff", "temperature", "21562\n");
        sensor("10-0008019462b7", "w1_slave", "2b 00 4b 46 ff ff 05 10 d7 : crc=d7 YES\n2b 00 4b 46 ff ff 05 10 d7 t=-62\n");
        sensor("28-0b23572ffae4", "temperature", "85000\n");
        sensor("28-000000000001", "temperature", "127937\n");
        sensor("28-000000000002", "w1_slave", "2b 00 : crc=00 NO\n2b 00 t=21562\n");
        sensor("29-000000000003", "temperature", "1\n");
        sensor("w1_bus_master1", "temperature", "1\n");
        let roots = Roots { sys: folder.path().to_path_buf(), ..Roots::default() };
        let bus = OneWire { every: Duration::from_millis(20), roots };
        let mut reading = Reading::of(Source::OneWire(bus));
        let raw = |name: &str, raw, proof| (name.to_owned(), raw, proof);
        assert_eq!(
            reading.readings(5),
            [
                raw("10-0008019462b7", Some(-620), Proof::Plain),
                raw("28-000000000001", Some(1_279_370), Proof::Disconnected),
                raw("28-000000000002", None, Proof::NotANumber),
                raw("28-0b23572ffae4", Some(850_000), Proof::PowerOn),
                raw("28-3d7de20264ff", Some(215_620), Proof::Plain),
            ]
        );
        fs::rename(devices.join("28-3d7de20264ff"), folder.path().join("away")).unwrap();
        let gone = Name::new("28-3d7de20264ff").unwrap();
        while reading.next() != News::ProbeGone(gone.clone()) {}
        fs::rename(folder.path().join("away"), devices.join("28-3d7de20264ff")).unwrap();
        while reading.next() != News::ProbeBack(gone.clone()) {}
        drop(fs::remove_dir_all(folder.path().join("bus")));
        while !matches!(reading.next(), News::State { state: SourceState::Absent, .. }) {}
        reading.end();
    }

    #[test]
    fn fault_33_opening_and_closing_ports_leaves_no_thread_and_no_file_behind() {
        let players: Vec<super::super::Player> = (0..16).map(|_| super::super::Player::new().unwrap()).collect();
        let paths: Vec<PathBuf> = players.iter().map(|player| player.path().to_path_buf()).collect();
        let of_ours = || {
            let files = fs::read_dir("/proc/self/fd").unwrap().flatten();
            files.filter(|file| fs::read_link(file.path()).is_ok_and(|path| paths.contains(&path))).count()
        };
        assert_eq!(of_ours(), 0);
        for _ in 0..8 {
            let port = |path: &PathBuf| Port { path: path.clone(), speed: crate::probes::Speed::Given(9600) };
            let mut all: Vec<Reading> = paths.iter().map(|path| Reading::of(Source::Port(port(path)))).collect();
            for reading in &mut all {
                assert!(matches!(reading.next(), News::State { state: SourceState::Listening, .. }));
            }
            assert_eq!(of_ours(), paths.len());
            all.iter().for_each(|reading| reading.stop.ring());
            all.into_iter().for_each(Reading::end);
            assert_eq!(of_ours(), 0, "every thread has ended, and taken its file along");
        }
    }
}
