//! A bench written out as a bench folder.

use std::fs::File;
use std::io::{self, BufWriter};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::cells::{celsius, defused};
use super::folder::is_csv;
use super::readings::READINGS;
use super::tables::{AWAY, BENCH, CHECKS, CONTAINERS, DOUBTS, LIMITS, LOTS, MOVES, PROBES, SMALL, SPOTS};
use crate::bench::rules::BenchSetting;
use crate::bench::{Bench, GivenTemperature, Name, ProbeLimits, Reading, Setting};
use crate::civil::{Time, rfc3339, time_from_micros};

/// Why a bench could not be written out.
#[derive(Debug, Error)]
pub enum ExportError<E> {
    /// The folder holds tables that would be read back together with the exported ones.
    #[error("{folder} holds {file}, which an export does not write: nothing was written\n  next: name a new folder")]
    Occupied {
        /// The folder.
        folder: PathBuf,
        /// The table that stands there.
        file: String,
    },
    /// A file or folder could not be made or written.
    #[error("writing {path} did not work: {cause}")]
    Files {
        /// The file or folder.
        path: PathBuf,
        /// The system's own account.
        cause: io::Error,
    },
    /// Readings could not be had.
    #[error(transparent)]
    Source(E),
}

/// What becomes of the readings' `proof` column, which most benches do not need.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum ProofColumn {
    /// Some line proved something.
    Written,
    /// None did.
    LeftOut,
}

/// Writes a bench folder into a folder that is new, empty or an earlier export; gives the names of the files written: limits.csv only
/// where some probe has limits.
/// `readings` come in the order in which they are to be written, in as many pieces as one likes.
///
/// # Errors
/// [`ExportError`]; each file is complete or as it was.
pub fn export<'a, E>(
    bench: &Bench,
    proofs: ProofColumn,
    mut readings: impl Iterator<Item = Result<(&'a Name, Vec<Reading>), E>>,
    folder: &Path,
) -> Result<Vec<&'static str>, ExportError<E>> {
    std::fs::create_dir_all(folder).map_err(|source| files(folder, source))?;
    let mut ours: Vec<&'static str> = SMALL.iter().map(|form| form.file).chain([READINGS.file]).collect();
    for entry in std::fs::read_dir(folder).map_err(|source| files(folder, source))? {
        let file = entry.map_err(|source| files(folder, source))?.file_name().to_string_lossy().into_owned();
        if is_csv(&file) && !ours.contains(&file.as_str()) {
            return Err(ExportError::Occupied { folder: folder.to_path_buf(), file });
        }
    }
    let table = |file: &'static str, rows: Vec<Vec<String>>| {
        write_file(folder, file, |out| Ok(rows.into_iter().try_for_each(|row| out.write_record(row))?))
    };
    table(CONTAINERS.file, containers(bench))?;
    table(CHECKS.file, checks(bench))?;
    table(PROBES.file, placements(bench))?;
    table(SPOTS.file, spots(bench))?;
    table(MOVES.file, moves(bench))?;
    table(LOTS.file, lots(bench))?;
    table(DOUBTS.file, doubts(bench))?;
    for (file, rows) in [(LIMITS.file, limits(bench)), (AWAY.file, aways(bench))] {
        if rows.len() > 1 {
            table(file, rows)?;
            continue;
        }
        // An earlier export's would be read back together with the rest.
        match std::fs::remove_file(folder.join(file)) {
            Err(source) if source.kind() != io::ErrorKind::NotFound => return Err(files(&folder.join(file), source)),
            _ => ours.retain(|other| *other != file),
        }
    }
    table(BENCH.file, settings(bench))?;
    write_file(folder, READINGS.file, |out| {
        let columns = if proofs == ProofColumn::Written { 4 } else { 3 };
        out.write_record(["time", "probe", "celsius", "proof"].iter().take(columns))?;
        readings.try_for_each(|piece| {
            let (probe, piece) = piece.map_err(Stopped::Source)?;
            let probe = name(probe);
            for reading in piece {
                let time = time_from_micros(reading.time_us).map(rfc3339).unwrap_or_default();
                out.write_record([&*time, &probe, &celsius(&reading), reading.proof.word()].iter().take(columns))?;
            }
            Ok(())
        })
    })?;
    Ok(ours)
}

