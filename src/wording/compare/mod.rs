//! Boxes compared, in words.

mod detail;
mod remarks;
mod said;

pub use remarks::{remark_kind, remark_words};
pub use said::pair_words;

use std::fmt::Write as _;

use super::Detail;
use super::numbers::{counted, paragraph};
use crate::bench::{Degrees, Event, Name};
use crate::civil::Zone;
use crate::experiment::{CompareAnswer, Factor, GroupAnswer, NoComparison, Remark, Verdict, remarks};
use said::{needs_words, overall_words};

/// Whether the trade's indices are printed too.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Also {
    /// They are.
    Indices,
    /// They are not.
    Nothing,
}

/// Seeds that are shown one by one; of more, how many came up on each day.
const ROW: u32 = 24;
/// Columns of a row of seeds.
const ROW_WIDTH: usize = 64;
/// Groups that have a line each.
const GROUPS: usize = 12;
/// Names in a list before the rest is counted.
const LISTED: usize = 5;

/// What the levels of a factor are called.
pub(super) fn label(factor: Factor, level: Option<&Name>) -> &str {
    match (factor, level) {
        (_, Some(name)) => name.as_str(),
        (Factor::Treatment, None) => "untreated",
        (_, None) => "no named lot",
    }
}

/// The word for a factor in sentences, files and options.
#[must_use]
pub fn factor_word(factor: Factor) -> &'static str {
    match factor {
        Factor::Treatment => "treatment",
        Factor::Lot => "lot",
        Factor::Spot => "spot",
        Factor::Batch => "batch",
    }
}

fn factors_word(factor: Factor) -> &'static str {
    match factor {
        Factor::Treatment => "treatments",
        Factor::Lot => "lots",
        Factor::Spot => "spots",
        Factor::Batch => "batches",
    }
}

/// The label of a group of an answer.
#[must_use]
pub fn group_label(answer: &CompareAnswer, group: usize) -> &str {
    label(answer.comparison.asked.factor, answer.comparison.groups[group].level.as_ref())
}

/// "A1, A2, A3 and 4 more".
pub(super) fn listed<'a>(names: impl IntoIterator<Item = &'a str>) -> String {
    let names: Vec<&str> = names.into_iter().collect();
    if names.len() <= LISTED + 1 {
        return names.join(", ");
    }
    format!("{} and {} more", names[..LISTED].join(", "), names.len() - LISTED)
}

/// The comparison as text.
#[must_use]
pub fn compare_text(answer: &CompareAnswer, zone: Zone, degrees: Degrees, detail: Detail, also: Also) -> String {
    let comparison = &answer.comparison;
    let mut text = String::new();
    // Writing to a string cannot fail.
    let all = remarks(answer);
    if !comparison.groups.is_empty() {
        let _ = writeln!(text, "{}", paragraph(&heading(answer), "", "  "));
        rows(answer, detail, &mut text);
    }
    if comparison.groups.len() < 2 {
        for remark in all.iter().filter(|remark| matches!(remark, Remark::LeftOut(..))) {
            let _ = writeln!(text, "{}", paragraph(&remark_words(remark, answer, degrees), "note: ", "  "));
        }
        return text;
    }
    text.push('\n');
    let (first, others): (Vec<&Remark>, Vec<&Remark>) =
        all.iter().partition(|remark| matches!(remark, Remark::UnlikeWarmth { .. } | Remark::Along { factor: Factor::Spot, .. }));
    // What the places did is said before what is compared.
    for remark in first {
        let _ = writeln!(text, "{}", paragraph(&remark_words(remark, answer, degrees), "note: ", "  "));
    }
    if comparison.groups.len() == 2 {
        let pair = &comparison.pairs[0];
        for words in said::both_words(answer, pair, degrees) {
            let _ = writeln!(text, "{}", paragraph(&words, "", "  "));
        }
    } else {
        for words in overall_words(answer) {
            let _ = writeln!(text, "{}", paragraph(&words, "", "  "));
        }
    }
    if let Some(words) = needs_words(answer) {
        let _ = writeln!(text, "{}", paragraph(&words, "", "  "));
    }
    for remark in others.into_iter().filter(|remark| detail == Detail::All || at_once(remark, answer)) {
        let _ = writeln!(text, "{}", paragraph(&remark_words(remark, answer, degrees), "note: ", "  "));
    }
    if let Some(caution) = remarks::caution_words(answer) {
        let _ = writeln!(text, "{}", paragraph(&caution, "", "  "));
    }
    if detail == Detail::All {
        detail::numbers(answer, zone, degrees, &mut text);
    }
    if also == Also::Indices {
        detail::indices(answer, &mut text);
    }
    text
}

/// "Leek (root tip showing), batch spring: 4 boxes of 20 seeds, by treatment."
fn heading(answer: &CompareAnswer) -> String {
    let event = match answer.event {
        Event::Radicle => "root tip showing",
        Event::Emergence => "seedling showing",
    };
    let comparison = &answer.comparison;
    let boxes: usize = comparison.groups.iter().map(|group| group.containers.len()).sum();
    let batches = if answer.batches.len() == 1 { "batch" } else { "batches" };
    let groups = match comparison.groups.len() {
        1 => "all of one kind".to_owned(),
        2 => format!("{} beside {}", group_label(answer, 0), group_label(answer, 1)),
        many => format!("{many} {}", factors_word(comparison.asked.factor)),
    };
    format!(
        "{} ({event}), {batches} {}: {groups}, {}.",
        answer.species,
        listed(answer.batches.iter().map(Name::as_str)),
        counted(boxes, "box", "boxes")
    )
}

