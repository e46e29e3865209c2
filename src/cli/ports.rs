//! What this computer can read probes by.

use std::io::Write as _;

use super::Outcome;
use crate::probes::{FoundPort, Roots, hwmon_names, one_wire_names, ports};

/// Lists serial ports, 1-Wire sensors and temperature chips, each with how to read it; "no" where there is none.
pub(super) fn list() -> anyhow::Result<Outcome> {
    let text = listed(&Roots::default());
    let mut out = std::io::stdout();
    match text {
        Some(text) => {
            write!(out, "{text}")?;
            Ok(Outcome::Done)
        }
        None => {
            writeln!(
                out,
                "No serial port, no 1-Wire sensor and no temperature chip was found.\n  next: plug a board in, or switch the 1-Wire \
                 bus on, as your computer's documents say; then look again"
            )?;
            Ok(Outcome::NotEnough)
        }
    }
}

fn listed(roots: &Roots) -> Option<String> {
    let mut text = String::new();
    // Where the system lists no devices, there are none to it.
    for port in ports(roots).unwrap_or_default() {
        text += &port_words(&port);
    }
    for sensor in one_wire_names(roots) {
        text += &format!("{sensor}: 1-Wire sensor\n  seedclock log --one-wire\n");
    }
    for chip in hwmon_names(roots) {
        text += &format!("{chip}: temperature chip of this computer\n  seedclock log --hwmon {}\n", chip.as_typed());
    }
    (!text.is_empty()).then_some(text)
}

fn port_words(port: &FoundPort) -> String {
    let path = port.stable.as_ref().unwrap_or(&port.device).display();
    let device = port.stable.as_ref().map(|_| format!(" (now {})", port.device.display())).unwrap_or_default();
    let about = port.about.as_ref().map(|about| about.words.clone().unwrap_or_else(|| about.kind.clone()));
    let holder = port.holder.as_ref().map(|holder| format!("; in use by {}, process {}", holder.program, holder.process));
    format!(
        "{path}{device}: {}{}\n  seedclock log --port {path}\n",
        about.unwrap_or_else(|| "serial port".to_owned()),
        holder.unwrap_or_default()
    )
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::os::unix::fs::symlink;

    #[test]
    fn what_is_there_is_listed_with_the_way_to_read_it() {
        let folder = tempfile::tempdir().unwrap();
        let root = fs::canonicalize(folder.path()).unwrap();
        let roots = Roots { dev: root.join("dev"), sys: root.join("sys") };
        assert_eq!(listed(&roots), None);
        let usb = root.join("sys/devices/usb1/1-1");
        fs::create_dir_all(usb.join("1-1:1.0/ttyUSB0")).unwrap();
        fs::create_dir_all(root.join("sys/class/tty/ttyUSB0")).unwrap();
        fs::create_dir_all(root.join("dev/serial/by-path")).unwrap();
        for (file, text) in [("idVendor", "1a86\n"), ("idProduct", "7523\n"), ("product", "USB Serial\n")] {
            fs::write(usb.join(file), text).unwrap();
        }
        symlink(usb.join("1-1:1.0/ttyUSB0"), root.join("sys/class/tty/ttyUSB0/device")).unwrap();
        fs::write(root.join("dev/ttyUSB0"), "").unwrap();
        symlink("../../ttyUSB0", root.join("dev/serial/by-path/usb-0:1.1")).unwrap();
        fs::create_dir_all(root.join("sys/bus/w1/devices/28-0b23572ffae4")).unwrap();
        let text = listed(&roots).unwrap().replace(&root.display().to_string(), "");
        assert_eq!(
            text,
            "/dev/serial/by-path/usb-0:1.1 (now /dev/ttyUSB0): USB Serial\n  seedclock log --port /dev/serial/by-path/usb-0:1.1\n\
             28-0b23572ffae4: 1-Wire sensor\n  seedclock log --one-wire\n"
        );
    }
}
