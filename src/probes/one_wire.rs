//! Sensors on this computer's own 1-Wire bus, which the Linux kernel shows as files.

use std::collections::BTreeSet;
use std::io::ErrorKind;
use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::dating::Dating;
use super::line::Measured;
use super::outlet::{LAST_RETRY, Outlet};
use super::rom::FAMILIES;
use super::source::Listener;
use super::{LineFault, News, READ_EVERY, Roots, SourceState};
use crate::bench::{Name, Proof};
use crate::quality;

/// An empty file means "not measured yet, ask again" (Linux, Documentation/w1/slaves/w1_therm.rst): so often, …
const ASK_AGAIN: u32 = 3;
/// … this long apart, the time of one measurement at 12 bits.
const CONVERSION: Duration = Duration::from_millis(750);
/// The kernel gives thousandths of a degree.
const MILLI_C_E4: i64 = 10;
/// What a sensor with too little power shows, 127.9375 °C (Linux, Documentation/w1/slaves/w1_therm.rst), cut to thousandths.
const TOO_LITTLE_POWER_MILLI_C: i64 = 127_937;
/// Beyond this no sensor measures, in thousandths of a degree; codes lie within.
const LARGEST_MILLI_C: i64 = 1_000_000;

/// The 1-Wire bus of this computer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct OneWire {
    /// How often each sensor is read.
    pub every: Duration,
    /// Where the kernel shows its devices.
    pub roots: Roots,
}

impl Default for OneWire {
    fn default() -> Self {
        Self { every: READ_EVERY, roots: Roots::default() }
    }
}

impl OneWire {
    fn devices(&self) -> PathBuf {
        self.roots.sys.join("bus/w1/devices")
    }

    pub(super) fn name(&self) -> String {
        self.devices().display().to_string()
    }
}

/// The sensors on this computer's own 1-Wire bus, by name; none where it has no bus.
#[must_use]
pub fn one_wire_names(roots: &Roots) -> Vec<Name> {
    let bus = OneWire { roots: roots.clone(), ..OneWire::default() };
    sensors(&bus.devices()).unwrap_or_default()
}

pub(super) fn listener(bus: OneWire) -> impl Listener {
    BusListener { bus, dating: Dating::default(), there: BTreeSet::new(), gone: BTreeSet::new() }
}

struct BusListener {
    bus: OneWire,
    dating: Dating,
    there: BTreeSet<Name>,
    gone: BTreeSet<Name>,
}

impl Listener for BusListener {
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()> {
        loop {
            match sensors(&self.bus.devices()) {
                Ok(sensors) => {
                    outlet.say(SourceState::Listening)?;
                    self.look_who_is_there(outlet, &sensors)?;
                    for sensor in &sensors {
                        self.read(outlet, sensor)?;
                    }
                    outlet.wait(self.bus.every)?;
                }
                Err(state) => {
                    outlet.say(state)?;
                    outlet.wait(LAST_RETRY.min(self.bus.every))?;
                }
            }
        }
    }
}

impl BusListener {
    fn look_who_is_there(&mut self, outlet: &Outlet, sensors: &[Name]) -> ControlFlow<()> {
        let now: BTreeSet<Name> = sensors.iter().cloned().collect();
        for probe in self.there.difference(&now) {
            self.gone.insert(probe.clone());
            outlet.tell(News::ProbeGone(probe.clone()))?;
        }
        for probe in now.iter().filter(|probe| self.gone.remove(probe)) {
            outlet.tell(News::ProbeBack(probe.clone()))?;
        }
        self.there = now;
        ControlFlow::Continue(())
    }

    fn read(&mut self, outlet: &Outlet, sensor: &Name) -> ControlFlow<()> {
        let folder = self.bus.devices().join(sensor.as_str());
        for _ in 0..ASK_AGAIN {
            let shown = shown(&folder);
            let arrived = outlet.stamp();
            let (raw_c_e4, proof) = match shown {
                Shown::Milli(milli) => {
                    let raw = milli * MILLI_C_E4;
                    let is_code = milli == TOO_LITTLE_POWER_MILLI_C || quality::is_code(raw);
                    (Some(raw), if is_code { Proof::Disconnected } else { Proof::Plain })
                }
                Shown::NoNumber => (None, Proof::NotANumber),
                Shown::NotYet => {
                    outlet.wait(CONVERSION)?;
                    continue;
                }
                Shown::Unreadable(text) => {
                    return outlet.tell(outlet.unread(format!("{sensor}: {text}").as_bytes(), LineFault::Unknown));
                }
                // Pulled out just now; the next look says so.
                Shown::Gone => return ControlFlow::Continue(()),
            };
            let measured = Measured { probe: Some(sensor.clone()), raw_c_e4, proof, given: None };
            let dated = self.dating.date(measured, sensor, arrived);
            return outlet.tell(News::Reading(dated.probe, dated.reading, dated.stamp));
        }
        ControlFlow::Continue(())
    }
}

