//! The configuration file of the logger: TOML, its keys the options' names, its values held to the options' rules.

use std::error::Error as _;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::error::{ContextKind, ErrorKind};
use clap::{Args as _, Command, FromArgMatches as _};
use toml::de::{DeTable, DeValue};

use super::wishes::Wishes;

/// Every key with its meaning, for a grower to begin with.
pub(super) const EXAMPLE: &str = include_str!("example.toml");
/// The one key that is no option of `log` alone.
const BENCH: &str = "bench";

/// What a file says.
#[derive(Debug, Default)]
pub(super) struct Configured {
    pub(super) bench: Option<PathBuf>,
    pub(super) wishes: Wishes,
}

impl Configured {
    /// Reads a file.
    ///
    /// # Errors
    /// It cannot be read, or something in it cannot be meant: nothing of it is used then.
    pub(super) fn read(path: &Path) -> anyhow::Result<Self> {
        let text = std::fs::read_to_string(path).with_context(|| format!("cannot read the configuration {}", path.display()))?;
        Self::of(&text).map_err(|Fault { line, what }| {
            anyhow::anyhow!("{}:{line}: {what}\n  nothing was started; next: mend line {line}", path.display())
        })
    }

    /// What is wrong in a text that is to become a file, if anything is.
    pub(super) fn check(text: &str) -> Result<(), String> {
        Self::of(text).map(drop).map_err(|fault| fault.what)
    }

    fn of(text: &str) -> Result<Self, Fault> {
        let fault = |at: usize, what: String| Fault { line: line_of(text, at), what };
        let table = DeTable::parse(text)
            .map_err(|error| fault(error.span().map_or(text.len(), |span| span.start), error.message().to_owned()))?;
        let rules = options();
        let (mut bench, mut words) = (None, vec![rules.get_name().to_owned()]);
        for (key, value) in table.get_ref() {
            let (key, at) = (key.get_ref().as_ref(), value.span().start);
            let said = |what: &str| fault(at, format!("{key} = {}: {what}", shown(text, value.span())));
            if key == BENCH {
                let DeValue::String(path) = value.get_ref() else { return Err(said("write a path in quotes")) };
                bench = Some(PathBuf::from(path.as_ref()));
                continue;
            }
            let Some(option) = rules.get_arguments().find(|option| option.get_long() == Some(key)) else {
                let keys: Vec<&str> = rules.get_arguments().filter_map(clap::Arg::get_long).collect();
                return Err(fault(key_at(text, key, at), format!("'{key}' is no key; the keys are {BENCH}, {}", keys.join(", "))));
            };
            let told = match (value.get_ref(), option.get_action().takes_values()) {
                (DeValue::Boolean(true), false) => vec![format!("--{key}")],
                (DeValue::Boolean(false), false) => Vec::new(),
                (_, false) => return Err(said("write true or false")),
                (DeValue::Array(values), true) if matches!(option.get_action(), clap::ArgAction::Append) => {
                    let each = |value: &toml::Spanned<DeValue<'_>>| {
                        let word = word(value.get_ref()).ok_or_else(|| said("write texts in quotes"))?;
                        Ok([format!("--{key}={word}")])
                    };
                    values.iter().map(each).collect::<Result<Vec<_>, Fault>>()?.concat()
                }
                (value, true) => {
                    let word = word(value).ok_or_else(|| said("write a number, or a text in quotes"))?;
                    vec![format!("--{key}={word}")]
                }
            };
            // Alone, so that a fault is known to be of this line. What it needs beside it is asked of the whole.
            let alone = std::iter::once(rules.get_name().to_owned()).chain(told.clone());
            if let Err(error) = rules.clone().try_get_matches_from(alone)
                && error.kind() != ErrorKind::MissingRequiredArgument
            {
                let rule = error.source().map_or_else(|| usual_rule(&error), ToString::to_string);
                return Err(said(&rule));
            }
            words.extend(told);
        }
        let matched = rules.try_get_matches_from(words).and_then(|matches| Wishes::from_arg_matches(&matches));
        let wishes = matched.map_err(|error| fault(0, missing(&error)))?;
        Ok(Self { bench, wishes })
    }
}

/// What is wrong in which line.
#[derive(Debug, PartialEq, Eq)]
struct Fault {
    line: usize,
    what: String,
}

fn options() -> Command {
    Wishes::augment_args(Command::new("log")).disable_help_flag(true)
}

fn usual_rule(error: &clap::Error) -> String {
    let allowed = error.get(ContextKind::ValidValue).map(ToString::to_string);
    allowed.map_or_else(|| "this value cannot be used".to_owned(), |allowed| format!("write one of {allowed}"))
}

fn missing(error: &clap::Error) -> String {
    let what = error.get(ContextKind::InvalidArg).map(ToString::to_string).unwrap_or_default();
    format!("something is missing beside what is there: {}", what.trim_start_matches('-'))
}

fn word(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::String(text) => Some(text.to_string()),
        DeValue::Integer(number) => Some(number.as_str().to_owned()),
        _ => None,
    }
}

/// A piece of the file as it stands there.
fn shown(text: &str, span: std::ops::Range<usize>) -> &str {
    text.get(span).unwrap_or_default()
}

