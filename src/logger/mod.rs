//! logger
