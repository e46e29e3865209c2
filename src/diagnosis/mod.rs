//! Findings: where it is slow, why, by how many days, and what a move would gain.

mod answer;
mod causes;
mod delay;
mod finding;
mod gains;
mod probes;
mod status;

pub use answer::{BoxDiagnosis, Diagnosis};
pub use delay::{BoxDelay, LostDays, MoveGain, PlacedBox, SpotPath, diagnose_box};
pub use finding::{Advice, Because, Caution, Finding, Kind, findings};
pub use probes::{ProbeDay, ProbeFinding, ProbeTally, doubted, may_differ_c, tally};
pub use status::{BenchStatus, LoggerState, MachineState, ProbeStatus, SpotStatus, Todo, UnreadLines};
