//! What runs for years: the service manager, the journal, the package.

mod manager;
mod package;
mod unit;
