//! How forecasts did, in words.

use std::fmt::Write as _;

use super::dates::moment;
use super::numbers::paragraph;
use crate::civil::{Time, Zone};
use crate::forecast::{Ledger, RangeHeld};

/// What has to be said before anything else: the ranges did not hold.
#[must_use]
pub fn too_narrow_words(ledger: &Ledger) -> Option<String> {
    let held = ledger.held.get(1).filter(|_| ledger.too_narrow())?;
    let between = held
        .bounds
        .map_or(String::new(), |(low, high)| format!(" ({} to {}, judged by {} boxes)", hundred(low), hundred(high), ledger.boxes));
    Some(format!(
        "Mind: forecasts here have been surer than they should. Ranges meant to hold 8 times in 10 held {} times in 100{between}. \
         Reckon with earlier and later dates than those below.",
        hundred(held.share)
    ))
}

/// How the forecasts kept so far did, in a paragraph; none where no look has spoken of any yet.
#[must_use]
pub fn ledger_words(ledger: &Ledger) -> Option<String> {
    let loss = ledger.loss?;
    let mut words = format!(
        "How earlier forecasts did: {} were looked back on, {} times, for {}. ",
        plural(ledger.scored, "forecast"),
        ledger.comparisons,
        plural_of(ledger.boxes, "box", "boxes")
    );
    let range = |held: &RangeHeld, meant: &str| format!("{} of those meant for {meant}", hundred(held.share));
    match &ledger.held[..] {
        [fifty, eighty, ninety] if eighty.bounds.is_some() => {
            let _ =
                write!(words, "Of 100 ranges held {}, {} and {}. ", range(fifty, "50"), range(eighty, "80"), range(ninety, "90"));
        }
        _ => words += "That is too few boxes to say how often the ranges hold. ",
    }
    let _ = write!(words, "They were off by {}", seeds(loss));
    if let Some(calendar) = ledger.calendar {
        let _ = write!(
            words,
            "; where your earlier sowings allow counting days alone, by {} against {}",
            seeds(calendar.loss),
            seeds(calendar.other)
        );
    }
    if let Some(last) = ledger.last {
        let _ = write!(
            words,
            "; and the forecast before each was off by {} where it was off by {}",
            seeds(last.other),
            seeds(last.loss)
        );
    }
    words.push('.');
    Some(words)
}

/// A season that was forecast again, as text.
#[must_use]
pub fn replay_text(
    as_of: Time,
    from: Option<Time>,
    mornings: usize,
    ledger: &Ledger,
    by_days_ahead: &[(usize, Option<usize>, Ledger)],
    zone: Zone,
) -> String {
    let mut text = String::new();
    let Some(from) = from else { return text };
    // Writing to a string cannot fail.
    let _ = writeln!(
        text,
        "{}",
        paragraph(
            &format!(
                "Forecast again as of each of {}, {} to {} ({zone}), using nothing later than that morning, and held against the looks that came.",
                plural(mornings, "morning"),
                moment(from, zone),
                moment(as_of, zone)
            ),
            "",
            ""
        )
    );
    for words in too_narrow_words(ledger).into_iter().chain(ledger_words(ledger)) {
        let _ = writeln!(text, "\n{}", paragraph(&words, "", "  "));
    }
    if by_days_ahead.is_empty() {
        let _ = writeln!(text, "\nNo look has spoken of any of them yet.");
        return text;
    }
    let _ = writeln!(text, "\n  days ahead  looks  50 %  80 %  90 %  off by, in 100 seeds");
    for (from, until, ledger) in by_days_ahead {
        let days = until.map_or(format!("{from} on"), |until| format!("{from}–{until}"));
        let shares: Vec<String> = ledger.held.iter().map(|held| format!("{:>4}", hundred(held.share))).collect();
        let _ = writeln!(
            text,
            "  {days:>10}  {:>5}  {}  {:>5.1}",
            ledger.comparisons,
            shares.join("  "),
            100.0 * ledger.loss.unwrap_or(0.0)
        );
    }
    text
}

fn hundred(share: f64) -> String {
    format!("{:.0}", 100.0 * share)
}

fn seeds(loss: f64) -> String {
    format!("{:.1} in 100 seeds", 100.0 * loss)
}

fn plural(count: usize, what: &str) -> String {
    plural_of(count, what, &format!("{what}s"))
}

fn plural_of(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
