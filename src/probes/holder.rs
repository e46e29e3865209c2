//! Who has a port, and which group may open it.

use std::os::unix::fs::MetadataExt;
use std::path::Path;

use super::Holder;

/// Another process that has `device` open, the first found; none where this account may not see it.
pub(super) fn of(device: &Path) -> Option<Holder> {
    let device = std::fs::canonicalize(device).ok()?;
    let own = std::process::id();
    let processes = std::fs::read_dir("/proc").ok()?.filter_map(|entry| entry.ok()?.file_name().to_str()?.parse::<u32>().ok());
    let has_it = |process: &u32| {
        let files = std::fs::read_dir(format!("/proc/{process}/fd"));
        files.is_ok_and(|files| files.flatten().any(|file| std::fs::read_link(file.path()).is_ok_and(|path| path == device)))
    };
    let process = processes.filter(|process| *process != own).find(has_it)?;
    let program = std::fs::read_to_string(format!("/proc/{process}/comm")).unwrap_or_default();
    Some(Holder { process, program: program.trim().to_owned() })
}

/// The group that owns a device, where it may open it and is not the administrator's own.
pub(super) fn group_of(device: &Path) -> Option<String> {
    let found = std::fs::metadata(device).ok()?;
    let may = found.mode() & 0o060 == 0o060 && found.gid() != 0;
    may.then(|| group_name(&std::fs::read_to_string("/etc/group").ok()?, found.gid()))?
}

/// The name of a group in the words of the system's list of groups.
fn group_name(groups: &str, number: u32) -> Option<String> {
    let mut named = groups.lines().filter_map(|line| {
        let mut fields = line.split(':');
        let (name, gid) = (fields.next()?, fields.nth(1)?);
        Some((name, gid.parse::<u32>().ok()?))
    });
    named.find(|(_, gid)| *gid == number).map(|(name, _)| name.to_owned())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_group_is_named_by_its_number() {
        let groups = "root:x:0:\ndialout:x:20:ann,ben\n# a stray line\nbroken:x:\nuucp:x:14:\n";
        assert_eq!(group_name(groups, 20).as_deref(), Some("dialout"));
        assert_eq!(group_name(groups, 14).as_deref(), Some("uucp"));
        assert_eq!(group_name(groups, 21), None);
    }

    #[test]
    fn who_has_a_file_open_is_found_among_other_processes() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("device");
        std::fs::write(&file, "").unwrap();
        assert_eq!(of(&file), None);
        let mut other = std::process::Command::new("cat")
            .stdin(std::process::Stdio::piped())
            .stdout(std::fs::File::create(&file).unwrap())
            .spawn()
            .unwrap();
        let found = of(&file);
        drop(other.stdin.take());
        let ended = other.wait().unwrap();
        assert!(ended.success());
        assert_eq!(found.map(|holder| holder.process), Some(other.id()));
    }
}
