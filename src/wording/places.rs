//! The diagnosis in a dozen lines: place by place, as a friend would say it who knows the bench.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::cautions::{cautions_beside, in_place};
use super::dates::moment;
use super::diagnosis::{advice_words, evidence_words, gain_words, guessed_words, probe_words};
use super::numbers::{in_days, paragraph, temperature};
use crate::bench::{Degrees, Name};
use crate::civil::Zone;
use crate::diagnosis::{Advice, BoxDelay, BoxDiagnosis, Caution, Diagnosis, Finding, Kind, Swaps};

/// Said without "probably" from this chance on.
const CLEARLY: f64 = 0.95;

/// The diagnosis in short: what slows which boxes, place by place, and what to do.
pub(super) fn diagnosis_in_short(diagnosis: &Diagnosis, zone: Zone, degrees: Degrees) -> String {
    let mut text = format!("As of {} ({zone}).\n\n", moment(diagnosis.as_of, zone));
    for words in diagnosis_lines(diagnosis, degrees) {
        // Writing to a string cannot fail.
        let _ = writeln!(text, "{}", paragraph(&words, "", "  "));
    }
    text
}

/// The same, thing by thing: the places, single boxes, boxes alike, what should change places, probes, cautions.
#[must_use]
pub fn diagnosis_lines(diagnosis: &Diagnosis, degrees: Degrees) -> Vec<String> {
    let mut said = Said::default();
    for one in &diagnosis.boxes {
        for finding in &one.findings {
            said.take(one, finding, degrees);
        }
    }
    let mut lines: Vec<String> = said.places.iter().map(|place| place.words(degrees)).collect();
    lines.append(&mut said.singly);
    lines.extend(said.alike.iter().map(|(boxes, words)| format!("{}: {words}", boxes.join(", "))));
    lines.extend(diagnosis.swaps.iter().map(swaps_words));
    for (probe, spot, findings) in &diagnosis.probes {
        lines.extend(findings.iter().map(|finding| format!("Probe {probe}, {spot}: {}", probe_words(finding))));
    }
    lines.extend(said.cautions.iter().map(|caution| in_place(*caution).to_owned()));
    lines
}

/// "So that most sprout within two weeks: C3 to the heat mat …".
pub(super) fn swaps_words(swaps: &Swaps) -> String {
    let moves: Vec<String> = swaps.moves.iter().map(|(name, from, to)| format!("{name} from {from} to {to}")).collect();
    format!(
        "Where places are few: carry {} together, and about {:.0} more will have sprouted within two weeks.",
        moves.join(", "),
        swaps.more
    )
}

#[derive(Default)]
struct Said<'a> {
    places: Vec<Place<'a>>,
    /// What is said of one box alone.
    singly: Vec<String>,
    /// Boxes of which the same is said.
    alike: Vec<(Vec<String>, String)>,
    cautions: BTreeSet<Caution>,
}

/// A spot with the boxes that it slows, all in the same way.
struct Place<'a> {
    spot: &'a Name,
    kind: Kind,
    mean_c: (f64, f64),
    boxes: Vec<(&'a BoxDiagnosis, &'a BoxDelay, &'a Finding)>,
}

impl<'a> Said<'a> {
    fn take(&mut self, one: &'a BoxDiagnosis, finding: &'a Finding, degrees: Degrees) {
        let name = &one.trial.container.name;
        self.cautions.extend(cautions_beside(finding, &one.trial.container));
        match (finding.kind, &one.delay) {
            // What would be tried is said with what slows it.
            (Kind::WarmthMayHarm, _) => {}
            (Kind::ColdSpot | Kind::ColdNights | Kind::HotSpot | Kind::HotHours, Some(delay)) => {
                let (spot, mean_c) = delay.lost_at.as_ref().map_or((&one.spot, delay.mean_c), |(spot, mean_c)| (spot, *mean_c));
                match self.places.iter_mut().find(|place| (place.spot, place.kind) == (spot, finding.kind)) {
                    Some(place) => {
                        place.boxes.push((one, delay, finding));
                        place.mean_c = (place.mean_c.0.min(mean_c), place.mean_c.1.max(mean_c));
                    }
                    None => self.places.push(Place {
                        spot,
                        kind: finding.kind,
                        mean_c: (mean_c, mean_c),
                        boxes: vec![(one, delay, finding)],
                    }),
                }
            }
            (Kind::OnCourse | Kind::TooEarlyToTell | Kind::BoxDryOrMouldy, _) => {
                let mut words = evidence_words(finding, one, degrees);
                if let Some(advice) = finding.advice.as_ref().filter(|_| finding.kind == Kind::BoxDryOrMouldy) {
                    let _ = write!(words, " {}", advice_words(advice));
                }
                match self.alike.iter_mut().find(|(_, said)| *said == words) {
                    Some((boxes, _)) => boxes.push(name.to_string()),
                    None => self.alike.push((vec![name.to_string()], words)),
                }
            }
            _ => {
                let advice = finding.advice.as_ref().map(advice_words).unwrap_or_default();
                self.singly.push(format!("{name}, {}: {} {advice}", one.spot, evidence_words(finding, one, degrees)));
            }
        }
    }
}

impl Place<'_> {
    fn words(&self, degrees: Degrees) -> String {
        let what = match self.kind {
            Kind::ColdSpot => "Too cold",
            Kind::ColdNights => "Too cold by night",
            Kind::HotSpot => "Too hot, day and night,",
            _ => "Too hot for some hours of the day",
        };
        let mut words = format!("{what} at {} ({} on average):", self.spot, between(self.mean_c, degrees));
        let mut against: Option<&Name> = None;
        for (at, (one, delay, finding)) in self.boxes.iter().enumerate() {
            let sure = finding.chance.is_some_and(|chance| chance >= CLEARLY);
            let container = &one.trial.container;
            let _ = write!(
                words,
                "{} {} ({}) {}{} later",
                if at == 0 { "" } else { "," },
                container.name,
                container.species,
                if sure { "" } else { "probably " },
                in_days(&delay.delay_days)
            );
            if let Some(best) = delay.best_spot.as_ref().filter(|best| against != Some(*best)) {
                let _ = write!(words, " than at {best} ({})", temperature(delay.best_mean_c, degrees));
                against = Some(best);
            }
            if one.spot != *self.spot {
                let _ = write!(words, " (now at {})", one.spot);
            }
        }
        words.push('.');
        for guessed in self.boxes.iter().filter_map(|(one, ..)| guessed_words(one)) {
            let _ = write!(words, " {guessed}");
        }
        let mut stay = Vec::new();
        for (one, _, finding) in &self.boxes {
            let name = one.trial.container.name.as_str();
            match &finding.advice {
                Some(Advice::LeaveIt) => stay.push(name),
                Some(Advice::MoveTo(gain)) => {
                    let _ = write!(words, " Carry {name} to {} today: {}.", gain.spot, gain_words(gain));
                }
                Some(advice) => {
                    let _ = write!(words, " {name}: {}", advice_words(advice));
                }
                None => {}
            }
        }
        if !stay.is_empty() {
            let _ = write!(
                words,
                " Leave {} where {}: a move now gains little.",
                stay.join(", "),
                if stay.len() == 1 { "it is" } else { "they are" }
            );
        }
        words
    }
}

/// "17.2 °C", "17.2 to 19.0 °C".
fn between((low, high): (f64, f64), degrees: Degrees) -> String {
    let (from, to) = (temperature(low, degrees), temperature(high, degrees));
    match from.split_once(' ') {
        Some((number, _)) if from != to => format!("{number} to {to}"),
        _ => to,
    }
}
