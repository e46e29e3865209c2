//! Boards and ports: recordings and staged faults, played through real pseudo-terminals into the real program.

mod demo;
mod faults;
mod harness;
mod recordings;
mod storage;
