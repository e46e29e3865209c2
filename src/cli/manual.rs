//! Manual pages and shell completions, made from the options themselves.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::Context;
use clap::CommandFactory as _;
use clap_complete::{Shell, generate_to};

use super::{Options, Outcome};

/// Write manual pages and shell completions into a folder
#[derive(Debug, clap::Args)]
pub(super) struct Manual {
    /// The folder; made if it is not there
    folder: PathBuf,
}

impl Manual {
    pub(super) fn run(self) -> anyhow::Result<Outcome> {
        let folder = &self.folder;
        let count = write(folder).with_context(|| format!("cannot write into {}", folder.display()))?;
        writeln!(std::io::stdout(), "{count} files written into {}: read a page with `man -l FILE`", folder.display())?;
        Ok(Outcome::Done)
    }
}

fn write(folder: &Path) -> std::io::Result<usize> {
    std::fs::create_dir_all(folder)?;
    clap_mangen::generate_to(Options::command(), folder)?;
    for shell in [Shell::Bash, Shell::Zsh, Shell::Fish] {
        generate_to(shell, &mut Options::command(), "seedclock", folder)?;
    }
    Ok(std::fs::read_dir(folder)?.count())
}
