//! wording
