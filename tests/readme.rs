//! The README's first session, run as printed.

use std::path::PathBuf;

use assert_cmd::Command;

#[test]
fn the_first_session_of_the_readme_runs_as_printed() {
    let readme = std::fs::read_to_string(PathBuf::from(env!("CARGO_MANIFEST_DIR")).join("README.md")).unwrap();
    let session = readme.split("```sh\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let bench = folder.path().join("bench.db");
    let lines: Vec<&str> = session.lines().collect();
    assert!(lines.len() >= 8, "the session is there");
    for line in lines {
        let words = words_of(line);
        assert_eq!(words[0], "seedclock", "{line}");
        let run = Command::cargo_bin("seedclock").unwrap().env("SEEDCLOCK_BENCH", &bench).args(&words[1..]).output().unwrap();
        // No probe of it has been read yet: of dates and delays the answer may be "not enough".
        let may = if ["forecast", "diagnose"].contains(&words[1].as_str()) { 0..=1 } else { 0..=0 };
        assert!(
            run.status.code().is_some_and(|code| may.contains(&code)),
            "{line}\n{}{}",
            String::from_utf8_lossy(&run.stdout),
            String::from_utf8_lossy(&run.stderr)
        );
        assert!(!run.stdout.is_empty(), "{line} says nothing");
    }
}

/// The example of a trial: its list on a bench that has the three spots only, then the bench with all looks; what is printed there is
/// what the program says, and what was put into the made-up seeds is what it finds.
#[test]
fn the_trial_of_the_readme_comes_out_as_printed() {
    let root = PathBuf::from(env!("CARGO_MANIFEST_DIR"));
    let readme = std::fs::read_to_string(root.join("README.md")).unwrap();
    let example =
        readme.split("## A trial, from sowing list to report\n").nth(1).and_then(|rest| rest.split("\n## ").next()).unwrap();
    let blocks = |fence: &str| -> Vec<String> {
        example.split(fence).skip(1).map(|rest| rest.split("```").next().unwrap().to_owned()).collect()
    };
    let (commands, printed) = (blocks("```sh\n"), blocks("```text\n"));
    assert_eq!((commands.len(), printed.len()), (2, 2));
    let folder = tempfile::tempdir().unwrap();
    let data = root.join("tests/data/basil");
    for file in ["bench.csv", "probes.csv", "spots.csv"] {
        std::fs::copy(data.join(file), folder.path().join(file)).unwrap();
    }
    let header = |file: &str| std::fs::read_to_string(data.join(file)).unwrap().lines().next().unwrap().to_owned() + "\n";
    for file in ["containers.csv", "checks.csv"] {
        std::fs::write(folder.path().join(file), header(file)).unwrap();
    }
    let run = |bench: &str, words: &[String], code: i32| {
        let run = Command::cargo_bin("seedclock")
            .unwrap()
            .current_dir(folder.path())
            .env("SEEDCLOCK_BENCH", folder.path().join(bench))
            .args(words)
            .output()
            .unwrap();
        let said = String::from_utf8(run.stdout).unwrap();
        assert_eq!(run.status.code(), Some(code), "{words:?}: {said}{}", String::from_utf8_lossy(&run.stderr));
        said
    };
    let import = |bench: &str, from: &std::path::Path| run(bench, &["import".to_owned(), from.display().to_string()], 0);
    import("empty.db", folder.path());
    // It warns that so many seeds hardly tell 20 points.
    assert_eq!(run("empty.db", &words_of(commands[0].trim())[1..], 1), printed[0]);
    import("spring.db", &data);
    let asked: Vec<String> = commands[1].lines().map(|line| run("spring.db", &words_of(line)[1..], 0)).collect();
    assert_eq!(asked[0], printed[1]);
    for picture in ["sprouts-a-day", "up-by-day", "up-by-warmth", "side-by-side"] {
        for ending in ["svg", "png"] {
            assert!(folder.path().join(format!("figures/{picture}.{ending}")).exists(), "{picture}.{ending}");
        }
    }
    let report = std::fs::read_to_string(folder.path().join("basil.html")).unwrap();
    assert_eq!(report.matches("<svg ").count(), 4, "its four figures");
    assert!(report.contains("A gap of 20 points or more is ruled out."));
    let answer: serde_json::Value =
        serde_json::from_str(&run("spring.db", &["compare".to_owned(), "--json".to_owned()], 0)).unwrap();
    let pair = &answer["pairs"][0];
    let (low, high) = (pair["time_ratio_thermal"]["low"].as_f64().unwrap(), pair["time_ratio_thermal"]["high"].as_f64().unwrap());
    let truth = if pair["a"] == "soaked" { 0.8 } else { 1.0 / 0.8 };
    assert!((low..=high).contains(&truth), "{low} to {high}");
    assert_eq!((&pair["verdict"]["fraction"], &pair["verdict"]["speed"]), (&"not-shown".into(), &"shown".into()));
}

/// A line as a shell would split it, double quotes only.
pub(crate) fn words_of(line: &str) -> Vec<String> {
    let mut words = vec![String::new()];
    let mut quoted = false;
    for letter in line.chars() {
        match letter {
            '"' => quoted = !quoted,
            ' ' if !quoted => words.push(String::new()),
            _ => words.last_mut().unwrap().push(letter),
        }
    }
    words
}
