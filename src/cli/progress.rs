//! Progress of long work, on a terminal.

use std::time::Duration;

use indicatif::{ProgressBar, ProgressDrawTarget, ProgressStyle};

/// Work that is done sooner shows nothing.
const LONG: Duration = Duration::from_secs(1);

/// A bar on stderr, where that is a terminal, once the work takes over a second.
pub(super) struct Progress {
    bar: ProgressBar,
}

impl Progress {
    /// Of the work that `what` says.
    pub(super) fn of(what: &'static str) -> Self {
        let bar = ProgressBar::with_draw_target(None, ProgressDrawTarget::hidden());
        if let Ok(style) = ProgressStyle::with_template("{msg} {wide_bar} {pos}/{len}") {
            bar.set_style(style);
        }
        bar.set_message(what);
        Self { bar }
    }

    /// So many of so many parts are done.
    pub(super) fn show(&mut self, done: usize, of: usize) {
        if self.bar.is_hidden() && self.bar.elapsed() > LONG {
            self.bar.set_draw_target(ProgressDrawTarget::stderr());
        }
        self.bar.set_length(of as u64);
        self.bar.set_position(done as u64);
    }
}

impl Drop for Progress {
    fn drop(&mut self) {
        self.bar.finish_and_clear();
    }
}
