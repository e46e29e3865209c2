//! Keeps the time that readings go by: one that does not jump when the computer's clock is set.

use std::sync::{Arc, Mutex, PoisonError};

use super::Clock;
use crate::bench::{Anchor, AnchoredBy, ClockStep, EARLIEST_US, Stamp, Standing, WhyDoubted};
use crate::civil::{Time, time_from_micros};

/// A clock that departs by more was set (2 s, in microseconds): by less it is led back slowly, if at all.
const STEP_US: i64 = 2_000_000;
/// So long a clock must have departed before anything is made of it: whoever sets it says so only afterwards.
const GRACE_US: i64 = 2_000_000;
/// How often it is asked whether a clock not believed is to be believed now, or one departed from is the better one.
const ASK_AGAIN_US: i64 = 1_000_000;
/// A clock set by the network hears of it at least every 34 min (systemd-timesyncd's longest wait, of which one may be in vain); one
/// that has not for longer may have been set by hand since.
const LATELY_US: i64 = 2 * 2_048_000_000;
/// The network sets a clock first and says so then; and the clock is not looked at all the time (30 s).
const SEEN_LATE_US: i64 = 30_000_000;
/// How often it is asked whether a clock that agrees was set by the network since.
const CONFIRM_US: i64 = 60_000_000;

/// What became of the clock.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ClockNews {
    /// It is not believed.
    Doubted(WhyDoubted),
    /// It is believed, after it was not.
    Believed,
    /// It was set.
    Set(ClockStep),
}

/// Stamps readings with the start of the computer plus the time since then: undated until that start is known by a clock that can be
/// believed. Any number of threads may ask.
pub struct Keeper {
    clock: Arc<dyn Clock>,
    start: String,
    kept: Mutex<Kept>,
}

#[derive(Debug, Default)]
struct Kept {
    anchor: Option<Anchor>,
    /// The newest reading on the bench when this process began.
    newest_us: Option<i64>,
    departed: Option<Departure>,
    /// When the network had last set the clock, by the clock itself, while it agreed with the time kept.
    last_set_us: Option<i64>,
    /// When the standing was last asked for, since the start.
    asked_us: Option<i64>,
    doubted: Option<WhyDoubted>,
    news: Vec<ClockNews>,
}

/// A clock that shows something else than the time kept.
#[derive(Debug, Clone, Copy)]
struct Departure {
    ahead_us: i64,
    seen_us: i64,
    told: bool,
}

impl Keeper {
    /// Goes by `clock`. `known` is when its present start was, where a process before this one knew; `newest_us` is the newest
    /// reading on the bench: a clock that shows less is behind.
    #[must_use]
    pub fn new(clock: Arc<dyn Clock>, known: Option<Anchor>, newest_us: Option<i64>) -> Self {
        let start = clock.start_id();
        let kept = Mutex::new(Kept { anchor: known, newest_us, ..Kept::default() });
        let keeper = Self { clock, start, kept };
        keeper.look();
        // What was set while nobody looked need not be waited for: the first reading shall not go by what is known to be old.
        if let Some(departed) = &mut keeper.kept.lock().unwrap_or_else(PoisonError::into_inner).departed {
            departed.seen_us = departed.seen_us.saturating_sub(GRACE_US);
        }
        keeper.look();
        keeper
    }

    /// What the system calls this start of the computer.
    #[must_use]
    pub fn start_id(&self) -> &str {
        &self.start
    }

    /// The stamp of what arrives now: microseconds since 1970, or since the computer's start where it is undated.
    #[must_use]
    pub fn stamp(&self) -> (i64, Stamp) {
        let (anchor, since_us) = self.look_now();
        anchor.map_or((since_us, Stamp::Undated), |anchor| (anchor.date(since_us), Stamp::Arrival))
    }

    /// The present instant as well as it is known: for what is no reading.
    #[must_use]
    pub fn now(&self) -> Time {
        let (anchor, since_us) = self.look_now();
        anchor.and_then(|anchor| time_from_micros(anchor.date(since_us))).unwrap_or_else(|| self.clock.now())
    }

    /// When this start of the computer was, once that is known.
    #[must_use]
    pub fn anchor(&self) -> Option<Anchor> {
        self.kept.lock().unwrap_or_else(PoisonError::into_inner).anchor
    }

    /// Looks at the clock, which is done with every stamp too; gives what became of it since the last time that was asked.
    pub fn take_news(&self) -> Vec<ClockNews> {
        self.look();
        std::mem::take(&mut self.kept.lock().unwrap_or_else(PoisonError::into_inner).news)
    }

    fn look(&self) {
        let _ = self.look_now();
    }

