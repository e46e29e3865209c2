//! The main job against figures from outside the project.

mod counts;
mod fixtures;
