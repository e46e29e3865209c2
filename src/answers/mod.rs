//! A question as of a time → store → core → result. Every number is worked out anew from what is on record; nothing later than
//! the time asked for is used.

mod diagnose;
mod fit;
mod forecast;
mod given;
mod known;
mod present;

pub use diagnose::diagnose;
pub use fit::{Assumption, FitWish, fit_all};
pub use forecast::forecast;
pub use known::Known;
pub use present::Present;