    fn look_now(&self) -> (Option<Anchor>, i64) {
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        let (since_us, wall_us) = (self.clock.since_start_us(), self.clock.now().timestamp_micros());
        match kept.anchor {
            None => kept.try_to_believe(since_us, wall_us, self.clock.as_ref()),
            Some(anchor) => kept.compare(anchor, since_us, wall_us, self.clock.as_ref()),
        }
        (kept.anchor, since_us)
    }
}

impl Kept {
    /// The standing, unless it was asked for less than `every_us` ago: that reads files.
    fn ask(&mut self, since_us: i64, every_us: i64, clock: &dyn Clock) -> Option<Standing> {
        if self.asked_us.is_some_and(|asked_us| since_us - asked_us < every_us) {
            return None;
        }
        self.asked_us = Some(since_us);
        Some(clock.standing())
    }

    fn remember(&mut self, standing: Standing) {
        if let Standing::Synchronised { last_us } = standing {
            self.last_set_us = Some(last_us);
        }
    }

    fn try_to_believe(&mut self, since_us: i64, wall_us: i64, clock: &dyn Clock) {
        let Some(standing) = self.ask(since_us, ASK_AGAIN_US, clock) else { return };
        match believed_by(standing, wall_us, self.newest_us) {
            Ok(by) => {
                self.anchor = Some(Anchor { began_us: wall_us.saturating_sub(since_us), by });
                self.remember(standing);
                if self.doubted.take().is_some() {
                    self.news.push(ClockNews::Believed);
                }
            }
            Err(why) if self.doubted != Some(why) => {
                self.doubted = Some(why);
                self.news.push(ClockNews::Doubted(why));
            }
            Err(_) => {}
        }
    }

    fn compare(&mut self, anchor: Anchor, since_us: i64, wall_us: i64, clock: &dyn Clock) {
        let ahead_us = wall_us.saturating_sub(anchor.date(since_us));
        if ahead_us.saturating_abs() <= STEP_US {
            self.departed = None;
            if let Some(standing) = self.ask(since_us, CONFIRM_US, clock) {
                self.remember(standing);
                if set_since(standing, wall_us, LATELY_US) {
                    self.anchor = Some(Anchor { by: AnchoredBy::Synchronised, ..anchor });
                }
            }
            return;
        }
        match self.departed {
            Some(departed) if ahead_us.abs_diff(departed.ahead_us) <= STEP_US.unsigned_abs() => {
                if since_us - departed.seen_us >= GRACE_US {
                    self.judge(departed, anchor, since_us, wall_us, clock);
                }
            }
            // Asked at once when it has stood for long enough.
            _ => {
                self.departed = Some(Departure { ahead_us, seen_us: since_us, told: false });
                self.asked_us = None;
            }
        }
    }

    /// Goes by a clock that has departed, or stays with the time kept.
    fn judge(&mut self, departed: Departure, anchor: Anchor, since_us: i64, wall_us: i64, clock: &dyn Clock) {
        let Some(standing) = self.ask(since_us, ASK_AGAIN_US, clock) else { return };
        // It has said so since, and not only because the clock was set back to when it had last.
        let set_by_network = set_since(standing, wall_us, (since_us - departed.seen_us).saturating_add(SEEN_LATE_US))
            && !matches!(standing, Standing::Synchronised { last_us } if self.last_set_us == Some(last_us));
        self.remember(standing);
        let better = better_by(anchor.by, standing, set_by_network, wall_us);
        if let Some(by) = better {
            self.anchor = Some(Anchor { began_us: wall_us.saturating_sub(since_us), by });
            self.departed = None;
        } else {
            self.departed = Some(Departure { told: true, ..departed });
        }
        if better.is_some() || !departed.told {
            let time_us = if better.is_some() { wall_us } else { anchor.date(since_us) };
            self.news.push(ClockNews::Set(ClockStep {
                since_us,
                time_us,
                ahead_us: departed.ahead_us,
                followed: better.is_some(),
            }));
        }
    }
}

/// Whether the network set the clock within so long, going by the clock itself.
fn set_since(standing: Standing, wall_us: i64, within_us: i64) -> bool {
    matches!(standing, Standing::Synchronised { last_us } if wall_us.abs_diff(last_us) <= within_us.unsigned_abs())
}

