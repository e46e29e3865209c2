//! What one box's own seeds had and need: one value a draw.

use std::collections::BTreeMap;

use crate::bench::Name;
use crate::germination::{Evidence, Fit, Level, Needs, Passage};
use crate::stats::{Dice, seed_of};

/// Thermal time that a box's seeds had gained by its last look, for each of its own needs, with each level as the draw has it.
pub(super) fn gained_by_last_look(
    evidence: &Evidence,
    needs: &[Needs],
    fit: Option<&Fit>,
    sd_c: impl Fn(&Level) -> f64,
) -> Vec<f64> {
    let mut whole: BTreeMap<&Level, Passage> = BTreeMap::new();
    for passage in evidence.passages() {
        whole
            .entry(&passage.level)
            .and_modify(|before| before.stretch = before.stretch.joined(&passage.stretch))
            .or_insert_with(|| passage.clone());
    }
    let offsets = |level| fit.map_or_else(Vec::new, |fit| fit.offsets_of(level, sd_c(level)));
    let parts: Vec<(Passage, Vec<f64>)> = whole.into_iter().map(|(level, passage)| (passage, offsets(level))).collect();
    let gained = |(draw, needs): (usize, &Needs)| {
        let part = |(passage, offsets): &(Passage, Vec<f64>)| {
            let rate = needs.rate.shifted(-offsets.get(draw).copied().unwrap_or(0.0));
            passage.stretch.gained(&rate, 0.0, 0.0)
        };
        parts.iter().map(part).sum()
    };
    needs.iter().enumerate().map(gained).collect()
}

/// Offsets of a spot whose level is unsure by `sd_c`: its own numbers, whichever box stands there.
pub(super) fn unsure(spot: &Name, sd_c: f64, draws: usize) -> Vec<f64> {
    if sd_c == 0.0 {
        return vec![0.0; draws];
    }
    let mut dice = Dice::new(seed_of(spot.as_str()));
    (0..draws).map(|_| sd_c * dice.normal()).collect()
}
