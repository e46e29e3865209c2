//! How forecasts did, as JSON.

use serde::Serialize;
use serde_json::{Map, Value, json};

use super::text_of;
use crate::civil::{Time, rfc3339};
use crate::forecast::{Against, Ledger, RangeHeld};

#[derive(Debug, Serialize)]
pub(super) struct LedgerShape {
    kept: usize,
    scored: usize,
    comparisons: usize,
    boxes: usize,
    held: Map<String, Value>,
    too_narrow: bool,
    loss: Option<f64>,
    calendar_days: AgainstShape,
    forecast_before: AgainstShape,
}

#[derive(Debug, Serialize)]
struct AgainstShape {
    comparisons: usize,
    loss: Option<f64>,
    other: Option<f64>,
}

#[derive(Debug, Serialize)]
struct ReplayShape {
    as_of: String,
    from: Option<String>,
    mornings: usize,
    ledger: LedgerShape,
    by_days_ahead: Vec<AheadShape>,
}

#[derive(Debug, Serialize)]
struct AheadShape {
    from: usize,
    until: Option<usize>,
    comparisons: usize,
    held: Map<String, Value>,
    loss: Option<f64>,
    calendar_days: AgainstShape,
}

impl From<&Ledger> for LedgerShape {
    fn from(ledger: &Ledger) -> Self {
        Self {
            kept: ledger.kept,
            scored: ledger.scored,
            comparisons: ledger.comparisons,
            boxes: ledger.boxes,
            held: held(&ledger.held),
            too_narrow: ledger.too_narrow(),
            loss: ledger.loss,
            calendar_days: ledger.calendar.into(),
            forecast_before: ledger.last.into(),
        }
    }
}

impl From<Option<Against>> for AgainstShape {
    fn from(against: Option<Against>) -> Self {
        Self {
            comparisons: against.map_or(0, |against| against.comparisons),
            loss: against.map(|against| against.loss),
            other: against.map(|against| against.other),
        }
    }
}

/// How often each range held; unknown where nothing was compared yet.
fn held(held: &[RangeHeld]) -> Map<String, Value> {
    let of = |meant: f64| {
        let found = held.iter().find(|held| (held.meant - meant).abs() < 1e-9);
        let bounds = found.and_then(|held| held.bounds);
        let value = json!({
            "share": found.map(|held| held.share),
            "low": bounds.map(|bounds| bounds.0),
            "high": bounds.map(|bounds| bounds.1),
        });
        (meant.to_string(), value)
    };
    [0.5, 0.8, 0.9].into_iter().map(of).collect()
}

/// A season that was forecast again, as JSON.
#[must_use]
pub fn replay_json(
    as_of: Time,
    from: Option<Time>,
    mornings: usize,
    ledger: &Ledger,
    by_days_ahead: &[(usize, Option<usize>, Ledger)],
) -> String {
    let ahead = |(from, until, ledger): &(usize, Option<usize>, Ledger)| AheadShape {
        from: *from,
        until: *until,
        comparisons: ledger.comparisons,
        held: held(&ledger.held),
        loss: ledger.loss,
        calendar_days: ledger.calendar.into(),
    };
    text_of(&ReplayShape {
        as_of: rfc3339(as_of),
        from: from.map(rfc3339),
        mornings,
        ledger: ledger.into(),
        by_days_ahead: by_days_ahead.iter().map(ahead).collect(),
    })
}
