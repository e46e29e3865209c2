//! Plain questions, of whose answers a configuration is made, and from which it is known where probes stand.

mod afterwards;

use std::io::{BufRead, Write};
use std::path::{Path, PathBuf};

use anyhow::Context;

use super::config::Configured;
use super::{Outcome, SERVICE_BENCH, config_folder};
use crate::bench::Name;
use crate::probes::{FoundPort, Roots, one_wire_names, ports};
use afterwards::{Machine, Present};

/// Where the service's configuration lives.
const SYSTEM_CONFIG: &str = "/etc/seedclock/seedclock.toml";

/// Ask what is to be logged and where, and write the configuration
#[derive(Debug, clap::Args)]
pub(super) struct Setup {
    /// For the service of this computer, not for your own account
    #[arg(long)]
    system: bool,
    /// Where to write the configuration [default: seedclock/seedclock.toml in the platform's configuration folder]
    #[arg(long, value_name = "FILE", conflicts_with = "system")]
    config: Option<PathBuf>,
}

impl Setup {
    pub(super) fn run(self, named: Option<PathBuf>) -> anyhow::Result<Outcome> {
        let config = match (self.system, self.config) {
            (true, _) => PathBuf::from(SYSTEM_CONFIG),
            (false, Some(config)) => config,
            (false, None) => config_folder()?.join("seedclock.toml"),
        };
        let bench = if self.system { named.unwrap_or_else(|| PathBuf::from(SERVICE_BENCH)) } else { super::place(named)? };
        let mut dialog = Dialog { answers: std::io::stdin().lock(), out: std::io::stdout(), machine: Present };
        dialog.hold(&config, &bench, &Roots::default(), self.system)
    }
}

/// Questions and their answers, at a terminal or through a pipe.
struct Dialog<R, W, M> {
    answers: R,
    out: W,
    machine: M,
}

impl<R: BufRead, W: Write, M: Machine> Dialog<R, W, M> {
    fn hold(&mut self, config: &Path, bench: &Path, roots: &Roots, system: bool) -> anyhow::Result<Outcome> {
        self.say("A few questions; an empty answer takes what stands in [brackets]. Nothing is written before the last one.\n")?;
        let bench = self.ask("Where is the bench to live, the file with everything?", &bench.display().to_string(), |text| {
            if Path::new(text).is_absolute() { Ok(()) } else { Err("write the whole path, beginning with /") }
        })?;
        let mut keys = vec![key("bench", &bench)];

        let found = ports(roots).unwrap_or_default();
        let mut named = Vec::new();
        for port in &found {
            let (path, about) = (path_of(port), about(port));
            if self.yes(&format!("A board is plugged in at {path} ({about}). Does it print temperatures?"))? {
                named.push(path);
            }
        }
        if found.is_empty() {
            self.say("No board is plugged in now.\n")?;
            let path = self.ask("The path of a serial port to read all the same, or none?", "none", |_| Ok(()))?;
            named.extend((path != "none").then_some(path));
        }
        if !named.is_empty() {
            let ports: Vec<String> = named.iter().map(|path| quoted(path)).collect();
            keys.push(format!("port = [{}]", ports.join(", ")));
        }

        let sensors = one_wire_names(roots);
        if !sensors.is_empty() {
            let names: Vec<&str> = sensors.iter().map(Name::as_str).collect();
            if self.yes(&format!("This computer's 1-Wire bus has {}. Read them?", names.join(", ")))? {
                keys.push("one-wire = true".to_owned());
            }
        }

        let broker = self.ask("The address of an MQTT broker on your own network to listen to, or none?", "none", |_| Ok(()))?;
        if broker != "none" {
            let topic = self.ask("What to listen to there? + and # stand for any level.", "#", |_| Ok(()))?;
            keys.extend([key("broker", &broker), format!("topic = [{}]", quoted(&topic))]);
        }
        if keys.len() == 1 {
            self.say(
                "Nothing to read was named, so nothing was written.\n  next: plug a board in, or see firmware-notes for what to buy; \
                 then begin again\n",
            )?;
            return Ok(Outcome::NotEnough);
        }

        let every = self.ask(
            "How often are readings to be put safely on disk? That is what a power cut can cost; 5m spares a memory card.",
            "60s",
            |_| Ok(()),
        )?;
        keys.push(key("commit-every", &every));
        let backup = self.ask("A folder for a backup each night, best on another disk, or none?", "none", |_| Ok(()))?;
        keys.extend((backup != "none").then(|| key("backup", &backup)));

        let text =
            format!("# Written by `seedclock setup`. `seedclock log --example-config` explains every key.\n{}\n", keys.join("\n"));
        // Held to the same rules as when it is read, so that what is written can be started.
        Configured::check(&text).map_err(|what| anyhow::anyhow!("{what}\n  nothing was written; next: begin again"))?;
        if config.exists()
            && !self
                .yes(&format!("{} is there already. Put this in its place? The old one is kept beside it.", config.display()))?
        {
            self.say("Nothing was written.\n")?;
            return Ok(Outcome::NotEnough);
        }
        write(config, &text)?;
        self.say(&format!("Written to {}.\n", config.display()))?;
        let runs = system && self.begin()?;
        let bench = PathBuf::from(bench);
        if !system || runs {
            self.places(&bench, config)?;
        }
        let start = match (system, runs) {
            (true, true) => String::new(),
            (true, false) => "`sudo systemctl enable --now seedclock` begins to log, now and at every start;\n  ".to_owned(),
            (false, _) => format!("`seedclock log --config {}` begins to log;\n  ", config.display()),
        };
        self.say(&format!(
            "next: {start}`seedclock status` says which probes are heard; `seedclock probe place PROBE SPOT` where each stands\n"
        ))?;
        Ok(Outcome::Done)
    }

