//! What is put on record, through the built program: folders in and out, the daily commands, and what is refused.

mod away;
mod bad_columns;
mod bad_input;
mod bench_file;
mod beside;
mod cells;
mod doubted;
mod extremes;
mod first_year;

mod friends;
mod ill_names;
mod kept;
mod limits;
mod local_times;
mod mutation;
mod other_tables;
mod recall;
mod refused;
mod replace;
mod round_trip;
mod season;
mod status;
mod undated;
mod undo;

use std::path::PathBuf;

/// A folder of its own for one test, with a bench file that does not exist yet.
struct Desk {
    folder: tempfile::TempDir,
}

/// What a command answered.
#[derive(Debug, PartialEq, Eq)]
struct Answer {
    code: i32,
    out: String,
    err: String,
}

impl Desk {
    fn new() -> Self {
        Self { folder: tempfile::tempdir().unwrap() }
    }

    fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    fn bench(&self) -> PathBuf {
        self.path("bench.db")
    }

    /// Runs the program on this desk's bench, in Berlin; the desk's folder is left out of what it says.
    fn run(&self, arguments: &[&str]) -> Answer {
        let output = assert_cmd::Command::cargo_bin("seedclock")
            .unwrap()
            .current_dir(self.folder.path())
            .env_remove("SEEDCLOCK_BENCH")
            .env("TZ", "Europe/Berlin")
            .arg("--bench")
            .arg(self.bench())
            .args(arguments)
            .output()
            .unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap().replace(&format!("{}/", self.folder.path().display()), "");
        Answer { code: output.status.code().unwrap(), out: text(output.stdout), err: text(output.stderr) }
    }

    /// Runs a command that must go well, and gives what it says.
    fn says(&self, arguments: &[&str]) -> String {
        let answer = self.run(arguments);
        assert_eq!((answer.code, answer.err.as_str()), (0, ""), "{arguments:?} said {answer:?}");
        answer.out
    }

    fn write_folder(&self, name: &str, files: &[(&str, &[u8])]) {
        std::fs::create_dir_all(self.path(name)).unwrap();
        for (file, bytes) in files {
            std::fs::write(self.path(name).join(file), bytes).unwrap();
        }
    }

    /// All files of a folder with their bytes, by name.
    fn files(&self, name: &str) -> Vec<(String, Vec<u8>)> {
        let mut files: Vec<_> = std::fs::read_dir(self.path(name))
            .unwrap()
            .map(|entry| {
                let path = entry.unwrap().path();
                (path.file_name().unwrap().to_str().unwrap().to_owned(), std::fs::read(&path).unwrap())
            })
            .collect();
        files.sort();
        files
    }
}
