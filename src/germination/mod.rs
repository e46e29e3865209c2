//! What seeds need: the requirement's distribution, the likelihood of what was seen, what was assumed before, what follows.

mod chilling;
mod distribution;
mod estimate;
mod evidence;
mod fit;
mod heat;
mod interval;
mod ladder;
mod layout;
mod looks;
mod model;
mod own;
mod posterior;
mod prior;
mod published;
mod quadrature;
mod sampler;
mod search;
mod space;
mod whitened;

pub use chilling::{ChillLength, ChillResponse, ChilledSowing, Longer, chill_response};
pub use distribution::Distribution;
pub use estimate::{Effect, EffectOf, Estimates, GerminableOf};
pub use evidence::{Calibrated, Evidence, Level, Passage, RemovedRule, Segment};
pub use fit::{Estimate, Fit, FitWarning, Informant, Question, TrialSummary, fit};
pub use heat::{PublishedHeat, published_heat};
pub use interval::profile_interval;
pub use layout::{ContainerEffect, Layout};
pub use model::Model;
pub use own::OwnNeeds;
pub use posterior::{Draws, draw};
pub use prior::{Packet, Prior, Published};
pub use published::published;
pub use sampler::Length;
pub use search::{Density, Peak, curvature, highest};
pub use space::{Added, Coordinate, Needs, RateShape, Space};
