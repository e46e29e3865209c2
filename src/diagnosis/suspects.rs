//! What else may slow a box that warmth does not explain, in the order in which to look.

use super::Chilled;
use crate::bench::{Check, Lot, Trial};

/// Seeds that lie deeper than this may be too deep, in millimetres.
const DEEP_MM: f64 = 10.0;
/// As many of the last looks are asked about conditions.
const LOOKS: usize = 3;

/// Something that slows seeds, as a question to the grower.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Suspect {
    /// Too dry or too wet.
    Moisture,
    /// Mould.
    Mould,
    /// Chilled too short a time, or not at all, though they are said to want it.
    HalfChilled,
    /// Dormant.
    Dormancy,
    /// Light, or none, which they are said to want.
    Light,
    /// Sown too deep.
    Depth,
    /// Old seed.
    Age,
}

/// What may be behind it, likeliest first: what the grower's notes speak of, then what the lot is said to want, then what comes
/// with time. Moisture and mould are left out where the last look found all well. `chilled`: how its seeds were, where that is on
/// record or wanted.
#[must_use]
pub fn suspects(trial: &Trial, lot: Option<&Lot>, chilled: Option<&Chilled>) -> Vec<Suspect> {
    let noted = |signs: &[&str]| trial.checks.iter().rev().take(LOOKS).any(|check| says(check, signs));
    let last_is_well = trial.checks.last().is_some_and(|check| says(check, &["fine", "good", "well", "ok"]));
    let mouldy = noted(&["mould", "mold", "rot"]);
    let moist = noted(&["dry", "wet", "soak", "soggy"]);
    let mut found = Vec::new();
    found.extend(moist.then_some(Suspect::Moisture));
    found.extend(mouldy.then_some(Suspect::Mould));
    if !last_is_well {
        found.extend((!moist).then_some(Suspect::Moisture));
        found.extend((!mouldy).then_some(Suspect::Mould));
    }
    found.push(if chilled.is_some_and(Chilled::is_short) { Suspect::HalfChilled } else { Suspect::Dormancy });
    found.extend(lot.and_then(|lot| lot.light.as_ref()).map(|_| Suspect::Light));
    found.extend(trial.container.depth_mm.is_none_or(|depth| depth > DEEP_MM).then_some(Suspect::Depth));
    found.push(Suspect::Age);
    found
}

/// A look's condition has a word with one of these beginnings.
fn says(check: &Check, signs: &[&str]) -> bool {
    let begins = |word: &str| signs.iter().any(|sign| word.starts_with(sign));
    check.condition.as_deref().is_some_and(|words| words.to_lowercase().split(|c: char| !c.is_alphabetic()).any(begins))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Container, Name, SpotKind};
    use crate::civil::{Time, Zone};
    use crate::diagnosis::{Stood, ToldBy, chilled};
    use crate::thermal::Step;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn a_box(conditions: &[&str], depth_mm: Option<f64>) -> Trial {
        let sown = Time::UNIX_EPOCH;
        let mut container = Container::new(name("B1"), name("b"), name("leek"), name("sill"), sown);
        container.depth_mm = depth_mm;
        let mut trial = Trial::new(container);
        trial.checks = (1..)
            .zip(conditions)
            .map(|(day, condition)| Check {
                condition: Some((*condition).to_owned()),
                ..Check::none_new(name("B1"), sown + chrono::Duration::days(day))
            })
            .collect();
        trial
    }

    #[test]
    fn what_was_noted_comes_first_and_what_was_found_well_is_not_asked_again() {
        use Suspect::{Age, Depth, Dormancy, HalfChilled, Light, Moisture, Mould};
        assert_eq!(suspects(&a_box(&[], None), None, None), [Moisture, Mould, Dormancy, Depth, Age]);
        assert_eq!(suspects(&a_box(&["Some mould", "damp"], Some(5.0)), None, None), [Mould, Moisture, Dormancy, Age]);
        assert_eq!(suspects(&a_box(&["rather dry", "fine"], Some(20.0)), None, None), [Moisture, Dormancy, Depth, Age]);
        assert_eq!(suspects(&a_box(&["fine"], Some(5.0)), None, None), [Dormancy, Age]);
        assert_eq!(
            suspects(&a_box(&["no rot, soaking"], Some(5.0)), None, None),
            [Moisture, Mould, Dormancy, Age],
            "words are not weighed"
        );
        let mut lot = Lot::new(name("wild"), name("leek"));
        (lot.chill_days, lot.light) = (Some(30.0), Some("needed".to_owned()));
        let fine = a_box(&["fine"], Some(5.0));
        let stood = |days: i64| Stood {
            spot: &fine.container.spot,
            kind: SpotKind::Fridge,
            from: fine.container.sown - chrono::Duration::days(days),
            until: fine.container.sown,
            steps: vec![Step {
                from_us: (fine.container.sown - chrono::Duration::days(days)).timestamp_micros(),
                until_us: fine.container.sown.timestamp_micros(),
                celsius: 4.0,
                share: 1.0,
                guess: None,
            }],
            told: ToldBy::Given,
            given_sd_c: 0.0,
        };
        let after = |days: i64| chilled(&fine, &[], Some(&lot), &[stood(days)], fine.container.sown, Zone::UTC).unwrap();
        assert_eq!(suspects(&fine, Some(&lot), Some(&after(10))), [HalfChilled, Light, Age]);
        assert_eq!(suspects(&fine, Some(&lot), Some(&after(30))), [Dormancy, Light, Age], "it had all that it wants");
    }
}
