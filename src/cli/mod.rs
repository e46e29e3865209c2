//! Options, text, exit codes: the only place with clap.

mod alarms;
mod ask;
mod assume;
mod care;
mod compare;
mod config;
mod demo;
mod labels;
mod log;
mod manual;
mod page;
mod plan;
mod ports;
mod progress;
mod record;
mod report;
mod setup;
mod status;
mod undated;
mod ways;
mod wishes;

use std::io::ErrorKind;
use std::path::PathBuf;
use std::process::ExitCode;

use anyhow::Context;
use clap::{Parser, Subcommand};
use etcetera::BaseStrategy;

use crate::logger::LoggerError;
use crate::store::StoreError;

/// Logs the warmth beside each germination box, learns what the seeds need, and says when they will sprout.
#[derive(Debug, Parser)]
#[command(name = "seedclock", version, max_term_width = 100)]
struct Options {
    /// The bench's file [default: seedclock/bench.db in the platform's data folder; where there is none, that of the service]
    #[arg(long, global = true, value_name = "FILE", env = "SEEDCLOCK_BENCH")]
    bench: Option<PathBuf>,
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Show the whole job on a made-up bench
    Demo(demo::Demo),
    /// Read the probes until told to stop
    Log(Box<log::Log>),
    /// Take a bench folder in, all or nothing
    Import(record::Import),
    /// Write the bench out as a bench folder
    Export(record::Export),
    /// Record boxes of seeds
    Sow(record::Sow),
    /// Record a past sowing from memory, without a probe
    Recall(record::Recall),
    /// Record a look at boxes
    Check(record::Check),
    /// Record that boxes were carried to another spot, or are to be
    Move(record::Move),
    /// Record that boxes were given up or emptied
    Close(record::Close),
    /// Record that closed boxes are watched again
    Reopen(record::Reopen),
    /// Say where probes stand, how they are calibrated, and what they are called
    #[command(subcommand)]
    Probe(record::Probe),
    /// Say that readings of a probe are not to be used
    Doubt(record::Doubt),
    /// Say what kind of place a spot is, and its temperature where no probe stands
    Spot(record::Spot),
    /// Record what a minimum–maximum thermometer shows at a spot
    Minmax(record::Minmax),
    /// Say what is known of seeds that were collected or bought together
    Lot(record::Lot),
    /// Change a setting of the bench, or see them all
    Set(record::Set),
    /// Put an entry right
    #[command(subcommand)]
    Correct(record::Correct),
    /// Take back the last entry typed, or the one that is named
    Undo(record::Undo),
    /// How the bench stands, and what needs doing
    Status(status::Status),
    /// Say when nobody is there: what comes meanwhile, and what could wait where
    Away(record::Away),
    /// The alarms that are present, and whether they reach you
    Alarms(alarms::Alarms),
    /// Readings made while the clock was not right, and their dates
    Undated(undated::Undated),
    /// Write all of the bench into one file, also while a logger runs
    Backup(care::Backup),
    /// See whether a bench or a backup holds what was written to it
    Verify(care::Verify),
    /// Make the bench anew from a backup
    Restore(care::Restore),
    /// What the seeds need, learnt from past sowings
    Fit(ask::Fit),
    /// When the present boxes will sprout
    Forecast(ask::Forecast),
    /// Which boxes are slow, and why
    Diagnose(ask::Diagnose),
    /// Whether treatments, lots, spots or batches differ
    Compare(compare::Compare),
    Report(report::Report),
    Page(page::Page),
    Pair(page::Pair),
    Labels(labels::Labels),
    /// When and how many seeds to sow for plants on a wished day; trials laid out
    Plan(Box<plan::Plan>),
    /// Ask what is to be logged and where, and write the configuration
    Setup(setup::Setup),
    /// Write manual pages and shell completions into a folder
    Manual(manual::Manual),
}

/// How a command that could be carried out came out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Outcome {
    /// Done, or answered.
    Done,
    /// Done, but the answer is "not enough" or "no".
    NotEnough,
    /// Ended by Ctrl-C, with nothing changed.
    Interrupted,
}

/// Runs the command line and says how it went: 0 done, 1 the answer is "not enough", 2 could not, 75 the storage failed,
/// 130 interrupted.
#[must_use]
pub fn main() -> ExitCode {
    let options = match Options::try_parse() {
        Ok(options) => options,
        Err(usage) => {
            let code = if usage.use_stderr() { 2 } else { 0 };
            // A closed pipe is not a reason to fail while printing help.
            let _ = usage.print();
            return ExitCode::from(code);
        }
    };
    match run(options) {
        Ok(Outcome::Done) => ExitCode::SUCCESS,
        Ok(Outcome::NotEnough) => ExitCode::from(1),
        Ok(Outcome::Interrupted) => ExitCode::from(130),
        // Whoever reads along has read enough.
        Err(error) if error.downcast_ref::<std::io::Error>().is_some_and(|error| error.kind() == ErrorKind::BrokenPipe) => {
            ExitCode::SUCCESS
        }
        Err(error) => {
            complain(&error);
            ExitCode::from(if storage_failed(&error) { 75 } else { 2 })
        }
    }
}

