//! What runs for years under the system's service manager: how it says that it is well, how it speaks to the journal, and how alarms
//! leave the house.
//!
//! The unit, the udev rules and the package's scripts stand in this folder; `package` builds a Debian package of them.

mod carrier;
mod command;
mod journal;
mod mail;
mod mornings;
mod notify;
mod pages;

pub use carrier::{Way, open_ways};
pub use command::AlarmCommand;
pub use journal::{Level, Voice};
pub use mail::{Mail, Secrecy, is_mail_address};
pub use mornings::Mornings;
pub use notify::Manager;
pub use pages::{PageProcess, Pages};
