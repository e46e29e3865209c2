//! ask

use std::path::Path;

use super::Outcome;

/// fit
#[derive(Debug, clap::Args)]
pub(super) struct Fit {}

impl Fit {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// forecast
#[derive(Debug, clap::Args)]
pub(super) struct Forecast {}

impl Forecast {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}

/// diagnose
#[derive(Debug, clap::Args)]
pub(super) struct Diagnose {}

impl Diagnose {
    pub(super) fn run(self, _bench: &Path) -> anyhow::Result<Outcome> {
        anyhow::bail!("not built yet")
    }
}
