//! A trial of the next sowing.

use super::fit::Assumption;
use super::{Known, Shelf};
use crate::bench::{Event, Name, Trial};
use crate::experiment::plan::{TrialPlan, TrialWish, chill_days_in, plan_trial};
use crate::germination::Question;

/// Lays a trial out over spots of the bench, with boxes named `prefix` and a number, and says what it can show by what is known of the
/// plant.
#[must_use]
pub fn trial(known: &Known, wish: TrialWish, prefix: &str, shelf: &mut Shelf<'_>) -> TrialPlan {
    let bench = &known.bench;
    let of_species = || bench.trials.values().filter(|trial| trial.container.species == wish.species);
    let last = of_species().max_by_key(|trial| trial.container.sown);
    let event = last.map_or(Event::default(), |trial| trial.container.event);
    let own: Vec<&Trial> = of_species().filter(|trial| trial.container.event == event && !trial.checks.is_empty()).collect();
    let question = Question { prior: Assumption::BestKnown.of(bench, &wish.species, event), ..Question::default() };
    let fit = if own.is_empty() { None } else { shelf.fit(known, &wish.species, event, &own, question) };
    let cold = wish.groups.iter().any(|group| chill_days_in(group.as_str()).is_some());
    let taken = |name: &Name| bench.trials.contains_key(name);
    plan_trial(wish, fit.as_ref().map(|(fit, _)| fit), prefix, taken, cold)
}

/// How many more boxes find room at a spot; none where nobody said.
#[must_use]
pub fn room_at(known: &Known, spot: &Name) -> Option<u32> {
    let capacity = known.bench.spots.get(spot)?.setting_at(known.now).capacity?;
    let standing =
        known.bench.trials.values().filter(|trial| trial.ended_at(known.now).is_none() && trial.spot_at(known.now) == spot);
    Some(capacity.saturating_sub(standing.count() as u32))
}
