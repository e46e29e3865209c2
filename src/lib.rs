//! Seeds count warmth, not days. seedclock logs the warmth beside each germination container, learns from past trials how much
//! of it a species' seeds need, says on which dates the present batch will sprout, and shows which places on the bench slow it.
//!
//! # The words
//! One a concept, the same in code, database, options and files:
//! **bench** everything one grower keeps, one database file · **lot** seeds of one species collected or bought together ·
//! **treatment** what a lot went through before sowing · **container** one lidded box, dish, pot or bag with seeds of one lot
//! and treatment, wetted at one time · **batch** containers sown to be watched together · **spot** a place where containers
//! stand · **source** what readings come from: a port, a bus, a broker, a recording ·
//! **probe** a temperature sensor standing at a spot from a time on · **reading** one raw temperature of one probe at
//! one instant · **check** one look at a container · **sprouted** the event watched for, known only to lie between two checks ·
//! **potted on** sprouted seeds taken out to grow on · **trial** a container whose checks can teach · **thermal time** °C·d
//! above the base temperature · **rate** thermal time per day · **base, optimum, ceiling** temperatures where progress starts,
//! is fastest, stops · **requirement** the thermal time a seed needs · **germinable fraction** the share of seeds that would
//! ever sprout here · **prior** what is assumed before any trial · **imputed** hours whose temperature was filled in ·
//! **finding** one thing the diagnosis says.
//!
//! # The rooms
//! Listed from the core outwards; `DEVELOPERS.md` says who may know whom, and a test holds it.

#![cfg_attr(test, allow(clippy::unwrap_used, clippy::expect_used, clippy::panic))]

pub mod bench;
pub mod charts;
pub mod civil;
pub mod diagnosis;
pub mod experiment;
pub mod forecast;
pub mod germination;
pub mod quality;
pub mod stats;
pub mod thermal;
pub mod units;
pub mod wording;

pub mod clock;
pub mod exchange;
pub mod probes;
pub mod store;

pub mod answers;
pub mod changes;
pub mod logger;

pub mod page;
pub mod report;
pub mod service;

pub mod cli;
