//! Comparing treatments, lots, spots or batches.

mod indices;

pub use indices::{Index, indices};
