//! Findings: where it is slow, why, by how many days, and what a move would gain.

pub mod alarms;
mod answer;
mod care;
mod causes;
mod caution;
mod chilling;
mod delay;
mod finding;
mod gains;
mod hinge;
mod moves;
mod probes;
mod sources;
mod status;
mod suspects;
mod swaps;

pub use answer::{BoxDiagnosis, Diagnosis};
pub use care::{Care, CareTodo, LARGEST_LOG_BYTES, LastBackup, OtherComputer};
pub use caution::{Caution, caution_of_plant, cautions_in_words};
pub use chilling::{
    CHILLS_FROM_C, CHILLS_TO_C, ChillDays, ChillPlan, ChillTodo, Chilled, ColdAdvice, ColdEvent, PlanBy, Spell, Stood, ToldBy,
    TreatmentCold, chilled, chilling_findings, chilling_todo, cold_alone, cold_in_words, sprouted_enough,
};
pub use delay::{BoxDelay, Doubted, LostDays, PlacedBox, SOON_DAYS, SpotPath, diagnose_box};
pub use finding::{Advice, Because, Finding, Kind, findings, liked};
pub use hinge::{HangsOn, Hinge};
pub use moves::{Lately, Liked, MoveDoubt, MoveGain};
pub use probes::{Near, ProbeDay, ProbeFinding, ProbeTally, doubted, may_differ_c, sited_apart_may_differ_c, tally};
pub use sources::SourceStatus;
pub use status::{AlarmsPresent, BenchStatus, LoggerState, MachineState, ProbeStatus, SpotStatus, Todo, UnreadLines};
pub use suspects::{Suspect, suspects};
pub use swaps::{Swaps, swaps};
