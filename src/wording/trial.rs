//! A trial laid out, in a grower's words.

use std::collections::BTreeSet;
use std::fmt::Write as _;

use super::cautions::in_place;
use super::numbers::paragraph;
use crate::bench::Name;
use crate::diagnosis::{Caution, cautions_in_words};
use crate::experiment::plan::{Factor, Place, TrialNote, TrialPlan, Worth, chill_days_in};

/// The trial as text: what goes where, in the order in which boxes stand, and what it can show.
#[must_use]
pub fn trial_text(plan: &TrialPlan) -> String {
    let wish = &plan.wish;
    let mut text = String::new();
    let boxes = plan.places.len();
    let words = format!(
        "{}: {} groups, {boxes} boxes of {} seeds, {} seeds in all. Order shuffled by the number {}; --shuffle {} gives the same again.",
        wish.species,
        wish.groups.len(),
        wish.seeds,
        boxes as u32 * wish.seeds,
        wish.shuffle,
        wish.shuffle,
    );
    // Writing to a string cannot fail.
    let _ = writeln!(text, "{}", paragraph(&words, "", "  "));
    let width = wish.groups.iter().map(|group| group.as_str().chars().count()).max().unwrap_or(0);
    for (at, (spot, _)) in wish.spots.iter().enumerate() {
        let _ = write!(text, "\n{spot}, from one end to the other\n");
        for place in plan.places.iter().filter(|place| place.spot == at) {
            let group = wish.groups[place.group].as_str();
            let _ = writeln!(text, "  {:>3}  {:<6} {group:<width$}  {} seeds", place.position, place.container, wish.seeds);
        }
    }
    for line in
        plan.worth.iter().map(|worth| worth_words(plan, worth)).chain(plan.notes.iter().map(|note| trial_note_words(note, plan)))
    {
        let _ = writeln!(text, "\n{}", paragraph(&line, "", "  "));
    }
    let _ = write!(text, "\nWhen they are sown:\n");
    for line in sow_lines(plan) {
        let _ = writeln!(text, "  {line}");
    }
    let mut cautions: BTreeSet<Caution> = wish.groups.iter().flat_map(|group| cautions_in_words(group.as_str())).collect();
    cautions.extend(wish.groups.iter().any(|group| chill_days_in(group.as_str()).is_some()).then_some(Caution::Cold));
    for caution in cautions {
        let _ = writeln!(text, "\n{}", paragraph(in_place(caution), "", "  "));
    }
    text
}

/// What a trial can show, in words.
fn worth_words(plan: &TrialPlan, worth: &Worth) -> String {
    let points = |share: f64| format!("{:.0} points", (share * 100.0).ceil());
    let share = if worth.share_known { "as yours have done" } else { "which is not known, and is the hardest case" };
    let alike = if worth.alike_known { "going by how your boxes differ" } else { "if boxes differ as they usually do" };
    let could = worth.could_show.map_or_else(
        || "not even all against none would be shown 4 times in 5".to_owned(),
        |difference| format!("a difference of {} would be shown 4 times in 5", points(difference)),
    );
    format!(
        "What it can show, where {:.0} in 100 sprout of one group ({share}): {could}; one of {} about {:.0} times in 100. {} seeds a group \
         in shared boxes are worth about {:.0} ({alike}).",
        worth.share * 100.0,
        points(plan.wish.difference),
        worth.chance * 100.0,
        worth.seeds,
        (f64::from(worth.seeds) / worth.design_effect).max(1.0),
    )
}

/// What keeps a trial from answering, as a sentence.
#[must_use]
pub fn trial_note_words(note: &TrialNote, plan: &TrialPlan) -> String {
    match note {
        TrialNote::OneBoxEach => {
            "One box of each: if they differ, nobody can say whether the box did it (its place, its water, its mould) \
                                  or what is compared. Share the same seeds out over four boxes each: --boxes 4."
                .to_owned()
        }
        TrialNote::FewBoxes { boxes, wanted } => format!(
            "{boxes} boxes of each are few: boxes differ by themselves. {wanted} or more of each, with fewer seeds in a box, tell more."
        ),
        TrialNote::NeverTogether { a, b } => format!(
            "'{a}' and '{b}' never stand at the same spot: whether the spot or what is compared makes a difference cannot be told."
        ),
        TrialNote::Nowhere { group } => format!("'{group}' has no spot to stand at."),
        TrialNote::TooFewSeeds => {
            let wanted = plan.worth.map_or(u32::MAX, |worth| worth.seeds_wanted);
            let boxes = f64::from(wanted) / f64::from(plan.wish.seeds.max(1));
            format!(
                "Too few seeds for {:.0} points: that takes about {wanted} seeds a group, {:.0} boxes of {}; more boxes with fewer seeds in each \
                 take fewer in all. Nothing shown would not mean that there is no difference.",
                plan.wish.difference * 100.0,
                boxes.ceil(),
                plan.wish.seeds
            )
        }
        TrialNote::OneWarmth => {
            "All at one spot: chilling may let seeds sprout at lower temperatures, not more of them, and one warmth cannot \
                                 tell these apart. A second, cooler spot would."
                .to_owned()
        }
        TrialNote::NoRoom { spot, boxes, room } => {
            format!("'{spot}' is to take {boxes} boxes and has room for {room}.")
        }
    }
}

/// The commands that record the sowing, group by group and spot by spot.
fn sow_lines(plan: &TrialPlan) -> Vec<String> {
    let wish = &plan.wish;
    let mut lines = Vec::new();
    for (at, (spot, _)) in wish.spots.iter().enumerate() {
        for group in 0..wish.groups.len() {
            let boxes: Vec<&Place> = plan.places.iter().filter(|place| (place.spot, place.group) == (at, group)).collect();
            if boxes.is_empty() {
                continue;
            }
            let names: Vec<String> = boxes.iter().map(|place| quoted(place.container.as_str())).collect();
            let option = |factor: Factor, name: Option<&Name>| {
                name.map_or_else(String::new, |name| format!(" --{} {}", factor.word(), quoted(name.as_str())))
            };
            let (lot, treatment) = wish.lot_and_treatment(group);
            let (lot, treatment) = (option(Factor::Lot, lot), option(Factor::Treatment, treatment));
            lines.push(format!(
                "seedclock sow {} --species {}{lot}{treatment} --seeds {} --spot {}",
                names.join(" "),
                quoted(wish.species.as_str()),
                wish.seeds,
                quoted(spot.as_str())
            ));
        }
    }
    lines
}

/// A name as a shell takes it.
fn quoted(name: &str) -> String {
    let plain = !name.starts_with('-') && name.chars().all(|c| c.is_alphanumeric() || matches!(c, '-' | '_' | '.'));
    if plain { name.to_owned() } else { format!("'{}'", name.replace('\'', "'\\''")) }
}
