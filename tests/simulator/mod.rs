//! Benches whose truth is known: seeds, weather and a grower made up by plain formulas and summed step by step.
//!
//! Nothing here knows the program under test; the formulas are written a second time on purpose. Every random number comes
//! from a seed, so the same seed makes the same bench, byte for byte.
#![allow(dead_code, reason = "shared by the tests and the demo generator, each of which uses a part")]

pub(crate) mod climate;
pub(crate) mod experiments;
pub(crate) mod folder;
pub(crate) mod grower;
pub(crate) mod plan;
pub(crate) mod proof;
pub(crate) mod random;
pub(crate) mod story;
pub(crate) mod truth;
pub(crate) mod world;
