//! The demo's story: one grower, a back room and a porch, two past seasons and the present one.
//!
//! # The truth behind it
//! Plausible figures near those that handbook days imply (Harrington & Minges 1954, *Vegetable Seed Germination*, California
//! Agricultural Extension, as reproduced in Knott's Handbook for Vegetable Growers, 1997: base temperatures by regression are
//! tomato 7.5, pepper 10.5, lettuce 0.9 and onion, for want of leek, 0.9 °C), made up beyond that:
//!
//! | species | base °C | optimum °C | ceiling °C | half requirement °C·d | spread of ln | germinable |
//! |---|---|---|---|---|---|---|
//! | tomato | 8.5 | 27.0 | 36.5 | 85 | 0.12 | 0.90 |
//! | sweet pepper | 10.5 | 28.0 | 38.0 | 125 | 0.14 | 0.84 |
//! | lettuce | 2.0 | 22.5 | 33.0 | 55 | 0.14 | 0.93 |
//! | leek | 2.0 | 21.0 | 34.0 | 112 | 0.15 | 0.86 |
//!
//! Boxes differ in speed by sd 0.04 of ln; the swapped tomatoes need 3 % more and are a little less sound than the saved ones.
//! The event is the root tip, seen through the lid on damp paper.

use chrono::NaiveDate;
use chrono_tz::Tz;

use super::climate::{Household, Place};
use super::truth::Species;

pub(crate) const SEED: u64 = 20_260_405;
/// Standard deviation of ln requirement between boxes.
pub(crate) const BOX_SPEED_SD: f64 = 0.04;
pub(crate) const ZONE: Tz = Tz::Europe__Dublin;
/// Days simulated after a season's last reading, so that what happens later is known.
pub(crate) const AFTERWARDS_DAYS: i64 = 60;

pub(crate) const TOMATO: Species = species("tomato", [8.5, 27.0, 36.5], 85.0, 0.12, 0.90);
pub(crate) const PEPPER: Species = species("sweet pepper", [10.5, 28.0, 38.0], 125.0, 0.14, 0.84);
pub(crate) const LETTUCE: Species = species("lettuce", [2.0, 22.5, 33.0], 55.0, 0.14, 0.93);
pub(crate) const LEEK: Species = species("leek", [2.0, 21.0, 34.0], 112.0, 0.15, 0.86);

pub(crate) const fn species(
    name: &'static str,
    [base_c, optimum_c, ceiling_c]: [f64; 3],
    half: f64,
    spread: f64,
    germinable: f64,
) -> Species {
    Species { name, base_c, optimum_c, ceiling_c, half_requirement: half, spread, germinable }
}

/// The places of the story with the spot's name and note.
pub(crate) const PLACES: [(Place, &str, &str); 4] = [
    (Place::Mat, "heat mat", "thermostat probe in the sand tray; socket on the RCD"),
    (Place::Shelf, "shelf", "back room over the desk"),
    (Place::Sill, "porch sill", "no heating; sun from late morning"),
    (Place::BoilerTop, "boiler top", "board over the boiler cupboard"),
];

pub(crate) struct Lot {
    pub(crate) species: &'static Species,
    pub(crate) name: &'static str,
    pub(crate) treatment: &'static str,
    pub(crate) slowness: f64,
    pub(crate) soundness: f64,
}

pub(crate) const SAVED: Lot = Lot { species: &TOMATO, name: "own saved", treatment: "", slowness: 0.0, soundness: 0.1 };
pub(crate) const SWAPPED: Lot = Lot { species: &TOMATO, name: "seed swap", treatment: "", slowness: 0.03, soundness: -0.2 };
pub(crate) const PEPPERS: Lot =
    Lot { species: &PEPPER, name: "long red", treatment: "soaked overnight", slowness: 0.0, soundness: 0.0 };
pub(crate) const LETTUCES: Lot = Lot { species: &LETTUCE, name: "butterhead", treatment: "", slowness: 0.0, soundness: 0.0 };
pub(crate) const LEEKS: Lot = Lot { species: &LEEK, name: "winter giant", treatment: "", slowness: 0.0, soundness: 0.0 };

/// A box to be sown: name, lot, seeds, day of the season, spot.
pub(crate) struct Sowing(pub(crate) &'static str, pub(crate) &'static Lot, pub(crate) u32, pub(crate) i64, pub(crate) Place);

pub(crate) struct Season {
    pub(crate) batch: &'static str,
    pub(crate) first: NaiveDate,
    pub(crate) last: NaiveDate,
    pub(crate) house: Household,
    pub(crate) present: bool,
    pub(crate) sowings: &'static [Sowing],
    /// Boxes carried elsewhere: name, day, hour, where to.
    pub(crate) moves: &'static [(&'static str, i64, u32, Place)],
    /// Days of the season on which nobody was there.
    pub(crate) away: &'static [i64],
    /// A box that loses a seed, and one in which a sprout dies, with the look at or from which that happens.
    pub(crate) lost: (&'static str, usize),
    pub(crate) died: (&'static str, usize),
    /// Probes that give nothing for hours: probe, day, from hour, hours.
    pub(crate) silent: &'static [(&'static str, i64, i64, i64)],
    /// Which probe stands where, in the order of the places.
    pub(crate) probes: [&'static str; 4],
}

use Place::{BoilerTop, Mat, Shelf, Sill};

