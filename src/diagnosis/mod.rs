//! diagnosis
