//! Findings: where it is slow, why, by how many days, and what a move would gain.

pub mod alarms;
mod answer;
mod care;
mod causes;
mod delay;
mod finding;
mod gains;
mod probes;
mod sources;
mod status;

pub use answer::{BoxDiagnosis, Diagnosis};
pub use care::{Care, CareTodo, LARGEST_LOG_BYTES, LastBackup, OtherComputer};
pub use delay::{BoxDelay, LostDays, MoveGain, PlacedBox, SpotPath, diagnose_box};
pub use finding::{Advice, Because, Caution, Finding, Kind, findings};
pub use probes::{ProbeDay, ProbeFinding, ProbeTally, doubted, may_differ_c, tally};
pub use sources::SourceStatus;
pub use status::{AlarmsPresent, BenchStatus, LoggerState, MachineState, ProbeStatus, SpotStatus, Todo, UnreadLines};
