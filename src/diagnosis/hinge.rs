//! Whether a verdict on a spot hangs on a probe that may be wrong.

use std::collections::BTreeSet;

use super::delay::{Paths, apart, is_late};
use super::gains::days_until;
use crate::bench::Name;

/// As far as a probe that was never calibrated may be off, °C: the usual sensor's own figure (DS18B20 data sheet, Maxim 2019, ±0.5 °C from −10
/// to +85 °C).
const UNCALIBRATED_C: f64 = 0.5;
/// A verdict stands where the delay is there in at least this share of the draws, whatever is tried.
const STANDS: f64 = 0.5;

/// What a verdict hangs on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum HangsOn {
    /// It would be gone with the spot's probe half a degree off, which was never calibrated.
    HalfADegree,
    /// It would be gone without readings of the spot that are suspect.
    DoubtedReadings,
}

/// A verdict that hangs on a spot's probes, and is not given therefore.
#[derive(Debug, Clone, PartialEq)]
pub struct Hinge {
    /// What it hangs on.
    pub on: HangsOn,
    /// The spot.
    pub spot: Name,
    /// Its probes in question.
    pub probes: Vec<Name>,
}

/// What the delay behind the fastest spot hangs on, if on anything: each spot in turn whose probes were never calibrated is taken for half
/// a degree warmer and cooler than it was read, for the past and for what is to come; then quarters of an hour in which either spot's readings are
/// suspect are taken to have been alike at both.
pub(super) fn hinge(paths: &Paths<'_>, best: usize) -> Option<Hinge> {
    let placed = paths.placed;
    let concerned: BTreeSet<&Name> = placed.own_spots.iter().copied().chain([placed.spot, paths.names[best]]).collect();
    for (name, path) in concerned.iter().filter_map(|name| Some((*name, placed.spots.get(*name)?))) {
        if path.uncalibrated.is_empty() {
            continue;
        }
        let gone = [UNCALIBRATED_C, -UNCALIBRATED_C].into_iter().any(|by| {
            let off = paths.with(name, by);
            late_share(&off, best, |_| false) < STANDS
        });
        if gone {
            return Some(Hinge { on: HangsOn::HalfADegree, spot: name.clone(), probes: path.uncalibrated.clone() });
        }
    }
    let of = |name: &Name| placed.spots.get(name).into_iter().flat_map(|path| &path.doubted);
    let mut alike = vec![false; paths.past];
    for name in &concerned {
        for doubted in of(name) {
            for slot in doubted.slots.clone().take_while(|slot| *slot < paths.past) {
                alike[slot] |= *name == paths.names[best] || *name == placed.own_spots[slot];
            }
        }
    }
    if !alike.contains(&true) || late_share(paths, best, |slot| alike.get(slot).copied().unwrap_or(false)) >= STANDS {
        return None;
    }
    let longest = concerned.into_iter().max_by_key(|name| of(name).map(|doubted| doubted.slots.len()).sum::<usize>())?;
    let probes: BTreeSet<Name> = of(longest).map(|doubted| doubted.probe.clone()).collect();
    Some(Hinge { on: HangsOn::DoubtedReadings, spot: longest.clone(), probes: probes.into_iter().collect() })
}

/// The share of draws with a delay, where in some quarters of an hour it was alike at both spots.
fn late_share(paths: &Paths<'_>, best: usize, alike: impl Fn(usize) -> bool) -> f64 {
    let late = (0..paths.draws())
        .filter(|draw| {
            let (own, there) = (paths.own(*draw), paths.at(*draw, best));
            let half = paths.half(*draw);
            let best_days = days_until(|slot| there.at(slot), half, 0, paths.slots);
            let own_days = days_until(|slot| if alike(slot) { there.at(slot) } else { own.at(slot) }, half, 0, paths.slots);
            is_late(apart(own_days, best_days), best_days)
        })
        .count();
    late as f64 / paths.draws().max(1) as f64
}
