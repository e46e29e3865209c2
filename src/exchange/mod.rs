//! The bench folder, CSV in and out; answers as JSON.

mod cells;
mod entries;
mod export;
mod folder;
mod kept_fit;
mod other_table;
mod readings;
mod shapes;
mod share;
mod table;
mod table_form;
mod tables;

pub use export::{ExportError, ProofColumn, export};
pub use folder::{Document, Folder, documents_in};
pub use kept_fit::{FORM, fit_bytes, fit_of};
pub use other_table::OtherTable;
pub use readings::{ReadAt, Series};
pub use shapes::{alarms_json, diagnosis_json, fit_json, forecast_json, letter_json, replay_json, status_json};
pub use share::shareable;
pub use table_form::{Column, Dates, ProbeOf, TableForm, Told};
