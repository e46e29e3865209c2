//! A bench with as much on it as is wished, for measurements.

use std::path::Path;

use seedclock::bench::rules::{Conflict, Counted, Entry, Origin, admit};
use seedclock::bench::{Bench, Check, Container, Name, Placement, Proof, Reading, Siting};
use seedclock::civil::{Time, Zone};
use seedclock::clock::{Clock, SystemClock};
use seedclock::store::{BenchKind, Store, Why};

pub(crate) const DAY_US: i64 = 86_400_000_000;
/// A sixteenth of a degree, the step of common probes, in 1/10 000 °C.
const STEP_C_E4: f64 = 625.0;
const SPECIES: [&str; 4] = ["leek", "tomato", "basil", "larkspur"];
const SEEDS: u32 = 20;
const LOOKS: i64 = 30;

/// How much there is of everything.
pub(crate) struct Size {
    pub(crate) probes: usize,
    pub(crate) readings: usize,
    pub(crate) spacing_us: i64,
    pub(crate) past: usize,
    pub(crate) present: usize,
}

fn name(text: &str) -> Name {
    Name::new(text).unwrap()
}

pub(crate) fn time(time_us: i64) -> Time {
    seedclock::civil::time_from_micros(time_us).unwrap()
}

/// Mean temperature where a probe stands, °C.
fn mean_c(size: &Size, probe: usize) -> f64 {
    13.0 + 12.0 * probe as f64 / (size.probes - 1) as f64
}

/// Writes a bench whose readings end now.
pub(crate) fn write(path: &Path, size: &Size) {
    let now = SystemClock.now();
    let each = (size.readings / size.probes) as i64;
    let end_us = now.timestamp_micros();
    let first_us = end_us - each * size.spacing_us;
    let mut store = Store::create(path, Zone::UTC, BenchKind::Own).unwrap();
    let entries = story(size, first_us, end_us).into_iter().map(|entry| (Origin::Typed, entry)).collect();
    let admitted = admit(&Bench::empty(Zone::UTC), entries, Conflict::Refused, now).unwrap();
    let mut change = store.change().unwrap();
    change.record(&admitted, Why::Replaced, now).unwrap();
    for probe in 0..size.probes {
        let readings: Vec<Reading> = (0..each).filter_map(|at| reading(size, probe, first_us + at * size.spacing_us)).collect();
        change.add_readings(&name(&format!("p{probe}")), &readings, now, |_, _| Conflict::Refused).unwrap();
    }
    change.commit().unwrap();
}

/// A day's wave, a wander over days, some flicker, in whole steps of a probe; nothing for six hours in each hundred days.
fn reading(size: &Size, probe: usize, time_us: i64) -> Option<Reading> {
    let days = time_us as f64 / DAY_US as f64 + 7.0 * probe as f64;
    if days % 100.0 < 0.25 {
        return None;
    }
    let wave = 2.5 * (std::f64::consts::TAU * days).sin() + 1.5 * (days / 3.0).sin();
    let flicker = (time_us / size.spacing_us).wrapping_mul(2_654_435_761) >> 16 & 1;
    let steps = (16.0 * (mean_c(size, probe) + wave)).round() + flicker as f64;
    Some(Reading { time_us, raw_c_e4: Some((steps * STEP_C_E4) as i64), proof: Proof::Plain })
}

/// Probes where the boxes stand, two past seasons, and boxes sown in the last three weeks, all looked at each morning.
fn story(size: &Size, first_us: i64, end_us: i64) -> Vec<Entry> {
    let mut entries: Vec<Entry> = (0..size.probes)
        .map(|probe| {
            let (probe, spot) = (name(&format!("p{probe}")), name(&format!("spot {probe}")));
            Entry::Placement(Placement { probe, spot, since: time(first_us), calibration: None, siting: Siting::Beside })
        })
        .collect();
    let third = (end_us - first_us) / 3;
    for at in 0..size.past + size.present {
        let past = at < size.past;
        let (batch, begun_us) = match (past, at % 2) {
            (true, 0) => ("two seasons ago", first_us + third / 2),
            (true, _) => ("last season", first_us + third + third / 2),
            (false, _) => ("this season", end_us - 21 * DAY_US),
        };
        let sown_us = begun_us + (at % 12) as i64 * DAY_US;
        let probe = at % size.probes;
        let container = name(&format!("{}{at}", if past { "P" } else { "N" }));
        let species = name(SPECIES[at / 2 % SPECIES.len()]);
        let made = Container::new(container.clone(), name(batch), species, name(&format!("spot {probe}")), time(sown_us));
        entries.push(Entry::Container(Container { seeds: Some(SEEDS), ..made }));
        let mut seen = 0;
        for look in 1..=LOOKS {
            let time_us = sown_us + look * DAY_US;
            if time_us >= end_us {
                break;
            }
            let warmth = (mean_c(size, probe) - 6.0).max(0.0) * look as f64;
            let up = (f64::from(SEEDS) * 0.8 / (1.0 + (90.0 / warmth.max(0.1)).powi(7))).floor() as u32;
            let check = Check { sprouted: up - seen, ..Check::none_new(container.clone(), time(time_us)) };
            entries.push(Entry::Check(check, Counted::SinceLast));
            seen = up;
        }
    }
    entries
}
