//! A trial's layout as CSV: a list to sow by.

use super::cells::defused;
use crate::bench::Name;
use crate::experiment::plan::TrialPlan;

/// The layout, box by box in the order in which they stand.
///
/// # Errors
/// None in practice: it is written to memory.
pub fn layout_csv(plan: &TrialPlan) -> Result<String, csv::Error> {
    let wish = &plan.wish;
    fn text(name: Option<&Name>) -> std::borrow::Cow<'_, str> {
        defused(name.map_or("", Name::as_str))
    }
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(["spot", "position", "round", "container", "species", "lot", "treatment", "seeds"])?;
    for place in &plan.places {
        let (lot, treatment) = wish.lot_and_treatment(place.group);
        let (position, round, seeds) = (place.position.to_string(), place.round.to_string(), wish.seeds.to_string());
        let spot = defused(wish.spots[place.spot].0.as_str());
        let (container, species) = (defused(place.container.as_str()), defused(wish.species.as_str()));
        let (lot, treatment) = (text(lot), text(treatment));
        writer.write_record([&*spot, &position, &round, &*container, &*species, &*lot, &*treatment, &seeds])?;
    }
    let bytes = writer.into_inner().map_err(|error| csv::Error::from(error.into_error()))?;
    Ok(String::from_utf8_lossy(&bytes).into_owned())
}
