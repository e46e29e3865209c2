//! A bench as it may be handed on.

use crate::bench::{Bench, Name};

/// The bench without collecting places (the sources of lots), without notes and times away, and without what friends entrusted to its grower.
#[must_use]
pub fn shareable(bench: &Bench) -> Bench {
    let mut shared = bench.clone();
    let friends = bench.friends();
    let theirs = |name: &Name| friends.iter().any(|friend| name.is_of(friend));
    // Whether anybody is at home is nobody's business.
    shared.aways.clear();
    shared.trials.retain(|_, trial| trial.container.owner.is_none());
    shared.spots.retain(|spot, _| !theirs(spot));
    shared.lots.retain(|lot, _| !theirs(lot));
    shared.probes.retain(|probe| !theirs(probe));
    shared.placements.retain(|placement| !theirs(&placement.probe));
    shared.doubts.retain(|doubt| !theirs(&doubt.probe));
    shared.limits.retain(|probe, _| !theirs(probe));
    for lot in shared.lots.values_mut() {
        (lot.source, lot.note) = (None, None);
    }
    for setting in shared.spots.values_mut().flat_map(|spot| &mut spot.settings) {
        setting.note = None;
    }
    for check in shared.trials.values_mut().flat_map(|trial| &mut trial.checks) {
        check.note = None;
    }
    for doubt in &mut shared.doubts {
        doubt.why = None;
    }
    shared
}
