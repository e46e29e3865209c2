//! What every source does alike: stamp what arrives, tell it, say how it stands once for each change, and wait.

use std::ops::ControlFlow;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc::Sender;

use super::{Heard, LineFault, News, SourceState, Stop, Told};
use crate::bench::Stamp;
use crate::clock::Keeper;

/// The wait before a source is tried again, doubled each time …
pub(super) const FIRST_RETRY: Duration = Duration::from_millis(250);
/// … up to this: a board plugged in again is heard within five seconds, and an empty socket costs a look every other second.
pub(super) const LAST_RETRY: Duration = Duration::from_secs(2);
/// As much is kept of a line that could not be read, in bytes: thousands may wait, and a pack can be sixteen times as long.
const MOST_KEPT: usize = 4096;

/// A line at which tests make a source's thread break down.
#[cfg(test)]
pub(crate) const BREAK_DOWN: &[u8] = b"break down here";

/// Where a source's thread tells what it hears.
pub(super) struct Outlet {
    number: usize,
    keeper: Arc<Keeper>,
    to: Sender<Heard>,
    stop: Arc<Stop>,
    said: Option<SourceState>,
}

impl Outlet {
    pub(super) fn new(number: usize, keeper: Arc<Keeper>, to: Sender<Heard>, stop: Arc<Stop>) -> Self {
        Self { number, keeper, to, stop, said: None }
    }

    /// The time of arrival, by whichever clock can be believed: the only place where sources ask for it.
    pub(super) fn stamp(&self) -> (i64, Stamp) {
        self.keeper.stamp()
    }

    /// Now as well as it is known, in microseconds since 1970: for what is no reading.
    pub(super) fn now_us(&self) -> i64 {
        self.keeper.now().timestamp_micros()
    }

    /// What was told of a line, as news.
    pub(super) fn news_of(&self, told: Told<'_>) -> News {
        match told {
            Told::Reading(probe, reading, stamp) => News::Reading(probe, reading, stamp),
            Told::Unread { line, fault } => {
                #[cfg(test)]
                assert!(line != BREAK_DOWN, "a test asked for this");
                self.unread(line, fault)
            }
            Told::FormatChanged { from, to } => News::FormatChanged { from, to },
            Told::ClockDiffers { ahead_us } => News::ClockDiffers { ahead_us },
        }
    }

    /// A line that could not be read; of a long one the beginning is kept.
    pub(super) fn unread(&self, line: &[u8], fault: LineFault) -> News {
        News::Unread { time_us: self.now_us(), line: line.iter().take(MOST_KEPT).copied().collect(), fault }
    }

    pub(super) fn is_stopped(&self) -> bool {
        self.stop.is_rung()
    }

    /// Waits; breaks where the request to stop comes meanwhile.
    pub(super) fn wait(&self, longest: Duration) -> ControlFlow<()> {
        if self.stop.wait(longest) { ControlFlow::Break(()) } else { ControlFlow::Continue(()) }
    }

    /// How it stands, as last said.
    pub(super) fn said(&self) -> Option<&SourceState> {
        self.said.as_ref()
    }

    /// Tells a change of state once.
    pub(super) fn say(&mut self, state: SourceState) -> ControlFlow<()> {
        match self.changed(state) {
            Some(news) => self.tell(news),
            None => ControlFlow::Continue(()),
        }
    }

    /// The change of state to tell, if it is one. Between "unplugged" and "absent" a grower sees none.
    pub(super) fn changed(&mut self, state: SourceState) -> Option<News> {
        let same =
            self.said.as_ref() == Some(&state) || (self.said == Some(SourceState::Unplugged) && state == SourceState::Absent);
        if same {
            return None;
        }
        self.said = Some(state.clone());
        Some(News::State { time_us: self.now_us(), state })
    }

    /// Waits while the channel is full, so that a slow writer slows the reader instead of losing lines.
    pub(super) fn tell(&self, news: News) -> ControlFlow<()> {
        match self.to.blocking_send(Heard { source: self.number, news }) {
            Ok(()) => ControlFlow::Continue(()),
            Err(_) => ControlFlow::Break(()),
        }
    }

    /// The same for those who may not block their thread.
    pub(super) async fn tell_later(&self, news: News) -> ControlFlow<()> {
        match self.to.send(Heard { source: self.number, news }).await {
            Ok(()) => ControlFlow::Continue(()),
            Err(_) => ControlFlow::Break(()),
        }
    }
}
