//! The main job against figures from outside the project.

mod counts;
mod dishes;
mod experiments;
mod fixtures;
mod fixtures_asked;
mod half_a_degree;
mod handbook;
mod hierarchy;
mod left_out;
mod placements;
mod plans;
mod qartod;
mod reference;
mod rice;
mod swings;
