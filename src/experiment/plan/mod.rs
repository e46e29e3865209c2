//! The next sowing: from a wished date and a number of plants back to days of sowing, seeds, and days in the cold; trials laid out
//! so that they can answer their question.

mod answer;
mod chill;
mod frost;
mod layout;
mod sowing;
mod steps;
mod survival;
mod trial;

pub use answer::{
    Basis, DateSpread, FrostPlan, LotPlan, Outcome, PlanAnswer, PlanNote, PlanWish, SowPlan, SpotPlan, Together, plan_at_spot,
};
pub use chill::{Chill, ChillSource, chill_days_in};
pub use frost::LastFrost;
pub use layout::{Place, laid_out};
pub use sowing::{MOST_SEEDS, Sowing};
pub use steps::{Step, StepKind, steps};
pub use survival::{Survival, SurvivalSource};
pub use trial::{Factor, TrialNote, TrialPlan, TrialWish, Worth, plan_trial};
