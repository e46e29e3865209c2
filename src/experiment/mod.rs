//! Comparing treatments, lots, spots or batches; planning the next sowing.

mod indices;
pub mod plan;

pub use indices::{Index, indices};