/// By what a clock is believed the first time in a start of the computer.
fn believed_by(standing: Standing, wall_us: i64, newest_us: Option<i64>) -> Result<AnchoredBy, WhyDoubted> {
    if wall_us < EARLIEST_US {
        return Err(WhyDoubted::NeverSet);
    }
    match standing {
        Standing::Synchronised { .. } if set_since(standing, wall_us, LATELY_US) => Ok(AnchoredBy::Synchronised),
        Standing::Vouched => Ok(AnchoredBy::Vouched),
        // Or the network set it once, and who knows who set it since.
        Standing::Plausible | Standing::Synchronised { .. } => {
            let behind = newest_us.is_some_and(|newest_us| wall_us < newest_us);
            if behind { Err(WhyDoubted::BeforeNewest) } else { Ok(AnchoredBy::Plausible) }
        }
        Standing::Doubted(why) => Err(why),
    }
}

/// By what a clock that was set is to be believed from now on; none: the time kept is the better one.
fn better_by(kept: AnchoredBy, standing: Standing, set_by_network: bool, wall_us: i64) -> Option<AnchoredBy> {
    match standing {
        _ if wall_us < EARLIEST_US => None,
        Standing::Synchronised { .. } if set_by_network => Some(AnchoredBy::Synchronised),
        Standing::Vouched => Some(AnchoredBy::Vouched),
        // Somebody set by hand what the network had set right.
        _ if kept == AnchoredBy::Synchronised => None,
        Standing::Plausible | Standing::Synchronised { .. } => Some(AnchoredBy::Plausible),
        Standing::Doubted(_) => None,
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::clock::StoppedClock;
    use chrono::Duration;

    fn at(seconds: i64) -> Time {
        time_from_micros(EARLIEST_US + seconds * 1_000_000).unwrap()
    }

    fn keeper(standing: Standing, newest_s: Option<i64>) -> (Arc<StoppedClock>, Keeper) {
        let clock = Arc::new(StoppedClock::new(at(1_000)));
        clock.stand(standing);
        let newest_us = newest_s.map(|newest_s| at(newest_s).timestamp_micros());
        (Arc::clone(&clock), Keeper::new(clock, None, newest_us))
    }

    #[test]
    fn what_a_clock_does_for_a_moment_is_nothing() {
        let (clock, keeper) = keeper(Standing::Plausible, None);
        for _ in 0..5 {
            clock.set(at(90_000));
            assert_eq!(keeper.stamp(), (at(1_000).timestamp_micros(), Stamp::Arrival));
            clock.set(at(1_000));
            keeper.look();
        }
        assert_eq!(keeper.take_news(), []);
    }

    #[test]
    fn a_clock_that_is_vouched_for_is_believed_behind_the_newest_reading_and_followed_wherever_it_goes_but_before_2020() {
        let (clock, keeper) = keeper(Standing::Vouched, Some(5_000));
        assert_eq!(keeper.stamp(), (at(1_000).timestamp_micros(), Stamp::Arrival));
        for (to, shown) in [(500, 510), (-90_000, 520), (800, 810)] {
            clock.set(at(to));
            keeper.look();
            clock.pass(Duration::seconds(10));
            assert_eq!(keeper.stamp().0, at(shown).timestamp_micros(), "set to {to}");
        }
        let followed = |news: &ClockNews| matches!(news, ClockNews::Set(step) if step.followed);
        assert_eq!(keeper.take_news().iter().map(followed).collect::<Vec<_>>(), [true, false, true]);
    }

    #[test]
    fn until_a_clock_is_believed_stamps_are_undated_and_why_is_told_once() {
        let (clock, keeper) = keeper(Standing::Plausible, Some(1_030));
        clock.pass(Duration::seconds(10));
        assert_eq!(keeper.stamp(), (10_000_000, Stamp::Undated));
        assert_eq!(keeper.take_news(), [ClockNews::Doubted(WhyDoubted::BeforeNewest)]);
        clock.pass(Duration::seconds(20));
        assert_eq!(keeper.stamp(), (at(1_030).timestamp_micros(), Stamp::Arrival));
        assert_eq!(keeper.take_news(), [ClockNews::Believed]);
        assert_eq!(keeper.now(), at(1_030));
    }

    #[test]
    fn what_a_process_before_knew_of_this_start_is_believed_though_the_clock_is_not() {
        let clock = Arc::new(StoppedClock::new(at(-5_000_000)));
        let known = Anchor { began_us: at(700).timestamp_micros(), by: AnchoredBy::Synchronised };
        let keeper = Keeper::new(Arc::clone(&clock) as Arc<dyn Clock>, Some(known), None);
        clock.pass(Duration::seconds(7));
        assert_eq!(keeper.stamp(), (at(707).timestamp_micros(), Stamp::Arrival));
        assert!(matches!(keeper.take_news()[..], [ClockNews::Set(ClockStep { followed: false, .. })]));
    }
}
