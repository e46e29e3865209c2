//! The bench folder, CSV in and out; answers as JSON; a plan as a calendar; figures and photographs as pictures.

mod archive;
mod calendar;
mod cells;
mod entries;
mod export;
mod folder;
mod kept_fit;
mod layout;
mod other_table;
mod photo;
mod png;
mod readings;
mod shapes;
mod share;
mod table;
mod table_form;
mod tables;

pub use archive::{Place, Sent, pack};
pub use calendar::{is_own_calendar, plan_calendar};
pub use export::{ExportError, ProofColumn, export};
pub use folder::{Document, Folder, documents_in};
pub use kept_fit::{FORM, fit_bytes, fit_of};
pub use layout::layout_csv;
pub use other_table::OtherTable;
pub use photo::{PHOTO_BYTES, PHOTO_SIDE, PhotoFault, SmallPhoto, small_photo};
pub use png::{PngError, png};
pub use readings::{ReadAt, Series};
pub use shapes::{
    alarms_json, away_json, compare_json, diagnosis_json, fit_json, forecast_json, letter_json, plan_json, replay_json,
    status_json, trial_json,
};
pub use share::shareable;
pub use table_form::{Column, Dates, ProbeOf, TableForm, Told};
