//! Alarms: what a grower is told of without asking. A pure function of the bench, the readings since the last look, what was
//! forecast, and how it stood before; so nothing depends on how often it is worked out, or on being stopped in between.

mod delivery;
mod judge;
mod level;
mod limits;
#[cfg(test)]
mod tests;

pub use delivery::Delivery;
pub use judge::{Watched, boxes_at, judge, not_looked_at};
pub use level::Heard;
pub use limits::{HeatLimit, Whence, due_by, heat_known, heat_limit, last_happened};

use crate::bench::{AlarmKind, AlarmRules, Name};
use crate::civil::{Time, Zone};

/// How it stands with one thing that is watched.
#[derive(Debug, Clone, PartialEq)]
pub struct AlarmState {
    /// What kind of thing.
    pub kind: AlarmKind,
    /// What it is about: a spot, a probe, a box; of looks all boxes.
    pub subject: Name,
    /// Up to when it was judged: of temperatures the last reading, else the time of judging.
    pub looked: Time,
    /// Since when it has been beyond the limit and not well within it.
    pub over: Option<Time>,
    /// Since when it has been well within the limit, where it was an alarm before.
    pub under: Option<Time>,
    /// The furthest beyond the limit, in °C.
    pub worst_c: Option<f64>,
    /// The limit, in °C.
    pub limit_c: Option<f64>,
    /// Since when it is an alarm, or was one the last time.
    pub since: Option<Time>,
    /// Since when it is none any more.
    pub ended: Option<Time>,
    /// When the grower was told.
    pub told: Option<Time>,
    /// When the grower was told of its end.
    pub told_end: Option<Time>,
    /// When the grower said that it was seen.
    pub seen: Option<Time>,
}

impl AlarmState {
    /// Of which nothing was known before.
    #[must_use]
    pub fn new(kind: AlarmKind, subject: Name, looked: Time) -> Self {
        Self {
            kind,
            subject,
            looked,
            over: None,
            under: None,
            worst_c: None,
            limit_c: None,
            since: None,
            ended: None,
            told: None,
            told_end: None,
            seen: None,
        }
    }

    /// How it stood at a time, as far as that is on record: of each thing the last alarm. How bad it was is what it came to later.
    #[must_use]
    pub fn as_of(mut self, time: Time) -> Self {
        let by_then = |when: Option<Time>| when.filter(|when| *when <= time);
        (self.since, self.ended, self.told) = (by_then(self.since), by_then(self.ended), by_then(self.told));
        (self.told_end, self.seen) = (by_then(self.told_end), by_then(self.seen));
        (self.over, self.under, self.looked) = (by_then(self.over), by_then(self.under), self.looked.min(time));
        self
    }

    /// Whether it is an alarm now.
    #[must_use]
    pub fn is_present(&self) -> bool {
        self.since.is_some() && self.ended.is_none()
    }

    /// It becomes an alarm.
    fn begin(&mut self, since: Time) {
        (self.since, self.ended, self.under) = (Some(since), None, None);
        (self.told, self.told_end, self.seen) = (None, None, None);
    }

    /// It is none any more.
    fn end(&mut self, at: Time) {
        (self.ended, self.over, self.under) = (Some(at), None, None);
    }
}

/// What of an alarm is told.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Event {
    /// It has begun.
    Begun,
    /// It is over.
    Ended,
}

/// Picks what is to be told now, and notes in the states that it was. What nobody could be told of in quiet hours is told after them: of
/// heat and frost also where they are over by then, since seeds may have suffered.
pub fn tell(states: &mut [AlarmState], rules: &AlarmRules, zone: Zone, now: Time) -> Vec<(AlarmState, Event)> {
    let at = now.with_timezone(&zone).time();
    let mut told = Vec::new();
    for state in states.iter_mut().filter(|state| state.since.is_some() && rules.may_tell(state.kind, at)) {
        let event = match (state.ended, state.told, state.told_end) {
            (None, None, _) => Event::Begun,
            (Some(_), None, _) if state.kind.is_urgent() => Event::Ended,
            (Some(_), Some(_), None) if tells_its_end(state.kind) => Event::Ended,
            _ => continue,
        };
        state.told = state.told.or(Some(now));
        if event == Event::Ended {
            state.told_end = Some(now);
        }
        told.push((state.clone(), event));
    }
    told
}

/// Whether the end of such an alarm is news: a grower who has looked knows it.
#[must_use]
pub fn tells_its_end(kind: AlarmKind) -> bool {
    matches!(kind, AlarmKind::TooHot | AlarmKind::Freezing | AlarmKind::Silent)
}
