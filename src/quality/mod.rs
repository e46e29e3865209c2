//! quality
