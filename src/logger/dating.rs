//! What the writer knows of the clock, and has to put on record of it.

use std::sync::Arc;

use super::Notice;
use crate::bench::{Anchor, ClockStep, Name, Reading, Stamp};
use crate::civil::Time;
use crate::clock::{ClockNews, Keeper};
use crate::store::{Kept, Logged, Store, StoreError};

/// Changes of the clock kept until they are stored; a bound, should the storage fail while somebody plays with the clock.
const MOST_STEPS: usize = 1_000;

/// Goes between the keeper of the time and the store.
pub(super) struct Dating {
    keeper: Arc<Keeper>,
    steps: Vec<ClockStep>,
    /// What is on record of this start of the computer; none: nothing yet.
    on_record: Option<Option<Anchor>>,
    /// The clock came to be believed, and nobody has been told how many readings got their dates by that.
    to_tell: bool,
}

impl Dating {
    pub(super) fn new(keeper: Arc<Keeper>) -> Self {
        Self { keeper, steps: Vec::new(), on_record: None, to_tell: false }
    }

    /// The time by which readings go; none while the clock is not believed.
    pub(super) fn now(&self) -> Option<Time> {
        self.keeper.anchor().map(|_| self.keeper.now())
    }

    /// Looks at the clock; gives what is to be told.
    pub(super) fn look(&mut self) -> Vec<Notice> {
        let mut notices = Vec::new();
        for news in self.keeper.take_news() {
            match news {
                ClockNews::Doubted(why) => notices.push(Notice::ClockDoubted { why }),
                ClockNews::Believed => self.to_tell = true,
                ClockNews::Set(step) => {
                    if self.steps.len() < MOST_STEPS {
                        self.steps.push(step);
                    }
                    notices.push(Notice::ClockSet { step });
                }
            }
        }
        notices
    }

    /// Whether something of the clock itself waits to be stored: undated readings, on the disk or not, can have their dates now.
    pub(super) fn is_due(&self) -> bool {
        let anchor = self.keeper.anchor();
        !self.steps.is_empty() || self.to_tell || (anchor.is_some() && self.on_record != Some(anchor))
    }

    /// Stores readings in order of arrival, and what waits of the clock.
    pub(super) fn store(
        &mut self,
        store: &mut Store,
        readings: &[(Name, Reading, Stamp)],
        again: bool,
    ) -> Result<(Kept, Option<Notice>), StoreError> {
        let anchor = self.keeper.anchor();
        let start_id = self.keeper.start_id();
        let kept = store.append_logged(&Logged { start_id, anchor, steps: &self.steps, readings, again })?;
        self.steps.clear();
        self.on_record = Some(anchor);
        let told = std::mem::take(&mut self.to_tell).then_some(Notice::ClockBelieved { dated: kept.dated });
        Ok((kept, told))
    }

    /// How many readings of this start of the computer lie in the store without dates.
    pub(super) fn undated(&self, store: &Store) -> Result<u64, StoreError> {
        store.undated_readings(self.keeper.start_id())
    }
}
