//! Published base temperatures and times, species by species: what is assumed before one's own sowings have spoken.

use super::Published;
use crate::bench::{Event, Name};

/// Days to emergence, sown 13 mm deep: J.F. Harrington & P.A. Minges 1954, *Vegetable Seed Germination*, California Agricultural
/// Extension leaflet, as reproduced in *Knott's Handbook for Vegetable Growers* (1997).
const HARRINGTON_MINGES: &str = "Harrington & Minges 1954, Vegetable Seed Germination (days to emergence from 13 mm)";
/// J.F. Harrington 1962 as re-analysed in a textbook on onions: 80 °C·d above 2.5 °C to half of the germination on paper, which
/// gives its own printed 4 d at 22.5 °C and 16 d at 7.5 °C.
const HARRINGTON_1962: &str = "Harrington 1962, onion on paper (root tip)";

/// One species of one source.
struct Row {
    /// Names that growers give it, in lower case.
    names: &'static [&'static str],
    event: Event,
    published: Published,
}

/// A row of Harrington & Minges: the base is where the least-squares line of 1/days on temperature meets 0, taken over the entries from the
/// coldest up to the first with the fewest days (a test recomputes it from the printed days); the time is the printed one at 20 °C.
const fn sown(names: &'static [&'static str], base_c: f64, days_at_20: f64) -> Row {
    Row { names, event: Event::Emergence, published: Published { base_c, at_c: 20.0, days: days_at_20, source: HARRINGTON_MINGES } }
}

/// Left out: parsley, whose line meets 0 at an absurd −8.1 °C, lima bean and turnip, whose few entries bend.
const ROWS: [Row; 22] = [
    sown(&["asparagus"], 6.9, 15.0),
    sown(&["snap bean", "french bean", "green bean", "bean"], 6.4, 11.0),
    sown(&["beet", "beetroot"], 3.1, 6.0),
    sown(&["cabbage"], 2.6, 6.0),
    sown(&["carrot"], 2.1, 7.0),
    sown(&["cauliflower"], 5.0, 6.0),
    sown(&["celery", "celeriac"], 2.1, 7.0),
    sown(&["sweet corn", "corn", "maize"], 6.8, 7.0),
    sown(&["cucumber"], 10.4, 6.0),
    sown(&["eggplant", "aubergine"], 14.1, 13.0),
    sown(&["lettuce"], 0.9, 3.0),
    sown(&["muskmelon", "melon"], 13.7, 8.0),
    sown(&["okra"], 11.0, 17.0),
    sown(&["onion"], 0.9, 5.0),
    sown(&["parsnip"], -1.1, 14.0),
    sown(&["pea"], -0.1, 8.0),
    sown(&["pepper", "sweet pepper", "chilli", "chili", "hot pepper"], 10.5, 13.0),
    sown(&["radish"], 1.5, 4.0),
    sown(&["spinach"], -1.6, 6.0),
    sown(&["tomato"], 7.5, 8.0),
    sown(&["watermelon"], 14.0, 12.0),
    // 15 °C is the middle of the 5 to 25 °C over which the source's line is straight.
    Row {
        names: &["onion"],
        event: Event::Radicle,
        published: Published { base_c: 2.5, at_c: 15.0, days: 80.0 / 12.5, source: HARRINGTON_1962 },
    },
];

/// What is published of a species, by its common name: of the same event where there is such a row, else of the other.
#[must_use]
pub fn published(species: &Name, event: Event) -> Option<Published> {
    let asked = species.as_str().to_lowercase();
    // "peas", "tomatoes", "radishes".
    let singulars = [Some(asked.as_str()), asked.strip_suffix('s'), asked.strip_suffix("es")];
    let mut rows: Vec<&Row> = ROWS.iter().filter(|row| singulars.iter().flatten().any(|name| row.names.contains(name))).collect();
    rows.sort_by_key(|row| row.event != event);
    rows.first().map(|row| row.published)
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::collections::BTreeMap;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    /// Every row recomputed from the printed days (tests/data/harrington-minges-days.csv, with its source beside it).
    #[test]
    fn the_table_is_what_the_printed_days_imply() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/harrington-minges-days.csv");
        let mut reader = csv::Reader::from_path(path).unwrap();
        let heads: Vec<f64> = reader.headers().unwrap().iter().skip(1).map(|head| head.parse().unwrap()).collect();
        let printed: BTreeMap<String, Vec<(f64, f64)>> = reader
            .records()
            .map(|row| {
                let row = row.unwrap();
                let days = heads.iter().zip(row.iter().skip(1)).filter_map(|(c, days)| Some((*c, days.parse().ok()?))).collect();
                (row[0].to_lowercase(), days)
            })
            .collect();
        let crop_of = |names: &[&str]| match names[0] {
            "snap bean" => "bean, snap".to_owned(),
            "sweet corn" => "corn, sweet".to_owned(),
            plain => plain.to_owned(),
        };
        let mut checked = 0;
        for row in ROWS.iter().filter(|row| row.published.source == HARRINGTON_MINGES) {
            let days = &printed[&crop_of(row.names)];
            let fewest = days.iter().map(|day| day.1).fold(f64::INFINITY, f64::min);
            let until = days.iter().position(|day| day.1 == fewest).unwrap();
            let line = &days[..=until];
            let n = line.len() as f64;
            let (mean_c, mean_rate) = (line.iter().map(|d| d.0).sum::<f64>() / n, line.iter().map(|d| 1.0 / d.1).sum::<f64>() / n);
            let slope = line.iter().map(|d| (d.0 - mean_c) * (1.0 / d.1 - mean_rate)).sum::<f64>()
                / line.iter().map(|d| (d.0 - mean_c).powi(2)).sum::<f64>();
            let base = mean_c - mean_rate / slope;
            assert!((base - row.published.base_c).abs() <= 0.05 + 1e-9, "{:?}: {base} against {}", row.names, row.published.base_c);
            let at_20 = days.iter().find(|day| day.0 == 20.0).unwrap().1;
            assert_eq!(row.published.days, at_20, "{:?}", row.names);
            checked += 1;
        }
        assert_eq!(checked, 21);
    }

    /// Harrington 1962: half of the onions on paper after 4 d at 22.5 °C and 16 d at 7.5 °C.
    #[test]
    fn onions_on_paper_take_4_days_at_22_5_and_16_at_7_5() {
        let onion = published(&name("Onion"), Event::Radicle).unwrap();
        let requirement = onion.days * (onion.at_c - onion.base_c);
        assert!(
            (requirement / (22.5 - onion.base_c) - 4.0).abs() < 1e-9 && (requirement / (7.5 - onion.base_c) - 16.0).abs() < 1e-9
        );
    }

    #[test]
    fn species_are_found_by_the_names_growers_write() {
        for text in ["Tomato", "tomatoes", "Sweet pepper", "peas", "aubergine", "radishes"] {
            assert!(published(&name(text), Event::Radicle).is_some(), "{text}");
        }
        assert_eq!(published(&name("foxglove"), Event::Radicle), None);
    }
}
