//! The unit, by systemd's own judgement.

use std::path::{Path, PathBuf};
use std::process::Command;

fn service(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src/service").join(file)
}

/// What `systemd-analyze` says about the unit with the built program in its place.
fn analyzed(arguments: &[&str]) -> (bool, String) {
    let folder = tempfile::tempdir().unwrap();
    let unit = folder.path().join("seedclock.service");
    let text = std::fs::read_to_string(service("seedclock.service")).unwrap();
    std::fs::write(&unit, text.replace("/usr/bin/seedclock", env!("CARGO_BIN_EXE_seedclock"))).unwrap();
    let output = Command::new("systemd-analyze").args(arguments).arg(&unit).env("SYSTEMD_LOG_LEVEL", "warning").output();
    let output = output.unwrap_or_else(|error| panic!("systemd-analyze: {error}; `tests/all` installs it (package systemd)"));
    (output.status.success(), String::from_utf8_lossy(&[output.stdout, output.stderr].concat()).into_owned())
}

#[test]
fn systemd_knows_every_word_of_the_unit() {
    let (well, said) = analyzed(&["verify", "--man=no"]);
    let about_it: Vec<&str> = said.lines().filter(|line| line.contains("seedclock")).collect();
    assert!(well && about_it.is_empty(), "{said}");
}

/// Exposure as systemd counts it, 0 to 10; a unit without any hardening has about 9.6.
#[test]
fn the_unit_is_held_to_what_it_needs() {
    let (_, said) = analyzed(&["security", "--offline=true", "--no-pager"]);
    let overall = said.lines().find(|line| line.contains("Overall exposure level")).unwrap_or_else(|| panic!("{said}"));
    let level: f64 = overall.split_whitespace().find_map(|word| word.parse().ok()).unwrap_or_else(|| panic!("{overall}"));
    assert!(level <= 3.0, "{said}");
}

#[test]
fn the_unit_takes_no_right_that_hides_ports_or_the_clock() {
    let unit = std::fs::read_to_string(service("seedclock.service")).unwrap();
    for hides in ["PrivateDevices=yes", "ProtectClock=yes", "DynamicUser=yes"] {
        assert!(!unit.lines().any(|line| line == hides), "{hides}");
    }
}

#[test]
fn udev_takes_the_rules() {
    let rules = std::fs::read_to_string(service("70-seedclock.rules")).unwrap();
    let statements = rules.lines().filter(|line| !line.is_empty() && !line.starts_with('#'));
    let mut jumps = 0;
    for line in statements {
        jumps += usize::from(line.contains("GOTO=\"seedclock_end\"")) + usize::from(line == "LABEL=\"seedclock_end\"");
        for part in line.split(", ") {
            assert!(part.matches('"').count() == 2 && part.ends_with('"'), "{part}");
        }
    }
    assert_eq!(jumps, 2);
}
