//! The parts of a report: what is to come, what is slow, what was compared, what the seeds need.

use super::{Contents, Part};
use crate::charts::{Look, Size, box_outlook, compared, outlook_svg};
use crate::experiment::CompareAnswer;
use crate::forecast::BoxAnswer;
use crate::wording::{Also, Cautions, Detail, box_words, compare_text, diagnosis_text, fit_text, group_label};

pub(super) fn all(contents: &Contents<'_>) -> Vec<Part> {
    let (zone, degrees) = (contents.bench.zone, contents.degrees());
    let mut parts: Vec<Part> = contents.compared.iter().map(|answer| comparison(contents, answer)).collect();
    if let Some(forecast) = contents.forecast.filter(|forecast| forecast.boxes.iter().any(|one| !one.ended)) {
        let present: Vec<&BoxAnswer> = forecast.boxes.iter().filter(|one| !one.ended).collect();
        let said: Vec<String> = present.iter().map(|one| box_words(one, contents.as_of, zone)).collect();
        parts.push(Part {
            heading: "When they will sprout".to_owned(),
            said: format!("Each range is meant to hold 8 times in 10.\n{}", said.join("\n")),
            figures: present
                .iter()
                .filter_map(|one| Some(outlook_svg(&box_outlook(one, contents.as_of, zone)?, Look::Print, Size::Wide)))
                .collect(),
            numbers: String::new(),
        });
    }
    if let Some(diagnosis) = contents.diagnosis.filter(|diagnosis| !diagnosis.boxes.is_empty()) {
        parts.push(Part {
            heading: "Which are slow, and why".to_owned(),
            said: unwrapped(&diagnosis_text(diagnosis, zone, degrees, Detail::Short, Cautions::Apart)),
            figures: Vec::new(),
            numbers: diagnosis_text(diagnosis, zone, degrees, Detail::All, Cautions::Apart),
        });
    }
    if !contents.fits.is_empty() {
        parts.push(Part {
            heading: "What the seeds need".to_owned(),
            said: String::new(),
            figures: Vec::new(),
            numbers: fit_text(contents.fits, degrees),
        });
    }
    parts
}

fn comparison(contents: &Contents<'_>, answer: &CompareAnswer) -> Part {
    let (zone, degrees) = (contents.bench.zone, contents.degrees());
    let heading = match answer.comparison.groups.as_slice() {
        [_, _] => format!("{}: {} beside {}", answer.species, group_label(answer, 0), group_label(answer, 1)),
        groups => format!("{}: {} groups compared", answer.species, groups.len()),
    };
    Part {
        heading,
        said: unwrapped(without_rows(&compare_text(answer, zone, degrees, Detail::Short, Also::Nothing))),
        figures: compared(answer, degrees).iter().map(|(_, figure)| figure.svg(Look::Print, Size::Wide)).collect(),
        numbers: compare_text(answer, zone, degrees, Detail::All, Also::Indices),
    }
}

/// A comparison without its heading and rows of seeds, which the figures and the numbers hold.
fn without_rows(text: &str) -> &str {
    text.split_once("\n\n").map_or(text, |(_, said)| said)
}

/// Text that was broken for a terminal, a paragraph a line again: a line that lies farther in than the one its paragraph began with
/// goes on with it.
fn unwrapped(text: &str) -> String {
    let indent = |line: &str| line.len() - line.trim_start().len();
    let mut lines: Vec<(usize, String)> = Vec::new();
    for line in text.lines() {
        match lines.last_mut() {
            Some((begun, said)) if !line.trim().is_empty() && !said.is_empty() && indent(line) > *begun => {
                said.push(' ');
                said.push_str(line.trim());
            }
            _ => lines.push((indent(line), line.trim_end().to_owned())),
        }
    }
    lines.into_iter().map(|(_, said)| said).collect::<Vec<_>>().join("\n").trim().to_owned()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn paragraphs_broken_for_a_terminal_are_whole_again() {
        assert_eq!(
            unwrapped("Leek: two boxes,\n  four groups.\n\nShelf: late,\n  by days.\nMat: not.\n"),
            "Leek: two boxes, four groups.\n\nShelf: late, by days.\nMat: not."
        );
        assert_eq!(unwrapped("\n"), "");
    }
}
