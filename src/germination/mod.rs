//! What seeds need: the requirement's distribution, the likelihood of what was seen, what was assumed before, what follows.

mod distribution;
mod estimate;
mod evidence;
mod fit;
mod interval;
mod likelihood;
mod own;
mod posterior;
mod prior;
mod published;
mod search;
mod space;

pub use distribution::Distribution;
pub use estimate::Estimates;
pub use evidence::{Evidence, RemovedRule, Segment};
pub use fit::{Estimate, Fit, FitWarning, Informant, Question, TrialSummary, fit};
pub use interval::profile_interval;
pub use likelihood::{Counts, Likelihood};
pub use own::OwnEffects;
pub use posterior::Draws;
pub use prior::{Packet, Prior, Published};
pub use published::published;
pub use search::{Peak, Target, curvature, highest};
pub use space::{Coordinate, Needs, RateShape, Space};
