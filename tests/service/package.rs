//! The Debian package: built, laid out in a root of its own, run, and taken away again. The machine itself is not touched.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use seedclock::probes::Player;

use crate::devices::harness::{Desk, Logging};

fn run(command: &mut Command) -> Output {
    let tool = command.get_program().to_string_lossy().into_owned();
    let output = command.output().unwrap_or_else(|error| panic!("{tool}: {error}; it comes with Debian's dpkg"));
    assert!(
        output.status.success(),
        "{tool}: {}{}",
        String::from_utf8_lossy(&output.stdout),
        String::from_utf8_lossy(&output.stderr)
    );
    output
}

/// A root with nothing in it but what dpkg itself needs, and dpkg at work in it.
struct Root(tempfile::TempDir);

impl Root {
    fn new() -> Self {
        let root = Self(tempfile::tempdir().unwrap());
        for folder in ["var/lib/dpkg/info", "var/lib/dpkg/updates", "var/log", "var/lib/seedclock"] {
            std::fs::create_dir_all(root.path(folder)).unwrap();
        }
        std::fs::write(root.path("var/lib/dpkg/status"), "").unwrap();
        root
    }

    fn path(&self, path: &str) -> PathBuf {
        self.0.path().join(path)
    }

    fn dpkg(&self, arguments: &[&str]) -> String {
        // Scripts run outside the root, and are told where it is.
        let mut dpkg = Command::new("dpkg");
        dpkg.arg(format!("--root={}", self.0.path().display())).arg("--log=/dev/null");
        dpkg.args(["--force-not-root", "--force-script-chrootless", "--force-depends"]).args(arguments);
        String::from_utf8(run(&mut dpkg).stdout).unwrap()
    }
}

fn built(folder: &Path) -> PathBuf {
    let script = Path::new(env!("CARGO_MANIFEST_DIR")).join("src/service/package");
    let output = run(Command::new(script).arg(folder).env("SEEDCLOCK_PROGRAM", env!("CARGO_BIN_EXE_seedclock")));
    PathBuf::from(String::from_utf8(output.stdout).unwrap().trim())
}

#[test]
fn the_package_installs_logs_and_goes_and_leaves_the_bench() {
    let desk = Desk::new();
    let package = built(&desk.port("out"));
    let field =
        |name: &str| String::from_utf8(run(Command::new("dpkg-deb").arg("--field").arg(&package).arg(name)).stdout).unwrap();
    assert_eq!(field("Version").trim(), env!("CARGO_PKG_VERSION"));
    assert!(field("Depends").starts_with("libc6 (>= 2."), "{}", field("Depends"));

    let root = Root::new();
    let said = root.dpkg(&["--install", package.to_str().unwrap()]);
    assert!(said.contains("sudo systemctl enable --now seedclock"), "{said}");
    for there in [
        "etc/seedclock/seedclock.toml",
        "usr/lib/systemd/system/seedclock.service",
        "usr/lib/udev/rules.d/70-seedclock.rules",
        "usr/share/man/man1/seedclock.1.gz",
        "usr/share/man/man1/seedclock-log.1.gz",
        "usr/share/bash-completion/completions/seedclock",
        "usr/share/doc/seedclock/copyright",
        "usr/share/doc/seedclock/firmware-notes/wiring.svg",
    ] {
        assert!(root.path(there).exists(), "{there}");
    }

    // As the unit starts it, but for where the bench lives and what there is to read.
    let config = std::fs::read_to_string(root.path("etc/seedclock/seedclock.toml")).unwrap();
    assert!(config.contains("\nbench = \"/var/lib/seedclock/bench.db\"\n"));
    let (bench, mut board) = (root.path("var/lib/seedclock/bench.db"), Player::new().unwrap());
    let config = config.replace("/var/lib/seedclock/bench.db", bench.to_str().unwrap());
    let config = format!("port = [{:?}]\n{config}", board.path().display().to_string());
    std::fs::write(root.path("etc/seedclock/seedclock.toml"), config).unwrap();
    let mut logging = Logging::by(
        Command::new(root.path("usr/bin/seedclock")),
        &[],
        &["--config", root.path("etc/seedclock/seedclock.toml").to_str().unwrap()],
    );
    logging.wait_for_words("listening", 1);
    board.print(b"\np1,21.5\n").unwrap();
    let (status, said) = logging.stop("TERM");
    assert_eq!((status.code(), said.lines().last()), (Some(0), Some("stopped: 1 reading of 1 probe stored")), "{said}");

    root.dpkg(&["--remove", "seedclock"]);
    assert!(!root.path("usr/bin/seedclock").exists() && root.path("etc/seedclock/seedclock.toml").exists());
    let said = root.dpkg(&["--purge", "seedclock"]);
    assert!(!root.path("etc/seedclock").exists() && bench.exists(), "{said}");
    assert!(said.contains("your bench was left as it is"), "{said}");
}