fn containers(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row([
        "container",
        "batch",
        "species",
        "lot",
        "treatment",
        "seeds",
        "sown",
        "spot",
        "seeds_low",
        "seeds_high",
        "event",
        "depth_mm",
        "from",
        "box",
        "owner",
        "ended",
    ])];
    rows.extend(bench.trials.values().map(|trial| {
        let container = &trial.container;
        row([
            &*name(&container.name),
            &name(&container.batch),
            &name(&container.species),
            &optional(&container.lot),
            &optional(&container.treatment),
            &number(container.seeds),
            &rfc3339(container.sown),
            &name(&container.spot),
            &number(container.seeds_low),
            &number(container.seeds_high),
            container.event.word(),
            &number(container.depth_mm),
            &optional(&container.from),
            &optional(&container.lid),
            &optional(&container.owner),
            &time(container.ended),
        ])
    }));
    rows
}

fn settings(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row(["key", "value"])];
    let said = [Some(BenchSetting::Zone(bench.zone)), bench.units.map(BenchSetting::Units)];
    let said = said.into_iter().flatten().chain(bench.alarms.said().map(BenchSetting::Alarm));
    rows.extend(said.map(|setting| row([setting.key(), &setting.value()])));
    rows
}

fn lots(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row([
        "lot",
        "species",
        "source",
        "collected",
        "packet_days_low",
        "packet_days_high",
        "packet_c",
        "packet_percent",
        "chill_days",
        "light",
        "note",
    ])];
    rows.extend(bench.lots.values().map(|lot| {
        row([
            &*name(&lot.name),
            &name(&lot.species),
            &text(&lot.source),
            &text(&lot.collected),
            &number(lot.packet_days_low),
            &number(lot.packet_days_high),
            &number(lot.packet_c),
            &number(lot.packet_percent),
            &number(lot.chill_days),
            &text(&lot.light),
            &text(&lot.note),
        ])
    }));
    rows
}

fn doubts(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row(["probe", "from", "to", "why"])];
    rows.extend(
        bench.doubts.iter().map(|doubt| row([&*name(&doubt.probe), &rfc3339(doubt.from), &time(doubt.to), &text(&doubt.why)])),
    );
    rows
}

fn limits(bench: &Bench) -> Vec<Vec<String>> {
    let header = std::iter::once("probe").chain(ProbeLimits::COLUMNS).map(str::to_owned).collect();
    let row = |limits: &ProbeLimits| std::iter::once(name(&limits.probe)).chain(limits.values().map(number)).collect();
    std::iter::once(header).chain(bench.limits.values().map(row)).collect()
}

fn aways(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row(["from", "to"])];
    rows.extend(bench.aways.iter().map(|away| row([&*rfc3339(away.from), &rfc3339(away.until)])));
    rows
}

fn checks(bench: &Bench) -> Vec<Vec<String>> {
    let header = ["container", "time", "sprouted", "removed", "lost", "potted_on", "died", "condition", "note"];
    let mut rows = vec![row(header)];
    rows.extend(bench.trials.values().flat_map(|trial| &trial.checks).map(|check| {
        row([
            &*name(&check.container),
            &rfc3339(check.time),
            &check.sprouted.to_string(),
            &check.removed.to_string(),
            &check.lost.to_string(),
            &check.potted_on.to_string(),
            &check.died.to_string(),
            &text(&check.condition),
            &text(&check.note),
        ])
    }));
    rows
}

fn placements(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row(["probe", "spot", "since", "offset_c", "gain", "siting"])];
    rows.extend(bench.placements.iter().map(|placement| {
        row([
            &*name(&placement.probe),
            &name(&placement.spot),
            &rfc3339(placement.since),
            &number(placement.calibration.map(|calibration| calibration.offset_c)),
            &number(placement.calibration.map(|calibration| calibration.gain)),
            placement.siting.word(),
        ])
    }));
    rows
}