    /// Has the service begin, if that is wished; whether it runs then.
    fn begin(&mut self) -> anyhow::Result<bool> {
        if !self.yes("Begin to log now, and at every start of this computer?")? {
            return Ok(false);
        }
        match self.machine.begin_service() {
            Ok(()) => {
                self.say("The logger runs.\n")?;
                Ok(true)
            }
            Err(error) => {
                self.say(&format!("It could not be begun: {error:#}\n"))?;
                Ok(false)
            }
        }
    }

    /// Asks of each probe that can be heard now where it stands, and puts it on record.
    fn places(&mut self, bench: &Path, config: &Path) -> anyhow::Result<()> {
        self.say("Listening for some seconds to hear which probes there are …\n")?;
        let heard = match self.machine.hear(bench, config) {
            Ok(heard) => heard,
            // What was written stays, and each can be placed later.
            Err(error) => return self.say(&format!("They could not be heard: {error:#}\n")),
        };
        if heard.is_empty() {
            return self.say("No probe was heard yet.\n");
        }
        for (probe, celsius) in heard {
            let shows = celsius.map_or(String::new(), |celsius| format!(" shows {celsius:.1} °C"));
            let question =
                format!("Probe '{probe}'{shows}. At which spot does it stand, such as sill, mat or fridge, or none yet?");
            let spot =
                self.ask(&question, "none", |text| Name::new(text).map(drop).map_err(|_| "write a name of up to 80 letters"))?;
            if spot != "none"
                && let Err(error) = self.machine.place(bench, &probe, &spot)
            {
                self.say(&format!("{error:#}\n"))?;
            }
        }
        Ok(())
    }

    fn say(&mut self, text: &str) -> anyhow::Result<()> {
        write!(self.out, "{text}")?;
        Ok(self.out.flush()?)
    }

    fn yes(&mut self, question: &str) -> anyhow::Result<bool> {
        let answer = self.ask(question, "yes", |text| match text {
            "yes" | "y" | "no" | "n" => Ok(()),
            _ => Err("write yes or no"),
        })?;
        Ok(answer.starts_with('y'))
    }

    /// Asks until the answer obeys its rule.
    fn ask(&mut self, question: &str, usual: &str, rule: impl Fn(&str) -> Result<(), &'static str>) -> anyhow::Result<String> {
        loop {
            self.say(&format!("{question} [{usual}] "))?;
            let mut line = String::new();
            let count = self.answers.read_line(&mut line).context("cannot read the answer")?;
            if count == 0 {
                anyhow::bail!("the answers ended before the questions: nothing was written");
            }
            let answer = if line.trim().is_empty() { usual } else { line.trim() };
            match rule(answer) {
                Ok(()) => return Ok(answer.to_owned()),
                Err(what) => self.say(&format!("  '{answer}': {what}\n"))?,
            }
        }
    }
}

fn key(name: &str, value: &str) -> String {
    format!("{name} = {}", quoted(value))
}

/// As a basic string of TOML.
fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn path_of(port: &FoundPort) -> String {
    port.stable.as_ref().unwrap_or(&port.device).display().to_string()
}

