//! Future temperatures, and sprouts by date.

mod ahead;
mod answer;
mod away;
mod boxes;
mod earlier;
mod notes;
mod outlook;
mod potting;
mod scoring;
mod season;
mod since_look;
mod together;
mod weather;

pub use ahead::{Ahead, Coming};
pub use answer::{Assumed, BoxAnswer, ForecastAnswer, Supposed};
pub use away::{AwayAnswer, AwayBox, ColderSpot, Suffering};
pub use boxes::{BoxCase, BoxForecast, EventForecast, forecast_box, horizon_days, imputed_share};
pub use earlier::EarlierYears;
pub use notes::{BoxNote, ColdLack, ColdWantedBy};
pub use outlook::{DAYS_AHEAD, DaysAhead, Outlook, RECENT_DAYS, Shape, earlier_days};
pub use potting::PottingOn;
pub use scoring::{Against, Comparison, KeptForecast, Ledger, RangeHeld, Story, by_days_ahead, compare, loss};
pub use since_look::SinceLook;
pub use together::{DrawnWeeks, WeekTogether, Weeks, by_week};
pub use weather::Weather;

use crate::units::MICROS_PER_HOUR;

/// The levels at which counts are given.
pub const LEVELS: [f64; 7] = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];
/// Temperatures are sampled four times an hour.
pub const SLOTS_PER_HOUR: usize = 4;
/// Length of a slot, microseconds.
pub const SLOT_US: i64 = MICROS_PER_HOUR / SLOTS_PER_HOUR as i64;
/// Slots in a day.
pub const SLOTS_PER_DAY: usize = 24 * SLOTS_PER_HOUR;
