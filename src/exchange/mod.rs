//! The bench folder: CSV in and out.

mod cells;
mod export;
mod folder;
mod readings;
mod table;
mod tables;

pub use export::{ExportError, ProofColumn, export};
pub use folder::{Document, Folder, documents_in};
pub use readings::{ReadAt, Series};
