//! How the bench stands, in words, and what to do.

use std::io::Write as _;
use std::path::Path;
use std::sync::Arc;

use super::Outcome;
use crate::answers;
use crate::civil::read_time;
use crate::clock::SystemClock;
use crate::diagnosis::BenchStatus;
use crate::exchange::status_json;
use crate::store::Store;
use crate::wording::status_text;

/// How the bench stands, and what needs doing; the exit code is 1 when something does
#[derive(Debug, clap::Args)]
pub(super) struct Status {
    /// Answer as JSON, for other programs
    #[arg(long)]
    json: bool,
    /// Use nothing that happened later than this [default: now]
    #[arg(long, value_name = "TIME")]
    as_of: Option<String>,
}

impl Status {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let store = Store::open_read_only(bench)?;
        let zone = store.bench()?.zone;
        let status: BenchStatus = match self.as_of.as_deref() {
            // Whether a logger ran at another time nobody knows.
            Some(text) => answers::status(&store, read_time(text, zone)?.time, None, None)?,
            None => answers::Here::new(Arc::new(SystemClock)).status(&store)?,
        };
        let text = if self.json { status_json(&status, zone) } else { status_text(&status, zone) };
        writeln!(std::io::stdout(), "{}", text.trim_end())?;
        Ok(if status.todo.is_empty() { Outcome::Done } else { Outcome::NotEnough })
    }
}