/// Where a key stands before its value.
fn key_at(text: &str, key: &str, value_at: usize) -> usize {
    text.get(..value_at).and_then(|before| before.rfind(key)).unwrap_or(value_at)
}

fn line_of(text: &str, at: usize) -> usize {
    text.get(..at).unwrap_or(text).matches('\n').count() + 1
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// A file as growers may leave it: the example with lines set free, cut, doubled, or with odd letters put in.
    fn spoilt() -> impl Strategy<Value = String> {
        let free = |line: &str| line.strip_prefix('#').filter(|rest| !rest.starts_with(' ')).unwrap_or(line).to_owned();
        let odd = ["[", "]]", "'''", "\"\"\"", "= 1", "port = [", "\u{feff}", "a.b = 1", "[port]", "baud = nan"];
        let piece = prop_oneof![
            6 => prop::sample::select(EXAMPLE.lines().map(free).collect::<Vec<_>>()),
            1 => "[ -~]{0,40}",
            1 => "\\PC{0,12}",
            1 => prop::sample::select(odd.map(str::to_owned).to_vec()),
        ];
        let cut = |(text, at, cuts): (String, prop::sample::Index, bool)| {
            let letters = text.chars().count();
            match cuts {
                true => text.chars().take(at.index(letters + 1)).collect(),
                false => text + "\n",
            }
        };
        prop::collection::vec((piece, any::<prop::sample::Index>(), any::<bool>()), 0..12)
            .prop_map(move |pieces| pieces.into_iter().map(cut).collect())
    }

    proptest! {
        #![proptest_config(ProptestConfig { rng_seed: proptest::test_runner::RngSeed::Fixed(2000), ..ProptestConfig::with_cases(2000) })]
        #[test]
        fn fault_48_whatever_stands_in_the_file_is_meant_or_named_by_a_line_of_it(text in spoilt()) {
            if let Err(Fault { line, what }) = Configured::of(&text) {
                prop_assert!((1..=text.lines().count() + 1).contains(&line), "line {line} of {text:?}");
                prop_assert!(!what.trim().is_empty(), "{text:?}");
            }
        }
    }

    fn fault(text: &str) -> String {
        let Fault { line, what } = Configured::of(text).unwrap_err();
        format!("{line}: {what}")
    }

    #[test]
    fn every_option_has_its_key_in_the_example_and_all_its_keys_can_be_meant() {
        let said: String = EXAMPLE
            .lines()
            .map(|line| line.strip_prefix('#').filter(|rest| !rest.starts_with(' ')).unwrap_or_default())
            .map(|line| format!("{line}\n"))
            .collect();
        let configured = Configured::of(&said).unwrap();
        assert_eq!(configured.bench, Some(PathBuf::from("/var/lib/seedclock/bench.db")));
        assert!(configured.wishes.has_sources());
        for option in options().get_arguments() {
            let key = option.get_long().unwrap();
            assert!(said.lines().any(|line| line.split(" = ").next() == Some(key)), "{key} is not in the example");
        }
        let nothing = Configured::of(EXAMPLE).unwrap();
        assert!(nothing.bench.is_none() && !nothing.wishes.has_sources(), "as it is printed it says nothing");
    }

    #[test]
    fn fault_48_what_cannot_be_meant_is_named_by_its_line_and_nothing_of_the_file_is_used() {
        assert_eq!(
            fault("baud = 9600\ncommit-every = \"60\"\n"),
            "2: commit-every = \"60\": write a number and a unit: 60s, 5m or 1h"
        );
        assert_eq!(fault("\n\nbaud = 7\n"), "3: baud = 7: 7 is not in 50..=4000000");
        assert_eq!(fault("clock = \"mine\"\n"), "1: clock = \"mine\": write one of auto, trusted");
        assert_eq!(fault("one-wire = \"yes\"\n"), "1: one-wire = \"yes\": write true or false");
        assert_eq!(fault("port = [1.5]\n"), "1: port = [1.5]: write texts in quotes");
        assert_eq!(fault("bench = 3\n"), "1: bench = 3: write a path in quotes");
        assert!(
            fault("one-wire = true\nprot = [\"/dev/a\"]\n")
                .starts_with("2: 'prot' is no key; the keys are bench, port, baud, one-wire")
        );
        assert!(fault("broker = \"house\"\n").ends_with("topic <TOPIC>"), "{}", fault("broker = \"house\"\n"));
        // Cut off in the middle, as by a full disk.
        assert!(fault("port = [\"/dev/a\"]\ncommit-every = \"60").starts_with("2: "));
        assert!(fault("port = [\"/dev/a\"]\nport = [\"/dev/b\"]\n").starts_with("2: "));
    }

    #[test]
    fn an_option_typed_wins_over_its_key() {
        let file = Configured::of("port = [\"/dev/a\", \"/dev/b\"]\nbaud = 4800\none-wire = true\n").unwrap().wishes;
        let typed = options().try_get_matches_from(["log", "--port", "/dev/c"]).unwrap();
        let wishes = Wishes::from_arg_matches(&typed).unwrap().over(file);
        let shown = format!("{wishes:?}");
        assert!(
            shown.contains("ports: [\"/dev/c\"]") && shown.contains("baud: Some(4800)") && shown.contains("one_wire: true"),
            "{shown}"
        );
    }
}