fn about(port: &FoundPort) -> String {
    let about = port.about.as_ref().map(|about| about.words.clone().unwrap_or_else(|| about.kind.clone()));
    about.unwrap_or_else(|| "a serial port".to_owned())
}

/// In one step; what stood there is kept beside it.
fn write(config: &Path, text: &str) -> anyhow::Result<()> {
    let failed = || format!("cannot write {}", config.display());
    let beside = |ending: &str| {
        let mut name = config.as_os_str().to_owned();
        name.push(ending);
        PathBuf::from(name)
    };
    if let Some(folder) = config.parent() {
        std::fs::create_dir_all(folder).with_context(failed)?;
    }
    std::fs::write(beside(".new"), text).with_context(failed)?;
    if config.exists() {
        std::fs::copy(config, beside(".old")).with_context(failed)?;
    }
    std::fs::rename(beside(".new"), config).with_context(failed)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A machine with these probes, on which the service begins or not.
    #[derive(Default)]
    struct FakeMachine {
        probes: Vec<(&'static str, Option<f64>)>,
        service_fails: bool,
        placed: Vec<String>,
    }

    impl Machine for FakeMachine {
        fn begin_service(&mut self) -> anyhow::Result<()> {
            if self.service_fails { anyhow::bail!("systemctl: not found") } else { Ok(()) }
        }

        fn hear(&mut self, _: &Path, _: &Path) -> anyhow::Result<Vec<(Name, Option<f64>)>> {
            Ok(self.probes.iter().map(|(name, celsius)| (Name::new(name).unwrap(), *celsius)).collect())
        }

        fn place(&mut self, bench: &Path, probe: &Name, spot: &str) -> anyhow::Result<()> {
            self.placed.push(format!("{}: {probe} at {spot}", bench.display()));
            Ok(())
        }
    }

    struct Held {
        said: String,
        outcome: anyhow::Result<Outcome>,
    }

    fn held(folder: &Path, answers: &str) -> Held {
        let roots = Roots { dev: folder.join("dev"), sys: folder.join("sys") };
        let mut dialog = Dialog { answers: answers.as_bytes(), out: Vec::new(), machine: FakeMachine::default() };
        let outcome = dialog.hold(&folder.join("etc/seedclock.toml"), Path::new("/bench.db"), &roots, false);
        Held { said: String::from_utf8(dialog.out).unwrap(), outcome }
    }

    fn configured(folder: &Path) -> String {
        std::fs::read_to_string(folder.join("etc/seedclock.toml")).unwrap()
    }

    #[test]
    fn answers_become_a_configuration_that_can_be_started() {
        let folder = tempfile::tempdir().unwrap();
        std::fs::create_dir_all(folder.path().join("sys/bus/w1/devices/28-0b23572ffae4")).unwrap();
        let Held { said, outcome } = held(folder.path(), "bench.db\n/home/me/bench.db\n/dev/ttyS0\n\nhouse\n\n5m\n/mnt/disk\n");
        assert!(matches!(outcome, Ok(Outcome::Done)), "{outcome:?}");
        assert_eq!(
            said.replace(&folder.path().display().to_string(), ""),
            "A few questions; an empty answer takes what stands in [brackets]. Nothing is written before the last one.\n\
             Where is the bench to live, the file with everything? [/bench.db]   'bench.db': write the whole path, beginning with /\n\
             Where is the bench to live, the file with everything? [/bench.db] No board is plugged in now.\n\
             The path of a serial port to read all the same, or none? [none] \
             This computer's 1-Wire bus has 28-0b23572ffae4. Read them? [yes] \
             The address of an MQTT broker on your own network to listen to, or none? [none] \
             What to listen to there? + and # stand for any level. [#] \
             How often are readings to be put safely on disk? That is what a power cut can cost; 5m spares a memory card. [60s] \
             A folder for a backup each night, best on another disk, or none? [none] Written to /etc/seedclock.toml.\n\
             Listening for some seconds to hear which probes there are …\nNo probe was heard yet.\n\
             next: `seedclock log --config /etc/seedclock.toml` begins to log;\n  `seedclock status` says which probes are heard; \
             `seedclock probe place PROBE SPOT` where each stands\n"
        );
        assert_eq!(
            configured(folder.path()),
            "# Written by `seedclock setup`. `seedclock log --example-config` explains every key.\nbench = \"/home/me/bench.db\"\n\
             port = [\"/dev/ttyS0\"]\none-wire = true\nbroker = \"house\"\ntopic = [\"#\"]\ncommit-every = \"5m\"\nbackup = \"/mnt/disk\"\n"
        );
    }

    #[test]
    fn a_configuration_that_is_there_is_kept_beside_or_left() {
        let folder = tempfile::tempdir().unwrap();
        assert!(matches!(held(folder.path(), "\n/dev/a\n\n\n\n").outcome, Ok(Outcome::Done)));
        let before = configured(folder.path());
        assert!(matches!(held(folder.path(), "\n/dev/b\n\n\n\nno\n").outcome, Ok(Outcome::NotEnough)));
        assert_eq!(configured(folder.path()), before);
        assert!(matches!(held(folder.path(), "\n/dev/b\n\n\n\nyes\n").outcome, Ok(Outcome::Done)));
        assert!(configured(folder.path()).contains("/dev/b"));
        assert_eq!(std::fs::read_to_string(folder.path().join("etc/seedclock.toml.old")).unwrap(), before);
    }

    #[test]
    fn the_service_is_begun_if_wished_and_each_probe_heard_is_placed_where_it_is_said_to_stand() {
        let ask = |answers: &str, system: bool, machine: FakeMachine| {
            let folder = tempfile::tempdir().unwrap();
            let roots = Roots { dev: folder.path().join("dev"), sys: folder.path().join("sys") };
            let mut dialog = Dialog { answers: answers.as_bytes(), out: Vec::new(), machine };
            let outcome = dialog.hold(&folder.path().join("etc/seedclock.toml"), Path::new("/bench.db"), &roots, system);
            assert!(matches!(outcome, Ok(Outcome::Done)), "{outcome:?}");
            let said = String::from_utf8(dialog.out).unwrap();
            (said.split_once("seedclock.toml.\n").unwrap().1.to_owned(), dialog.machine.placed)
        };
        let begun = "\n/dev/a\n\n\n\n";
        let probes = vec![("p1", Some(21.25)), ("p2", None)];
        let (said, placed) = ask(
            &format!("{begun}yes\n{}\nwest sill\n\n", "x".repeat(81)),
            true,
            FakeMachine { probes: probes.clone(), ..FakeMachine::default() },
        );
        let question =
            |probe: &str| format!("{probe}. At which spot does it stand, such as sill, mat or fridge, or none yet? [none] ");
        assert_eq!(
            said,
            format!(
                "Begin to log now, and at every start of this computer? [yes] The logger runs.\n\
                 Listening for some seconds to hear which probes there are …\n{first}  '{long}': write a name of up to 80 letters\n\
                 {first}{second}\
                 next: `seedclock status` says which probes are heard; `seedclock probe place PROBE SPOT` where each stands\n",
                first = question("Probe 'p1' shows 21.2 °C"),
                second = question("Probe 'p2'"),
                long = "x".repeat(81),
            )
        );
        assert_eq!(placed, ["/bench.db: p1 at west sill"]);

        let fails = FakeMachine { probes: probes.clone(), service_fails: true, ..FakeMachine::default() };
        let (said, placed) = ask(&format!("{begun}yes\n"), true, fails);
        assert!(
            said.contains("It could not be begun: systemctl: not found\nnext: `sudo systemctl enable --now seedclock`"),
            "{said}"
        );
        assert!(placed.is_empty());
        let (said, placed) = ask(&format!("{begun}no\n"), true, FakeMachine { probes: probes.clone(), ..FakeMachine::default() });
        assert!(said.contains("[yes] next: `sudo systemctl enable --now seedclock`") && placed.is_empty(), "{said}");
        let own = FakeMachine { probes, ..FakeMachine::default() };
        let (_, placed) = ask(&format!("{begun}shelf\nmat\n"), false, own);
        assert_eq!(placed, ["/bench.db: p1 at shelf", "/bench.db: p2 at mat"]);
    }

    #[test]
    fn nothing_is_written_where_answers_end_cannot_be_meant_or_name_nothing() {
        let folder = tempfile::tempdir().unwrap();
        let ended = held(folder.path(), "\n/dev/a\n").outcome.unwrap_err();
        assert_eq!(ended.to_string(), "the answers ended before the questions: nothing was written");
        let unfit = held(folder.path(), "\n/dev/a\n\n7d\n\n").outcome.unwrap_err();
        assert_eq!(
            unfit.to_string(),
            "commit-every = \"7d\": write a number and a unit: 60s, 5m or 1h\n  nothing was written; next: begin again"
        );
        assert!(matches!(held(folder.path(), "\n\n\n\n\n").outcome, Ok(Outcome::NotEnough)));
        assert!(!folder.path().join("etc").exists());
    }
}
