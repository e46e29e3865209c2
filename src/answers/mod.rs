//! A question as of a time → store → core → result. Every number follows from what is on record, worked out anew or taken from
//! where it was kept while nothing has changed; nothing later than the time asked for is used.

mod away;
mod chilling;
mod compare;
mod diagnose;
mod doubtful;
mod fit;
mod forecast;
mod given;
mod here;
mod known;
mod ledger;
mod own;
mod picture;
mod plan;
mod present;
mod replay;
mod shelf;
mod status;
mod trial;
mod warmth;
mod written;

pub use away::away;
pub use chilling::chill_responses;
pub use compare::compare;
pub use diagnose::diagnose;
pub use doubtful::doubtful_readings;
pub use fit::{Assumption, FitWish, fit_all};
pub use forecast::{forecast, forecast_assuming};
pub use here::Here;
pub use known::{Concerning, Known, Tables};
pub use ledger::{Keeping, ledger, to_keep};
pub use picture::{Picture, keep_fits, picture};
pub use plan::{PlanFault, PlanQuestion, plan, plan_horizon_days};
pub use present::Present;
pub use replay::{Replay, replay};
pub use shelf::Shelf;
pub use status::status;
pub use trial::{room_at, trial};
pub use written::{Shared, write_folder};
