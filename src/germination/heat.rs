//! From which warmth on seeds come to harm, as far as it is published.

use crate::bench::Name;

/// Normal seedlings in a hundred by temperature: the companion of the days to emergence of J.F. Harrington & P.A. Minges 1954,
/// *Vegetable Seed Germination*, California Agricultural Extension leaflet, as reproduced in *Knott's Handbook for Vegetable
/// Growers* (1997).
const HARRINGTON_MINGES: &str = "Harrington & Minges 1954, Vegetable Seed Germination (normal seedlings)";

/// Up to which temperature half and more of the seedlings are normal: where the straight line between the last printed share of
/// 50 % and more and the next printed one meets 50 % (a test recomputes it).
const ROWS: [(&[&str], f64); 22] = [
    (&["asparagus"], 33.5),
    (&["snap bean", "french bean", "green bean", "bean"], 29.7),
    (&["beet", "beetroot"], 33.6),
    (&["cabbage"], 29.9),
    (&["carrot"], 36.6),
    (&["cauliflower"], 28.6),
    (&["celery", "celeriac"], 26.2),
    (&["sweet corn", "corn", "maize"], 37.4),
    (&["cucumber"], 39.9),
    (&["eggplant", "aubergine"], 30.8),
    (&["lettuce"], 27.8),
    (&["muskmelon", "melon"], 32.2),
    (&["okra"], 38.5),
    (&["onion"], 36.6),
    (&["parsley"], 30.0),
    (&["parsnip"], 30.1),
    (&["pea"], 32.1),
    (&["pepper", "sweet pepper", "chilli", "chili", "hot pepper"], 36.4),
    (&["radish"], 32.4),
    (&["spinach"], 20.4),
    (&["tomato"], 34.5),
    (&["watermelon"], 37.4),
];

/// Up to which temperature half and more of a species' seedlings are normal.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PublishedHeat {
    /// °C.
    pub limit_c: f64,
    /// Who published it.
    pub source: &'static str,
}

/// What is published of a species, by its common name.
#[must_use]
pub fn published_heat(species: &Name) -> Option<PublishedHeat> {
    let asked = species.as_str().to_lowercase();
    let singulars = [Some(asked.as_str()), asked.strip_suffix('s'), asked.strip_suffix("es")];
    let row = ROWS.iter().find(|(names, _)| singulars.iter().flatten().any(|name| names.contains(name)));
    row.map(|(_, limit_c)| PublishedHeat { limit_c: *limit_c, source: HARRINGTON_MINGES })
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Every row recomputed from the printed shares (tests/data/harrington-minges-normal.csv, with its source beside it).
    #[test]
    fn the_limits_are_where_the_printed_shares_of_normal_seedlings_fall_below_half() {
        let path = concat!(env!("CARGO_MANIFEST_DIR"), "/tests/data/harrington-minges-normal.csv");
        let mut reader = csv::Reader::from_path(path).unwrap();
        let heads: Vec<f64> = reader.headers().unwrap().iter().skip(1).map(|head| head.parse().unwrap()).collect();
        let mut checked = 0;
        for row in reader.records() {
            let row = row.unwrap();
            let crop = match row[0].to_lowercase().as_str() {
                "bean, snap" => "snap bean".to_owned(),
                "corn, sweet" => "sweet corn".to_owned(),
                plain => plain.to_owned(),
            };
            let Some((_, limit_c)) = ROWS.iter().find(|(names, _)| names[0] == crop) else { continue };
            let shares: Vec<(f64, f64)> =
                heads.iter().zip(row.iter().skip(1)).filter_map(|(c, share)| Some((*c, share.parse().ok()?))).collect();
            let last = shares.iter().rposition(|(_, share)| *share >= 50.0).unwrap();
            let ((c, share), (next_c, next)) = (shares[last], shares[last + 1]);
            let crossing = c + (share - 50.0) / (share - next) * (next_c - c);
            assert!((crossing - limit_c).abs() <= 0.05 + 1e-9, "{crop}: {crossing} against {limit_c}");
            checked += 1;
        }
        assert_eq!(checked, ROWS.len());
    }

    #[test]
    fn a_species_is_found_by_what_growers_call_it() {
        let limit = |text: &str| published_heat(&Name::new(text).unwrap()).map(|heat| heat.limit_c);
        assert_eq!((limit("Tomatoes"), limit("Lettuce"), limit("foxglove")), (Some(34.5), Some(27.8), None));
    }
}
