//! Names of serial ports that stay when boards are plugged in in another order, and what the kernel tells of a device.

use std::path::{Path, PathBuf};

use super::{Holder, Roots, holder};

/// A serial port of this computer.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FoundPort {
    /// Its device file.
    pub device: PathBuf,
    /// The name that stays, where there is one.
    pub stable: Option<PathBuf>,
    /// What the device says of itself.
    pub about: Option<Device>,
    /// Who has it open.
    pub holder: Option<Holder>,
}

/// What a USB device says of itself.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Device {
    /// Maker and kind, "1a86:7523".
    pub kind: String,
    /// Its own number, where it has one.
    pub serial: Option<String>,
    /// Maker and product in words.
    pub words: Option<String>,
}

impl Device {
    /// What tells it from another device: its kind and, where it has one, its number.
    #[must_use]
    pub fn identity(&self) -> String {
        match &self.serial {
            Some(serial) => format!("{} {serial}", self.kind),
            None => self.kind.clone(),
        }
    }
}

/// The name of a port that stays: its link under `serial/by-id` if the device has a number of its own, for two boards of one
/// make without one share that name; else the one under `serial/by-path`, which is that of the socket. None where the path is
/// such a name already, where there is none, or nothing is plugged in.
#[must_use]
pub fn stable_name(path: &Path, roots: &Roots) -> Option<PathBuf> {
    let links = roots.dev.join("serial");
    if path.starts_with(&links) || path.parent() != Some(&roots.dev) {
        return None;
    }
    let device = std::fs::canonicalize(path).ok()?;
    let of = |kind: &str| link_to(&links.join(kind), &device);
    let has_number = about(path, roots).is_some_and(|device| device.serial.is_some());
    if has_number { of("by-id").or_else(|| of("by-path")) } else { of("by-path") }
}

/// What the device behind a port says of itself; none where it is no USB device or nothing is plugged in.
#[must_use]
pub fn about(path: &Path, roots: &Roots) -> Option<Device> {
    let node = std::fs::canonicalize(path).ok()?;
    let described = std::fs::canonicalize(roots.sys.join("class/tty").join(node.file_name()?).join("device")).ok()?;
    let device = described.ancestors().take_while(|folder| *folder != roots.sys).find(|folder| folder.join("idVendor").exists())?;
    let said = |file: &str| {
        let text = std::fs::read_to_string(device.join(file)).ok()?;
        Some(text.trim().chars().filter(|letter| !letter.is_control()).collect::<String>()).filter(|text| !text.is_empty())
    };
    let words: Vec<String> = ["manufacturer", "product"].into_iter().filter_map(said).collect();
    Some(Device {
        kind: format!("{}:{}", said("idVendor")?, said("idProduct")?),
        serial: said("serial"),
        words: (!words.is_empty()).then(|| words.join(" ")),
    })
}

/// The serial ports of this computer, by device file.
///
/// # Errors
/// What the system says where it does not list its devices.
pub fn ports(roots: &Roots) -> std::io::Result<Vec<FoundPort>> {
    let mut found = Vec::new();
    for entry in std::fs::read_dir(roots.sys.join("class/tty"))? {
        let entry = entry?;
        let device = roots.dev.join(entry.file_name());
        // The kernel lists four ports at least, and says of those that are not built in that their kind is 0.
        let is_none = std::fs::read_to_string(entry.path().join("type")).is_ok_and(|kind| kind.trim() == "0");
        if is_none || !entry.path().join("device").exists() || !device.exists() {
            continue;
        }
        let (stable, about, holder) = (stable_name(&device, roots), about(&device, roots), holder::of(&device));
        found.push(FoundPort { device, stable, about, holder });
    }
    found.sort_by(|one, other| one.device.cmp(&other.device));
    Ok(found)
}

