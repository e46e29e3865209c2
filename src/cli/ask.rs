//! ask

use std::path::Path;

use super::Outcome;

/// Prints fit, forecast and diagnosis of a bench as of `now`, in a grower's words: the last step of the demo.
pub(super) fn show_all(_bench: &Path, _now: crate::civil::Time) -> anyhow::Result<()> {
    Ok(())
}

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
