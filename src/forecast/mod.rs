//! Future temperatures, and sprouts by date.

mod answer;
mod boxes;
mod course;
mod outlook;
mod scoring;
mod together;

pub use answer::{BoxAnswer, ForecastAnswer};
pub use boxes::{BoxCase, BoxForecast, BoxNote, Coming, EventForecast, forecast_box};
pub use course::Course;
pub use outlook::{Outlook, SLOT_US, SLOTS_PER_HOUR, Weather};
pub use scoring::{Against, Comparison, KeptForecast, Ledger, RangeHeld, Story, by_days_ahead, compare, loss};
pub use together::{WeekTogether, by_week};

/// The levels at which counts are given.
pub const LEVELS: [f64; 7] = [0.05, 0.1, 0.25, 0.5, 0.75, 0.9, 0.95];