/// The link in a folder that leads to a device, the first by name.
fn link_to(folder: &Path, device: &Path) -> Option<PathBuf> {
    let entries = std::fs::read_dir(folder).ok()?.filter_map(|entry| Some(entry.ok()?.path()));
    entries.filter(|link| std::fs::canonicalize(link).is_ok_and(|target| target == device)).min()
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::fs;
    use std::os::unix::fs::symlink;

    /// Three boards as Linux shows them: two of a kind without a number, and one with.
    fn made_up() -> (tempfile::TempDir, Roots) {
        let folder = tempfile::tempdir().unwrap();
        let root = fs::canonicalize(folder.path()).unwrap();
        let roots = Roots { dev: root.join("dev"), sys: root.join("sys") };
        for kind in ["by-id", "by-path"] {
            fs::create_dir_all(roots.dev.join("serial").join(kind)).unwrap();
        }
        for (tty, socket, kind, serial, id) in [
            ("ttyUSB0", "1-1.1", ("1a86", "7523", "USB Serial"), None, "usb-1a86_USB_Serial-if00-port0"),
            ("ttyUSB1", "1-1.2", ("1a86", "7523", "USB Serial"), None, "usb-1a86_USB_Serial-if00-port0"),
            ("ttyACM0", "1-1.3", ("2341", "0043", "Board"), Some("75830303934351"), "usb-Board_75830303934351-if00"),
        ] {
            fs::write(roots.dev.join(tty), "").unwrap();
            let device = roots.sys.join("devices/usb1").join(socket);
            fs::create_dir_all(device.join("if0")).unwrap();
            fs::create_dir_all(roots.sys.join("class/tty").join(tty)).unwrap();
            symlink(device.join("if0"), roots.sys.join("class/tty").join(tty).join("device")).unwrap();
            fs::write(device.join("idVendor"), format!("{}\n", kind.0)).unwrap();
            fs::write(device.join("idProduct"), format!("{}\n", kind.1)).unwrap();
            fs::write(device.join("product"), format!("{}\n", kind.2)).unwrap();
            if let Some(serial) = serial {
                fs::write(device.join("serial"), format!("{serial}\n")).unwrap();
            }
            let target = PathBuf::from("../..").join(tty);
            let _ = fs::remove_file(roots.dev.join("serial/by-id").join(id));
            symlink(&target, roots.dev.join("serial/by-id").join(id)).unwrap();
            symlink(&target, roots.dev.join("serial/by-path").join(format!("usb-{socket}"))).unwrap();
        }
        // A port that the kernel lists though it is not there.
        let none = roots.sys.join("class/tty/ttyS3");
        fs::create_dir_all(none.join("device")).unwrap();
        fs::write(none.join("type"), "0\n").unwrap();
        fs::write(roots.dev.join("ttyS3"), "").unwrap();
        (folder, roots)
    }

    #[test]
    fn a_device_with_a_number_goes_by_it_and_others_by_their_socket() {
        let (_folder, roots) = made_up();
        let name = |tty: &str| stable_name(&roots.dev.join(tty), &roots);
        assert_eq!(name("ttyUSB0"), Some(roots.dev.join("serial/by-path/usb-1-1.1")), "its by-id link is the twin's");
        assert_eq!(name("ttyUSB1"), Some(roots.dev.join("serial/by-path/usb-1-1.2")));
        assert_eq!(name("ttyACM0"), Some(roots.dev.join("serial/by-id/usb-Board_75830303934351-if00")));
        assert_eq!(name("ttyUSB7"), None, "nothing is plugged in there");
        assert_eq!(name("serial/by-path/usb-1-1.1"), None, "that is one already");
        let elsewhere = roots.sys.join("board");
        symlink(roots.dev.join("ttyUSB0"), &elsewhere).unwrap();
        assert_eq!(stable_name(&elsewhere, &roots), None, "a name that somebody made himself is kept");
    }

    #[test]
    fn ports_are_listed_with_what_they_are() {
        let (_folder, roots) = made_up();
        let ports = ports(&roots).unwrap();
        let shown: Vec<_> = ports
            .iter()
            .map(|port| (port.device.file_name().unwrap().to_str().unwrap(), port.about.as_ref().map(Device::identity)))
            .collect();
        assert_eq!(
            shown,
            [
                ("ttyACM0", Some("2341:0043 75830303934351".to_owned())),
                ("ttyUSB0", Some("1a86:7523".to_owned())),
                ("ttyUSB1", Some("1a86:7523".to_owned()))
            ]
        );
        assert_eq!(ports[1].about.as_ref().unwrap().words.as_deref(), Some("USB Serial"));
    }
}
