//! Boards and ports: recordings and staged faults, played through real pseudo-terminals into the real program.

mod demo;
mod faults;
pub(crate) mod harness;
mod recordings;
mod special;
mod storage;
mod watched;
