//! The bench on a phone: a page served from this computer, to this computer and to devices that were paired.
//!
//! Everything is written by the server and reads without a script; what changes the bench is sent by the page's own script
//! (`assets/page.js`), which keeps it until it has arrived. Nothing is loaded from elsewhere.

#[cfg(test)]
mod answers_tried;
mod app;
mod asked;
mod asking;
mod assets;
mod boxes;
mod compare;
mod correct;
mod details;
mod ends;
mod folder;
mod form;
#[cfg(test)]
mod forms_tried;
mod frame;
mod guard;
mod handled;
mod live;
mod looks;
mod lots;
mod more;
mod moving;
mod pairing;
mod plan;
mod probes;
mod prose;
mod reading;
mod report;
mod round;
mod routes;
mod server;
mod shelf;
mod sow;
mod spots;
mod status;
mod today;
#[cfg(test)]
mod tried;
mod ways;

mod address;
mod grid;
mod paper;
mod photos;

pub use address::own_address;
pub use app::PageOptions;
pub use guard::Needed;
pub use routes::{Route, routes};
pub use server::serve;
