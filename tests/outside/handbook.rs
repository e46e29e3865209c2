//! Days to emergence from a handbook: the base temperatures that they imply, by the plain regression and by the tool's own fit.
//!
//! Days: J.F. Harrington & P.A. Minges 1954, *Vegetable Seed Germination*, California Agricultural Extension, as reproduced in
//! *Knott's Handbook for Vegetable Growers* (1997). Regression: rate 1/t(T) = (T − Tb)/θ below the optimum (Garcia-Huidobro,
//! Monteith & Squire 1982, J. Exp. Bot. 33:288–296), from the coldest entry up to the first temperature with the fewest days.

use super::counts::{constant, name, rows};
use super::fixtures::{printed, question};
use seedclock::bench::Event;
use seedclock::germination::{Distribution, Evidence, RateShape, RemovedRule, fit};

/// Vegetable, points, base °C, requirement °C·d, R², as printed.
const REGRESSIONS: [(&str, usize, &str, &str, &str); 22] = [
    ("Asparagus", 4, "6.9", "186", "0.992"),
    ("Bean, snap", 4, "6.4", "144", "0.993"),
    ("Beet", 5, "3.1", "109", "0.987"),
    ("Cabbage", 5, "2.6", "110", "0.996"),
    ("Carrot", 5, "2.1", "132", "0.992"),
    ("Cauliflower", 4, "5.0", "97", "0.986"),
    ("Celery", 4, "2.1", "133", "0.963"),
    ("Corn, sweet", 6, "6.8", "86", "0.965"),
    ("Cucumber", 4, "10.4", "59", "1.000"),
    ("Eggplant", 3, "14.1", "81", "0.984"),
    ("Lettuce", 6, "0.9", "53", "0.967"),
    ("Muskmelon", 3, "13.7", "48", "0.987"),
    ("Okra", 5, "11.0", "146", "0.950"),
    ("Onion", 6, "0.9", "98", "0.986"),
    ("Parsley", 5, "-8.1", "432", "0.901"),
    ("Parsnip", 5, "-1.1", "301", "0.995"),
    ("Pea", 5, "-0.1", "151", "0.978"),
    ("Pepper", 3, "10.5", "118", "0.994"),
    ("Radish", 6, "1.5", "85", "0.969"),
    ("Spinach", 6, "-1.6", "130", "0.987"),
    ("Tomato", 4, "7.5", "103", "0.998"),
    ("Watermelon", 4, "14.0", "62", "0.976"),
];

/// (°C, days) from the coldest entry up to the first temperature with the fewest days.
fn days(vegetable: &str) -> Vec<(f64, f64)> {
    let rows = rows("harrington-minges-days.csv");
    let row = rows.iter().find(|row| row["vegetable"] == vegetable).unwrap();
    let mut entries: Vec<(f64, f64)> =
        row.iter().filter_map(|(celsius, days)| Some((celsius.parse().ok()?, days.parse().ok()?))).collect();
    entries.sort_by(|a, b| a.0.total_cmp(&b.0));
    let fewest = entries.iter().map(|entry| entry.1).fold(f64::INFINITY, f64::min);
    let first = entries.iter().position(|entry| entry.1 <= fewest).unwrap();
    entries.truncate(first + 1);
    entries
}

/// Base, requirement and R² of the least-squares line of 1/days on temperature.
fn regression(days: &[(f64, f64)]) -> (f64, f64, f64) {
    let n = days.len() as f64;
    let points = || days.iter().map(|(celsius, days)| (*celsius, 1.0 / days));
    let (x, y) = points().fold((0.0, 0.0), |sum, point| (sum.0 + point.0 / n, sum.1 + point.1 / n));
    let (xx, xy, yy) = points().fold((0.0, 0.0, 0.0), |sum, point| {
        let (dx, dy) = (point.0 - x, point.1 - y);
        (sum.0 + dx * dx, sum.1 + dx * dy, sum.2 + dy * dy)
    });
    let slope = xy / xx;
    (x - y / slope, 1.0 / slope, xy * xy / (xx * yy))
}

