//! How telling somebody elsewhere went, and when it is tried again.

use chrono::Duration;

use super::Event;
use crate::bench::{AlarmKind, Name};
use crate::civil::Time;

/// After the first failure it is tried again in so many minutes, then in twice as many, and so on up to the longest.
const AGAIN_MINUTES: i64 = 1;
const LONGEST_MINUTES: i64 = 60;
/// As many failures are enough: about a day.
const MOST_TRIES: u32 = 30;

/// The last delivery of something by one way.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Delivery {
    /// What kind of alarm; none: a test.
    pub kind: Option<AlarmKind>,
    /// What it is about.
    pub subject: Name,
    /// By which way: "mail" or "command".
    pub way: String,
    /// Whether of its beginning or its end.
    pub event: Event,
    /// How often it was tried.
    pub tries: u32,
    /// When it was last tried.
    pub tried: Option<Time>,
    /// When it is to be tried again; none: it is done with.
    pub next: Option<Time>,
    /// Why it failed the last time; none: it did not.
    pub failure: Option<String>,
    /// What came back where it arrived: what a command said, what a mail server answered.
    pub answer: Option<String>,
}

impl Delivery {
    /// One that is to be made at once.
    #[must_use]
    pub fn due(kind: Option<AlarmKind>, subject: Name, way: String, event: Event, now: Time) -> Self {
        Self { kind, subject, way, event, tries: 0, tried: None, next: Some(now), failure: None, answer: None }
    }

    /// Takes note of how a try went.
    pub fn tried(&mut self, outcome: Result<String, String>, now: Time) {
        self.tries = self.tries.saturating_add(1);
        self.tried = Some(now);
        (self.answer, self.failure) = match outcome {
            Ok(answer) => (Some(answer).filter(|answer| !answer.is_empty()), None),
            Err(why) => (None, Some(why)),
        };
        let minutes = AGAIN_MINUTES << (self.tries - 1).min(10);
        let again = self.failure.is_some() && self.tries < MOST_TRIES;
        self.next = again.then(|| now + Duration::minutes(minutes.min(LONGEST_MINUTES)));
    }

    /// Whether it reached somebody.
    #[must_use]
    pub fn arrived(&self) -> bool {
        self.tries > 0 && self.failure.is_none()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_fails_is_tried_again_ever_more_seldom_for_about_a_day() {
        let begin = Time::UNIX_EPOCH;
        let mut delivery = Delivery::due(None, Name::new("x").unwrap(), "mail".to_owned(), Event::Begun, begin);
        let mut waits = Vec::new();
        let mut now = begin;
        while let Some(next) = delivery.next {
            waits.push((next - now).num_minutes());
            now = next;
            delivery.tried(Err("no answer".to_owned()), now);
        }
        assert_eq!(waits[..9], [0, 1, 2, 4, 8, 16, 32, 60, 60]);
        assert_eq!((waits.len(), (now - begin).num_hours()), (30, 24));
        assert!(!delivery.arrived());
        delivery.tried(Ok("250 OK".to_owned()), now);
        assert!(delivery.arrived() && delivery.next.is_none());
    }
}
