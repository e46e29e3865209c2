//! Answers as JSON, in shapes of their own, so that what other programs read does not move with the types inside. Field by field
//! as DEVELOPERS.md lists them; unknown is null, times are RFC 3339 in UTC, temperatures °C whatever degrees the sentences are in.

mod alarm;
mod away;
mod compare;
mod diagnosis;
mod fit;
mod forecast;
mod ledger;
mod plan;
mod status;
mod trial;

pub use alarm::{alarms_json, letter_json};
pub use away::away_json;
pub use compare::compare_json;
pub use diagnosis::diagnosis_json;
pub use fit::fit_json;
pub use forecast::forecast_json;
pub use ledger::replay_json;
pub use plan::plan_json;
pub use status::status_json;
pub use trial::trial_json;

use serde::Serialize;

use crate::stats::Spread;

/// 10, 50 and 90 % points of a number.
#[derive(Debug, Serialize)]
struct Range {
    p10: Option<f64>,
    p50: Option<f64>,
    p90: Option<f64>,
}

impl From<&Spread> for Range {
    fn from(spread: &Spread) -> Self {
        Self { p10: spread.p10, p50: spread.p50, p90: spread.p90 }
    }
}

/// A warning or note.
#[derive(Debug, Serialize)]
struct Warning {
    kind: &'static str,
    message: String,
}

/// Nothing known of a range.
const UNKNOWN: Range = Range { p10: None, p50: None, p90: None };

/// The text of a shape. Shapes hold only strings, numbers and lists, which cannot fail; should it yet, the text says so.
fn text_of(shape: &impl Serialize) -> String {
    serde_json::to_string_pretty(shape).unwrap_or_else(|error| format!("{{\"error\":\"{error}\"}}"))
}
