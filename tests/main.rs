//! The one integration test binary; its modules stand beside this file.

#![allow(clippy::unwrap_used, clippy::expect_used, clippy::panic, reason = "a test fails by panicking")]

mod asking;
mod calibration;
mod demo_data;
mod devices;
mod direction;
mod figures;
mod firmware;
mod outside;
mod planning;
mod promises;
mod readme;
mod records;
mod service;
mod simulator;
mod storage;
mod verdicts;
mod whole_job;
