//! One self-contained HTML file about a bench: figures, numbers, methods and cautions, fit to show to others. And what is printed to hang
//! beside the boxes.

mod gathered;
mod methods;
mod paper;
mod parts;

pub use gathered::{Reported, report_of};
pub use paper::{
    DAYS, PAPER_STYLE, Tally, by_spot, labels, labels_html, labels_part, looked_at, page_address, path_part, tally_html, tally_part,
};

use askama::Template;
use base64::Engine as _;
use base64::engine::general_purpose::STANDARD;

use crate::bench::{Bench, Degrees, Trial};
use crate::charts::{FONT, FONT_FAMILY};
use crate::civil::{Time, local_date};
use crate::diagnosis::{Caution, Diagnosis};
use crate::experiment::CompareAnswer;
use crate::forecast::ForecastAnswer;
use crate::germination::Fit;
use crate::wording::{day, in_full, moment};

/// What goes into a report beyond what anybody may see.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Private {
    /// Where lots were collected or bought.
    pub places: bool,
    /// Notes and conditions that were written down at looks.
    pub notes: bool,
}

/// All that a report is made from.
#[derive(Debug, Clone, Copy)]
pub struct Contents<'a> {
    /// The bench as of then.
    pub bench: &'a Bench,
    /// As of when.
    pub as_of: Time,
    /// Boxes shown, by batch and name.
    pub boxes: &'a [&'a Trial],
    /// When they will sprout.
    pub forecast: Option<&'a ForecastAnswer>,
    /// Which are slow.
    pub diagnosis: Option<&'a Diagnosis>,
    /// What the seeds need.
    pub fits: &'a [Fit],
    /// Comparisons, one a species.
    pub compared: &'a [CompareAnswer],
    /// What is told beyond that.
    pub private: Private,
}

impl Contents<'_> {
    fn degrees(&self) -> Degrees {
        self.bench.units.unwrap_or_default()
    }
}

/// A box as a row of the table.
struct Row {
    name: String,
    species: String,
    lot: String,
    treatment: String,
    spot: String,
    sown: String,
    sprouted: u32,
    seeds: String,
}

/// A part with a heading: words, figures, numbers.
struct Part {
    heading: String,
    said: String,
    figures: Vec<String>,
    numbers: String,
}

#[derive(Template)]
#[template(path = "report.html", config = "src/report/askama.toml")]
struct Page {
    title: String,
    as_of: String,
    font: String,
    font_family: &'static str,
    boxes: Vec<Row>,
    notes: Vec<String>,
    parts: Vec<Part>,
    methods: Vec<String>,
    cautions: Vec<&'static str>,
}

/// The report as HTML. Nothing in it is loaded from elsewhere, and no script runs.
///
/// # Errors
/// The template cannot be filled in, which no contents can bring about.
pub fn report_html(contents: &Contents<'_>) -> Result<String, askama::Error> {
    let zone = contents.bench.zone;
    let species: std::collections::BTreeSet<&str> = contents.boxes.iter().map(|trial| trial.container.species.as_str()).collect();
    let species: Vec<&str> = species.into_iter().collect();
    let page = Page {
        title: if species.is_empty() {
            "Seeds on the bench".to_owned()
        } else {
            format!("Seeds on the bench: {}", species.join(", "))
        },
        as_of: format!(
            "As of {} ({zone}). Made by seedclock, which logs warmth beside germination boxes.",
            moment(contents.as_of, zone)
        ),
        font: STANDARD.encode(FONT),
        font_family: FONT_FAMILY,
        boxes: contents.boxes.iter().map(|trial| row(contents, trial)).collect(),
        notes: notes(contents),
        parts: parts::all(contents),
        methods: methods::used(contents),
        cautions: [Caution::Heat, Caution::Mould].map(in_full).to_vec(),
    };
    page.render()
}

