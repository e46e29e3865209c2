//! Readings → a spot's temperature record → the thermal clock.

mod fill;
mod profile;
mod rate;
mod record;
mod warmth;

pub use fill::{FILL_AROUND_US, FILL_REACH_US, fill_gaps};
pub use profile::{Profile, Stretch};
pub use rate::{Rate, Slopes};
pub use record::{Bridge, Guess, ProbeSeries, SpotRecord, Step};
pub use warmth::SpotWarmth;
