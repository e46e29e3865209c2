//! Results → sentences, units, cautions: all prose that a grower reads about an answer.

mod alarm;
mod away;
mod care;
mod cautions;
mod chilling;
mod clock;
mod compare;
mod dates;
mod diagnosis;
mod done;
mod fit;
mod forecast;
mod ledger;
mod limits;
mod numbers;
mod places;
mod plan;
mod record;
mod status;
mod trial;

pub use alarm::{AlarmWords, alarm_line, alarm_words, alarms_text, delivery_words};
pub use away::{away_text, away_words, suffering_words};
pub use care::{care_words, verified_text};
pub use cautions::{cautions_beside, in_full, in_place, lines_of, sources};
pub use chilling::{chill_responses_text, response_words};
pub use clock::{doubt_next, doubt_words, later_words, step_words, undated_words};
pub use compare::{
    Also, compare_text, factor_word, group_label, no_comparison_words, nothing_concluded, one_group_words, pair_words, remark_kind,
    remark_words,
};
pub use dates::{ago, day, moment, span};
pub use diagnosis::{Cautions, advice_words, diagnosis_text, doubt_of_move_words, evidence_words, gain_words, probe_words};
pub use done::{carried_words, closed_words, corrected_words, listed, new_spots_words, placed_words, reopened_words, sown_words};
pub use fit::{fit_text, prior_source, warning_words};
pub use forecast::{box_words, forecast_text, note_words};
pub use ledger::{ledger_words, replay_text, too_narrow_words};
pub use limits::limits_text;
pub use numbers::{degrees_words, difference_words};
pub use places::diagnosis_lines;
pub use plan::{basis_words, no_day_words, plan_note_words, plan_step_words, plan_text};
pub use record::{
    again_words, calibrated_words, calibration_words, changed_words, entry_name, entry_says, entry_words, given_words, look_words,
    seeds_words, stand_words,
};
pub use status::{status_text, todo_next, todo_words};
pub use trial::{trial_note_words, trial_text};

/// How much is said.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Detail {
    /// A dozen lines.
    Short,
    /// All the numbers.
    All,
}
