//! germination
