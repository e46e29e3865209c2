//! What one box's own seeds need, and how far the seeds' temperature is from what is recorded of their spot: one value a draw.

use crate::bench::{Name, Trial};
use crate::germination::{Counts, Evidence, Fit, Needs, OwnEffects, RemovedRule};
use crate::stats::{Dice, seed_of};
use crate::thermal::{SpotWarmth, Stretch};

/// What the box's seeds need, given its looks: the species' draws, each with a draw of the box's own effects.
pub(super) fn own_needs(fit: &Fit, trial: &Trial, evidence: &Evidence) -> Vec<Needs> {
    let mut dice = Dice::new(seed_of(trial.container.name.as_str()));
    let family = fit.question.distribution;
    let own = |needs: &Needs| {
        let (before, reached) = (evidence.thermal_before(&needs.rate), evidence.thermal_times(&needs.rate));
        let counts = Counts { evidence, reached: &reached, before, removed: RemovedRule::Dead };
        OwnEffects::draw(&counts, family, needs, &mut dice).applied_to(needs)
    };
    fit.draws.iter().flat_map(|draws| &draws.needs).map(own).collect()
}

/// Thermal time that a box's seeds had gained by its last look, for each of its own needs.
pub(super) fn gained_by_last_look(evidence: &Evidence, needs: &[Needs]) -> Vec<f64> {
    let parts = std::iter::once(&evidence.before).chain(evidence.segments.iter().map(|segment| &segment.stretch));
    let whole = parts.fold(Stretch::default(), |whole, part| whole.joined(part));
    needs.iter().map(|needs| whole.gained(&needs.rate, 0.0, 0.0)).collect()
}

/// °C to add to a spot's temperatures. Where they are measured none: the needs were learnt with the same probes.
pub(super) fn offsets(spot: &Name, warmth: Option<&SpotWarmth>, draws: usize) -> Vec<f64> {
    unsure(spot, warmth.filter(|warmth| warmth.set).map_or(0.0, |warmth| warmth.level_sd_c), draws)
}

/// Offsets of a spot whose level is unsure by `sd_c`: its own numbers, whichever box stands there.
pub(super) fn unsure(spot: &Name, sd_c: f64, draws: usize) -> Vec<f64> {
    if sd_c == 0.0 {
        return vec![0.0; draws];
    }
    let mut dice = Dice::new(seed_of(spot.as_str()));
    (0..draws).map(|_| sd_c * dice.normal()).collect()
}
