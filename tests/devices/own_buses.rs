//! This computer's own 1-Wire bus and temperature chips, as Linux shows them, into a bench; and recordings played back.

use std::path::Path;
use std::process::Command;
use std::sync::Arc;
use std::time::Duration;

use seedclock::civil::Zone;
use seedclock::clock::VouchedClock;
use seedclock::logger::{self, CareOptions, Notice, Post, Resources};
use seedclock::probes::{Hwmon, OneWire, Roots, Source};
use seedclock::store::{BenchKind, Store};

use super::harness::{Desk, program};

/// Logs from sources until so many readings were told as first ones; gives what was told.
fn logged(desk: &Desk, sources: Vec<Source>, probes: usize, mut change: impl FnMut(usize)) -> Vec<String> {
    let store = Store::create(&desk.bench(), Zone::UTC, BenchKind::Own).unwrap();
    let (enough, was_enough) = tokio::sync::oneshot::channel();
    let (mut enough, mut told, mut first) = (Some(enough), Vec::new(), 0);
    let resources = Resources {
        sources,
        commit_every: Duration::from_millis(50),
        care: CareOptions::default(),
        alive_every: None,
        post: Post::default(),
    };
    let runtime = tokio::runtime::Builder::new_current_thread().enable_time().build().unwrap();
    let shutdown = async {
        tokio::time::timeout(Duration::from_secs(60), was_enough).await.expect("the readings in time").unwrap();
    };
    runtime
        .block_on(logger::run(resources, store, Arc::new(VouchedClock), shutdown, |notice| {
            told.push(notice.to_string());
            let is_news = matches!(notice, Notice::FirstReading { .. } | Notice::ProbeGone { .. } | Notice::ProbeBack { .. });
            if is_news {
                first += 1;
                change(first);
                if first == probes {
                    enough.take().unwrap().send(()).unwrap();
                }
            }
        }))
        .unwrap();
    told
}

fn put(path: &Path, text: &str) {
    std::fs::create_dir_all(path.parent().unwrap()).unwrap();
    std::fs::write(path, text).unwrap();
}

#[test]
fn sensors_on_the_one_wire_bus_are_read_by_their_numbers_and_one_pulled_out_is_missed() {
    let desk = Desk::new();
    let sys = desk.port("sys");
    let sensor = |name: &str| sys.join("bus/w1/devices").join(name);
    put(&sensor("28-0b23572ffae4/temperature"), "21562\n");
    put(&sensor("28-3d7de20264ff/temperature"), "-10125\n");
    put(&sensor("w1_bus_master1/name"), "w1_bus_master1\n");
    let bus = OneWire { every: Duration::from_millis(50), roots: Roots { dev: desk.port("dev"), sys: sys.clone() } };
    let told = logged(&desk, vec![Source::OneWire(bus)], 4, |news| match news {
        2 => std::fs::rename(sensor("28-3d7de20264ff"), desk.port("aside")).unwrap(),
        3 => std::fs::rename(desk.port("aside"), sensor("28-3d7de20264ff")).unwrap(),
        _ => {}
    });
    let told = told.join("\n");
    assert!(told.contains("28-3d7de20264ff does not answer any more") && told.contains("28-3d7de20264ff answers again"), "{told}");
    let mut values = desk.values();
    values.dedup();
    assert_eq!(values, ["28-0b23572ffae4,21.562", "28-3d7de20264ff,-10.125"]);
}

#[test]
fn only_those_chips_are_read_that_were_named() {
    let desk = Desk::new();
    let sys = desk.port("sys");
    let chip = |file: &str| sys.join("class/hwmon/hwmon0").join(file);
    put(&chip("name"), "jc42\n");
    put(&chip("temp1_input"), "24500\n");
    put(&sys.join("class/hwmon/hwmon1/name"), "coretemp\n");
    put(&sys.join("class/hwmon/hwmon1/temp1_input"), "65000\n");
    let roots = Roots { dev: desk.port("dev"), sys };
    let chips = Hwmon { wanted: vec!["jc42".to_owned()], every: Duration::from_millis(50), roots };
    logged(&desk, vec![Source::Hwmon(chips)], 1, |_| {});
    let mut values = desk.values();
    values.dedup();
    assert_eq!(values.len(), 1, "{values:?}");
    assert!(values[0].starts_with("jc42") && values[0].ends_with(",24.5"), "{values:?}");
}

#[test]
fn a_recording_is_played_to_its_end_and_the_same_times_again_change_nothing() {
    let desk = Desk::new();
    let recording = desk.port("night.log");
    std::fs::write(
        &recording,
        "# Provenance: made up\n# --\n2026-03-14T07:00:00Z p1,21.5\n2026-03-14T07:01:00Z p1,21.75\n2031-03-14T07:01:00Z p1,1\n",
    )
    .unwrap();
    let play = || {
        let output = program(&desk.bench()).arg("log").arg("--recording").arg(&recording).output().unwrap();
        (output.status.code(), String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = play();
    assert_eq!(code, Some(0), "{said}");
    assert!(
        said.contains("played to its end") && said.ends_with("stopped: 2 readings of 1 probe stored; 1 line could not be read\n"),
        "{said}"
    );
    let before: Vec<_> = desk.readings().into_iter().map(|(_, reading)| reading.time_us).collect();
    assert_eq!(before, [1_773_471_600_000_000, 1_773_471_660_000_000]);
    let (_, said) = play();
    assert!(said.contains("2 readings came again and are stored once"), "{said}");
    assert_eq!(desk.readings().len(), 2);
    let nothing = Command::new(env!("CARGO_BIN_EXE_seedclock"))
        .args(["log", "--recording", "/nowhere/at/all"])
        .arg("--bench")
        .arg(desk.bench())
        .output();
    let nothing = nothing.unwrap();
    assert_ne!(nothing.status.code(), None, "{}", String::from_utf8_lossy(&nothing.stderr));
}
