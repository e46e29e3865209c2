//! What comes while nobody is there, in words.

use std::fmt::Write as _;

use super::dates::{day, moment};
use super::numbers::{paragraph, temperature};
use crate::bench::{Away, Degrees, Name};
use crate::civil::{Zone, local_date};
use crate::forecast::{AwayAnswer, AwayBox, ColderSpot, Suffering};

/// Below so many sprouts on average a box has nothing to tell.
const NOTHING: f64 = 0.5;

/// What comes in each box, and which would wait where.
#[must_use]
pub fn away_text(answer: &AwayAnswer, zone: Zone, degrees: Degrees) -> String {
    let mut text = String::new();
    let (telling, silent): (Vec<&AwayBox>, Vec<&AwayBox>) =
        answer.boxes.iter().partition(|one| one.expected.is_some_and(|expected| expected >= NOTHING));
    let (nothing, untold): (Vec<&AwayBox>, Vec<&AwayBox>) = silent.into_iter().partition(|one| one.expected.is_some());
    for one in &telling {
        let _ = writeln!(text, "{}", paragraph(&box_words(one, answer, zone), "  ", "      "));
        for spot in &one.colder {
            let _ = writeln!(text, "{}", paragraph(&spot_words(spot, &one.trial.container.species, degrees), "      ", "      "));
        }
    }
    let names = |boxes: &[&AwayBox]| boxes.iter().map(|one| one.trial.container.name.as_str()).collect::<Vec<_>>().join(", ");
    if !nothing.is_empty() {
        let _ =
            writeln!(text, "{}", paragraph(&format!("No sprout to be expected meanwhile: {}.", names(&nothing)), "  ", "      "));
    }
    if !untold.is_empty() {
        let words = format!("Nothing can be told of {}; `seedclock forecast` says why.", names(&untold));
        let _ = writeln!(text, "{}", paragraph(&words, "  ", "      "));
    }
    text
}

/// "about 8 of its 20 seeds will sprout meanwhile".
fn box_words(one: &AwayBox, answer: &AwayAnswer, zone: Zone) -> String {
    let container = &one.trial.container;
    let of = container.seeds.map(|seeds| format!(" of {seeds}")).unwrap_or_default();
    let will = match one.expected.unwrap_or_default().round() {
        count if count <= 1.0 => format!("about 1{of} will sprout meanwhile"),
        count => format!("about {count}{of} will sprout meanwhile"),
    };
    let by_then = one.by_then.map(|(low, high)| {
        let range = if low == high { low.to_string() } else { format!("{low}–{high}") };
        format!(" ({range} up in all by {}, 8 in 10 sure)", day(local_date(answer.until, zone)))
    });
    format!("{}, {}, at '{}': {will}{}.", container.name, container.species, one.spot, by_then.unwrap_or_default())
}

fn spot_words(spot: &ColderSpot, species: &Name, degrees: Degrees) -> String {
    let count = match spot.expected {
        few if few < NOTHING => "none".to_owned(),
        few => format!("about {:.0}", few.max(1.0)),
    };
    let later = match spot.days_later {
        Some(days) if days >= 1.0 => format!(", about {days:.0} days later"),
        Some(_) => String::new(),
        None => ", much later".to_owned(),
    };
    let caution = spot.suffering.map(|suffering| format!(" Caution: {}", suffering_words(suffering, species))).unwrap_or_default();
    format!("Carried to '{}' today (about {}): {count}{later}.{caution}", spot.spot, temperature(spot.mean_c, degrees))
}

/// What seeds may suffer at a colder spot.
#[must_use]
pub fn suffering_words(suffering: Suffering, species: &Name) -> String {
    match suffering {
        Suffering::NearTheBase => {
            format!("that is near where {species} stops for cold; seed that lies wet and cold for long may rot.")
        }
        Suffering::Untested => format!("colder than anywhere {species} has sprouted here; it may suffer, so try one box."),
    }
}

/// "away from Tue 1 Dec 2026, 00:00 to …".
#[must_use]
pub fn away_words(away: &Away, zone: Zone) -> String {
    format!("away from {} to {}", moment(away.from, zone), moment(away.until, zone))
}