fn storage_failed(error: &anyhow::Error) -> bool {
    error.chain().any(|cause| {
        cause.downcast_ref::<StoreError>().is_some_and(StoreError::storage_failed)
            // Its own words stand for those of the store, which are then no cause of their own.
            || cause.downcast_ref::<LoggerError>().is_some_and(LoggerError::storage_failed)
    })
}

#[expect(clippy::print_stderr, reason = "the one place where errors reach the user")]
fn complain(error: &anyhow::Error) {
    eprintln!("seedclock: {error:#}");
}

fn run(options: Options) -> anyhow::Result<Outcome> {
    let bench = options.bench;
    match options.command {
        Command::Demo(demo) => demo.run(bench),
        Command::Log(log) => log.run(bench),
        Command::Import(import) => import.run(&place(bench)?),
        Command::Export(export) => export.run(&place(bench)?),
        Command::Sow(sow) => sow.run(&place(bench)?),
        Command::Recall(recall) => recall.run(&place(bench)?),
        Command::Check(check) => check.run(&place(bench)?),
        Command::Move(moved) => moved.run(&place(bench)?),
        Command::Close(close) => close.run(&place(bench)?),
        Command::Reopen(reopen) => reopen.run(&place(bench)?),
        Command::Probe(probe) => probe.run(&place(bench)?),
        Command::Doubt(doubt) => doubt.run(&place(bench)?),
        Command::Spot(spot) => spot.run(&place(bench)?),
        Command::Minmax(minmax) => minmax.run(&place(bench)?),
        Command::Lot(lot) => lot.run(&place(bench)?),
        Command::Set(set) => set.run(&place(bench)?),
        Command::Correct(correct) => correct.run(&place(bench)?),
        Command::Undo(undo) => undo.run(&place(bench)?),
        Command::Status(status) => status.run(&place(bench)?),
        Command::Away(away) => away.run(&place(bench)?),
        Command::Alarms(alarms) => alarms.run(bench),
        Command::Undated(undated) => undated.run(&place(bench)?),
        Command::Backup(backup) => backup.run(&place(bench)?),
        Command::Verify(verify) => verify.run(&place(bench)?),
        Command::Restore(restore) => restore.run(&place(bench)?),
        Command::Fit(fit) => fit.run(&place(bench)?),
        Command::Forecast(forecast) => forecast.run(&place(bench)?),
        Command::Diagnose(diagnose) => diagnose.run(&place(bench)?),
        Command::Compare(compare) => compare.run(&place(bench)?),
        Command::Report(report) => report.run(&place(bench)?),
        Command::Page(page) => page.run(&place(bench)?),
        Command::Pair(pair) => pair.run(&place(bench)?),
        Command::Labels(labels) => labels.run(&place(bench)?),
        Command::Plan(plan) => plan.run(&place(bench)?),
        Command::Setup(setup) => setup.run(bench),
        Command::Manual(manual) => manual.run(),
    }
}

/// The bench of the service, which members of its group use too.
const SERVICE_BENCH: &str = "/var/lib/seedclock/bench.db";

/// The bench file named, or the one in the platform's data folder; where there is none, but a service logs on this computer, its one.
fn place(named: Option<PathBuf>) -> anyhow::Result<PathBuf> {
    if let Some(named) = named {
        return Ok(named);
    }
    let own = data_folder()?.join("bench.db");
    let service = PathBuf::from(SERVICE_BENCH);
    Ok(if !own.exists() && service.exists() { service } else { own })
}

/// The platform's folder for seedclock's configuration.
fn config_folder() -> anyhow::Result<PathBuf> {
    let base = etcetera::choose_base_strategy()
        .context("cannot tell where this account keeps its settings: HOME is not set\n  next: name a file with --config")?;
    Ok(base.config_dir().join("seedclock"))
}

/// The platform's folder for seedclock's files.
fn data_folder() -> anyhow::Result<PathBuf> {
    let base = etcetera::choose_base_strategy()
        .context("cannot tell where this account keeps its data: HOME is not set\n  next: name a file with --bench")?;
    Ok(base.data_dir().join("seedclock"))
}
