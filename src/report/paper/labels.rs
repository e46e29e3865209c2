//! Labels of boxes.

use std::collections::BTreeSet;

use askama::Template;

use super::address::path_part;
use super::{File, PAPER_STYLE};
use crate::bench::Trial;
use crate::charts::{Label, Paper, label_sheets};
use crate::civil::{Zone, local_date};

/// The labels of boxes: by the lid's own name where it has one, since that lasts, else by the box's. Each name has one label, though several
/// boxes had that lid: that of the box sown last.
#[must_use]
pub fn labels(boxes: &[&Trial], address: &str, zone: Zone) -> Vec<Label> {
    let mut named = BTreeSet::new();
    let mut youngest: Vec<&&Trial> = boxes.iter().collect();
    youngest.sort_by_key(|trial| std::cmp::Reverse(trial.container.sown));
    let shown: BTreeSet<&str> = youngest
        .into_iter()
        .filter(|trial| named.insert(trial.container.lid.as_ref().unwrap_or(&trial.container.name)))
        .map(|trial| trial.container.name.as_str())
        .collect();
    let label = |trial: &&Trial| {
        let container = &trial.container;
        let name = container.lid.as_ref().unwrap_or(&container.name);
        let of = container.lid.as_ref().map(|_| format!("box {}", container.name));
        let sown = format!("sown {}", local_date(container.sown, zone).format("%-d %b %Y"));
        Label {
            name: name.to_string(),
            species: container.species.to_string(),
            more: of.into_iter().chain([sown]).collect(),
            address: format!("{address}/lid/{}", path_part(name.as_str())),
        }
    };
    boxes.iter().filter(|trial| shown.contains(trial.container.name.as_str())).map(label).collect()
}

#[derive(Template)]
#[template(path = "paper/labels.html", config = "src/report/askama.toml")]
struct Sheets {
    paper: &'static str,
    sheets: Vec<String>,
}

/// The labels' sheets as a part of a page.
///
/// # Errors
/// The template cannot be filled in, which no contents can bring about.
pub fn labels_part(labels: &[Label], paper: Paper) -> Result<String, askama::Error> {
    Sheets { paper: paper.word(), sheets: label_sheets(labels, paper) }.render()
}

/// The labels as a file of their own.
///
/// # Errors
/// The template cannot be filled in, which no contents can bring about.
pub fn labels_html(labels: &[Label], paper: Paper) -> Result<String, askama::Error> {
    File { title: "Labels", style: PAPER_STYLE, part: &labels_part(labels, paper)? }.render()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Container, Name};
    use crate::civil::Time;
    use chrono::Duration;

    fn trial(name: &str, lid: Option<&str>, day: i64) -> Trial {
        let of = |text: &str| Name::new(text).unwrap();
        let sown = Time::UNIX_EPOCH + Duration::days(20_000 + day);
        let container = Container::new(of(name), of("b"), of("leek & <onion>"), of("sill"), sown);
        Trial::new(Container { lid: lid.map(of), ..container })
    }

    #[test]
    fn a_label_has_the_name_that_lasts_and_each_name_one_label() {
        let boxes = [trial("2024-1", Some("red lid"), 0), trial("A 2", None, 1), trial("2025-1", Some("red lid"), 365)];
        let made = labels(&boxes.iter().collect::<Vec<_>>(), "http://bench.lan", Zone::UTC);
        let told: Vec<(&str, &str, Vec<&str>)> = made
            .iter()
            .map(|one| (one.name.as_str(), one.address.as_str(), one.more.iter().map(String::as_str).collect()))
            .collect();
        assert_eq!(
            told,
            [
                ("A 2", "http://bench.lan/lid/A%202", vec!["sown 5 Oct 2024"]),
                ("red lid", "http://bench.lan/lid/red%20lid", vec!["box 2025-1", "sown 4 Oct 2025"]),
            ]
        );
    }

    #[test]
    fn a_file_of_labels_loads_nothing_runs_nothing_and_names_are_plain_text() {
        let made = labels(&[&trial("<b>A</b>", None, 0)], "http://bench.lan", Zone::UTC);
        let html = labels_html(&made, Paper::Letter).unwrap();
        assert!(html.contains("&#60;b&#62;A&#60;/b&#62;") && !html.contains("<b>"), "{html}");
        assert!(!html.contains("<script") && !html.contains("<link") && !html.contains("src="), "{html}");
        assert!(html.contains("paper-letter"));
    }
}
