//! log

use std::path::Path;

use super::Outcome;

/// log
#[derive(Debug, clap::Args)]
pub(super) struct Log {}

impl Log {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}