#[test]
fn handbook_days_imply_the_printed_base_temperatures() {
    for (vegetable, points, base, requirement, r_squared) in REGRESSIONS {
        let days = days(vegetable);
        assert_eq!(days.len(), points, "{vegetable}");
        let (found_base, found_requirement, found_r_squared) = regression(&days);
        printed(&format!("{vegetable}, base"), found_base, base);
        printed(&format!("{vegetable}, requirement"), found_requirement, requirement);
        printed(&format!("{vegetable}, R²"), found_r_squared, r_squared);
    }
}

/// A hundred seeds whose middle one comes on the printed day, spread by a tenth of ln days (log-logistic), looked at once a day
/// at half days, so that what is found at a look lies around the whole day that a handbook would print.
fn dish(celsius: f64, middle: f64) -> Evidence {
    let came: Vec<f64> =
        (0..100).map(|seed| (f64::from(seed) + 0.5) / 100.0).map(|u: f64| middle * (u / (1.0 - u)).powf(0.1)).collect();
    let last = came[99] + 2.0;
    let looks = (0..).map(|day| f64::from(day) + 0.5).take_while(|look| *look < last);
    let found = |look: f64| came.iter().filter(|day| **day > look - 1.0 && **day <= look).count() as u32;
    let looks: Vec<(f64, u32, u32)> = looks.map(|look| (look, found(look), 0)).collect();
    constant(&format!("at {celsius}"), celsius, 100, &looks)
}

/// Base and requirement by least squares of ln days, where every temperature counts alike: what whole dishes of seeds spread
/// alike must come to. The sum of squares has one valley below the coldest entry; it is walked through in steps of 0.005 °C.
fn by_ln_days(days: &[(f64, f64)]) -> (f64, f64) {
    let spread_at = |base: f64| {
        let ln_needs: Vec<f64> = days.iter().map(|(celsius, days)| (days * (celsius - base)).ln()).collect();
        let mean = ln_needs.iter().sum::<f64>() / ln_needs.len() as f64;
        (ln_needs.iter().map(|ln| (ln - mean).powi(2)).sum::<f64>(), mean.exp())
    };
    let bases = (1..5000).map(|step| days[0].0 - 0.005 * f64::from(step));
    let best = bases.min_by(|a, b| spread_at(*a).0.total_cmp(&spread_at(*b).0)).unwrap();
    (best, spread_at(best).1)
}

/// How far the fit may be from the printed regression, °C. The regression weighs 1/days alike and so hangs on the warm entries,
/// the fit weighs each temperature's ln days alike: on days as rough as these that moves the base by up to 1.9 °C (okra), within the
/// 3 to 4 °C by which published base temperatures of one species differ. Two kinds of crops differ more, for known reasons.
fn tolerance(vegetable: &str) -> f64 {
    match vegetable {
        // They came up at 0 °C, so the base is below; the regression puts it above for two of them, at 0.9 °C.
        "Lettuce" | "Onion" | "Parsnip" | "Spinach" => 2.5,
        // 17 to 12 days from 15 to 30 °C: the line is so flat that its −8.1 °C is no base of any seed.
        "Parsley" => 4.5,
        _ => 2.0,
    }
}

#[test]
fn the_fit_finds_the_base_temperatures_of_handbook_days() {
    for (vegetable, _, printed_base, ..) in REGRESSIONS {
        let days = days(vegetable);
        let evidence: Vec<Evidence> = days.iter().map(|(celsius, days)| dish(*celsius, *days)).collect();
        let question = question(Distribution::LogLogistic, RateShape::Threshold, RemovedRule::Dead);
        let fit = fit(&name("test"), Event::Emergence, &evidence, &[], |_| 0.0, question, 1).unwrap();
        let (base, half) = (fit.estimates.base.estimate.unwrap(), fit.estimates.half.estimate.unwrap());
        let from_printed = base - printed_base.parse::<f64>().unwrap();
        assert!(from_printed.abs() <= tolerance(vegetable), "{vegetable}: base {base:.2}, printed {printed_base}");
        assert!(base < days[0].0, "{vegetable}: base {base:.2}, yet it came up at {}", days[0].0);
        // Whole seeds, whole days and a heavy-tailed family leave a tenth of a degree and two hundredths of the requirement.
        let (least_base, least_half) = by_ln_days(&days);
        assert!((base - least_base).abs() <= 0.1, "{vegetable}: base {base:.2}, by least squares {least_base:.2}");
        assert!((half / least_half).ln().abs() <= 0.02, "{vegetable}: {half:.1} °C·d, by least squares {least_half:.1}");
    }
}
