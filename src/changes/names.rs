//! Names of several boxes, as they are typed: `A3 A4 A5`, or `A3..A5`.

use crate::bench::rules::{About, Fault, Origin};
use crate::bench::{Bench, Name};

/// As many boxes are named by one range.
const LONGEST: u32 = 200;

/// The names that words mean, each once.
///
/// # Errors
/// The first word that names nothing, or a name that comes twice.
pub fn names(words: &[String]) -> Result<Vec<Name>, Vec<Fault>> {
    let mut names: Vec<Name> = Vec::new();
    for word in words {
        for name in range(word)?.unwrap_or_else(|| vec![word.clone()]) {
            let name = Name::new(&name).map_err(|wrong| fault(wrong.to_string()))?;
            if names.contains(&name) {
                return Err(fault(format!("box '{name}' is named twice")));
            }
            names.push(name);
        }
    }
    Ok(names)
}

fn fault(what: String) -> Vec<Fault> {
    vec![Fault::new(&Origin::Typed, what).about(About::Name)]
}

/// A name for the next box: one further than the highest of those that are named like `after`, or like the one sown last.
#[must_use]
pub fn next_name(bench: &Bench, after: Option<&Name>) -> Option<Name> {
    let own = bench.trials.values().map(|trial| &trial.container).filter(|container| container.owner.is_none());
    let last = own.clone().max_by_key(|container| (container.sown, in_order(&container.name))).map(|container| &container.name);
    let Some(like) = after.or(last) else { return Name::new("A1").ok() };
    let Some((stem, ..)) = split(like.as_str()) else { return free(bench, |number| format!("{like} {number}")) };
    let numbered = own.filter_map(|container| split(container.name.as_str()).filter(|(other, ..)| *other == stem));
    let (number, width) = numbered.map(|(_, number, width)| (number, width)).max()?;
    let name = format!("{stem}{:0width$}", number.checked_add(1)?);
    Name::new(&name).ok().filter(|name| !bench.trials.contains_key(name))
}

fn free(bench: &Bench, name: impl Fn(u32) -> String) -> Option<Name> {
    let names = (2..=LONGEST).filter_map(|number| Name::new(&name(number)).ok());
    names.into_iter().find(|name| !bench.trials.contains_key(name))
}

/// Names in the order of their numbers: A9 before A10.
#[must_use]
pub fn in_order(name: &Name) -> (String, u32) {
    match split(name.as_str()) {
        Some((stem, number, _)) => (stem.to_owned(), number),
        None => (name.to_string(), 0),
    }
}

/// The names of a range; none where the word is no range, but a name with two dots in it.
fn range(word: &str) -> Result<Option<Vec<String>>, Vec<Fault>> {
    let Some((from, to)) = word.split_once("..").map(|(from, to)| (split(from), split(to))) else { return Ok(None) };
    let (Some((stem, first, width)), Some((other, last, _))) = (from, to) else { return Ok(None) };
    if stem != other || first > last || last - first >= LONGEST {
        let rule = format!("a range goes up by the number at the end, as in A3..A8, over at most {LONGEST} boxes");
        return Err(fault(format!("'{word}' names no boxes: {rule}")));
    }
    Ok(Some((first..=last).map(|number| format!("{stem}{number:0width$}")).collect()))
}

/// A name's stem, the number at its end, and how many digits that has where it begins with 0.
fn split(name: &str) -> Option<(&str, u32, usize)> {
    let stem = name.trim_end_matches(|letter: char| letter.is_ascii_digit());
    let digits = &name[stem.len()..];
    let width = if digits.starts_with('0') { digits.len() } else { 0 };
    digits.parse().ok().map(|number| (stem, number, width))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn said(words: &[&str]) -> Result<Vec<String>, String> {
        let words: Vec<String> = words.iter().map(|word| (*word).to_owned()).collect();
        match names(&words) {
            Ok(names) => Ok(names.iter().map(ToString::to_string).collect()),
            Err(faults) => Err(faults[0].to_string()),
        }
    }

    #[test]
    fn the_next_box_is_named_one_further() {
        use crate::bench::{Container, Trial};
        use crate::civil::{Time, Zone};
        let name = |text: &str| Name::new(text).unwrap();
        let mut bench = Bench::empty(Zone::UTC);
        let next = |bench: &Bench, after: Option<&str>| next_name(bench, after.map(name).as_ref()).map(|name| name.to_string());
        assert_eq!(next(&bench, None).as_deref(), Some("A1"));
        for (day, one) in [(0, "A9"), (0, "A10"), (0, "B 07"), (1, "tray")] {
            let sown = Time::UNIX_EPOCH + chrono::Duration::days(day);
            let container = Container::new(name(one), name("b"), name("leek"), name("sill"), sown);
            bench.trials.insert(name(one), Trial::new(container));
        }
        assert_eq!(next(&bench, Some("A9")).as_deref(), Some("A11"));
        assert_eq!(next(&bench, Some("B 07")).as_deref(), Some("B 08"));
        assert_eq!(next(&bench, None).as_deref(), Some("tray 2"), "like the one sown last");
        let container = Container::new(name("Z4294967295"), name("b"), name("leek"), name("sill"), Time::UNIX_EPOCH);
        bench.trials.insert(container.name.clone(), Trial::new(container));
        assert_eq!(next(&bench, Some("Z4294967295")), None, "no number is higher");
    }

    #[test]
    fn boxes_are_named_one_by_one_or_by_a_range() {
        assert_eq!(said(&["A3", "B 1"]).unwrap(), ["A3", "B 1"]);
        assert_eq!(said(&["A9..A11", "C"]).unwrap(), ["A9", "A10", "A11", "C"]);
        assert_eq!(said(&["tray 08..tray 10"]).unwrap(), ["tray 08", "tray 09", "tray 10"]);
        assert_eq!(said(&["well..."]).unwrap(), ["well..."], "a name with dots");
        for wrong in ["A3..B5", "A5..A3", "A1..A201"] {
            let rule = "a range goes up by the number at the end, as in A3..A8, over at most 200 boxes";
            assert_eq!(said(&[wrong]).unwrap_err(), format!("'{wrong}' names no boxes: {rule}"));
        }
        assert_eq!(said(&["A1..A3", "A2"]).unwrap_err(), "box 'A2' is named twice");
    }
}
