//! The limits of one probe, in a grower's words.

use super::numbers::{decimal, degrees_words, difference_words, in_degrees, sign};
use crate::bench::{Degrees, Ends, ProbeLimits, USUAL_LIMITS};

/// All limits that a probe goes by, a line each, and which of them are its own.
#[must_use]
pub fn limits_text(limits: &ProbeLimits, degrees: Degrees) -> String {
    let ProbeLimits { probe, sensor, place, change, spike, repeat_hours } = limits;
    let usual = USUAL_LIMITS;
    let whose = |own: bool| if own { "its own" } else { "usual" };
    let said = |ends: &Ends| whose(ends.low.or(ends.high).is_some());
    let between = |(low, high): (f64, f64)| format!("{} to {}", decimal(in_degrees(low, degrees)), degrees_words(high, degrees));
    let beyond = |(suspect, fail): (f64, f64), unit: &str| {
        format!(
            "suspect beyond {}{unit}, failed beyond {}{unit}",
            difference_words(suspect, degrees),
            difference_words(fail, degrees)
        )
    };
    let (near, far) = (spike.or(usual.spike), spike.or(usual.far_spike));
    let farther = if near == far {
        String::new()
    } else {
        format!(
            "; beyond {} and {} where they are more than 2 minutes away",
            difference_words(far.0, degrees),
            difference_words(far.1, degrees)
        )
    };
    let hours = repeat_hours.unwrap_or(usual.repeat_hours);
    format!(
        "Limits of probe {probe}, in {} as it shows them; all its readings are kept, and those that failed are not used\n  \
         sensor: {}, failed outside ({})\n  \
         place: {}, suspect outside ({})\n  \
         change: {} ({})\n  \
         spike beside both neighbours: {}{farther} ({})\n  \
         repeating one value: suspect after {hours} hours in which another probe moved ({})\n",
        sign(degrees),
        between(sensor.or(usual.sensor)),
        said(sensor),
        between(place.or(usual.place)),
        said(place),
        beyond(change.or(usual.change), " a minute"),
        said(change),
        beyond(near, ""),
        said(spike),
        whose(repeat_hours.is_some()),
    )
}

/// What is said of each limit, in the words of its option; empty where nothing is.
pub(super) fn limit_fields(limits: &ProbeLimits) -> Vec<(&'static str, String)> {
    let end = |end: Option<f64>| end.map_or_else(|| "usual".to_owned(), |end| super::record::short(end).to_string());
    let ends = |ends: Ends, unit: &str| match ends {
        Ends { low: None, high: None } => String::new(),
        Ends { low, high } => format!("{} to {}{unit}", end(low), end(high)),
    };
    vec![
        ("sensor", ends(limits.sensor, " °C")),
        ("place", ends(limits.place, " °C")),
        ("change", ends(limits.change, " °C a minute")),
        ("spike", ends(limits.spike, " °C")),
        ("repeat", limits.repeat_hours.map(|hours| format!("{hours} hours")).unwrap_or_default()),
    ]
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::Name;

    #[test]
    fn each_limit_is_said_in_the_growers_degrees_and_whose_it_is() {
        let mut limits = ProbeLimits::usual(Name::new("bed").unwrap());
        limits.place.high = Some(75.0);
        limits.spike = Ends { low: Some(4.0), high: Some(8.0) };
        let text = |degrees| limits_text(&limits, degrees).replace('\u{a0}', " ");
        assert_eq!(
            text(Degrees::Celsius),
            "Limits of probe bed, in °C as it shows them; all its readings are kept, and those that failed are not used\n  \
             sensor: −55.0 to 125.0 °C, failed outside (usual)\n  \
             place: −10.0 to 75.0 °C, suspect outside (its own)\n  \
             change: suspect beyond 3.0 °C a minute, failed beyond 10.0 °C a minute (usual)\n  \
             spike beside both neighbours: suspect beyond 4.0 °C, failed beyond 8.0 °C (its own)\n  \
             repeating one value: suspect after 6 hours in which another probe moved (usual)\n"
        );
        let fahrenheit = text(Degrees::Fahrenheit);
        for said in ["sensor: −67.0 to 257.0 °F", "place: 14.0 to 167.0 °F", "beyond 5.4 °F a minute", "beyond 7.2 °F,"] {
            assert!(fahrenheit.contains(said), "{said}: {fahrenheit}");
        }
    }
}
