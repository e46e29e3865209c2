//! record

use std::path::Path;

use super::Outcome;

/// Import
#[derive(Debug, clap::Args)]
pub(super) struct Import {}

impl Import {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// Export
#[derive(Debug, clap::Args)]
pub(super) struct Export {}

impl Export {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// Sow
#[derive(Debug, clap::Args)]
pub(super) struct Sow {}

impl Sow {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// Check
#[derive(Debug, clap::Args)]
pub(super) struct Check {}

impl Check {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// Move
#[derive(Debug, clap::Args)]
pub(super) struct Move {}

impl Move {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// Probes.
#[derive(Debug, clap::Subcommand)]
pub(super) enum Probe {
    /// Say where a probe stands, and from when on
    Place(Place),
}

/// place
#[derive(Debug, clap::Args)]
pub(super) struct Place {}

impl Probe {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}
