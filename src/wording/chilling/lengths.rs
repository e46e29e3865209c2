//! How species answered to moist cold, in words.

use std::fmt::Write as _;

use super::days_words;
use crate::diagnosis::Chilled;
use crate::germination::{ChillLength, ChillResponse, Estimate, Longer};
use crate::wording::numbers::{counted, paragraph};

/// Hold or go, by what past sowings showed.
pub(super) fn longer_words(chilled: &Chilled) -> String {
    let Some((change, told)) = chilled.longer else { return String::new() };
    let points = |share: Option<f64>| (100.0 * share.unwrap_or(0.0).abs()).round();
    let (low, high) = (points(change.low), points(change.high));
    match told {
        Longer::Helps => format!(" In your own sowings longer cold made more sprout: {low} to {high} in 100 more. Holding pays."),
        Longer::Harms => {
            format!(" In your own sowings longer cold made fewer sprout: {high} to {low} in 100 fewer. Do not hold it long.")
        }
        Longer::CannotTell => " Whether longer cold helps or harms your own sowings do not tell.".to_owned(),
    }
}

/// How species answered to days of moist cold, a paragraph each.
#[must_use]
pub fn chill_responses_text(responses: &[Option<ChillResponse>]) -> String {
    let mut text = String::new();
    for response in responses.iter().flatten() {
        let _ =
            writeln!(text, "\n{}, by days of moist cold ({}, lots and years taken together):", response.species, sorts(response));
        for length in &response.lengths {
            let days = days_words(length.days);
            let seeds =
                format!("{} of {} seeds sprouted in {}", length.sprouted, length.seeds, counted(length.boxes, "box", "boxes"));
            let share = match (length.fraction.low, length.fraction.high) {
                (Some(low), Some(high)) if response.one_curve => {
                    format!("; {:.0} to {:.0} in 100 can", 100.0 * low, 100.0 * high)
                }
                _ => String::new(),
            };
            let _ = writeln!(text, "{}", paragraph(&format!("{days:<9} {seeds}{share}"), "  ", "    "));
        }
        let _ = writeln!(text, "{}", paragraph(&response_words(response), "  ", "  "));
    }
    text
}

fn sorts(response: &ChillResponse) -> String {
    counted(response.lengths.iter().map(|length| length.boxes).sum(), "box", "boxes")
}

/// What a species' answer comes to, as sentences.
#[must_use]
pub fn response_words(response: &ChillResponse) -> String {
    let (Some(shortest), Some(longest)) = (response.lengths.first(), response.lengths.last()) else { return String::new() };
    let first = days_words(shortest.days);
    let over = format!("from {} to {}", first.split(' ').next().unwrap_or_default(), days_words(longest.days));
    let mut words = String::new();
    if !response.one_curve {
        let share = |length: &&ChillLength| f64::from(length.sprouted) / f64::from(length.seeds.max(1));
        if let Some(best) = response.lengths.iter().max_by(|a, b| share(a).total_cmp(&share(b))) {
            let _ = write!(
                words,
                "These lengths lie on no curve that only rises or only falls: most came after {}. Something else may differ between them, \
                 such as the lot.",
                days_words(best.days)
            );
        }
    } else {
        let points = |share: Option<f64>| (100.0 * share.unwrap_or(0.0).abs()).round();
        let (low, high) = (points(response.fraction_change.low), points(response.fraction_change.high));
        match response.fraction {
            Longer::Helps => {
                let _ = write!(words, "Longer cold makes more sprout: {over}, {low} to {high} in 100 more.");
            }
            Longer::Harms => {
                let _ = write!(words, "Longer cold makes fewer sprout: {over}, {high} to {low} in 100 fewer.");
            }
            Longer::CannotTell => words.push_str("Whether longer cold makes more or fewer sprout these counts do not tell."),
        }
        if let Some(Estimate { estimate: Some(days), low: Some(low), high: Some(high), .. }) = response.enough_days {
            let _ = write!(words, " Nine tenths of that are had by about {days:.0} days ({low:.0} to {high:.0}).");
        }
    }
    let factor = &response.requirement_change;
    let percent = |factor: f64| (100.0 * (factor - 1.0).abs()).round();
    match (response.speed, factor.low, factor.high) {
        (Longer::Helps, Some(low), Some(high)) => {
            let _ = write!(words, " They need {} to {} in 100 less warmth.", percent(high), percent(low));
        }
        (Longer::Harms, Some(low), Some(high)) => {
            let _ = write!(words, " They need {} to {} in 100 more warmth.", percent(low), percent(high));
        }
        (Longer::CannotTell, Some(_), Some(_)) => words.push_str(" Whether they need less warmth for it is not told."),
        _ => words.push_str(" Of the warmth that they need nothing is told."),
    }
    if !response.sound {
        words.push_str(" These ranges rest on few independent draws: take them as rough.");
    }
    words
}
