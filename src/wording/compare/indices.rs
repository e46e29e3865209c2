//! The trade's indices of each group, in words.

use std::fmt::Write as _;

use super::group_label;
use crate::experiment::{CompareAnswer, Index, indices};
use crate::wording::numbers::{fixed, paragraph};

/// The day by which germination energy is counted where nobody says another, as many trade rules do.
const ENERGY_DAY: f64 = 7.0;

/// Every index with its formula, its source, and each group's number; the traps that they share once.
#[must_use]
pub fn indices_text(answer: &CompareAnswer) -> String {
    let groups = &answer.comparison.groups;
    let of: Vec<Vec<Index>> = groups
        .iter()
        .map(|group| {
            let looks: Vec<(f64, u32)> =
                group.sprouts.iter().map(|(_, days, new)| (*days, *new)).chain([(group.last_days, 0)]).collect();
            indices(&looks, group.seeds, ENERGY_DAY)
        })
        .collect();
    let beware = "Indices of the trade, each with its formula, since one name has often several. They describe; they prove nothing, and what \
                    mixes how many with how fast can be alike in groups that are not.";
    let mut text = paragraph(beware, "", "  ") + "\n";
    for (row, index) in of.first().into_iter().flatten().enumerate() {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "\n{}", paragraph(&format!("{} = {}", index.name, index.formula), "", "  "));
        for (at, own) in of.iter().enumerate() {
            let value = own.get(row).and_then(|index| index.value);
            let value = value.map_or_else(|| "cannot be had".to_owned(), |value| format!("{} {}", fixed(value, 3), index.unit));
            let _ = writeln!(text, "  {}: {}", group_label(answer, at), value.trim_end());
        }
        let trap = if index.trap.is_empty() { String::new() } else { format!("Beware: {}. ", index.trap) };
        let _ = writeln!(text, "{}", paragraph(&format!("{trap}{}", index.source), "  ", "  "));
    }
    let _ = writeln!(
        text,
        "\nt: days of a look; n: new sprouts then; c: all sprouts by then; N: seeds sown; D: days of the last look."
    );
    text
}