/// What a sensor's files show.
#[derive(Debug, PartialEq, Eq)]
enum Shown {
    Milli(i64),
    /// The kernel could not read the sensor: no answer, or a wrong checksum.
    NoNumber,
    NotYet,
    Unreadable(String),
    Gone,
}

/// The thermometers on the bus, by name.
fn sensors(devices: &Path) -> Result<Vec<Name>, SourceState> {
    let entries = std::fs::read_dir(devices).map_err(|error| match error.kind() {
        ErrorKind::NotFound => SourceState::Absent,
        _ => SourceState::Failing(error.to_string()),
    })?;
    let mut sensors: Vec<Name> = entries
        .filter_map(|entry| {
            let name = entry.ok()?.file_name().into_string().ok()?;
            let (family, serial) = name.split_once('-')?;
            let is_number = serial.len() == 12 && serial.bytes().all(|digit| digit.is_ascii_hexdigit());
            let family = u8::from_str_radix(family, 16).ok()?;
            (is_number && FAMILIES.contains(&family)).then(|| Name::new(&name).ok())?
        })
        .collect();
    sensors.sort();
    Ok(sensors)
}

fn shown(folder: &Path) -> Shown {
    match std::fs::read_to_string(folder.join("temperature")) {
        Ok(text) => of_temperature(text.trim()),
        Err(error) if error.kind() == ErrorKind::NotFound => match std::fs::read_to_string(folder.join("w1_slave")) {
            Ok(text) => of_w1_slave(&text),
            Err(error) if error.kind() == ErrorKind::NotFound => Shown::Gone,
            Err(_) => Shown::NoNumber,
        },
        // The kernel's own words for a sensor that does not answer.
        Err(_) => Shown::NoNumber,
    }
}

fn of_temperature(text: &str) -> Shown {
    match text.parse::<i64>() {
        Ok(milli) if milli.abs() <= LARGEST_MILLI_C => Shown::Milli(milli),
        // Small negative numbers are an error of the kernel's only in other files; as a temperature -5 is five thousandths below 0.
        Ok(_) => Shown::Unreadable(text.to_owned()),
        Err(_) if text.is_empty() => Shown::NotYet,
        Err(_) => Shown::Unreadable(text.to_owned()),
    }
}

/// Older kernels: the nine bytes twice, with "YES" where their checksum is right, then "t=". Where it is wrong the value shown
/// is the one before.
fn of_w1_slave(text: &str) -> Shown {
    let mut lines = text.lines();
    let (Some(first), Some(second)) = (lines.next(), lines.next()) else {
        return if text.trim().is_empty() { Shown::NotYet } else { Shown::Unreadable(text.to_owned()) };
    };
    // A data line shorted to ground reads as nine zeros, whose checksum is right.
    let all_zero = first.split_whitespace().take(9).filter(|byte| *byte == "00").count() == 9;
    match second.rsplit_once("t=") {
        _ if first.trim_end().ends_with("NO") || all_zero => Shown::NoNumber,
        Some((_, milli)) if first.trim_end().ends_with("YES") => of_temperature(milli.trim()),
        _ => Shown::Unreadable(text.to_owned()),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_the_kernel_shows_is_read() {
        for (text, expected) in [
            ("21562", Shown::Milli(21_562)),
            ("-62", Shown::Milli(-62)),
            ("85000", Shown::Milli(85_000)),
            ("", Shown::NotYet),
            ("abc", Shown::Unreadable("abc".to_owned())),
            ("2100000", Shown::Unreadable("2100000".to_owned())),
        ] {
            assert_eq!(of_temperature(text), expected, "{text}");
        }
    }

    /// The form of drivers/w1/slaves/w1_therm.c; the bytes are the published scratchpads of the DS18B20 data sheet's power-on
    /// value, with their checksum 1C.
    #[test]
    fn the_older_file_counts_where_its_checksum_is_right() {
        let bytes = "50 05 4b 46 7f ff 0c 10 1c";
        let file = |bytes: &str, crc: &str, value: &str| format!("{bytes} : crc=1c {crc}\n{bytes} t={value}\n");
        assert_eq!(of_w1_slave(&file(bytes, "YES", "85000")), Shown::Milli(85_000));
        assert_eq!(of_w1_slave(&file(bytes, "YES", "-1250")), Shown::Milli(-1250));
        assert_eq!(of_w1_slave(&file(bytes, "NO", "21562")), Shown::NoNumber, "the value shown is an old one");
        assert_eq!(of_w1_slave(&file("00 00 00 00 00 00 00 00 00", "YES", "0")), Shown::NoNumber);
        assert_eq!(of_w1_slave(""), Shown::NotYet);
        assert!(matches!(of_w1_slave("50 05"), Shown::Unreadable(_)));
        assert!(matches!(of_w1_slave(&file(bytes, "", "1")), Shown::Unreadable(_)));
        assert_eq!(super::super::crc8::maxim(&[0x50, 0x05, 0x4B, 0x46, 0x7F, 0xFF, 0x0C, 0x10]), 0x1C);
    }
}
