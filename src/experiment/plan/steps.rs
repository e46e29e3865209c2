//! What is to be done on which day.

use chrono::NaiveDate;

use super::{LotPlan, PlanAnswer};
use crate::bench::Name;
use crate::stats::seed_of;

/// A kind of step, in the order in which they come.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum StepKind {
    /// Into the cold, moist.
    ChillIn,
    /// Out of the cold; sown on the same day.
    ChillOut,
    /// Sow.
    Sow,
    /// The first may be up: look from now on.
    FirstLook,
    /// Half of those that can sprout are expected to be up.
    HalfExpected,
    /// Pot on.
    PotOn,
    /// Plant out, or ready.
    PlantOut,
}

/// A step of a lot.
#[derive(Debug, Clone, PartialEq)]
pub struct Step<'a> {
    /// When.
    pub date: NaiveDate,
    /// What.
    pub kind: StepKind,
    /// Of which lot.
    pub lot: &'a LotPlan,
    /// At which spot.
    pub spot: &'a Name,
    /// Seeds to sow.
    pub seeds: u32,
    /// The same whenever the same plan is made, whatever has changed of its days.
    pub id: u64,
}

impl StepKind {
    /// All, in order.
    pub const ALL: [Self; 7] =
        [Self::ChillIn, Self::ChillOut, Self::Sow, Self::FirstLook, Self::HalfExpected, Self::PotOn, Self::PlantOut];

    /// The word for it in files.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Self::ChillIn => "chill-in",
            Self::ChillOut => "chill-out",
            Self::Sow => "sow",
            Self::FirstLook => "first-look",
            Self::HalfExpected => "half-expected",
            Self::PotOn => "pot-on",
            Self::PlantOut => "plant-out",
        }
    }
}

/// The steps of a plan at the spot chosen for each lot, in order of their days. `named` is the one spot that was named for the plan, if
/// so: then a plan for another spot is another plan, else the spot may change and it stays the same one.
#[must_use]
pub fn steps<'a>(answer: &'a PlanAnswer, named: Option<&Name>) -> Vec<Step<'a>> {
    let mut steps: Vec<Step<'_>> = answer.lots.iter().flat_map(|lot| of_lot(answer, lot, named)).collect();
    steps.sort_by(|one, other| (one.date, one.kind, one.lot.name()).cmp(&(other.date, other.kind, other.lot.name())));
    steps
}

fn of_lot<'a>(answer: &'a PlanAnswer, lot: &'a LotPlan, named: Option<&Name>) -> Vec<Step<'a>> {
    let Some((spot, plan)) = lot.chosen().and_then(|chosen| Some((&chosen.spot, chosen.sowing()?))) else { return Vec::new() };
    let chilled = plan.chill_in.map(|_| plan.sow);
    // A look on the day of sowing tells nothing.
    let first = plan.first.p10.map(|first| first.max(plan.sow.succ_opt().unwrap_or(first)));
    let dates = [plan.chill_in, chilled, Some(plan.sow), first, plan.half.p50, plan.pot_on, Some(answer.wish.by)];
    let step = |(kind, date): (StepKind, Option<NaiveDate>)| {
        let text = |name: Option<&Name>| name.map_or("", Name::as_str).to_owned();
        // What a plan is about, not what came of it; names hold no such separator.
        let about = [
            lot.species.as_str().to_owned(),
            text(lot.lot.as_ref()),
            text(lot.treatment.as_ref()),
            answer.wish.by.to_string(),
            text(named),
            kind.word().to_owned(),
        ];
        Some(Step { date: date?, kind, lot, spot, seeds: plan.seeds, id: seed_of(&about.join("\u{1f}")) })
    };
    StepKind::ALL.into_iter().zip(dates).filter_map(step).collect()
}
