//! What runs for years under the system's service manager: how it says that it is well, and how it speaks to the journal.
//!
//! The unit, the udev rules and the package's scripts stand in this folder; `package` builds a Debian package of them.

mod journal;
mod notify;

pub use journal::{Level, Voice};
pub use notify::Manager;
