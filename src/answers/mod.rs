//! answers
