//! A bench taken in from a folder by the built program, and what the program answers about it.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

/// Files of a bench folder by name.
pub(crate) type Files = BTreeMap<String, String>;

/// A bench in a folder of its own.
pub(crate) struct Asked {
    folder: tempfile::TempDir,
}

impl Asked {
    /// A bench that holds what the files say.
    pub(crate) fn about(files: &Files) -> Self {
        let folder = tempfile::tempdir().unwrap();
        let bench_folder = folder.path().join("folder");
        std::fs::create_dir(&bench_folder).unwrap();
        files.iter().for_each(|(name, text)| std::fs::write(bench_folder.join(name), text).unwrap());
        let asked = Self { folder };
        asked.says(&["import", bench_folder.to_str().unwrap()]);
        asked
    }

    pub(crate) fn bench(&self) -> PathBuf {
        self.folder.path().join("bench.db")
    }

    /// Runs a command on the bench.
    pub(crate) fn run(&self, arguments: &[&str]) -> Output {
        program(&self.bench()).args(arguments).output().unwrap()
    }

    /// Runs a command that must go well without a word of complaint; gives what it says.
    pub(crate) fn says(&self, arguments: &[&str]) -> String {
        let done = self.run(arguments);
        let (said, told) = (String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap());
        assert_eq!((done.status.code(), told.as_str()), (Some(0), ""), "{arguments:?} said {said}");
        said
    }

    /// Runs a command whose answer is "not enough", and gives it as JSON: all its fields are there nevertheless.
    pub(crate) fn not_enough(&self, arguments: &[&str]) -> Value {
        let done = self.run(&[arguments, &["--json"]].concat());
        assert_eq!(done.status.code(), Some(1), "{arguments:?} said {}", String::from_utf8_lossy(&done.stdout));
        serde_json::from_slice(&done.stdout).unwrap()
    }

    /// The same as JSON.
    pub(crate) fn json(&self, arguments: &[&str]) -> Value {
        let said = self.says(&[arguments, &["--json"]].concat());
        serde_json::from_str(&said).unwrap_or_else(|error| panic!("{arguments:?} gave no JSON ({error}): {said}"))
    }
}

/// The built program on a bench, in Berlin.
pub(crate) fn program(bench: &Path) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_seedclock"));
    command.env_remove("SEEDCLOCK_BENCH").env("TZ", "Europe/Berlin").arg("--bench").arg(bench);
    command
}

/// A number in an answer, by its JSON pointer; none where it is null, which is not the same as absent.
pub(crate) fn number(answer: &Value, pointer: &str) -> Option<f64> {
    let found = answer.pointer(pointer).unwrap_or_else(|| panic!("no {pointer} in {answer:#}"));
    assert!(found.is_number() || found.is_null(), "{pointer} is {found}");
    found.as_f64()
}

/// The element of a list that has `name` under `key`.
pub(crate) fn named<'a>(list: &'a Value, key: &str, name: &str) -> &'a Value {
    list.as_array().unwrap().iter().find(|one| one[key] == name).unwrap_or_else(|| panic!("no {key} {name} in {list:#}"))
}