fn spots(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows =
        vec![row(["spot", "kind", "since", "set_c", "set_sd_c", "day_c", "night_c", "capacity", "changed", "note", "too_hot_c"])];
    for spot in bench.spots.values() {
        let only_named = [Setting::NOTHING_SAID];
        let settings = if spot.settings.is_empty() { &only_named[..] } else { &spot.settings };
        rows.extend(settings.iter().map(|setting| {
            let pair = match setting.given {
                Some(GivenTemperature::DayAndNight(pair)) => Some(pair),
                _ => None,
            };
            row([
                &*name(&spot.name),
                setting.kind.word(),
                &time(setting.since),
                &number(setting.set().map(|set| set.celsius)),
                &number(setting.given.map(GivenTemperature::sd_c)),
                &number(pair.map(|pair| pair.day_c)),
                &number(pair.map(|pair| pair.night_c)),
                &number(setting.capacity),
                &time(setting.changed),
                &text(&setting.note),
                &number(setting.too_hot_c),
            ])
        }));
    }
    rows
}

fn moves(bench: &Bench) -> Vec<Vec<String>> {
    let mut rows = vec![row(["container", "time", "spot", "planned"])];
    for trial in bench.trials.values() {
        for (moves, planned) in [(&trial.moves, "no"), (&trial.planned, "yes")] {
            rows.extend(
                moves.iter().map(|moved| row([&*name(&moved.container), &rfc3339(moved.time), &name(&moved.spot), planned])),
            );
        }
    }
    rows
}

fn row<const N: usize>(cells: [&str; N]) -> Vec<String> {
    cells.map(str::to_owned).to_vec()
}

fn name(name: &Name) -> String {
    defused(name.as_str()).into_owned()
}

fn optional(value: &Option<Name>) -> String {
    value.as_ref().map(name).unwrap_or_default()
}

fn text(value: &Option<String>) -> String {
    defused(value.as_deref().unwrap_or_default()).into_owned()
}

fn number<T: ToString>(value: Option<T>) -> String {
    value.map(|value| value.to_string()).unwrap_or_default()
}

fn time(value: Option<Time>) -> String {
    value.map(rfc3339).unwrap_or_default()
}

/// Why a file was not finished.
enum Stopped<E> {
    Disk(io::Error),
    Source(E),
}

impl<E> From<io::Error> for Stopped<E> {
    fn from(error: io::Error) -> Self {
        Self::Disk(error)
    }
}

impl<E> From<csv::Error> for Stopped<E> {
    fn from(error: csv::Error) -> Self {
        Self::Disk(error.into())
    }
}

/// Writes a file beside its place and moves it there when it is whole.
fn write_file<E>(
    folder: &Path,
    name: &str,
    write: impl FnOnce(&mut csv::Writer<BufWriter<File>>) -> Result<(), Stopped<E>>,
) -> Result<(), ExportError<E>> {
    let path = folder.join(name);
    let part = folder.join(format!("{name}.part"));
    let done = || -> Result<(), Stopped<E>> {
        let mut out = csv::Writer::from_writer(BufWriter::new(File::create(&part)?));
        write(&mut out)?;
        let buffered = out.into_inner().map_err(csv::IntoInnerError::into_error)?;
        let file = buffered.into_inner().map_err(io::IntoInnerError::into_error)?;
        file.sync_all()?;
        Ok(std::fs::rename(&part, &path)?)
    };
    done().map_err(|stopped| {
        // What was begun is of no use; that it cannot be taken away matters less than the reason why.
        let _ = std::fs::remove_file(&part);
        match stopped {
            Stopped::Disk(source) => files(&path, source),
            Stopped::Source(error) => ExportError::Source(error),
        }
    })
}

fn files<E>(path: &Path, cause: io::Error) -> ExportError<E> {
    ExportError::Files { path: path.to_path_buf(), cause }
}