fn row(contents: &Contents<'_>, trial: &Trial) -> Row {
    let container = &trial.container;
    let said = |name: Option<&crate::bench::Name>| name.map(ToString::to_string).unwrap_or_default();
    Row {
        name: container.name.to_string(),
        species: container.species.to_string(),
        lot: said(container.lot.as_ref()),
        treatment: said(container.treatment.as_ref()),
        spot: trial.spot_at(contents.as_of).to_string(),
        sown: day(local_date(container.sown, contents.bench.zone)),
        sprouted: trial.sprouted(),
        seeds: match (container.seeds, container.seeds_low, container.seeds_high) {
            (Some(seeds), _, _) => seeds.to_string(),
            (None, Some(low), Some(high)) => format!("{low}–{high}"),
            (None, _, _) => "not counted".to_owned(),
        },
    }
}

/// What is told only if asked for.
fn notes(contents: &Contents<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    if contents.private.places {
        for lot in contents.bench.lots.values() {
            let shown = contents.boxes.iter().any(|trial| trial.container.lot.as_ref() == Some(&lot.name));
            let told: Vec<String> = [
                lot.source.as_ref().map(|source| format!("from {source}")),
                lot.collected.as_ref().map(|collected| format!("collected {collected}")),
            ]
            .into_iter()
            .flatten()
            .collect();
            if shown && !told.is_empty() {
                notes.push(format!("Lot {}: {}.", lot.name, told.join(", ")));
            }
        }
    }
    if contents.private.notes {
        for trial in contents.boxes {
            for check in &trial.checks {
                let told: Vec<&str> = [check.condition.as_deref(), check.note.as_deref()].into_iter().flatten().collect();
                if !told.is_empty() {
                    let date = day(local_date(check.time, contents.bench.zone));
                    notes.push(format!("{}, {date}: {}.", trial.container.name, told.join("; ")));
                }
            }
        }
    }
    notes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bench::{Check, Container, Lot, Name};
    use crate::civil::Zone;
    use chrono::Duration;

    fn name(text: &str) -> Name {
        Name::new(text).unwrap()
    }

    fn told(private: Private) -> String {
        let sown = Time::UNIX_EPOCH + Duration::days(20_000);
        let mut bench = Bench::empty(Zone::UTC);
        let mut lot = Lot::new(name("hill"), name("leek & <b>onion</b>"));
        (lot.source, lot.collected) = (Some("behind the <i>old</i> mill".to_owned()), Some("August".to_owned()));
        bench.lots.insert(lot.name.clone(), lot);
        let mut container = Container::new(name("A<1>"), name("b"), name("leek & <b>onion</b>"), name("sill"), sown);
        (container.lot, container.seeds) = (Some(name("hill")), Some(20));
        let mut trial = Trial::new(container);
        trial.checks.push(Check {
            sprouted: 3,
            note: Some("key under the mat".to_owned()),
            ..Check::none_new(name("A<1>"), sown + Duration::days(5))
        });
        bench.trials.insert(name("A<1>"), trial.clone());
        let contents = Contents {
            bench: &bench,
            as_of: sown + Duration::days(9),
            boxes: &[&trial],
            forecast: None,
            diagnosis: None,
            fits: &[],
            compared: &[],
            private,
        };
        report_html(&contents).unwrap()
    }

    #[test]
    fn names_come_out_as_plain_text_and_nothing_is_loaded_or_run() {
        let html = told(Private { places: true, notes: true });
        assert!(html.contains("leek &#38; &#60;b&#62;onion&#60;/b&#62;") && !html.contains("<b>onion"), "{html}");
        assert!(!html.contains("<script") && !html.contains("http://") && !html.contains("<link") && !html.contains("src=\""));
        let outside: Vec<&str> = html.match_indices("url(").map(|(at, _)| &html[at..at + 14]).collect();
        assert_eq!(outside, ["url(\"data:font"]);
    }

    #[test]
    fn collecting_places_and_notes_are_left_out_unless_asked_for() {
        let open = told(Private::default());
        assert!(!open.contains("mill") && !open.contains("August") && !open.contains("key under the mat"));
        assert!(told(Private { places: true, notes: false }).contains("old"));
        assert!(told(Private { places: false, notes: true }).contains("key under the mat"));
    }
}