/// A line for each group.
fn rows(answer: &CompareAnswer, detail: Detail, text: &mut String) {
    let groups = &answer.comparison.groups;
    let width = groups.iter().map(|group| label(answer.comparison.asked.factor, group.level.as_ref()).chars().count()).max();
    let width = width.unwrap_or(0).min(28);
    let shown = if detail == Detail::All { groups.len() } else { groups.len().min(GROUPS) };
    // Of many groups those of which most came up.
    let mut order: Vec<usize> = (0..groups.len()).collect();
    if groups.len() > GROUPS {
        let share = |at: &usize| groups[*at].fraction.estimate.unwrap_or(-1.0);
        order.sort_by(|a, b| share(b).total_cmp(&share(a)).then(a.cmp(b)));
    }
    for at in &order[..shown] {
        let group = &groups[*at];
        let name = group_label(answer, *at);
        let up = match group.seeds {
            Some(seeds) => format!("{:>3} of {seeds:<3} up", group.counted_sprouts),
            None => format!("{:>3} up, of an uncounted number", group.sprouted),
        };
        let _ = writeln!(text, "  {name:<width$}  {up}   {}", seed_row(group));
    }
    if shown < order.len() {
        let _ = writeln!(text, "  … and {} more groups; --detail lists them all.", order.len() - shown);
    }
    let _ = writeln!(text, "  (the day each seed was found up, or day × seeds; · not up)");
}

/// A row of seeds: the day each was found up, "·" for each that was not; where there are many, how many on which day.
fn seed_row(group: &GroupAnswer) -> String {
    let not_up = group.seeds.map_or(0, |seeds| seeds.saturating_sub(group.counted_sprouts));
    let day = |days: f64| format!("{:.0}", days.round());
    let mut by_day: Vec<(String, u32)> = Vec::new();
    for (_, days, seeds) in &group.sprouts {
        match by_day.last_mut().filter(|(last, _)| *last == day(*days)) {
            Some((_, sum)) => *sum += seeds,
            None => by_day.push((day(*days), *seeds)),
        }
    }
    let row = if group.sprouted + not_up <= ROW {
        let seeds = by_day.iter().flat_map(|(day, seeds)| std::iter::repeat_n(day.as_str(), *seeds as usize));
        seeds.chain(std::iter::repeat_n("·", not_up as usize)).collect::<Vec<_>>().join(" ")
    } else {
        let seeds = by_day.iter().map(|(day, seeds)| format!("{day}×{seeds}"));
        let rest = (not_up > 0).then(|| format!("·×{not_up}"));
        seeds.chain(rest).collect::<Vec<_>>().join(" ")
    };
    if row.chars().count() <= ROW_WIDTH {
        return row;
    }
    let cut: String = row.chars().take(ROW_WIDTH).collect();
    format!("{} …", cut.rsplit_once(' ').map_or(cut.as_str(), |(whole, _)| whole))
}

/// What is said without being asked for detail: what changes how the answer is to be read.
fn at_once(remark: &Remark, answer: &CompareAnswer) -> bool {
    match remark {
        Remark::BoxesAssumed { .. } | Remark::OtherSpecies(_) | Remark::RareLooks { .. } => false,
        Remark::OneBox(_) => {
            answer.comparison.pairs.iter().any(|pair| pair.fraction == Verdict::Shown || pair.speed == Verdict::Shown)
        }
        _ => true,
    }
}

/// Why there is nothing to compare, and what would make it possible.
#[must_use]
pub fn no_comparison_words(why: &NoComparison) -> (String, String) {
    let have = |names: &[Name]| listed(names.iter().map(Name::as_str));
    match why {
        NoComparison::NoSuchSpecies(asked, there) => {
            (format!("no box of '{asked}' stands on this bench"), format!("name one of its plants: {}", have(there)))
        }
        NoComparison::NoSuchBatch(asked, there) => {
            (format!("there is no batch '{asked}' on this bench"), format!("name one of its batches: {}", have(there)))
        }
        NoComparison::NoBox => (
            "no box that was asked about has been looked at yet".to_owned(),
            "seedclock sow, then seedclock check after each look".to_owned(),
        ),
    }
}

/// Why boxes of one kind only cannot be compared, and by what they could be.
#[must_use]
pub fn one_group_words(answer: &CompareAnswer) -> (String, String) {
    let comparison = &answer.comparison;
    let factor = factor_word(comparison.asked.factor);
    let boxes: usize = comparison.groups.iter().map(|group| group.containers.len()).sum();
    let kind = comparison.groups.first().map_or("none", |group| label(comparison.asked.factor, group.level.as_ref()));
    let what = match boxes {
        0 => format!("no box of {} can be compared yet", answer.species),
        1 => format!("the one box of {} has nothing to be compared with", answer.species),
        _ => format!("all {boxes} boxes of {} have one {factor} ({kind}): there is nothing to compare", answer.species),
    };
    let could: Vec<String> = answer
        .could
        .iter()
        .map(|(factor, levels)| format!("--by {} ({levels} {})", factor_word(*factor), factors_word(*factor)))
        .collect();
    let next = if could.is_empty() {
        format!("sow boxes side by side that differ in {factor}, in nothing else")
    } else {
        could.join(", or ")
    };
    (what, next)
}

/// Whether nothing at all can be concluded from any pair.
#[must_use]
pub fn nothing_concluded(answer: &CompareAnswer) -> bool {
    let open = |verdict: Verdict| matches!(verdict, Verdict::CannotTell(_));
    answer.comparison.pairs.iter().all(|pair| open(pair.fraction) && open(pair.speed))
}
