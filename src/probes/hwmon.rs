//! Temperature chips of this computer that the Linux kernel shows as files. Most measure the computer itself: so only those that
//! are asked for are read.

use std::ops::ControlFlow;
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::outlet::{LAST_RETRY, Outlet};
use super::source::{Listener, end_of};
use super::{LineFault, News, Roots, SourceState};
use crate::bench::{Name, Proof, Reading};
use crate::quality;

/// The kernel gives thousandths of a degree.
const MILLI_C_E4: i64 = 10;
/// Beyond this nothing is measured, in thousandths of a degree.
const LARGEST_MILLI_C: i64 = 1_000_000;

/// Chips of this computer to read.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Hwmon {
    /// Which: a chip's name ("jc42"), or one of its sensors ("nct6775/SYSTIN", "jc42/temp1").
    pub wanted: Vec<String>,
    /// How often each is read.
    pub every: Duration,
    /// Where the kernel shows its devices.
    pub roots: Roots,
}

impl Hwmon {
    fn folder(&self) -> PathBuf {
        self.roots.sys.join("class/hwmon")
    }

    pub(super) fn name(&self) -> String {
        self.folder().display().to_string()
    }
}

pub(super) fn listener(chips: Hwmon) -> impl Listener {
    chips
}

impl Listener for Hwmon {
    fn run(&mut self, outlet: &mut Outlet) -> ControlFlow<()> {
        loop {
            let all = sensors(&self.folder());
            let is_asked_for = |sensor: &Sensor, wanted: &String| *wanted == sensor.name || *wanted == sensor.chip;
            let missing = self.wanted.iter().find(|wanted| !all.iter().any(|sensor| is_asked_for(sensor, wanted)));
            outlet.say(match missing {
                None => SourceState::Listening,
                Some(wanted) => SourceState::Failing(format!("there is no '{wanted}'; there are: {}", listed(&all))),
            })?;
            for sensor in all.iter().filter(|sensor| self.wanted.iter().any(|wanted| is_asked_for(sensor, wanted))) {
                read(outlet, sensor)?;
            }
            outlet.wait(if missing.is_some() { LAST_RETRY.min(self.every) } else { self.every })?;
        }
    }
}

/// One temperature of one chip.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
struct Sensor {
    /// "jc42"; where two chips are called alike, with the place of each: "jc42@0-0018".
    chip: String,
    /// "jc42/temp1", or with its label.
    name: String,
    input: PathBuf,
}

fn listed(sensors: &[Sensor]) -> String {
    let names: Vec<&str> = sensors.iter().map(|sensor| sensor.name.as_str()).collect();
    if names.is_empty() { "none".to_owned() } else { names.join(", ") }
}

fn sensors(folder: &Path) -> Vec<Sensor> {
    let read = |path: PathBuf| std::fs::read_to_string(path).ok().map(|text| text.trim().to_owned());
    let mut chips: Vec<(String, PathBuf)> = std::fs::read_dir(folder)
        .into_iter()
        .flatten()
        .filter_map(|entry| {
            let path = entry.ok()?.path();
            Some((read(path.join("name"))?, path))
        })
        .collect();
    let names: Vec<String> = chips.iter().map(|(name, _)| name.clone()).collect();
    for (name, path) in &mut chips {
        if names.iter().filter(|other| *other == name).count() > 1
            && let Ok(device) = std::fs::canonicalize(path.join("device"))
            && let Some(place) = device.file_name()
        {
            *name = format!("{name}@{}", place.to_string_lossy());
        }
    }
    let mut all = Vec::new();
    for (chip, path) in chips {
        for file in std::fs::read_dir(&path).into_iter().flatten().flatten() {
            let file = file.file_name().to_string_lossy().into_owned();
            let Some(number) = file.strip_prefix("temp").and_then(|rest| rest.strip_suffix("_input")) else { continue };
            let label = read(path.join(format!("temp{number}_label"))).unwrap_or_else(|| format!("temp{number}"));
            all.push(Sensor { chip: chip.clone(), name: format!("{chip}/{label}"), input: path.join(&file) });
        }
    }
    all.sort();
    all
}

fn read(outlet: &Outlet, sensor: &Sensor) -> ControlFlow<()> {
    let text = std::fs::read_to_string(&sensor.input);
    let (time_us, stamp) = outlet.stamp();
    let Ok(probe) = end_of(&sensor.name) else { return ControlFlow::Continue(()) };
    let (raw_c_e4, proof) = match text.as_deref().map(|text| (text.trim(), text.trim().parse::<i64>())) {
        Ok((_, Ok(milli))) if milli.abs() <= LARGEST_MILLI_C => {
            let raw = milli * MILLI_C_E4;
            (Some(raw), if quality::is_code(raw) { Proof::Disconnected } else { Proof::Plain })
        }
        Ok((shown, _)) => {
            let line = format!("{}: {shown}", sensor.name);
            return outlet.tell(outlet.unread(line.as_bytes(), LineFault::Unknown));
        }
        // "No data", as the kernel says of a sensor that is switched off.
        Err(_) => (None, Proof::NotANumber),
    };
    let reading = Reading { time_us, raw_c_e4, proof };
    outlet.tell(News::Reading(probe, reading, stamp))
}

/// The names of all temperature sensors of this computer's chips.
#[must_use]
pub fn hwmon_names(roots: &Roots) -> Vec<Name> {
    sensors(&roots.sys.join("class/hwmon")).iter().filter_map(|sensor| end_of(&sensor.name).ok()).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;

    #[test]
    fn chips_are_told_apart_by_name_label_and_place() {
        let folder = tempfile::tempdir().unwrap();
        let devices = folder.path().join("devices");
        for (number, name, place, files) in [
            (0, "nct6775", "board", &[("temp1_input", "31000"), ("temp1_label", "SYSTIN"), ("temp2_input", "40000")][..]),
            (1, "jc42", "0-0018", &[("temp1_input", "22500")]),
            (2, "jc42", "0-0019", &[("temp1_input", "23000"), ("temp1_max", "9"), ("in0_input", "1")]),
        ] {
            let chip = folder.path().join(format!("hwmon{number}"));
            fs::create_dir_all(&chip).unwrap();
            fs::create_dir_all(devices.join(place)).unwrap();
            std::os::unix::fs::symlink(devices.join(place), chip.join("device")).unwrap();
            fs::write(chip.join("name"), format!("{name}\n")).unwrap();
            files.iter().for_each(|(file, text)| fs::write(chip.join(file), format!("{text}\n")).unwrap());
        }
        let names: Vec<String> = sensors(folder.path()).into_iter().map(|sensor| sensor.name).collect();
        assert_eq!(names, ["jc42@0-0018/temp1", "jc42@0-0019/temp1", "nct6775/SYSTIN", "nct6775/temp2"]);
        assert_eq!(sensors(&folder.path().join("none")), []);
    }
}
