//! What stands around every page.

use super::assets::version;
use super::guard::Visitor;
use crate::report::path_part;

/// The part of the house one is in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Place {
    Today,
    Round,
    Sow,
    Move,
    /// All else that the bar leads to.
    More,
    Paper,
    /// Anything that the bar at the top does not name.
    Elsewhere,
}

/// What stands around a page.
#[derive(Debug, Clone)]
pub(super) struct Frame {
    pub(super) title: String,
    pub(super) place: Place,
    /// The bar at the top; a stranger has nowhere to go.
    pub(super) bar: bool,
    pub(super) may_all: bool,
    pub(super) version: &'static str,
    /// Up to which news it knows them.
    pub(super) known: u64,
}

impl Frame {
    pub(super) fn new(title: impl Into<String>, place: Place, visitor: Visitor, known: u64) -> Self {
        Self { title: title.into(), place, bar: true, may_all: visitor.may_all(), version: version(), known }
    }

    /// Without anything that leads on.
    pub(super) fn bare(title: impl Into<String>) -> Self {
        Self { title: title.into(), place: Place::Elsewhere, bar: false, may_all: false, version: version(), known: 0 }
    }

    pub(super) fn is_at(&self, place: &str) -> bool {
        matches!(
            (self.place, place),
            (Place::Today, "today")
                | (Place::Round, "round")
                | (Place::Sow, "sow")
                | (Place::Move, "move")
                | (Place::More | Place::Paper, "more")
        )
    }
}

/// A name as a part of a path.
pub(super) fn encoded(name: impl AsRef<str>) -> String {
    path_part(name.as_ref())
}
