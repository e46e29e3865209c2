//! The bench written out as a bench folder.

use std::path::Path;

use crate::exchange::{ExportError, ProofColumn, export, shareable};
use crate::store::{Store, StoreError};

/// Readings are written in pieces of this many microseconds (30 days), so that a long record needs little memory.
const PIECE_US: i64 = 30 * 86_400 * 1_000_000;

/// How much of a bench is written out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Shared {
    /// All.
    Everything,
    /// What may be handed on: no collecting places, notes and times away, and nothing that friends entrusted.
    ToHandOn,
}

/// Writes the bench into a folder that is new, empty or an earlier export; gives the names of the files.
///
/// # Errors
/// [`ExportError`]; each file is complete or as it was.
pub fn write_folder(store: &Store, shared: Shared, folder: &Path) -> Result<Vec<&'static str>, ExportError<StoreError>> {
    let whole = store.bench().map_err(ExportError::Source)?;
    let bench = if shared == Shared::ToHandOn { shareable(&whole) } else { whole };
    let mut probes = store.probes().map_err(ExportError::Source)?;
    probes.retain(|span| bench.probes.contains(&span.probe));
    let proven = store.has_proofs().map_err(ExportError::Source)?;
    let proofs = if proven { ProofColumn::Written } else { ProofColumn::LeftOut };
    let pieces = probes.iter().flat_map(|span| {
        let (first, last) = span.first_us.zip(span.last_us).map_or((0, -1), |span| span);
        let starts = (0..).map(move |piece| first + piece * PIECE_US).take_while(move |start| *start <= last);
        starts.map(move |start| Ok((&span.probe, store.readings(&span.probe, start, start + PIECE_US)?)))
    });
    export(&bench, proofs, pieces, folder)
}
