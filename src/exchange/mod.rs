//! The bench folder, CSV in and out; answers as JSON.

mod cells;
mod export;
mod folder;
mod readings;
mod shapes;
mod table;
mod tables;

pub use export::{ExportError, ProofColumn, export};
pub use folder::{Document, Folder, documents_in};
pub use readings::{ReadAt, Series};
pub use shapes::{diagnosis_json, fit_json, forecast_json};
