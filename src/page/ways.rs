//! What can be done with one box, beside looking at it.

use super::frame::encoded;
use super::guard::Visitor;
use crate::bench::{Move, Trial};
use crate::civil::{Time, Zone, local_time};
use crate::wording::moment;

/// What can be done with a box.
pub(super) struct Ways {
    pub(super) may_all: bool,
    /// The box's name, as a part of a path.
    pub(super) path: String,
    pub(super) name: String,
    /// It was closed, and can be opened again.
    pub(super) closed: bool,
    /// Where it was carried and is to be, in words, and where that is put right.
    pub(super) carried: Vec<(String, String)>,
    /// "Local time of Europe/Berlin; empty: now."
    pub(super) when: String,
}

impl Ways {
    /// Of a box as it is on record, with what lies ahead of it.
    pub(super) fn of(trial: &Trial, visitor: Visitor, zone: Zone, now: Time) -> Self {
        let path = encoded(trial.container.name.as_str());
        let way =
            |kind: &str, moved: &Move, words: String| (words, format!("/box/{path}/{kind}/{}", moved.time.timestamp_micros()));
        let moves = trial.moves.iter().map(|moved| way("move", moved, format!("{}: to {}", moment(moved.time, zone), moved.spot)));
        let planned = trial.planned.iter().filter(|plan| plan.time > now);
        let planned =
            planned.map(|plan| way("plan", plan, format!("planned for {}: to {}", local_time(plan.time, zone), plan.spot)));
        Self {
            may_all: visitor.may_all(),
            name: trial.container.name.to_string(),
            closed: trial.container.ended.is_some(),
            carried: moves.chain(planned).collect(),
            when: format!("Empty: now. Local time of {zone}."),
            path,
        }
    }
}
