//! The one integration test binary; its modules stand beside this file.
mod outside;

mod devices;
mod records;
