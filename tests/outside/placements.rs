//! Where to place a box, by a handbook: its days to emergence at two temperatures against the delay that the diagnosis states for a box at the
//! cooler one beside a place at the warmer, with nothing known but what the program takes from that handbook: a base and the days at 20 °C.
//!
//! Days: J.F. Harrington & P.A. Minges 1954, *Vegetable Seed Germination*, California Agricultural Extension, as reproduced in *Knott's
//! Handbook for Vegetable Growers* (1997).

use super::counts::rows;
use crate::asking::{Asked, Files, number};

/// Vegetables with their names on the bench, the cooler and the warmer temperature, °C: of those on the line of 1/days on temperature.
const PLACED: [(&str, &str, u32, u32); 14] = [
    ("Asparagus", "asparagus", 15, 25),
    ("Beet", "beet", 10, 20),
    ("Cabbage", "cabbage", 10, 20),
    ("Carrot", "carrot", 10, 25),
    ("Cauliflower", "cauliflower", 10, 20),
    ("Cucumber", "cucumber", 15, 25),
    ("Eggplant", "eggplant", 20, 25),
    ("Lettuce", "lettuce", 5, 15),
    ("Okra", "okra", 15, 25),
    ("Onion", "onion", 10, 20),
    ("Pea", "pea", 5, 15),
    ("Pepper", "pepper", 15, 25),
    ("Tomato", "tomato", 15, 25),
    ("Spinach", "spinach", 5, 15),
];
/// A printed day stands for half a day either way, so a difference of two for one.
const ROUNDED_DAYS: f64 = 1.0;
/// Published days are taken to be right to a factor e^±0.4 (one standard deviation), and so is their difference.
const LN_SD: f64 = 0.4;
/// In fact they lie nearer to the line.
const NEARLY: f64 = 0.2;
/// Its printed days bend: at 15 °C it came up in 27 days where a line through its other temperatures says 38.
const BENDS: &str = "Okra";

fn printed_days(vegetable: &str, celsius: u32) -> f64 {
    let rows = rows("harrington-minges-days.csv");
    let row = rows.iter().find(|row| row["vegetable"] == vegetable).unwrap();
    row[&celsius.to_string()].parse().unwrap()
}

/// A vegetable in a cabinet at the cooler temperature since two days, and a cabinet at the warmer one; nobody has sown anything before.
fn bench(species: &str, cool: u32, warm: u32) -> Files {
    [
        ("bench.csv", "key,value\nzone,Europe/Rome\n".to_owned()),
        (
            "containers.csv",
            format!(
                "container,batch,species,lot,treatment,seeds,sown,spot,event\n\
                 B,spring,{species},,,50,2026-03-01T08:00:00Z,at {cool},emergence\n"
            ),
        ),
        ("checks.csv", "container,time,sprouted\n".to_owned()),
        ("spots.csv", format!("spot,set_c,set_sd_c\nat {cool},{cool},0\nat {warm},{warm},0\n")),
        ("probes.csv", "probe,spot,since\n".to_owned()),
    ]
    .map(|(name, text)| (name.to_owned(), text))
    .into()
}

#[test]
fn the_days_that_a_cooler_place_costs_are_those_of_the_handbook() {
    let mut near = 0;
    for (vegetable, species, cool, warm) in PLACED {
        let answer = Asked::about(&bench(species, cool, warm)).json(&["diagnose", "--as-of", "2026-03-03T08:00:00Z"]);
        let one = &answer["containers"][0];
        assert_eq!(one["best_spot"], format!("at {warm}"), "{one:#}");
        let [low, middle, high] = ["p10", "p50", "p90"].map(|point| number(one, &format!("/delay_days/{point}")));
        let printed = printed_days(vegetable, cool) - printed_days(vegetable, warm);
        let said = format!("{vegetable}, {cool} against {warm} °C: {low:?}, {middle:?}, {high:?}, printed {printed} days");
        // "Never" is later than any day that is printed.
        let (low, middle, high) = (low.unwrap(), middle.unwrap(), high.unwrap_or(f64::INFINITY));
        assert!(low - ROUNDED_DAYS <= printed && printed <= high + ROUNDED_DAYS, "{said}: without the range");
        assert_eq!(one["findings"][0]["kind"], "cold-spot", "{said}");
        let off = (middle - printed).abs() - ROUNDED_DAYS;
        if vegetable != BENDS {
            assert!(off <= (LN_SD.exp() - 1.0) * printed, "{said}");
        }
        near += usize::from(off <= NEARLY * printed);
    }
    assert_eq!(near, PLACED.len() - 1, "all but {BENDS} within a day and a fifth");
}
