//! A question as of a time → store → core → result. Every number is worked out anew from what is on record; nothing later than
//! the time asked for is used.

mod diagnose;
mod fit;
mod forecast;
mod given;
mod known;
mod own;
mod present;
mod status;

pub use diagnose::diagnose;
pub use fit::{Assumption, FitWish, fit_all};
pub use forecast::{forecast, forecast_assuming};
pub use known::Known;
pub use present::Present;
pub use status::status;
