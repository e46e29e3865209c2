//! The main job against figures from outside the project.

mod counts;
mod dishes;
mod experiments;
mod fixtures;
mod fixtures_asked;
mod handbook;
mod hierarchy;
mod left_out;
mod qartod;
mod reference;
mod rice;
mod swings;
