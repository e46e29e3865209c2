//! Which source brings which probe: a sensor that moved keeps its history, two that answer to one name are kept apart.

use std::collections::{BTreeMap, HashMap};

use crate::bench::Name;
use crate::probes::kernel_name;
use crate::store::KnownSource;

/// A probe belongs to the source that brings it, until that source has brought nothing of it for so long, in microseconds
/// (10 min), or does not stand open: then it has been carried over.
const MOVED_AFTER_US: i64 = 600_000_000;
/// A board that starts has named its probes by then, in microseconds (10 min): a later name is of a probe plugged in since.
const ALL_NAMED_AFTER_US: i64 = 600_000_000;
/// Probes whose source is remembered; a bound, because garbage makes names too.
const MOST_PROBES: usize = 10_000;
/// The longest name, in characters.
const LONGEST_NAME: usize = 80;

/// What is noteworthy about where a reading came from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Noteworthy {
    /// A source brings a probe that it never brought before, where it had brought others.
    NewAtSource {
        /// The ones it had brought.
        others: Vec<Name>,
    },
    /// Another source brings the same probe at the same time.
    TwoOfOneName {
        /// The other one, by its place.
        other: usize,
    },
}

/// One source, as far as its probes go.
#[derive(Debug, Default)]
struct Origin {
    is_open: bool,
    /// Whether it had brought probes before it was opened this time.
    had_probes: bool,
    first_us: Option<i64>,
}

/// Who brought what.
#[derive(Debug, Default)]
pub(super) struct Origins {
    origins: Vec<Origin>,
    homes: HashMap<Name, (usize, i64)>,
    /// Sensors that are on the bench under a number written otherwise than the kernel does.
    written_otherwise: BTreeMap<Name, Name>,
}

impl Origins {
    /// Of so many sources; `probes` are the names on the bench, with those that lines carry.
    pub(super) fn new(sources: usize, probes: &[(Name, Option<Name>)]) -> Self {
        let on_the_bench = |name: &Name| probes.iter().any(|(probe, line_name)| probe == name || line_name.as_ref() == Some(name));
        let lines = probes.iter().map(|(probe, line_name)| line_name.as_ref().unwrap_or(probe));
        let written_otherwise = lines
            .filter_map(|carried| Some((kernel_name(carried.as_str())?, carried.clone())))
            .filter(|(kernel, _)| !on_the_bench(kernel))
            .collect();
        Self { origins: (0..sources).map(|_| Origin::default()).collect(), homes: HashMap::new(), written_otherwise }
    }

    /// A source was opened, or is not open any more.
    pub(super) fn is_open(&mut self, source: usize, is_open: bool, known: &KnownSource) {
        if let Some(origin) = self.origins.get_mut(source) {
            if is_open && !origin.is_open {
                (origin.had_probes, origin.first_us) = (!known.probes.is_empty(), None);
            }
            origin.is_open = is_open;
        }
    }

    /// Under which name a reading of `probe` from `source` is kept, and what is noteworthy about it; `known` is what is known of the
    /// source, and whether that changed is said too.
    pub(super) fn of(
        &mut self,
        source: usize,
        known: &mut KnownSource,
        probe: Name,
        time_us: i64,
    ) -> (Name, Option<Noteworthy>, bool) {
        let probe = self.written_otherwise.get(&probe).cloned().unwrap_or(probe);
        let before = known.probes.get(&probe);
        if let Some(kept_as) = before.filter(|kept_as| **kept_as != probe) {
            return (kept_as.clone(), None, false);
        }
        if let Some((home, last_us)) = self.homes.get_mut(&probe) {
            let both = *home != source
                && self.origins.get(*home).is_some_and(|origin| origin.is_open)
                && time_us.abs_diff(*last_us) < MOVED_AFTER_US.unsigned_abs();
            if both && let Some(kept_as) = at_source(&probe, &known.name) {
                let other = *home;
                let changed = known.remember(&probe, &kept_as) || known.probes.insert(probe, kept_as.clone()).is_some();
                return (kept_as, Some(Noteworthy::TwoOfOneName { other }), changed);
            }
            (*home, *last_us) = (source, time_us);
        } else if self.homes.len() < MOST_PROBES {
            self.homes.insert(probe.clone(), (source, time_us));
        }
        if before.is_some() {
            return (probe, None, false);
        }
        let others: Vec<Name> = known.probes.values().cloned().collect();
        let changed = known.remember(&probe, &probe);
        let late = self.origins.get_mut(source).is_some_and(|origin| {
            let first_us = *origin.first_us.get_or_insert(time_us);
            origin.had_probes || time_us.saturating_sub(first_us) > ALL_NAMED_AFTER_US
        });
        let noteworthy = (late && changed && !others.is_empty()).then_some(Noteworthy::NewAtSource { others });
        (probe, noteworthy, changed)
    }
}

