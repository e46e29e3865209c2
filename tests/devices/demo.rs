//! The demo: its probes are read through a real pseudo-terminal, and nobody's bench is harmed.

use seedclock::bench::Reading;
use seedclock::civil::Zone;
use seedclock::clock::{Clock, SystemClock};
use seedclock::store::{BenchKind, Store};

use super::harness::{Desk, program};

/// Lines a probe prints in the five minutes played, one every ten seconds.
const LINES_PLAYED: usize = 30;

#[test]
fn the_demo_runs_through_plays_its_probes_and_replaces_only_its_own_file() {
    let desk = Desk::new();
    for run in 1..=2 {
        let before = SystemClock.now();
        let done = program(&desk.bench()).arg("demo").output().unwrap();
        let (said, told) = (String::from_utf8(done.stdout).unwrap(), String::from_utf8(done.stderr).unwrap());
        assert_eq!((done.status.code(), told.as_str()), (Some(0), ""), "run {run}: {said}");
        let store = Store::open_read_only(&desk.bench()).unwrap();
        assert_eq!(store.kind(), BenchKind::Demo);
        let probes = store.probes().unwrap();
        assert!(!probes.is_empty());
        for span in &probes {
            let from = before.timestamp_micros() - 5 * 60 * 1_000_000;
            let last: Vec<Reading> = store.readings(&span.probe, from, i64::MAX).unwrap();
            // One of the story's own may lie in the moment between the test's clock and the demo's.
            assert!((LINES_PLAYED..=LINES_PLAYED + 1).contains(&last.len()), "run {run}, {}: {}", span.probe, last.len());
            assert!(said.contains(&format!("\n  {} at ", span.probe)), "{said}");
        }
        let stored = format!("\n{} readings of {} probes are now on the bench.\n", LINES_PLAYED * probes.len(), probes.len());
        assert!(said.contains(&stored), "{said}");
        assert!(said.contains(&format!("\n  seedclock --bench {} forecast", desk.bench().display())), "{said}");
    }
}

#[test]
fn the_demo_leaves_a_growers_own_bench_alone() {
    let desk = Desk::new();
    drop(Store::create(&desk.bench(), Zone::UTC, BenchKind::Own).unwrap());
    let before = std::fs::read(desk.bench()).unwrap();
    let refused = program(&desk.bench()).arg("demo").output().unwrap();
    assert_eq!(
        (refused.status.code(), String::from_utf8(refused.stderr).unwrap()),
        (
            Some(2),
            format!(
                "seedclock: {} is a bench of your own, and the demo replaces only its own: nothing was changed\n  \
                 next: `seedclock demo` without --bench, or with the name of a new file\n",
                desk.bench().display()
            )
        )
    );
    assert_eq!(std::fs::read(desk.bench()).unwrap(), before);
}
