//! Backups, and whether a file is whole.

use std::io::Write as _;
use std::path::{Path, PathBuf};

use anyhow::Context;
use serde_json::json;

use super::Outcome;
use crate::civil::local_date;
use crate::clock::{Clock, SystemClock};
use crate::store::{
    BY_HAND, BackupOutcome, Damage, Restored, Store, StoreError, Verified, damage_words, restore, usual_folder, verify,
};
use crate::wording::moment;

/// Write all of the bench into one file, also while a logger runs
#[derive(Debug, clap::Args)]
pub(super) struct Backup {
    /// The file, or a folder to put it in [default: the folder `backups` beside the bench]
    target: Option<PathBuf>,
}

/// See whether a bench or a backup holds what was written to it; the exit code is 1 when it does not
#[derive(Debug, clap::Args)]
pub(super) struct Verify {
    /// The file [default: the bench]
    file: Option<PathBuf>,
    /// Answer as JSON, for other programs
    #[arg(long)]
    json: bool,
}

/// Make the bench anew from a backup; a bench that is there is moved aside, never overwritten
#[derive(Debug, clap::Args)]
pub(super) struct Restore {
    /// The backup, or any bench file
    file: PathBuf,
    /// Where the bench is to stand [default: the bench]
    #[arg(long, value_name = "FILE")]
    to: Option<PathBuf>,
    /// Where the backup is damaged, restore what is sound
    #[arg(long)]
    damaged_too: bool,
}

impl Backup {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let mut store = Store::open_to_copy(bench)?;
        let (zone, now) = (store.bench()?.zone, SystemClock.now());
        let target = match self.target {
            Some(target) if !target.is_dir() => target,
            folder => {
                let stem = bench.file_stem().unwrap_or(bench.as_os_str()).to_string_lossy().into_owned();
                let name = format!("{stem}-{}{BY_HAND}", local_date(now, zone));
                folder.unwrap_or_else(|| usual_folder(bench)).join(name)
            }
        };
        let made = store.backup(&target).map_err(|error| with_next(error, "`seedclock restore` a backup made before"));
        if let Err(error) = made {
            if let Some(StoreError::Target { .. }) = error.downcast_ref() {
                return Err(error);
            }
            let why = error.to_string();
            let why = why.lines().next().unwrap_or_default().trim_end_matches(':');
            // On the bench where nothing can be noted, nothing need be.
            let _ = store.note_backup(&BackupOutcome::Failed(why), now);
            return Err(error.context(format!("no backup was made at {}; one that stands there stays as it was", target.display())));
        }
        let _ = store.note_backup(&BackupOutcome::Made(&target), now);
        say(&format!("backed up and checked: {}", target.display()));
        Ok(Outcome::Done)
    }
}

impl Verify {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let file = self.file.as_deref().unwrap_or(bench);
        let found = verify(file)?;
        let text = if self.json { as_json(file, &found) } else { in_words(file, &found) };
        writeln!(std::io::stdout(), "{text}")?;
        Ok(if found.is_whole() { Outcome::Done } else { Outcome::NotEnough })
    }
}

impl Restore {
    pub(super) fn run(self, bench: &Path) -> anyhow::Result<Outcome> {
        let target = self.to.as_deref().unwrap_or(bench);
        let damage = if self.damaged_too { Damage::LeftOut } else { Damage::Refused };
        let stamp = local_date(SystemClock.now(), crate::clock::machine_zone());
        let aside = |number: u32| {
            let more = if number > 1 { format!("-{number}") } else { String::new() };
            let mut name = target.as_os_str().to_owned();
            name.push(format!(".replaced-{stamp}{more}"));
            PathBuf::from(name)
        };
        let advice = if self.damaged_too {
            "another backup: too much of this one is damaged"
        } else {
            "another backup, or `--damaged-too` for what is sound"
        };
        let restored = restore(&self.file, target, damage, aside)
            .map_err(|error| with_next(error, advice))
            .with_context(|| format!("nothing was restored to {}", target.display()))?;
        say(&restored_words(&self.file, target, &restored)?);
        Ok(Outcome::Done)
    }
}

/// What to do about a damaged file.
#[derive(Debug, thiserror::Error)]
#[error("{error}\n  next: {next}")]
struct Advised {
    error: StoreError,
    next: &'static str,
}

/// A damaged file, with what to do about it; any other error as it is.
fn with_next(error: StoreError, next: &'static str) -> anyhow::Error {
    match error {
        StoreError::Unsound { .. } => Advised { error, next }.into(),
        other => other.into(),
    }
}

fn restored_words(source: &Path, target: &Path, restored: &Restored) -> anyhow::Result<String> {
    let bench = restored.store.bench()?;
    let probes = restored.store.probes()?;
    let last = probes.iter().filter_map(|probe| probe.last_us).max().and_then(crate::civil::time_from_micros);
    let last = last.map(|last| format!(", the last reading of {}", moment(last, bench.zone))).unwrap_or_default();
    let mut said = format!(
        "restored {} from {}: {}, {}{last}",
        target.display(),
        source.display(),
        counted(bench.trials.len(), "box", "boxes"),
        counted(probes.len(), "probe", "probes")
    );
    if !restored.found.is_whole() {
        said += &format!("\nleft out, since it is damaged there:{}", damage_words(&restored.found));
    }
    if let Some(aside) = &restored.aside {
        said += &format!("\nthe bench that stood there is kept as {}", aside.display());
    }
    Ok(said)
}

fn in_words(file: &Path, found: &Verified) -> String {
    let file = file.display();
    if !found.is_whole() {
        let next = "`seedclock restore BACKUP` brings back what a backup holds; look after the disk first";
        return format!("{file} is damaged:{}\n  next: {next}", damage_words(found));
    }
    let days = counted(found.days, "day", "days");
    let probes = counted(found.probes, "probe", "probes");
    let open = match found.open_days {
        0 => String::new(),
        open => format!("; {} not summed up yet", if open == 1 { "1 is".to_owned() } else { format!("{open} are") }),
    };
    format!("{file} is whole: {days} of {probes} as they were written, {} readings{open}", found.readings)
}

fn as_json(file: &Path, found: &Verified) -> String {
    let day = |day: &crate::store::DamagedDay| {
        json!({
            "probe": day.probe,
            "day": day.day.format("%Y-%m-%d").to_string(),
            "written": day.written.map(|sum| sum.readings),
            "found": day.found.map(|sum| sum.readings),
        })
    };
    let shape = json!({
        "file": file.display().to_string(),
        "whole": found.is_whole(),
        "readings": found.readings,
        "days": found.days,
        "open_days": found.open_days,
        "damaged_days": found.damaged.iter().map(day).collect::<Vec<_>>(),
        "damaged_tables": found.tables,
        "faults": found.faults,
    });
    format!("{shape:#}")
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

fn say(text: &str) {
    // What is done stays so though nobody listens.
    let _ = writeln!(std::io::stdout(), "{text}");
}