/// "28-3d7de20264ff at usb-0:1.2:1.0-port0": the end of the source's name tells more than its beginning.
fn at_source(probe: &Name, source: &str) -> Option<Name> {
    let short = source.rsplit('/').find(|part| !part.is_empty()).unwrap_or(source);
    let room = LONGEST_NAME.checked_sub(probe.as_str().chars().count() + " at ".len()).filter(|room| *room > 0);
    let (room, length) = (room?, short.chars().count());
    Name::new(&format!("{probe} at {}", short.chars().skip(length.saturating_sub(room)).collect::<String>())).ok()
}

#[cfg(test)]
mod tests {
    use super::*;

    const MINUTE_US: i64 = 60_000_000;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn known(source: &str) -> KnownSource {
        KnownSource { name: source.to_owned(), ..KnownSource::default() }
    }

    fn two_open() -> (Origins, KnownSource, KnownSource) {
        let (left, right) = (known("/dev/serial/by-path/left"), known("/dev/serial/by-path/right"));
        let mut origins = Origins::new(2, &[]);
        origins.is_open(0, true, &left);
        origins.is_open(1, true, &right);
        (origins, left, right)
    }

    #[test]
    fn fault_31_two_probes_with_one_name_on_two_ports_are_told_and_kept_apart_for_good() {
        let (mut origins, mut left, mut right) = two_open();
        assert_eq!(origins.of(0, &mut left, name("28-x"), 0), (name("28-x"), None, true));
        let conflict = Some(Noteworthy::TwoOfOneName { other: 0 });
        assert_eq!(origins.of(1, &mut right, name("28-x"), MINUTE_US), (name("28-x at right"), conflict, true));
        assert_eq!(origins.of(0, &mut left, name("28-x"), 2 * MINUTE_US), (name("28-x"), None, false));
        assert_eq!(origins.of(1, &mut right, name("28-x"), 3 * MINUTE_US), (name("28-x at right"), None, false), "told once");
        // The next logger knows it, whichever of them speaks first.
        let mut later = Origins::new(2, &[]);
        later.is_open(1, true, &right);
        assert_eq!(later.of(1, &mut right, name("28-x"), 0), (name("28-x at right"), None, false));
    }

    #[test]
    fn a_probe_carried_to_another_port_keeps_its_name() {
        let (mut origins, mut left, mut right) = two_open();
        origins.of(0, &mut left, name("a"), 0);
        assert_eq!(origins.of(1, &mut right, name("a"), 10 * MINUTE_US), (name("a"), None, true), "long silent there");
        origins.is_open(1, false, &right);
        assert_eq!(origins.of(0, &mut left, name("a"), 11 * MINUTE_US), (name("a"), None, false), "the other is unplugged");
    }

    #[test]
    fn fault_32_a_new_probe_where_others_were_is_told_once_and_keeps_to_itself() {
        let (mut origins, mut left, _) = two_open();
        for probe in ["a", "b"] {
            assert_eq!(origins.of(0, &mut left, name(probe), MINUTE_US).1, None, "the first ones are only heard");
        }
        origins.is_open(0, false, &left);
        origins.is_open(0, true, &left);
        assert_eq!(origins.of(0, &mut left, name("a"), 2 * MINUTE_US).1, None);
        let new = Some(Noteworthy::NewAtSource { others: vec![name("a"), name("b")] });
        assert_eq!(origins.of(0, &mut left, name("c"), 2 * MINUTE_US), (name("c"), new, true));
        assert_eq!(origins.of(0, &mut left, name("c"), 3 * MINUTE_US), (name("c"), None, false));
        assert!(origins.of(0, &mut left, name("d"), 4 * MINUTE_US).1.is_some());
        let (mut origins, mut left, _) = two_open();
        origins.of(0, &mut left, name("a"), 0);
        assert!(origins.of(0, &mut left, name("b"), 11 * MINUTE_US).1.is_some(), "plugged in while the board ran");
    }

    #[test]
    fn a_sensor_on_the_bench_under_its_number_as_boards_write_it_stays_that_probe() {
        let (board, kernel) = (name("28-FF-64-02-E2-7D-3D-B5"), name("28-3d7de20264ff"));
        let mut left = known("left");
        let mut origins = Origins::new(1, &[(board.clone(), None)]);
        assert_eq!(origins.of(0, &mut left, kernel.clone(), 0).0, board);
        let mut renamed = Origins::new(1, &[(name("mat"), Some(board.clone()))]);
        assert_eq!(renamed.of(0, &mut known("left"), kernel.clone(), 0).0, board, "the store knows whose lines these are");
        let mut both = Origins::new(1, &[(board, None), (kernel.clone(), None)]);
        assert_eq!(both.of(0, &mut known("left"), kernel.clone(), 0).0, kernel);
    }

    #[test]
    fn names_at_a_source_fit() {
        assert_eq!(at_source(&name("p"), "/dev/ttyUSB0"), Some(name("p at ttyUSB0")));
        let long = at_source(&name(&"p".repeat(70)), "/dev/serial/by-path/platform-usb-0:1.2").unwrap();
        assert_eq!(long.as_str(), format!("{} at -0:1.2", "p".repeat(70)));
        assert_eq!(at_source(&name(&"p".repeat(78)), "x"), None);
    }
}