pub(crate) const FIRST_SOWINGS: [Sowing; 16] = [
    Sowing("A1", &SAVED, 25, 2, Mat),
    Sowing("A2", &SAVED, 25, 2, Shelf),
    Sowing("A3", &SAVED, 25, 2, Sill),
    Sowing("A4", &SAVED, 25, 2, BoilerTop),
    Sowing("A5", &PEPPERS, 24, 2, Mat),
    Sowing("A6", &PEPPERS, 24, 2, Shelf),
    Sowing("A7", &PEPPERS, 24, 2, BoilerTop),
    Sowing("A8", &PEPPERS, 20, 2, Sill),
    Sowing("A9", &LETTUCES, 30, 4, Mat),
    Sowing("A10", &LETTUCES, 30, 4, Shelf),
    Sowing("A11", &LETTUCES, 30, 4, Sill),
    Sowing("A12", &LETTUCES, 30, 4, BoilerTop),
    Sowing("A13", &LEEKS, 30, 5, Shelf),
    Sowing("A14", &LEEKS, 30, 5, Sill),
    Sowing("A15", &LEEKS, 30, 5, Mat),
    Sowing("A16", &LEEKS, 30, 5, BoilerTop),
];

pub(crate) const SECOND_SOWINGS: [Sowing; 16] = [
    Sowing("B1", &SAVED, 25, 3, Mat),
    Sowing("B2", &SAVED, 25, 3, BoilerTop),
    Sowing("B3", &SAVED, 25, 3, Sill),
    Sowing("B4", &SWAPPED, 20, 3, Mat),
    Sowing("B5", &SWAPPED, 20, 3, Shelf),
    Sowing("B6", &PEPPERS, 24, 4, Mat),
    Sowing("B7", &PEPPERS, 24, 4, Shelf),
    Sowing("B8", &PEPPERS, 24, 4, BoilerTop),
    Sowing("B9", &LETTUCES, 25, 12, Shelf),
    Sowing("B10", &LETTUCES, 25, 12, Sill),
    Sowing("B11", &LETTUCES, 25, 12, BoilerTop),
    Sowing("B12", &LETTUCES, 25, 12, Mat),
    Sowing("B13", &LEEKS, 30, 6, Shelf),
    Sowing("B14", &LEEKS, 30, 6, Sill),
    Sowing("B15", &LEEKS, 30, 6, Mat),
    Sowing("B16", &LEEKS, 30, 6, BoilerTop),
];

pub(crate) const PRESENT_SOWINGS: [Sowing; 9] = [
    Sowing("C1", &SAVED, 25, 15, Mat),
    Sowing("C2", &SAVED, 25, 13, Shelf),
    Sowing("C3", &SAVED, 25, 10, Sill),
    Sowing("C4", &SWAPPED, 20, 14, BoilerTop),
    Sowing("C5", &PEPPERS, 24, 12, Mat),
    Sowing("C6", &PEPPERS, 24, 7, Shelf),
    Sowing("C7", &LETTUCES, 30, 13, BoilerTop),
    Sowing("C8", &LEEKS, 30, 15, Shelf),
    Sowing("C9", &LEEKS, 30, 13, Sill),
];

pub(crate) fn seasons() -> [Season; 3] {
    let date = |year, month, day| NaiveDate::from_ymd_opt(year, month, day).unwrap();
    [
        Season {
            batch: "two seasons ago",
            first: date(2024, 2, 26),
            last: date(2024, 4, 22),
            house: Household { mat_set_c: 26.5, boiler_lift_c: 12.5 },
            present: false,
            sowings: &FIRST_SOWINGS,
            moves: &[("A8", 30, 19, Shelf)],
            away: &[20, 21, 22],
            lost: ("", 0),
            died: ("A2", 9),
            silent: &[("red", 24, 2, 7), ("yellow", 24, 2, 7), ("blue", 24, 2, 7), ("green", 24, 2, 7)],
            probes: ["red", "yellow", "blue", "green"],
        },
        Season {
            batch: "last season",
            first: date(2025, 2, 25),
            last: date(2025, 5, 7),
            house: Household { mat_set_c: 24.0, boiler_lift_c: 11.0 },
            present: false,
            sowings: &SECOND_SOWINGS,
            moves: &[("B16", 16, 8, Shelf)],
            away: &[18, 19],
            lost: ("B5", 7),
            died: ("", 0),
            silent: &[("yellow", 31, 22, 9)],
            probes: ["red", "green", "blue", "yellow"],
        },
        Season {
            batch: "this season",
            first: date(2026, 2, 28),
            last: date(2026, 3, 22),
            house: Household { mat_set_c: 24.5, boiler_lift_c: 12.0 },
            present: true,
            sowings: &PRESENT_SOWINGS,
            moves: &[("C8", 18, 19, Mat)],
            away: &[14],
            lost: ("", 0),
            died: ("", 0),
            silent: &[("blue", 13, 1, 3), ("yellow", 19, 10, 2)],
            probes: ["red", "green", "blue", "yellow"],
        },
    ]
}

/// Probes named by the tape on their leads: °C that each reads too high, and what the grower knows of it.
pub(crate) const PROBES: [(&str, f64, &str, &str); 4] =
    [("red", -0.19, "0.2", "in"), ("yellow", 0.12, "", "beside"), ("blue", 0.31, "-0.3", "beside"), ("green", -0.1, "", "beside")];
/// Noise of a reading before it is cut to sixteenths of a degree.
pub(crate) const READING_NOISE_SD_C: f64 = 0.05;
/// The day of last season on which the blue probe's plug was loose.
pub(crate) const LOOSE_PLUG_DAY: i64 = 13;
