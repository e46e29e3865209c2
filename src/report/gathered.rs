//! What a report of a bench is made from.

use std::collections::BTreeSet;

use super::{Contents, Private, report_html};
use crate::answers::{Known, Present, Shelf, compare, diagnose, forecast};
use crate::bench::{Name, Trial};
use crate::experiment::{CompareAnswer, Wish};

/// Days ahead that a report tells of.
const DAYS: usize = 60;
/// Plants of which comparisons are shown, at most.
const COMPARED: usize = 6;
/// The difference that the sizes needed are told for, as a share.
const WISHED: f64 = 0.2;

/// What is to be reported on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Reported {
    /// Boxes of one batch only.
    pub batch: Option<Name>,
    /// Boxes of one plant only.
    pub species: Option<Name>,
    /// What is told beyond what anybody may see.
    pub private: Private,
}

/// The report of what is known; none: there is no box to report on.
///
/// # Errors
/// As [`report_html`].
pub fn report_of(known: &Known, wish: &Reported, shelf: &mut Shelf<'_>) -> Result<Option<String>, askama::Error> {
    let present = Present::with(known, shelf);
    let mut ahead = forecast(known, &present, DAYS);
    let mut slow = diagnose(known, &present);
    let meant = |trial: &Trial| {
        let container = &trial.container;
        container.owner.is_none()
            && wish.batch.as_ref().is_none_or(|batch| *batch == container.batch)
            && wish.species.as_ref().is_none_or(|species| *species == container.species)
    };
    ahead.boxes.retain(|one| meant(&one.trial));
    slow.boxes.retain(|one| meant(&one.trial));
    let mut compared = Vec::new();
    let mut asked = Wish { factor: None, batch: wish.batch.clone(), species: wish.species.clone() };
    if let Ok(answer) = compare(known, &asked, WISHED, shelf) {
        let others = answer.other_species.clone();
        compared.push(answer);
        for species in others.into_iter().take(COMPARED - 1) {
            asked.species = Some(species);
            compared.extend(compare(known, &asked, WISHED, shelf).ok());
        }
    }
    compared.retain(|answer| answer.comparison.groups.len() > 1);
    // What is compared, else what stands there now.
    let in_comparison =
        |answer: &CompareAnswer, name: &Name| answer.comparison.groups.iter().any(|group| group.containers.contains(name));
    let shown = |trial: &&Trial| {
        let compared = || compared.iter().any(|answer| in_comparison(answer, &trial.container.name));
        meant(trial) && (wish.batch.is_some() || trial.ended_at(known.now).is_none() || compared())
    };
    let boxes: Vec<&Trial> = known.bench.trials.values().filter(shown).collect();
    if boxes.is_empty() {
        return Ok(None);
    }
    let species: BTreeSet<&Name> = boxes.iter().map(|trial| &trial.container.species).collect();
    let mut fits = present.needs();
    fits.retain(|fit| species.contains(&fit.species));
    let contents = Contents {
        bench: &known.bench,
        as_of: known.now,
        boxes: &boxes,
        forecast: Some(&ahead),
        diagnosis: Some(&slow),
        fits: &fits,
        compared: &compared,
        private: wish.private,
    };
    report_html(&contents).map(Some)
}
