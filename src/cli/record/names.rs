//! Names of several boxes, as they are typed: `A3 A4 A5`, or `A3..A5`.

use super::Fault;
use super::fault;
use crate::bench::{Name, NameFault};

/// As many boxes are named by one range.
const LONGEST: u32 = 200;

/// The names that words mean, each once.
pub(super) fn names(words: &[String]) -> Result<Vec<Name>, Vec<Fault>> {
    let mut names: Vec<Name> = Vec::new();
    for word in words {
        for name in range(word)?.unwrap_or_else(|| vec![word.clone()]) {
            let name = Name::new(&name).map_err(|wrong: NameFault| fault(wrong.to_string()))?;
            if names.contains(&name) {
                return Err(fault(format!("box '{name}' is named twice")));
            }
            names.push(name);
        }
    }
    Ok(names)
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
