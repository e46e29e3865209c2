//! Results → sentences, units, cautions: all prose that a grower reads about an answer.

mod alarm;
mod away;
mod care;
mod cautions;
mod clock;
mod dates;
mod diagnosis;
mod fit;
mod forecast;
mod ledger;
mod numbers;
mod record;
mod status;

pub use alarm::{AlarmWords, alarm_line, alarm_words, alarms_text, delivery_words};
pub use away::{away_text, away_words};
pub use care::{care_words, verified_text};
pub use cautions::in_place;
pub use clock::{doubt_next, doubt_words, step_words, undated_words};
pub use dates::{day, moment, span};
pub use diagnosis::{Cautions, advice_words, diagnosis_text, evidence_words, probe_words};
pub use fit::{fit_text, prior_source, warning_words};
pub use forecast::{forecast_text, note_words};
pub use ledger::{ledger_words, replay_text, too_narrow_words};
pub use numbers::{degrees_words, difference_words};
pub use record::{
    again_words, calibrated_words, calibration_words, changed_words, entry_name, entry_says, entry_words, given_words, look_words,
    seeds_words, stand_words,
};
pub use status::{status_text, todo_next, todo_words};
