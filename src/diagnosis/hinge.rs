//! Whether a verdict on a spot hangs on a probe that may be wrong.

use std::collections::BTreeSet;

use super::delay::{Paths, apart, is_late};
use super::gains::{SLOTS_PER_DAY, days_until};
use crate::bench::Name;

/// As far as a probe that was never calibrated may be off, °C: the usual sensor's own figure (DS18B20 data sheet, Maxim 2019, ±0.5 °C from −10
/// to +85 °C).
const UNCALIBRATED_C: f64 = 0.5;
/// A verdict stands where the delay is there in at least this share of the draws, whatever is tried.
const STANDS: f64 = 0.5;
/// Temperatures to come are made from the days just past, so many quarters of an hour.
const LATELY: usize = 14 * SLOTS_PER_DAY;
/// With more than this share of those suspect, what is to come is in doubt too.
const LATELY_DOUBTED: f64 = 0.1;

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
/// suspect are taken to have been alike at both, and what is to come with them where it is made from such.
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
    let lately = &alike[alike.len().saturating_sub(LATELY)..];
    let to_come = lately.iter().filter(|alike| **alike).count() as f64 > LATELY_DOUBTED * lately.len() as f64;
    if !alike.contains(&true) || late_share(paths, best, |slot| alike.get(slot).copied().unwrap_or(to_come)) >= STANDS {
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

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::super::delay::{Doubted, PlacedBox, SpotPath, diagnose_box};
    use super::*;
    use crate::bench::{Container, Trial};
    use crate::civil::Time;
    use crate::forecast::{Outlook, Weather};
    use crate::germination::{Distribution, Needs, OwnNeeds};
    use crate::stats::Dice;
    use crate::thermal::Rate;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    /// A box for ten days on a sill at so many °C, with a shelf at 14 °C beside it; base 10 °C, half of the seeds at 80 °C·d. Offsets are taken as
    /// known, so that all depends on what is tried. Gives the chance of a delay and what it hangs on.
    fn on_a_sill(sill_c: f64, uncalibrated: [bool; 2], doubted: &[std::ops::Range<usize>]) -> (f64, Option<Hinge>) {
        let names = [name("shelf"), name("sill")];
        let outlooks = [Outlook::steady(14.0), Outlook::steady(sill_c)];
        let past = [vec![14.0; 960], vec![sill_c; 960]];
        let spots: BTreeMap<&Name, SpotPath<'_>> = (0..2)
            .map(|at| {
                let doubted = if at == 1 { doubted } else { &[] };
                let doubted = doubted.iter().map(|slots| Doubted { probe: name("p-sill"), slots: slots.clone() }).collect();
                let uncalibrated = if uncalibrated[at] { vec![name(&format!("p-{}", names[at]))] } else { Vec::new() };
                let (past_c, offsets) = (past[at].clone(), vec![0.0; 40]);
                (&names[at], SpotPath { past_c, outlook: &outlooks[at], offsets, room: None, uncalibrated, doubted })
            })
            .collect();
        let needs = |base: f64| {
            let needs = Needs { rate: Rate::Threshold { base }, ln_half: 80.0_f64.ln(), spread: 0.1, germinable: 0.9 };
            OwnNeeds { own: needs, typical: needs, ln_slower: 0.0 }
        };
        let mut dice = Dice::new(1);
        let draws: Vec<OwnNeeds> = (0..40).map(|_| needs(10.0 + 0.2 * dice.normal())).collect();
        let weather: Vec<Weather> = (0..40).map(|_| Weather::draw(&mut dice)).collect();
        let trial = Trial::new(Container::new(name("A"), name("now"), name("leek"), name("sill"), Time::UNIX_EPOCH));
        let own_spots = vec![&names[1]; 960];
        let hours: Vec<f64> = (0..96).map(|slot| f64::from(slot) / 4.0).collect();
        let placed = PlacedBox {
            trial: &trial,
            own_past_c: &past[1],
            own_spots: &own_spots,
            spot: &names[1],
            local_hours: &hours,
            spots: &spots,
        };
        let delay = diagnose_box(&placed, Distribution::LogLogistic, &draws, &weather, &draws[0].typical).unwrap();
        (delay.chance, delay.hinge)
    }

    #[test]
    fn a_little_cooler_hangs_on_a_probe_never_calibrated_and_far_cooler_on_none() {
        let (chance, hinge) = on_a_sill(13.5, [true, true], &[]);
        assert!(chance > 0.95, "{chance}");
        assert_eq!(hinge, Some(Hinge { on: HangsOn::HalfADegree, spot: name("shelf"), probes: vec![name("p-shelf")] }));
        let (_, hinge) = on_a_sill(13.5, [false, true], &[]);
        assert_eq!(hinge.map(|hinge| hinge.spot), Some(name("sill")), "one of the two is enough");
        assert_eq!(on_a_sill(13.5, [false, false], &[]).1, None, "both calibrated");
        let (chance, hinge) = on_a_sill(11.0, [true, true], &[]);
        assert!(chance > 0.95 && hinge.is_none(), "{chance} {hinge:?}");
    }

    #[test]
    fn a_verdict_hangs_on_doubted_readings_only_where_the_rest_does_not_make_it() {
        let doubts = |slots: std::ops::Range<usize>| on_a_sill(12.5, [false, false], &[slots]).1;
        assert_eq!(doubts(0..90), None, "a day of ten, and all that is to come");
        assert!(doubts(400..960).is_some(), "what is to come is made from these");
        let whole = 0..960;
        let hinge = on_a_sill(13.5, [false, false], &[whole]).1.unwrap();
        assert_eq!(hinge, Hinge { on: HangsOn::DoubtedReadings, spot: name("sill"), probes: vec![name("p-sill")] });
    }
}
