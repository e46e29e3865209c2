//! Comparing sowings, and planning the next ones.

pub mod plan;
