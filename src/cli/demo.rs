//! demo

use std::path::PathBuf;

use super::Outcome;

/// demo
#[derive(Debug, clap::Args)]
pub(super) struct Demo {}

impl Demo {
    pub(super) fn run(self, _bench: Option<PathBuf>) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}
